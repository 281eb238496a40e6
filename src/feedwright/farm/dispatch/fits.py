"""Whether a machine, as it stands today, will print a file well."""

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadToolpath
from feedwright.farm.dispatch.prints_ahead import PartAhead, parts_ahead, spoiled_frac
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick_entry, within
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.plates import plate_of
from feedwright.farm.parts.feed_paths import feed_path_of
from feedwright.farm.toolpaths.toolpaths import kept_copy, toolpath_named
from feedwright.physics.feed_force import FeedPath, force_balance
from feedwright.physics.flow_limit import flow_limit
from feedwright.physics.slack import slack
from feedwright.physics.values import FlowLimit
from feedwright.planning.fit import FileWalk, FileWalker, FitLimits, Trouble
from feedwright.records.store import Store
from feedwright.records.values import Fitting, Machine
from feedwright.service.plate import Plate
from feedwright.toolpath.asked import AskedLimit, asked_limits
from feedwright.toolpath.read import read_file
from feedwright.toolpath.values import Duty
from feedwright.units import show
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings

FLOW_TABLE_C = tuple(150.0 + 10.0 * step for step in range(21))
"""Nozzle temperatures at which the greatest flow is worked out; straight lines between them."""
USUAL_FLOW_MM3_S = 4.0
"""Flow at which the spring in the filament is reckoned (assumed)."""
ABRASIVE_FROM = 3.0
"""From so many times the plain polymer's wear a soft nozzle is the wrong one."""
SOFT_NOZZLES = ("brass", "plated_brass")
CLOSE_BORE_MM = 1.95
OVER_FRAC = 0.02
"""From such a share of its printing beyond the flow limit a file is not for the machine (assumed, as in its walk)."""
MIND_FRAC, LIKELY_FRAC = 0.05, 0.25
"""From such a chance to fail within the print a part is worth a word, and grave (assumed)."""


@dataclass(frozen=True, slots=True)
class FitReport:
    """Whether a machine will print a file well, and where it will not."""

    machine: Machine
    file: str
    material: Material
    duty: Duty
    walk: FileWalk
    troubles: tuple[Trouble, ...]
    """The grave ones first."""
    filament_g: float
    parts: tuple[PartAhead, ...]
    """Each fitted part's chance to fail within the print, the likeliest first."""
    spoiled_frac: float
    """Chance that one of them fails and spoils it."""

    @property
    def verdict(self) -> str:
        """In three words or fewer."""
        if any(trouble.grave for trouble in self.troubles):
            return "not as it stands"
        return "with care" if self.troubles else "yes"


def fit(
    store: Store,
    machine: str,
    toolpath: Path | str,
    *,
    material: str,
    spool_g: float | None = None,
    now_utc: datetime | None = None,
) -> FitReport:
    """Hold a file against a machine with the parts that are fitted to it now.

    ``toolpath`` is a file, or the name or content hash of a known one; ``spool_g`` what is left on the spool.
    Raises BadToolpath where the file holds no filament toolpath.
    """
    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    if spool_g is not None:
        within("filament left", spool_g, 0, 100_000, "g")
    feed = feed_path_of(store, whose)
    walker = FileWalker(_limits(feed, whose, stuff))
    path, name, sha256 = _file(store, toolpath)
    reading = read_file(path, whose.motion, sha256=sha256, watch=walker.take)
    if reading.duty is None:
        raise BadToolpath(
            name, place=f"read as: {reading.kind}", expected=reading.refused_because,
            remedy="give the G-code file that the printer prints",
        )  # fmt: skip
    duty, walk = reading.duty, walker.done()
    grams = 1000 * filament_kg(duty.whole, Surroundings(stuff.id, whose.enclosure_c, feed.filament_mm), stuff)
    fitted = store.fittings(whose.id, open_only=True)
    ahead = parts_ahead(store, whose, duty.whole, stuff, moment(now_utc))
    troubles = [
        *walk.troubles, *_travel(duty, whose), *_asked(asked_limits(path), whose), *_parts(stuff, feed, fitted),
        *_spool(grams, spool_g), *_wear(ahead),
    ]  # fmt: skip
    ordered = tuple(sorted(troubles, key=lambda trouble: not trouble.grave))
    return FitReport(whose, name, stuff, duty, walk, ordered, grams, ahead, spoiled_frac(ahead))


def troubles_by_duty(
    machine: Machine, fitted: list[Fitting], feed: FeedPath, limit: FlowLimit, material: Material, duty: Duty
) -> list[Trouble]:
    """What the reading alone tells of a file on a machine: its reach, heat, flow and parts; the walk tells the rest.

    The flow is held against what the path sustains at the material's usual temperature (``limit``).
    """
    found = [*_travel(duty, machine), *_parts(material, feed, fitted)]
    hot_c = max((at_c for at_c, _ in duty.whole.nozzle_s), default=material.nozzle_c.value)
    if feed.hot_end.lined and hot_c > feed.hot_end.liner_limit_c.value:
        words = f"It heats to {hot_c:.0f} °C, beyond the fitted liner's limit: it softens and gives off harmful fumes."
        found.append(Trouble("liner", True, words))
    if hot_c < material.nozzle_c.low:
        words = f"It prints at {hot_c:.0f} °C; this material wants {material.nozzle_c.low:.0f} °C at least."
        found.append(Trouble("too cold", True, words))
    most = float(limit.at(np.array([material.nozzle_c.value]))[0])
    over_s = sum(seconds for at, seconds in enumerate(duty.flow_s) if at * duty.flow_bin_mm3_s >= most)
    if over_s > OVER_FRAC * sum(duty.flow_s):
        words = f"It asks for more than the {most:.1f} mm³/s that this feed path sustains for {over_s / 60:.0f} min."
        found.append(Trouble("flow", True, words))
    return found


def _file(store: Store, toolpath: Path | str) -> tuple[Path, str, str]:
    """Where the file lies, its name, and its hash where that is known: reading need not hash it again."""
    if isinstance(toolpath, Path) or Path(toolpath).is_file():
        return Path(toolpath), Path(toolpath).name, "not hashed"
    known = toolpath_named(store, toolpath)
    return kept_copy(store, known), known.name, known.sha256


def _limits(feed: FeedPath, machine: Machine, material: Material) -> FitLimits:
    """What feed path, liner and material bear; slack is reckoned at a usual flow and the usual temperature."""
    at_c, hot_end = material.nozzle_c, feed.hot_end
    balance = force_balance(
        feed, material, flow_mm3_s=USUAL_FLOW_MM3_S, nozzle_c=at_c.value, ambient_c=machine.enclosure_c
    )
    lost = slack(feed, material, push_n=min(balance.needed_n, balance.available_n))
    return FitLimits(
        flow=sustained(feed, material, FLOW_TABLE_C, machine.enclosure_c),
        cold_c=at_c.low,
        hot_c=at_c.high,
        caution_c=hot_end.liner_caution_c.value if hot_end.lined else float("inf"),
        limit_c=hot_end.liner_limit_c.value if hot_end.lined else float("inf"),
        retraction_low_mm=lost.retraction_mm.low,
        retraction_high_mm=lost.longest_mm,
    )


_SUSTAINED: dict[tuple[str, str, tuple[float, ...], float], FlowLimit] = {}
MOST_SUSTAINED = 512


def sustained(feed: FeedPath, material: Material, nozzle_c: tuple[float, ...], ambient_c: float) -> FlowLimit:
    """What a feed path sustains at these temperatures; kept, since it changes only with the parts."""
    key = (repr(feed), material.id, nozzle_c, ambient_c)
    if key not in _SUSTAINED:
        if len(_SUSTAINED) >= MOST_SUSTAINED:
            _SUSTAINED.clear()
        _SUSTAINED[key] = flow_limit(feed, material, nozzle_c=np.array(nozzle_c), ambient_c=ambient_c)
    return _SUSTAINED[key]


def _travel(duty: Duty, machine: Machine) -> list[Trouble]:
    """The printed box beyond the machine's."""
    plate, found = plate_of(machine), []
    least, most = (*plate.low_mm, 0.0), (*plate.high_mm, machine.box_mm[2])
    for axis, low, high, near, far in zip("XYZ", duty.box_low_mm, duty.box_high_mm, least, most, strict=True):
        if low < near - 0.5 or high > far + 0.5:
            reaches = f"{far:.0f} mm" if near == 0 else f"from {near:.0f} to {far:.0f} mm"
            words = f"It prints from {low:.0f} to {high:.0f} mm along {axis}; this machine reaches {reaches}."
            found.append(Trouble("travel", True, words))
    return found or _round(duty, plate)


def _round(duty: Duty, plate: Plate) -> list[Trouble]:
    """On a round bed the corners of the printed box may lie beyond the edge: only the file's shape tells."""
    out = math.hypot(*(max(-duty.box_low_mm[axis], duty.box_high_mm[axis]) for axis in (0, 1)))
    if not plate.is_round or out <= plate.radius_mm + 0.5:
        return []
    words = (
        f"The corners of what it prints may lie {out:.0f} mm from the middle; this round bed reaches "
        f"{plate.radius_mm:.0f} mm. See that the print is round there."
    )
    return [Trouble("travel", False, words)]


def _asked(asked: list[AskedLimit], machine: Machine) -> list[Trouble]:
    """Speeds and accelerations that the file sets beyond the machine's record."""
    motion = machine.motion
    held = {"acceleration": motion.axis_acceleration_mm_s2, "speed": motion.axis_speed_mm_s}
    found = []
    for limit in asked:
        by_axis = dict(zip("XYZE", held[limit.quantity], strict=True))
        most = max(by_axis["X"], by_axis["Y"]) if limit.word == "MOVES" else by_axis.get(limit.word)
        if most is not None and limit.value > 1.01 * most:
            unit = "mm_s2" if limit.quantity == "acceleration" else "mm_s"
            where = "for moves" if limit.word == "MOVES" else f"along {limit.word.replace('E', 'the filament')}"
            words = f"It allows {show(limit.value, unit)} {where}; this machine is on record with {show(most, unit)}."
            found.append(Trouble("limits", False, words))
    return found


def _parts(material: Material, feed: FeedPath, fitted: list[Fitting]) -> list[Trouble]:
    """A nozzle or a bore that does not suit a filled material."""
    found = []
    nozzle = next((part for part in fitted if part.part_kind == "nozzle"), None)
    if nozzle and nozzle.product in SOFT_NOZZLES and material.abrasive_ratio.value >= ABRASIVE_FROM:
        words = (
            f"{material.title} wears a brass nozzle about {material.abrasive_ratio.value:.0f} times as fast as the "
            "plain polymer does: fit a hardened one."
        )
        found.append(Trouble("nozzle", False, words))
    if material.filler and feed.drive.id == "remote" and feed.tube_bore_mm < CLOSE_BORE_MM:
        words = "Filled filament wears and sticks in a close bore: fit a 2.0 mm tube (common practice)."
        found.append(Trouble("bore", False, words))
    return found


def _wear(ahead: tuple[PartAhead, ...]) -> list[Trouble]:
    """Parts that may well not last the print."""
    return [
        Trouble(
            "wear", one.failure_frac >= LIKELY_FRAC,
            f"{one.part.title}: {one.failure_frac:.0%} to fail within this print; see to it first "
            f"({one.part.kind.renewal.title}).",
        )
        for one in ahead
        if one.failure_frac >= MIND_FRAC
    ]  # fmt: skip


def _spool(needed_g: float, left_g: float | None) -> list[Trouble]:
    if left_g is None or needed_g <= left_g:
        return []
    return [Trouble("spool", True, f"It takes {needed_g:,.0f} g; {left_g:,.0f} g are left on the spool.")]
