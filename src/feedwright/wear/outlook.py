"""From exposure, life and pace to what is expected of one fitting."""

import math

import numpy as np

from feedwright.catalogue.entry import PartKind
from feedwright.units import show_duration, show_rounded
from feedwright.wear.life import Floats, LifeCurve
from feedwright.wear.outlook_numbers import LATER_DAYS, OutlookNumbers, outlook_numbers
from feedwright.wear.standing import Standing
from feedwright.wear.values import Interval, Outlook, PaceOfUse, Share

NEVER, NOTHING = Interval(math.inf, math.inf, math.inf), Interval(0.0, 0.0, 0.0)


def still_alive(curve: LifeCurve, known: Interval | Standing, more: Floats) -> Floats:
    """Chance that a part alive now is alive after that much more exposure; ``more`` any shape.

    Where the present exposure is uncertain, each possible age counts by the chance of having reached it; what was
    seen of the part itself counts by its bounds. ``curve`` must not have learned from this same part.
    """
    standing = known if isinstance(known, Standing) else Standing.of(known)
    now = standing.left(curve.alive, np.zeros(1))[0]
    return np.asarray(standing.left(curve.alive, np.asarray(more)) / max(float(now), 1e-300))


def outlook(
    kind: PartKind,
    curve: LifeCurve,
    exposure: Interval,
    pace: PaceOfUse,
    drivers: tuple[Share, ...],
    *,
    standing: Standing | None = None,
    own: LifeCurve | None = None,
    said: tuple[str, ...] = (),
) -> Outlook:
    """What is expected of a fitting that has been through ``exposure`` and is used at ``pace``.

    ``curve`` is the life of such parts in its place. Where the part itself was looked at, ``standing`` holds its
    bounds, ``own`` the curve as it is without this part's own story, and ``said`` that story in words.
    """
    expected, known = own or curve, standing or Standing.of(exposure)
    numbers = outlook_numbers(expected.exposure, expected.survival[None], [known], [pace])
    return told(kind, curve, exposure, pace, drivers, numbers, 0, said=said)


def told(
    kind: PartKind, curve: LifeCurve, exposure: Interval, pace: PaceOfUse, drivers: tuple[Share, ...],
    numbers: OutlookNumbers, row: int, *, said: tuple[str, ...] = (), failed: bool = False,
) -> Outlook:  # fmt: skip
    """The outlook of one of many parts whose numbers were worked out together; of one found ``failed``, none."""
    life, per_day, hours = curve.life, pace.exposure_per_day, pace.printing_h_per_day
    day, week, month = [1.0, 1.0, 1.0] if failed else numbers.failure_frac[row].tolist()
    later = np.ones(LATER_DAYS.size) if failed else numbers.later_frac[row]
    remaining = NOTHING if failed else Interval(*numbers.remaining[row].tolist())
    return Outlook(
        part_kind=kind.id,
        exposure=exposure,
        unit=kind.exposure.unit,
        life=life,
        share_used=Interval(exposure.low / life.high, exposure.mid / life.mid, exposure.high / life.low),
        failure_frac_day=day,
        failure_frac_week=week,
        failure_frac_month=month,
        remaining=remaining,
        remaining_printing_h=remaining.times(hours / per_day) if per_day > 0 and hours > 0 else NEVER,
        remaining_days=NOTHING if failed else Interval(*numbers.remaining_days[row].tolist()),
        because=(*_reasons(kind, curve, exposure, pace, drivers), *said),
        drivers=drivers,
        life_source=curve.source,
        failure_by_days=tuple(zip(LATER_DAYS.tolist(), later.tolist(), strict=True)),
    )


def _reasons(
    kind: PartKind, curve: LifeCurve, exposure: Interval, pace: PaceOfUse, drivers: tuple[Share, ...]
) -> tuple[str, ...]:
    life = curve.life
    used = f"It has been through {show_rounded(exposure.mid)} {kind.exposure.unit}"
    if exposure.high > exposure.low:
        low, high = show_rounded(exposure.low), show_rounded(exposure.high)
        used += f" (somewhere from {low} to {high}: its history is not fully known)"
    low, mid, high = show_rounded(life.low), show_rounded(life.mid), show_rounded(life.high)
    said = [f"{used}; such a part lasts about {mid}, eight in ten between {low} and {high} ({curve.source})."]
    if drivers:
        most = ", ".join(f"{share.words} ({share.share_frac:.0%})" for share in drivers[:3])
        said.append(f"On this machine such wear lately came mostly from {most}.")
    if pace.exposure_per_day > 0:
        day = f"{show_rounded(pace.exposure_per_day)} {kind.exposure.unit} a day"
        printed = show_duration(pace.printing_h_per_day * 3600)
        said.append(f"It gathers {day}, with {printed} of printing a day.")
    else:
        said.append("The machine has not printed lately, so nothing wears now.")
    return tuple(said)
