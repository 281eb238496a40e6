"""Heat along the feed path, steady and over time: implicit, second order in step and cell, by a banded solver.

Unknowns are ordered wall, filament, wall, filament, ... down the path, so that the matrix has four bands below
and two above its diagonal. Equations, order and limits: docs/models/heat.md.
"""

import numpy as np
from numpy.typing import NDArray

from feedwright.physics.air import Floats
from feedwright.physics.hot_end import HeatPath, within
from feedwright.physics.values import HeatRun, HeatState

BELOW, ABOVE = 4, 2
Wholes = NDArray[np.int64]


class HeatSystem:
    """``C dT/dt = s − K T`` for one path, one fan and a heater that holds ``set_c`` or is off (None).

    The loss to still air depends on the wall's temperature, so ``K`` and ``s`` are asked for at one.
    """

    def __init__(self, path: HeatPath, effectiveness: float, set_c: float | None) -> None:
        within("effectiveness", effectiveness, 0.0, 2.0)
        self.path, self.set_c = path, set_c
        self.still_share = max(0.0, 1.0 - effectiveness)
        self.steady_loss_w_k = effectiveness * path.forced_w_k + path.fixed_w_k
        self.capacity_j_k = np.column_stack([path.wall_j_k, path.core_j_k]).ravel()
        self.base, self.inflow = self._conduction()
        self.held = 2 * np.flatnonzero(path.heated) if set_c is not None else np.empty(0, dtype=np.int64)

    def _conduction(self) -> tuple[Floats, Floats]:
        """K without losses, and what flows in with the filament."""
        path, count = self.path, len(self.path.z_mm)
        bands, inflow = np.zeros((BELOW + ABOVE + 1, 2 * count)), np.zeros(2 * count)
        wall = 2 * np.arange(count)
        core = wall + 1
        for upper, lower, link in (
            (wall[:-1], wall[1:], path.wall_link_w_k),
            (core[:-1], core[1:], path.core_link_w_k),
            (wall, core, path.cross_w_k),
        ):
            _add(bands, upper, upper, link)
            _add(bands, lower, lower, link)
            _add(bands, upper, lower, -link)
            _add(bands, lower, upper, -link)
        # A face takes the line through the two cells upstream of it; at the inlet, through inlet and first cell.
        stream = path.stream_w_k
        reach = path.width_mm[1:] / 2 / np.diff(path.z_mm)
        here, before = stream * np.append(2.0, 1 + reach), -stream * reach
        _add(bands, core, core, here)
        _add(bands, core[1:], core[:-1], before)
        _add(bands, core[1:], core[:-1], -here[:-1])
        _add(bands, core[2:], core[:-2], -before[:-1])
        inflow[core[0]] = 2 * stream * path.ambient_c
        inflow[core[1]] = -stream * path.ambient_c
        return bands, inflow

    def loss_w_k(self, wall_c: Floats) -> Floats:
        """Conductance from each wall cell to the air at that temperature, shape (n,)."""
        if self.still_share == 0.0:
            return self.steady_loss_w_k
        still = np.interp(wall_c, self.path.still_c, self.path.still_w_m2k)
        return self.steady_loss_w_k + self.still_share * self.path.still_m2 * still

    def solve(self, loss_w_k: Floats, storage_w_k: Floats | float, source_w: Floats | float) -> Floats:
        """``T`` of ``(K + storage) T = s + source``, the held cells at their set temperature."""
        from scipy.linalg import solve_banded

        bands, right = self.base.copy(), self.inflow + source_w
        bands[ABOVE] += storage_w_k
        bands[ABOVE, ::2] += loss_w_k
        right[::2] += loss_w_k * self.path.ambient_c
        for offset in range(-BELOW, ABOVE + 1):
            columns = self.held + offset
            inside = (columns >= 0) & (columns < len(right))
            bands[ABOVE - offset, columns[inside]] = 0.0
        bands[ABOVE, self.held] = 1.0
        if self.set_c is not None:
            right[self.held] = self.set_c
        return np.asarray(
            solve_banded((BELOW, ABOVE), bands, right, overwrite_ab=True, overwrite_b=True, check_finite=False)
        )

    def flows_w(self, state_c: Floats, loss_w_k: Floats) -> tuple[float, float]:
        """Heat lost to the air and heat carried out by the filament."""
        path = self.path
        lost_w = float(loss_w_k @ (state_c[::2] - path.ambient_c))
        last_c, before_c = state_c[-1], state_c[-3]
        face_c = last_c + (last_c - before_c) * path.width_mm[-1] / 2 / (path.z_mm[-1] - path.z_mm[-2])
        return lost_w, float(path.stream_w_k * (face_c - path.ambient_c))

    def held_w(self, state_c: Floats, loss_w_k: Floats) -> float:
        """Heat that the held cells give to all around them."""
        if not len(self.held):
            return 0.0
        given = _times(self.base, state_c) - self.inflow
        given[::2] += loss_w_k * (state_c[::2] - self.path.ambient_c)
        return float(given[self.held].sum())


def _add(bands: Floats, rows: Wholes, columns: Wholes, values: Floats) -> None:
    np.add.at(bands, (ABOVE + rows - columns, columns), values)


def _times(bands: Floats, vector: Floats) -> Floats:
    """The banded matrix times a vector."""
    product = np.zeros_like(vector)
    for offset in range(-BELOW, ABOVE + 1):
        row = bands[ABOVE - offset] * vector
        if offset >= 0:
            product[: len(vector) - offset] += row[offset:]
        else:
            product[-offset:] += row[:offset]
    return product


def steady(path: HeatPath, set_c: float, effectiveness: float = 1.0) -> HeatState:
    """Temperatures once nothing changes any more, the block held at ``set_c``."""
    _warm(set_c)
    system = HeatSystem(path, effectiveness, set_c)
    wall_c = np.full(len(path.z_mm), path.ambient_c)
    for _ in range(200):
        loss = system.loss_w_k(wall_c)
        state = system.solve(loss, 0.0, 0.0)
        moved, wall_c = np.abs(state[::2] - wall_c).max(), state[::2]
        if moved < 1e-10:
            break
    loss = system.loss_w_k(wall_c)
    lost_w, carried_w = system.flows_w(state, loss)
    return HeatState(path.z_mm, wall_c, state[1::2], system.held_w(state, loss), lost_w, carried_w)


def march(
    path: HeatPath,
    start: HeatState,
    *,
    set_c: float | None,
    effectiveness: float,
    seconds: float,
    step_s: float = 1.0,
    settled_k_s: float = 0.0,
) -> HeatRun:
    """Temperatures from ``start`` on, the heater holding ``set_c`` or off (None).

    Two-step backward differences (BDF2), the first step backward Euler; the loss to still air is taken at the
    temperature extrapolated to the end of the step. Ends early once nothing moves faster than ``settled_k_s``.
    The heat accounts use the same formula as the temperatures and so close to rounding.
    """
    if set_c is not None:
        _warm(set_c)
    within("seconds", seconds, 0.0, 7 * 86400.0)
    within("step_s", step_s, 1e-3, 60.0)
    system = HeatSystem(path, effectiveness, set_c)
    steps = max(1, round(seconds / step_s))
    step_s = seconds / steps
    now = np.column_stack([start.wall_c, start.core_c]).ravel()
    if set_c is not None:
        now[system.held] = set_c
    kept, before = [now], now
    heat, heat_before = np.zeros(3), np.zeros(3)
    for step in range(steps if seconds > 0 else 0):
        # (a T_new − b T_now + c T_before) / step
        a, b, c = (1.0, 1.0, 0.0) if step == 0 else (1.5, 2.0, 0.5)
        loss = system.loss_w_k(now[::2] if step == 0 else 2 * now[::2] - before[::2])
        storage = system.capacity_j_k / step_s
        new = system.solve(loss, a * storage, storage * (b * now - c * before))
        flows = np.array([system.held_w(new, loss), *system.flows_w(new, loss)])
        heat, heat_before = (b * heat - c * heat_before + step_s * flows) / a, heat
        before, now = now, new
        kept.append(new)
        if np.abs(now - before).max() < settled_k_s * step_s:
            break
    states = np.array(kept)
    return HeatRun(
        after_s=np.arange(len(states), dtype=np.float64) * step_s,
        wall_c=states[:, ::2],
        core_c=states[:, 1::2],
        heater_j=float(heat[0]),
        lost_j=float(heat[1]),
        carried_j=float(heat[2]),
        stored_j=float(system.capacity_j_k @ (states[-1] - states[0])),
    )


def _warm(set_c: float) -> None:
    within("set_c", set_c, 40.0, 450.0, remedy="give the set nozzle temperature in °C, 40 to 450")


def soft_from_mm(path: HeatPath, core_c: Floats, softens_c: float) -> Floats:
    """Depth below the top of the sink from which the filament is soft, shape (m,) for ``core_c`` of (m, n).

    The path's whole length where it is nowhere soft.
    """
    core_c = np.atleast_2d(core_c)
    soft = core_c > softens_c
    first = soft.argmax(axis=1)
    rows = np.arange(len(core_c))
    above = np.maximum(first - 1, 0)
    rise = core_c[rows, first] - core_c[rows, above]
    share = np.divide(softens_c - core_c[rows, above], rise, out=np.ones(len(rows)), where=rise > 0)
    depth = path.z_mm[above] + share * (path.z_mm[first] - path.z_mm[above])
    depth = np.where(first == 0, 0.0, depth)
    return np.where(soft.any(axis=1), depth, path.z_mm[-1] + path.width_mm[-1] / 2)
