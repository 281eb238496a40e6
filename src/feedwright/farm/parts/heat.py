"""Heat and force of one machine as it stands: soak, the sink fan from a reading, the push of a flow, the orifice."""

from dataclasses import dataclass, replace

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.naming import pick_entry, within
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.feed_paths import feed_path_of, hot_end_and_drive
from feedwright.physics.values import (
    Band,
    FanVerdict,
    ForceBalance,
    Limit,
    OrificeVerdict,
    Slack,
    SoakKind,
    SoakOutcome,
)
from feedwright.records.store import Store
from feedwright.records.values import Event, Machine
from feedwright.toolpath.values import Stretch

SOAKS: dict[str, SoakKind] = {"power_cut": "power cut", "hot_stop": "hot stop", "fan_stall": "stalled fan"}
"""The events that let heat creep up the feed path."""
UNTIL_COLD_MIN = 240.0
"""How long a power cut of unknown length is taken to have lasted: until all was cold."""
COLD_BELOW_C = 40.0
"""A nozzle set lower was not hot."""
THERMOMETER_DK = 2.0
"""How far a contact thermometer may be off (assumed)."""


@dataclass(frozen=True, slots=True)
class FeedSheet:
    """How hard the drive must push for a flow, how fast it can go, and what a retraction must take up."""

    balance: ForceBalance
    greatest_mm3_s: Band
    """Greatest flow that the feed path sustains at that temperature."""
    greatest_limited_by: Limit
    slack: Slack


def soak_of(
    store: Store, machine: str, event: str, *, nozzle_c: float, minutes: float | None = None, material: str = "pla"
) -> SoakOutcome:
    """What a power cut, a hot stop or a stalled fan does to a machine; records nothing.

    ``event`` is one of :data:`SOAKS`; ``minutes`` how long it lasts, and may be left out of a power cut alone.
    """
    whose = machine_named(store, machine)
    what = pick_entry(SOAKS, event, "mishap")
    stuff = pick_entry(load_catalogue().materials, material, "material")
    if minutes is None and event == "power_cut":
        minutes = UNTIL_COLD_MIN
    if minutes is None:
        raise BadInput("minutes", expected=f"a {what} needs how long it lasted", remedy="give the minutes")
    lasted = within("minutes", minutes, 0.0, 7 * 1440.0, "min")
    return _soak(whose, what, nozzle_c, lasted, stuff)


def _soak(machine: Machine, what: SoakKind, nozzle_c: float, minutes: float, material: Material) -> SoakOutcome:
    from feedwright.physics.soak import soak

    hot_end, _ = hot_end_and_drive(machine)
    filament_mm = machine.motion.filament_diameter_mm
    return soak(
        hot_end, material, set_c=nozzle_c, what=what, minutes=minutes, ambient_c=machine.enclosure_c,
        filament_mm=filament_mm,
    )  # fmt: skip


def with_heat(event: Event, machine: Machine) -> Event:
    """The event with what its heat did; unchanged where it lets no heat creep or too little of it is known."""
    minutes = UNTIL_COLD_MIN if event.kind == "power_cut" and event.minutes is None else event.minutes
    if event.kind not in SOAKS or event.nozzle_c is None or minutes is None or event.nozzle_c < COLD_BELOW_C:
        return event
    materials = load_catalogue().materials
    stuff = materials.get(event.material) or next(iter(materials.values()))
    outcome = _soak(machine, SOAKS[event.kind], event.nozzle_c, minutes, stuff)
    return replace(event, stretch=stretch_of(outcome, lined=machine.hot_end == "lined"))


def stretch_of(outcome: SoakOutcome, *, lined: bool) -> Stretch:
    """The stretch of standing hot that wears a machine as much as a soak did.

    The laws of wear know the nozzle's set temperature, at which the liner's end runs as hot as it did before the
    mishap; each of its temperatures afterwards stands for the set temperature that would hold it there. Where no liner
    reaches the nozzle, the heated block's own time counts.
    """
    held_s = 0.0 if outcome.what == "power cut" else outcome.minutes * 60
    above_k = outcome.set_c - outcome.liner_before_c
    if lined:
        return Stretch(idle_s=held_s, nozzle_s=tuple((at_c + above_k, seconds) for at_c, seconds in outcome.liner_s))
    return Stretch(idle_s=held_s, nozzle_s=((outcome.set_c, held_s),) if held_s else ())


def fan_of(
    store: Store,
    machine: str,
    *,
    nozzle_c: float,
    sink_c: float | None = None,
    finger_s: float | None = None,
    let_go: bool = False,
    material: str = "pla",
    ambient_c: float | None = None,
) -> FanVerdict:
    """What a reading at the top of the sink says of its fan, at rest after ten minutes at ``nozzle_c``.

    Either ``sink_c`` from a contact thermometer, or how long a fingertip stayed (``finger_s``) and whether it had to
    ``let_go``: a poor probe, and it can be burnt.
    """
    from feedwright.physics.fan import fan_reading
    from feedwright.physics.touch import finger_band_c

    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    hot_end, _ = hot_end_and_drive(whose)
    around_c = whose.enclosure_c if ambient_c is None else within("ambient", ambient_c, -20, 100, "°C")
    if sink_c is None:
        if finger_s is None:
            raise BadInput("fan", expected="expected a reading", remedy="measure the top of the sink, in °C")
        reading = finger_band_c(finger_s, let_go=let_go, ambient_c=around_c)
    else:
        reading = Band(sink_c - THERMOMETER_DK, sink_c, sink_c + THERMOMETER_DK)
    return fan_reading(hot_end, stuff, sink_top_c=reading, set_c=nozzle_c, ambient_c=around_c, by_finger=sink_c is None)


def push_of(
    store: Store, machine: str, *, material: str, flow_mm3_s: float, nozzle_c: float | None = None
) -> FeedSheet:
    """The push a flow needs, the greatest flow, and the slack of the feed path, at the material's usual temperature."""
    from feedwright.physics.feed_force import force_balance
    from feedwright.physics.flow_limit import greatest_flow
    from feedwright.physics.slack import slack

    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    path = feed_path_of(store, whose)
    at_c = stuff.nozzle_c.value if nozzle_c is None else nozzle_c
    balance = force_balance(path, stuff, flow_mm3_s=flow_mm3_s, nozzle_c=at_c, ambient_c=whose.enclosure_c)
    greatest, limit = greatest_flow(path, stuff, nozzle_c=at_c, ambient_c=whose.enclosure_c)
    return FeedSheet(balance, greatest, limit, slack(path, stuff, push_n=min(balance.needed_n, balance.available_n)))


def orifice_of(
    store: Store, machine: str, *, material: str, flow_new_mm3_s: float, flow_now_mm3_s: float
) -> OrificeVerdict:
    """What a flow test at the same push, against the same test when the nozzle was new, says of its orifice."""
    from feedwright.physics.orifice import orifice_by_flow

    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    path = feed_path_of(store, whose)
    return orifice_by_flow(
        stuff, bore_new_mm=path.orifice_mm, flow_new_mm3_s=flow_new_mm3_s, flow_now_mm3_s=flow_now_mm3_s
    )
