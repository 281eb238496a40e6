"""The feed rate: steps per millimetre from commanded and measured lengths, and slip from hot against free feed."""

from collections.abc import Sequence

from feedwright.errors import BadInput
from feedwright.service.gum import coverage, mean_and_scatter, of_product, of_scale
from feedwright.service.values import FeedHealth, FeedRateSheet, Measured

CALIBRATION_FRAC = 0.05
"""An error beyond this is slip, a clog or a wrong gear on record, not calibration (common practice)."""
INCH_MM = 25.4
SLIPS_FRAC, SLIPS_BADLY_FRAC = 0.02, 0.05
"""Loss of hot against free feed from which it is called so (assumed)."""


def feed_rate(
    steps_per_mm: float,
    commanded_mm: float,
    measured_mm: Sequence[float],
    *,
    division_mm: float = 0.5,
    commanded_u_mm: float = 0.0,
) -> FeedRateSheet:
    """The steps per mm that the readings ask for, ``new = old commanded / measured``, with uncertainty by the GUM.

    ``(u(new)/new)² = (u(commanded)/commanded)² + (u(measured)/measured)²`` (JCGM 100:2008, 5.1.6); the measured
    length carries two marks of a scale of ``division_mm`` and the scatter of its mean. Raises BadInput where the
    error is beyond :data:`CALIBRATION_FRAC`: that is no calibration.
    """
    _within("steps per mm", steps_per_mm, 5, 5000, "steps/mm")
    _within("commanded length", commanded_mm, 10, 1000, "mm")
    _within("division of the scale", division_mm, 0.001, 2, "mm")
    if not measured_mm:
        raise _wrong("measured length", "", "expected at least one reading", "measure what was fed in, in mm")
    mean, scatter = mean_and_scatter(measured_mm)
    for number, reading in enumerate(measured_mm, 1):
        _refuse_unlikely(reading, commanded_mm, f"reading {number}")
    u_mm = of_product(of_scale(division_mm), scatter)  # two independent parts of one length: they add in quadrature
    relative = of_product(commanded_u_mm / commanded_mm, u_mm / mean)
    new = Measured(steps_per_mm * commanded_mm / mean, relative, coverage(scatter, u_mm, len(measured_mm)))
    error = mean / commanded_mm - 1
    expanded = new.coverage_ratio * relative
    change = abs(error) > expanded
    return FeedRateSheet(
        steps_per_mm=steps_per_mm,
        commanded_mm=commanded_mm,
        measured_mm=mean,
        readings_count=len(measured_mm),
        error_frac=error,
        new_steps_per_mm=new,
        change=change,
        because=(
            f"{commanded_mm:g} mm were asked, {mean:.2f} mm went in: {error:+.2%}, known to ±{expanded:.2%}.",
            "Set the new steps per mm." if change else "That is less than these readings can tell: leave it as it is.",
            "Flow goes with the square of the diameter: ±0.03 mm of a 1.75 mm filament is about 2 % of flow (GUM), so "
            "measure the diameter before chasing the last half percent.",
        ),
    )  # fmt: skip


def feed_health(free: FeedRateSheet, hot: FeedRateSheet) -> FeedHealth:
    """How much less goes in against the hot end than freely: slip grows with the force, so that it tells of both.

    The two errors are compared, with the uncertainty of their difference.
    """
    lost = (1 + free.error_frac) - (1 + hot.error_frac)
    uncertainty = of_product(*(
        sheet.new_steps_per_mm.coverage_ratio * sheet.new_steps_per_mm.standard_ratio for sheet in (free, hot)
    ))  # fmt: skip
    said = f"Hot it feeds {lost:.2%} less than freely (±{uncertainty:.2%})."
    if uncertainty > SLIPS_BADLY_FRAC:
        return FeedHealth(lost, uncertainty, "cannot tell", said + " Measure over a longer length, or more often.")
    if lost - uncertainty > SLIPS_BADLY_FRAC:
        advice = " The drive slips: look at gear, idler and tube, and for a clog."
        return FeedHealth(lost, uncertainty, "slips badly", said + advice)
    if lost > SLIPS_FRAC:
        return FeedHealth(lost, uncertainty, "slips", said + " Look at the gear and the tube at the next visit.")
    return FeedHealth(lost, uncertainty, "healthy", said)


def _refuse_unlikely(reading_mm: float, commanded_mm: float, place: str) -> None:
    ratio = reading_mm / commanded_mm
    if abs(ratio - 1) <= CALIBRATION_FRAC:
        return
    given = f"{place}, {reading_mm:g} mm for {commanded_mm:g} mm asked"
    if abs(ratio * INCH_MM - 1) <= 3 * CALIBRATION_FRAC:
        raise _wrong("measured length", given, "it looks like inches", f"give mm: {reading_mm * INCH_MM:.1f}")
    if abs(ratio / 10 - 1) <= CALIBRATION_FRAC or abs(ratio * 10 - 1) <= CALIBRATION_FRAC:
        raise _wrong("measured length", given, "it is out by ten: cm or a slip of the pen", "give mm")
    raise _wrong(
        "measured length",
        given,
        f"an error of {ratio - 1:+.1%} is beyond ±{CALIBRATION_FRAC:.0%}: that is slip, a clog or a wrong gear on "
        "record, not calibration",
        "do not write it into the machine; open a case and find the cause (`feedwright case`)",
    )


def _within(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise _wrong(what, f"{value:g} {unit}", f"expected {low:g} to {high:g} {unit}", "check the number and its unit")


def _wrong(what: str, place: str, expected: str, remedy: str) -> BadInput:
    return BadInput(what, place=place, expected=expected, remedy=remedy)
