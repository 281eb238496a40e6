"""Heat creeping up the feed path: what a power cut, a hot stop or a stalled fan did, and what to check after it."""

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd, polymer_of
from feedwright.physics.air import Floats
from feedwright.physics.heat_flow import march, soft_from_mm, steady
from feedwright.physics.hot_end import HeatPath, heat_path, within
from feedwright.physics.soak_advice import SoakFacts, cautions_for, checks_for
from feedwright.physics.touch import REST_C, safe_contact_s
from feedwright.physics.values import HeatRun, HeatState, SoakCurve, SoakKind, SoakOutcome

COOL_DOWN_S = 4 * 3600.0
SETTLED_K_S = 2e-4
"""Slower than this nothing matters any more: 0.7 K in an hour."""
LEAST_S = 1e-3
"""A mishap shorter than this is none: a step of next to no time has no numbers of its own."""
BIN_DK = 5.0
WEARS_FROM_C = 100.0
"""Below this a liner hardly ages: a thousandth of the pace at 240 °C (activation 0.8 eV)."""
SINK_GRACE_MM = 3.0
"""Softened filament this far up in the sink is no trouble yet: the neck's thread reaches so far (assumed)."""
CURVE_POINTS = 240


def soak(
    hot_end: HotEnd,
    material: Material,
    *,
    set_c: float,
    what: SoakKind,
    minutes: float,
    ambient_c: float = 22.0,
    effectiveness_ratio: float = 1.0,
    flow_mm3_s: float = 0.0,
    filament_mm: float = 1.75,
) -> SoakOutcome:
    """Two spells: the mishap for ``minutes``, then the cool-down until hands may rest on the machine.

    - ``power cut``: heater and fan are off; after ``minutes`` power and fan return, the heater stays off;
    - ``hot stop``: the feed stands, the heater holds and the fan turns; after ``minutes`` the heater is switched off;
    - ``stalled fan``: the heater holds without a fan, the feed going on; after ``minutes`` the heater is switched
      off, the fan stays still.

    ``effectiveness_ratio`` is the fan's before the mishap (and after it where it turns again); ``flow_mm3_s`` the flow
    before it. Raises OutOfRange for a temperature, time or flow beyond the model.
    """
    within("minutes", minutes, 0.0, 7 * 1440.0)
    if minutes * 60 < LEAST_S:
        minutes = 0.0
    path = heat_path(hot_end, material, flow_mm3_s=flow_mm3_s, ambient_c=ambient_c, filament_mm=filament_mm)
    standing = heat_path(hot_end, material, ambient_c=ambient_c, filament_mm=filament_mm)
    before = steady(path, set_c, effectiveness_ratio)
    mishap = march(
        path if what == "stalled fan" else standing,
        before,
        set_c=None if what == "power cut" else set_c,
        effectiveness_ratio=effectiveness_ratio if what == "hot stop" else 0.0,
        seconds=minutes * 60,
        settled_k_s=SETTLED_K_S,
    )
    last = HeatState(path.z_mm, mishap.wall_c[-1], mishap.core_c[-1], 0.0, 0.0, 0.0)
    cooling = march(
        standing,
        last,
        set_c=None,
        effectiveness_ratio=0.0 if what == "stalled fan" else effectiveness_ratio,
        seconds=COOL_DOWN_S,
        settled_k_s=SETTLED_K_S,
    )
    softens_c = polymer_of(material).softens_c.value
    course = _second_by_second(standing, mishap, softens_c).then(
        _second_by_second(standing, cooling, softens_c), minutes * 60
    )
    return _outcome(hot_end, material, standing, what, set_c, minutes, before, course)


@dataclass(frozen=True, slots=True, eq=False)
class _Course:
    """What is watched over time; arrays of shape (m,)."""

    after_s: Floats
    sink_c: Floats
    liner_c: Floats
    nozzle_c: Floats
    soft_from_mm: Floats

    def then(self, later: "_Course", from_s: float) -> "_Course":
        """This course and a later one that begins ``from_s`` after this one's start, in the state this one ends in."""
        held = self.after_s[-1] < from_s  # the course ended early, since nothing changed any more
        watched = ((getattr(self, f.name), getattr(later, f.name)[0 if held else 1 :]) for f in fields(self)[1:])
        times = np.append(self.after_s, from_s + later.after_s[0 if held else 1 :])
        return _Course(times, *(np.append(first, second) for first, second in watched))

    def first_s(self, true_at: NDArray[np.bool_]) -> float | None:
        """When something first held."""
        return float(self.after_s[true_at.argmax()]) if true_at.any() else None

    def touch_s(self, cell_c: Floats, heater_off_s: float, slowest_ratio: float) -> float:
        """From when on hands may rest, on the slowest hot end of its kind; infinite in surroundings too warm for it."""
        warm = np.flatnonzero(cell_c > REST_C)
        if not len(warm):
            return 0.0
        if warm[-1] == len(cell_c) - 1:
            return math.inf
        usual_s = float(self.after_s[warm[-1] + 1])
        return usual_s + max(0.0, usual_s - heater_off_s) * (slowest_ratio - 1)

    def time_at(self, cell_c: Floats) -> tuple[tuple[float, float], ...]:
        """Seconds by temperature in steps of :data:`BIN_DK`, from :data:`WEARS_FROM_C` up."""
        bins = np.round((cell_c[:-1] + cell_c[1:]) / 2 / BIN_DK).astype(int)
        seconds = np.bincount(bins.clip(0), weights=np.diff(self.after_s))
        return tuple((i * BIN_DK, float(s)) for i, s in enumerate(seconds) if s > 0 and i * BIN_DK >= WEARS_FROM_C)


def _second_by_second(path: HeatPath, run: HeatRun, softens_c: float) -> _Course:
    """A run's steps grow longer; here every second has its line, by straight lines between steps."""
    after_s = np.append(np.arange(0.0, run.after_s[-1], 1.0), run.after_s[-1])
    sink_c, liner_c, nozzle_c = (run.wall_c[:, cell] for cell in (0, path.liner_end, -1))
    watched = (sink_c, liner_c, nozzle_c, soft_from_mm(path, run.core_c, softens_c))
    return _Course(after_s, *(np.interp(after_s, run.after_s, series) for series in watched))


def _outcome(
    hot_end: HotEnd,
    material: Material,
    path: HeatPath,
    what: SoakKind,
    set_c: float,
    minutes: float,
    before: HeatState,
    course: _Course,
) -> SoakOutcome:
    sink_c, liner_c, nozzle_c, soft_from = course.sink_c, course.liner_c, course.nozzle_c, course.soft_from_mm
    creep_mm = np.maximum(0.0, path.block_top_mm - soft_from)
    in_sink = soft_from < hot_end.sink_height_mm.value - SINK_GRACE_MM
    facts = SoakFacts(
        what=what,
        lined=hot_end.lined,
        material=material.title,
        minutes=minutes,
        hot_minutes=float(np.diff(course.after_s) @ (nozzle_c[1:] > material.nozzle_c.low)) / 60,
        sink_peak_c=float(sink_c.max()),
        liner_peak_c=float(liner_c.max()),
        liner_caution_c=hot_end.liner_caution_c.value,
        liner_limit_c=hot_end.liner_limit_c.value,
        fume_c=hot_end.fume_c.value,
        creep_mm=float(creep_mm.max()),
        creep_before_mm=float(creep_mm[0]),
        softened_in_sink=bool(in_sink.any()),
    )
    heater_off_s = 0.0 if what == "power cut" else minutes * 60
    slowest_ratio = _slowest_ratio(hot_end)
    return SoakOutcome(
        what=what,
        set_c=set_c,
        ambient_c=path.ambient_c,
        minutes=minutes,
        sink_before_c=before.sink_top_c,
        sink_peak_c=facts.sink_peak_c,
        sink_peak_after_s=float(course.after_s[sink_c.argmax()]),
        liner_before_c=float(before.wall_c[path.liner_end]),
        liner_peak_c=facts.liner_peak_c,
        liner_peak_after_s=float(course.after_s[liner_c.argmax()]),
        softened_mm=float((hot_end.path_mm - soft_from).max()),
        creep_mm=facts.creep_mm,
        sink_softens_after_s=course.first_s(in_sink),
        sink_touch_after_s=course.touch_s(sink_c, heater_off_s, slowest_ratio),
        nozzle_touch_after_s=course.touch_s(nozzle_c, heater_off_s, slowest_ratio),
        sink_finger_s=safe_contact_s(facts.sink_peak_c),
        liner_s=course.time_at(liner_c),
        curve=_curve(course.after_s, sink_c, liner_c, nozzle_c, creep_mm),
        checks=checks_for(facts),
        cautions=cautions_for(facts),
    )


def _slowest_ratio(hot_end: HotEnd) -> float:
    """How much longer than usual the heaviest, best wrapped hot end of its kind takes to cool: for hands, the worst."""
    return hot_end.block_j_k.high / hot_end.block_j_k.value * hot_end.block_loss_w_k.value / hot_end.block_loss_w_k.low


def _curve(after_s: Floats, *columns: Floats) -> SoakCurve:
    """About :data:`CURVE_POINTS` points evenly spread in time."""
    times = np.linspace(0.0, after_s[-1], CURVE_POINTS)
    return SoakCurve(tuple(times.tolist()), *(tuple(np.interp(times, after_s, held).tolist()) for held in columns))
