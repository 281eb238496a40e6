"""From the compiled loop's arrays to values: slices of the print, its whole, its profile."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from feedwright.toolpath import kernel as k
from feedwright.toolpath.values import Duty, Profile, Stretch

Floats = NDArray[np.float64]

ADDED = (
    ("printing_s", k.T_PRINTING),
    ("travel_s", k.T_TRAVEL),
    ("heating_s", k.T_HEATING),
    ("idle_s", k.T_IDLE),
    ("filament_forward_mm", k.T_FORWARD),
    ("filament_back_mm", k.T_BACK),
    ("reversals", k.T_REVERSALS),
    ("travel_x_mm", k.T_X),
    ("travel_y_mm", k.T_Y),
    ("travel_z_mm", k.T_Z),
    ("part_fan_s", k.T_FAN),
    ("nozzle_heat_ups", k.T_NOZZLE_UPS),
    ("bed_heat_ups", k.T_BED_UPS),
)


def stretch_of(row: Floats, nozzle_levels: Iterable[float], bed_levels: Iterable[float]) -> Stretch:
    """One row of sums, shape (T_SIZE,), as a stretch; set temperatures without time are left out."""
    return Stretch(
        **{name: float(row[column]) for name, column in ADDED},
        nozzle_s=_at_levels(row, k.T_NOZZLE, nozzle_levels),
        bed_s=_at_levels(row, k.T_BED, bed_levels),
    )


def _at_levels(row: Floats, first: int, levels: Iterable[float]) -> tuple[tuple[float, float], ...]:
    held = ((float(at_c), float(row[first + index])) for index, at_c in enumerate(levels))
    return tuple(sorted(pair for pair in held if pair[1] > 0.0))


def duty_of(
    slices: Floats,
    tally: Floats,
    flow_s: Floats,
    nozzle_levels: Floats,
    bed_levels: Floats,
    passes_mm: Floats,
    *,
    area_mm2: float,
    moves: int,
    layers: int,
    high_water_mm: float,
    box: Floats,
) -> Duty:
    """The duty of a whole file from its sums: ``slices`` (SLICES, T_SIZE), ``box`` low and high corner (6,)."""
    count = int(tally[k.A_SLICE]) + 1
    used = slices[:count]
    durations = used[:, [k.T_PRINTING, k.T_TRAVEL, k.T_HEATING, k.T_IDLE]].sum(axis=1)
    used = used[durations > 0]
    nozzle, bed = nozzle_levels[: int(tally[k.A_NOZZLE_COUNT])], bed_levels[: int(tally[k.A_BED_COUNT])]
    printing = np.maximum(used[:, k.T_PRINTING], 1e-12)
    profile = Profile(
        slice_s=float(tally[k.A_SLICE_S]),
        slices=tuple(stretch_of(row, nozzle, bed) for row in used),
        flow_mm3_s=tuple((used[:, k.T_LAID] * area_mm2 / printing).tolist()),
        flow_max_mm3_s=tuple(used[:, k.T_FLOW_MAX].tolist()),
        nozzle_c=tuple(used[:, k.T_NOZZLE_C].tolist()),
        layer=tuple(int(value) for value in used[:, k.T_LAYER]),
        line=tuple(int(value) for value in used[:, k.T_LINE]),
    )
    laid = bool(np.all(np.isfinite(box)))
    last_flow = int(np.flatnonzero(flow_s)[-1]) + 1 if flow_s.any() else 0
    last_pass = int(np.flatnonzero(passes_mm)[-1]) + 1 if passes_mm.any() else 0
    return Duty(
        whole=stretch_of(used.sum(axis=0), nozzle, bed),
        moves=moves,
        layers=layers,
        filament_high_water_mm=high_water_mm,
        passes_mm=tuple(passes_mm[:last_pass].tolist()),
        flow_s=tuple(flow_s[:last_flow].tolist()),
        flow_bin_mm3_s=k.FLOW_BIN,
        flow_max_mm3_s=max(profile.flow_max_mm3_s, default=0.0),
        nozzle_c_max=float(tally[k.A_NOZZLE_MAX]),
        bed_c_max=float(tally[k.A_BED_MAX]),
        box_low_mm=tuple(box[:3].tolist()) if laid else (0.0, 0.0, 0.0),
        box_high_mm=tuple(box[3:].tolist()) if laid else (0.0, 0.0, 0.0),
        profile=profile,
    )
