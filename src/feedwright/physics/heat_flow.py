"""Heat along the feed path, steady and over time: implicit, third order in the step, second in the cell, banded.

Unknowns are ordered wall, filament, wall, filament, ... down the path, so that the matrix has four bands below
and two above its diagonal. Equations, order and limits: docs/models/heat.md.
"""

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from feedwright.physics.air import Floats
from feedwright.physics.hot_end import HeatPath, within
from feedwright.physics.values import HeatRun, HeatState

BELOW, ABOVE = 4, 2
ORDER = 3
Wholes = NDArray[np.int64]


class HeatSystem:
    """``C dT/dt = s − K T`` for one path, one fan and a heater that holds ``set_c`` or is off (None).

    The loss to still air depends on the wall's temperature, so it is asked for at one and handed to the others.
    """

    def __init__(self, path: HeatPath, effectiveness_ratio: float, set_c: float | None) -> None:
        within("effectiveness_ratio", effectiveness_ratio, 0.0, 2.0)
        self.path, self.set_c = path, set_c
        self.still_m2 = max(0.0, 1.0 - effectiveness_ratio) * path.still_m2
        self.steady_loss_w_k = effectiveness_ratio * path.forced_w_k + path.fixed_w_k
        self.bands, self.inflow_w = _conduction(path)
        self.free = np.ones(len(self.inflow_w))
        if set_c is not None:
            self.free[::2] -= path.heated
        self.free_wall = self.free[::2].copy()
        self.held = np.flatnonzero(self.free == 0.0)
        self.capacity_j_k = np.column_stack([path.wall_j_k, path.core_j_k]).ravel()
        self.free_j_k = self.capacity_j_k * self.free
        self.held_row = _times_left(1.0 - self.free, self.bands)
        self.held_inflow_w = float((1.0 - self.free) @ self.inflow_w)
        self.solved, self.source_w = self._held_rows()

    def _held_rows(self) -> tuple[Floats, Floats]:
        """Matrix and source with the rows of the held cells turned into ``T = set_c``."""
        count = len(self.inflow_w)
        solved = self.bands.copy()
        for offset in range(-BELOW, ABOVE + 1):
            columns = self.held + offset
            solved[ABOVE - offset, columns[(columns >= 0) & (columns < count)]] = 0.0
        solved[ABOVE, self.held] = 1.0
        source_w = self.inflow_w * self.free
        if self.set_c is not None:
            source_w[self.held] = self.set_c
        return solved, source_w

    def loss_w_k(self, wall_c: Floats) -> Floats:
        """Conductance from each wall cell to the air at that temperature, shape (n,)."""
        if not self.still_m2.any():
            return self.steady_loss_w_k
        return self.steady_loss_w_k + self.still_m2 * np.interp(wall_c, self.path.still_c, self.path.still_w_m2k)

    def rest_c(self, loss_w_k: Floats) -> Floats:
        """``T`` of ``K T = s`` with that loss: where all would settle if the loss did not change."""
        from scipy.linalg import solve_banded

        bands, right, loss = self.solved.copy(), self.source_w.copy(), loss_w_k * self.free_wall
        bands[ABOVE, ::2] += loss
        right[::2] += loss * self.path.ambient_c
        return np.asarray(solve_banded((BELOW, ABOVE), bands, right, check_finite=False))

    def flows_w(self, state_c: Floats, loss_w_k: Floats) -> tuple[float, float, float]:
        """Heat that the held cells give, that the air takes, and that the filament carries out."""
        path = self.path
        lost_w = loss_w_k * (state_c[::2] - path.ambient_c)
        held_w = self.held_row @ state_c - self.held_inflow_w + lost_w @ (1.0 - self.free_wall)
        last_c, before_c = state_c[-1], state_c[-3]
        face_c = last_c + (last_c - before_c) * path.width_mm[-1] / 2 / (path.z_mm[-1] - path.z_mm[-2])
        return float(held_w), float(lost_w.sum()), float(path.stream_w_k * (face_c - path.ambient_c))


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
    bands[ABOVE + rows - columns, columns] += values


def _times_left(vector: Floats, bands: Floats) -> Floats:
    """A row vector times the banded matrix."""
    product, count = np.zeros_like(vector), len(vector)
    for offset in range(-BELOW, ABOVE + 1):
        first, last = max(0, offset), min(count, count + offset)
        product[first:last] += vector[first - offset : last - offset] * bands[ABOVE - offset, first:last]
    return product


def steady(path: HeatPath, set_c: float, effectiveness_ratio: float = 1.0) -> HeatState:
    """Temperatures once nothing changes any more, the block held at ``set_c``."""
    _warm(set_c)
    system = HeatSystem(path, effectiveness_ratio, set_c)
    wall_c = np.full(len(path.z_mm), path.ambient_c)
    for _ in range(200):
        loss = system.loss_w_k(wall_c)
        state = system.rest_c(loss)
        moved, wall_c = np.abs(state[::2] - wall_c).max(), state[::2]
        if moved < 1e-10:
            break
    loss = system.loss_w_k(wall_c)
    return HeatState(path.z_mm, wall_c, state[1::2], *system.flows_w(state, loss))


def march(
    path: HeatPath,
    start: HeatState,
    *,
    set_c: float | None,
    effectiveness_ratio: float,
    seconds: float,
    step_s: float = 0.5,
    growth_ratio: float = 1.1,
    longest_s: float = 10.0,
    settled_k_s: float = 0.0,
) -> HeatRun:
    """Temperatures from ``start`` on, the heater holding ``set_c`` or off (None).

    Backward differences of variable step over three steps (BDF3; the first two steps BDF1 and BDF2); the loss to
    still air is taken at the temperature extrapolated to the end of the step. What disturbs the path happens at its
    start and dies out, so steps begin at ``step_s`` and each is ``growth_ratio`` longer than the one before, up to
    ``longest_s``. Ends early once nothing moves faster than ``settled_k_s``.
    """
    if set_c is not None:
        _warm(set_c)
    within("seconds", seconds, 0.0, 7 * 86400.0)
    within("step_s", step_s, 1e-3, 60.0)
    within("growth_ratio", growth_ratio, 1.0, 1.4)
    from feedwright.physics.kernel import march_compiled

    system = HeatSystem(path, effectiveness_ratio, set_c)
    times = step_times_s(seconds, step_s, growth_ratio, longest_s)
    states = np.empty((len(times), len(system.free)))
    states[0] = np.column_stack([start.wall_c, start.core_c]).ravel()
    states[0, system.held] = set_c
    last = march_compiled(
        states,
        np.diff(times),
        difference_weights(times),
        (_by_rows(system.solved), system.source_w, BELOW, ABOVE),
        (system.free_j_k, system.free_wall, system.steady_loss_w_k, system.still_m2),
        (path.still_c, path.still_w_m2k),
        path.ambient_c,
        settled_k_s,
    )
    states = states[: last + 1]
    return HeatRun(times[: last + 1], states[:, ::2], states[:, 1::2])


def _by_rows(bands: Floats) -> Floats:
    """The same matrix with each row's numbers side by side: ``rows[i, BELOW + j − i]``."""
    rows, count = np.zeros((bands.shape[1], len(bands))), bands.shape[1]
    for offset in range(-BELOW, ABOVE + 1):
        first, last = max(0, -offset), min(count, count - offset)
        rows[first:last, BELOW + offset] = bands[ABOVE - offset, first + offset : last + offset]
    return rows


def step_times_s(seconds: float, first_s: float, growth_ratio: float, longest_s: float) -> Floats:
    """Ends of the steps, from 0 to ``seconds``; the last two are of equal length rather than a sliver at the end."""
    times, step = [0.0], first_s
    while times[-1] < seconds * (1 - 1e-12):
        left = seconds - times[-1]
        step = left if left <= step else left / 2 if left < 2 * step else step
        times.append(times[-1] + step)
        step = min(step * growth_ratio, max(longest_s, first_s))
    return np.array(times)


def difference_weights(times: Floats) -> tuple[Floats, Floats, Floats]:
    """For each step: ``dT/dt = ahead T_new + past · T_known``, and ``T_new ≈ reach · T_known``.

    The polynomial through the last :data:`ORDER` known states (fewer at the start), oldest first, and the new one;
    for ``reach`` through the known ones alone. Shapes (m − 1,), (m − 1, ORDER), (m − 1, ORDER), zeros in front.
    """
    steps = len(times) - 1
    ahead, past, reach = np.zeros(steps), np.zeros((steps, ORDER)), np.zeros((steps, ORDER))
    for order in range(1, ORDER + 1):
        rows = slice(order - 1, steps if order == ORDER else order)
        new = times[1:][rows]
        known = np.array([times[order - back : order - back + len(new)] for back in range(order, 0, -1)])
        weight = np.ones_like(known)
        for i, j in permutations(range(order), 2):
            weight[i] *= (new - known[j]) / (known[i] - known[j])
        ahead[rows] = (1 / (new - known)).sum(axis=0)
        past[rows, ORDER - order :] = (weight / (known - new)).T
        reach[rows, ORDER - order :] = weight.T
    return ahead, past, reach


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
