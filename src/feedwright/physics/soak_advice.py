"""What to check after a soak, and the cautions, in words; the numbers come from the model."""

from dataclasses import dataclass

from feedwright.physics.values import SoakKind

COOKED_MINUTES = 20.0
"""Melt that stood hot for longer is worth purging (common practice)."""
NOTABLE_MM = 0.5
WARM_PLASTIC_C = 80.0
"""Moulded parts around the sink may have softened (common practice)."""
FUME_WARNING_C = 250.0
"""Ventilate from here; the hard hazard begins at the hot end's own fume temperature."""


@dataclass(frozen=True, slots=True)
class SoakFacts:
    """What the advice rests on."""

    what: SoakKind
    lined: bool
    material: str
    minutes: float
    hot_minutes: float
    """How long the melt was at printing heat without being renewed."""
    sink_peak_c: float
    liner_peak_c: float
    liner_caution_c: float
    liner_limit_c: float
    fume_c: float
    creep_mm: float
    """How far above the heated block filament was soft ..."""
    creep_before_mm: float
    """... and how far it is so in plain printing."""
    softened_in_sink: bool


def checks_for(facts: SoakFacts) -> tuple[str, ...]:
    """What to check before trusting the machine, the most telling first."""
    return (*_cause_checks(facts), *_liner_checks(facts), *_filament_checks(facts), *_other_checks(facts))


def _cause_checks(facts: SoakFacts) -> tuple[str, ...]:
    if facts.what == "stalled fan":
        return (
            "Machine off and cold: turn the sink fan with a fingertip. It should run on; renew a stiff or fouled one.",
            "Then power on and set the nozzle to heat: see that the fan starts and blows before the nozzle is hot.",
        )
    if facts.what == "power cut":
        return (
            "See that the nozzle does not stick in the print before anything moves; warm it first if it does.",
            "Home the axes: none of them knows where it stands.",
        )
    return ("Find what stopped the feed before going on.",)


def _liner_checks(facts: SoakFacts) -> tuple[str, ...]:
    where = "at the nozzle" if facts.lined else "in the sink"
    if facts.liner_peak_c > facts.liner_limit_c:
        return (
            f"Renew the liner: its end {where} reached {facts.liner_peak_c:.0f} °C, "
            f"above its limit of {facts.liner_limit_c:.0f} °C.",
        )
    if facts.liner_peak_c > facts.liner_caution_c:
        return (
            f"Look at the liner's end {where}: it reached {facts.liner_peak_c:.0f} °C. "
            "Brown, narrowed or short of its seat: trim or renew it.",
        )
    return ()


def _filament_checks(facts: SoakFacts) -> tuple[str, ...]:
    if facts.softened_in_sink:
        return (
            f"Heat to printing temperature and draw the filament out before feeding: it was soft up to "
            f"{facts.creep_mm:.0f} mm above the heated part and may have swollen in the bore. Cut the end off.",
            "If it will not come, do not force the drive: open the path at the top of the sink.",
        )
    if facts.creep_mm > facts.creep_before_mm + NOTABLE_MM:
        return ("Nozzle hot, feed 20 mm by hand: it should go as easily as before. If it drags, draw it and look.",)
    return ()


def _other_checks(facts: SoakFacts) -> tuple[str, ...]:
    found = []
    if facts.hot_minutes > COOKED_MINUTES:
        found.append(
            f"Purge about 50 mm of {facts.material}: the melt stood hot for {facts.hot_minutes:.0f} min. "
            "Dark or bubbling strands: clean the nozzle."
        )
    if facts.sink_peak_c > WARM_PLASTIC_C:
        found.append("Look at fan shroud, coupler and carriage around the sink for parts that bent in the heat.")
    return tuple(found)


def cautions_for(facts: SoakFacts) -> tuple[str, ...]:
    """What can hurt meanwhile."""
    found = [
        "Nozzle, block and, without its fan, the sink burn skin: measure with a contact thermometer before touching."
    ]
    if facts.liner_peak_c >= facts.fume_c:
        found.append(
            "An overheated fluoropolymer liner gives off hazardous fumes: leave the room, ventilate, come back late. "
            "Fever or short breath in the hours after: see a doctor and say what was heated. Fumes kill pet birds."
        )
    elif facts.liner_peak_c >= FUME_WARNING_C:
        found.append("Ventilate: a fluoropolymer liner this hot may give off fumes; keep pet birds away.")
    if facts.what != "power cut":
        found.append(
            "If the heater does not switch off when told to: isolate the machine, and leave it to a qualified "
            "person, by local code."
        )
    return tuple(found)
