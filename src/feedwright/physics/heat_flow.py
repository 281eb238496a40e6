"""Heat along the feed path, steady and over time: implicit, second order in step and cell, by a banded solver.

Unknowns are ordered wall, filament, wall, filament, ... down the path, so that the matrix has four bands below
and two above its diagonal. Equations, order and limits: docs/models/heat.md.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from feedwright.physics.air import Floats
from feedwright.physics.hot_end import HeatPath, within
from feedwright.physics.values import HeatRun, HeatState

BELOW, ABOVE = 4, 2
Wholes = NDArray[np.int64]


class HeatSystem:
    """``C dT/dt = s − K T`` for one path, one fan and a heater that holds ``set_c`` or is off (None).

    The loss to still air depends on the wall's temperature, so it is asked for at one and handed to the others.
    """

    def __init__(self, path: HeatPath, effectiveness: float, set_c: float | None) -> None:
        within("effectiveness", effectiveness, 0.0, 2.0)
        self.path, self.set_c = path, set_c
        self.still_m2 = max(0.0, 1.0 - effectiveness) * path.still_m2
        self.steady_loss_w_k = effectiveness * path.forced_w_k + path.fixed_w_k
        self.capacity_j_k = np.column_stack([path.wall_j_k, path.core_j_k]).ravel()
        self.bands, self.inflow_w = _conduction(path)
        self._hold()

    def _hold(self) -> None:
        """Turn the rows of the held cells into ``T = set_c``, and keep what they say of the heat given off."""
        count = len(self.inflow_w)
        self.free = np.ones(count)
        if self.set_c is not None:
            self.free[::2] -= self.path.heated
        self.held = np.flatnonzero(self.free == 0.0)
        self.held_row = _times_left(1.0 - self.free, self.bands)
        self.held_inflow_w = float((1.0 - self.free) @ self.inflow_w)
        self.solved = self.bands.copy()
        for offset in range(-BELOW, ABOVE + 1):
            columns = self.held + offset
            self.solved[ABOVE - offset, columns[(columns >= 0) & (columns < count)]] = 0.0
        self.source_w = self.inflow_w * self.free
        self.solved[ABOVE, self.held] = 1.0
        if self.set_c is not None:
            self.source_w[self.held] = self.set_c

    def loss_w_k(self, wall_c: Floats) -> Floats:
        """Conductance from each wall cell to the air at that temperature, shape (n,)."""
        if not self.still_m2.any():
            return self.steady_loss_w_k
        return self.steady_loss_w_k + self.still_m2 * np.interp(wall_c, self.path.still_c, self.path.still_w_m2k)

    def solve(self, loss_w_k: Floats, storage_w_k: Floats | float, stored_w: Floats | float) -> Floats:
        """``T`` of ``(K + storage) T = s + stored``, the held cells at their set temperature."""
        from scipy.linalg.lapack import dgbsv

        count = len(self.free)
        bands = np.empty((2 * BELOW + ABOVE + 1, count), order="F")
        bands[BELOW:] = self.solved
        bands[BELOW + ABOVE] += storage_w_k * self.free
        right = self.source_w + stored_w * self.free
        loss = loss_w_k * self.free[::2]
        bands[BELOW + ABOVE, ::2] += loss
        right[::2] += loss * self.path.ambient_c
        return np.asarray(dgbsv(BELOW, ABOVE, bands, right, overwrite_ab=1, overwrite_b=1)[2])

    def flows_w(self, state_c: Floats, loss_w_k: Floats) -> Floats:
        """Heat that the held cells give, that the air takes, and that the filament carries out."""
        path = self.path
        lost_w = loss_w_k * (state_c[::2] - path.ambient_c)
        held_w = self.held_row @ state_c - self.held_inflow_w + lost_w @ (1.0 - self.free[::2])
        last_c, before_c = state_c[-1], state_c[-3]
        face_c = last_c + (last_c - before_c) * path.width_mm[-1] / 2 / (path.z_mm[-1] - path.z_mm[-2])
        return np.array([held_w, lost_w.sum(), path.stream_w_k * (face_c - path.ambient_c)])


def _conduction(path: HeatPath) -> tuple[Floats, Floats]:
    """K without losses, in bands, and the heat that flows in with the filament."""
    count = len(path.z_mm)
    bands, inflow_w = np.zeros((BELOW + ABOVE + 1, 2 * count)), np.zeros(2 * count)
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
    # A face takes the line through the two cells upstream of it; after the first cell, through inlet and cell.
    reach = path.width_mm[1:] / 2 / np.diff(path.z_mm)
    here, before = path.stream_w_k * np.append(2.0, 1 + reach), -path.stream_w_k * reach
    _add(bands, core, core, here)
    _add(bands, core[1:], core[:-1], before - here[:-1])
    _add(bands, core[2:], core[:-2], -before[:-1])
    inflow_w[core[0]] = 2 * path.stream_w_k * path.ambient_c
    inflow_w[core[1]] = -path.stream_w_k * path.ambient_c
    return bands, inflow_w


def _add(bands: Floats, rows: Wholes, columns: Wholes, values: Floats) -> None:
    np.add.at(bands, (ABOVE + rows - columns, columns), values)


def _times_left(vector: Floats, bands: Floats) -> Floats:
    """A row vector times the banded matrix."""
    product, count = np.zeros_like(vector), len(vector)
    for offset in range(-BELOW, ABOVE + 1):
        first, last = max(0, offset), min(count, count + offset)
        product[first:last] += vector[first - offset : last - offset] * bands[ABOVE - offset, first:last]
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
    held_w, lost_w, carried_w = (float(flow) for flow in system.flows_w(state, loss))
    return HeatState(path.z_mm, wall_c, state[1::2], held_w, lost_w, carried_w)


def march(
    path: HeatPath,
    start: HeatState,
    *,
    set_c: float | None,
    effectiveness: float,
    seconds: float,
    step_s: float = 0.25,
    growth_ratio: float = 1.05,
    longest_s: float = 20.0,
    settled_k_s: float = 0.0,
) -> HeatRun:
    """Temperatures from ``start`` on, the heater holding ``set_c`` or off (None).

    Two-step backward differences of variable step (BDF2), the first step backward Euler; the loss to still air is
    taken at the temperature extrapolated to the end of the step. What disturbs the path happens at its start and
    dies out, so steps begin at ``step_s`` and each is ``growth_ratio`` longer than the one before, up to
    ``longest_s``. Ends early once nothing moves faster than ``settled_k_s``. The heat accounts use the same formula
    as the temperatures and so close to rounding.
    """
    if set_c is not None:
        _warm(set_c)
    within("seconds", seconds, 0.0, 7 * 86400.0)
    within("step_s", step_s, 1e-3, 60.0)
    within("growth_ratio", growth_ratio, 1.0, 2.0)
    system = HeatSystem(path, effectiveness, set_c)
    now = np.column_stack([start.wall_c, start.core_c]).ravel()
    if set_c is not None:
        now[system.held] = set_c
    before, kept, times = now, [now], [0.0]
    heat, heat_before = np.zeros(3), np.zeros(3)
    for step, ratio in _steps(seconds, step_s, growth_ratio, longest_s):
        # (a T_new − b T_now + c T_before) / step; ratio 0 is backward Euler.
        a, b, c = (1 + 2 * ratio) / (1 + ratio), 1 + ratio, ratio**2 / (1 + ratio)
        loss = system.loss_w_k(now[::2] + ratio * (now[::2] - before[::2]))
        storage = system.capacity_j_k / step
        new = system.solve(loss, a * storage, storage * (b * now - c * before))
        heat, heat_before = (b * heat - c * heat_before + step * system.flows_w(new, loss)) / a, heat
        before, now = now, new
        kept.append(new)
        times.append(times[-1] + step)
        if np.abs(now - before).max() < settled_k_s * step:
            break
    states = np.array(kept)
    return HeatRun(
        after_s=np.array(times),
        wall_c=states[:, ::2],
        core_c=states[:, 1::2],
        heater_j=float(heat[0]),
        lost_j=float(heat[1]),
        carried_j=float(heat[2]),
        stored_j=float(system.capacity_j_k @ (states[-1] - states[0])),
    )


def _steps(seconds: float, first_s: float, growth_ratio: float, longest_s: float) -> Iterator[tuple[float, float]]:
    """Each step with its ratio to the one before (0 for the first); the last one ends on time."""
    done, step, before = 0.0, first_s, 0.0
    while done < seconds * (1 - 1e-12):
        left = seconds - done
        # Two last steps of equal length rather than a sliver.
        step = left if left <= step else left / 2 if left < 2 * step else step
        yield step, step / before if before else 0.0
        done, before = done + step, step
        step = min(step * growth_ratio, max(longest_s, first_s))


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
