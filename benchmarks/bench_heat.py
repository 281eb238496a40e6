"""The heat model against scipy's BDF solver of the same equations, at equal accuracy.

A stalled fan at 210 °C for ten minutes, then the same with a power cut; a lined hot end. Truth: the same equations by
scipy's Radau at a far tighter tolerance, compared at every step that a solver took. Each solver is given the loosest
of several settings that stays within the claim's 0.1 K. Run: ``python benchmarks/bench_heat.py``.
"""

import time
from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from feedwright.catalogue.hot_ends import hot_end_of
from feedwright.catalogue.load import load_catalogue
from feedwright.physics.heat_flow import ABOVE, BELOW, HeatSystem, march, steady
from feedwright.physics.hot_end import HeatPath, heat_path

Floats = NDArray[np.float64]
Rate = Callable[[float, Floats], Floats]
SECONDS, SET_C = 600.0, 210.0
WITHIN_DK = 0.1


def by_fluxes(path: HeatPath, set_c: float | None) -> Rate:
    """The balance of each cell written out, flux by flux: the straightforward way, and independent of our matrix."""
    free = 1.0 - path.heated if set_c is not None else np.ones(len(path.z_mm))
    reach = path.width_mm[1:] / 2 / np.diff(path.z_mm)

    def rate(_: float, state_c: Floats) -> Floats:
        wall_c, core_c = state_c[::2], state_c[1::2]
        still = np.interp(wall_c, path.still_c, path.still_w_m2k)
        gain = np.empty_like(state_c)
        cross = path.cross_w_k * (wall_c - core_c)
        down = path.wall_link_w_k * np.diff(wall_c)
        wall = -cross - (path.fixed_w_k + path.still_m2 * still) * (wall_c - path.ambient_c)
        wall[:-1] += down
        wall[1:] -= down
        core = cross
        down = path.core_link_w_k * np.diff(core_c)
        core[:-1] += down
        core[1:] -= down
        faces_c = np.concatenate(
            [
                [path.ambient_c, 2 * core_c[0] - path.ambient_c],
                core_c[1:] + reach * np.diff(core_c),
            ]
        )
        core -= path.stream_w_k * np.diff(faces_c)
        gain[::2] = wall * free / path.wall_j_k
        gain[1::2] = core / path.core_j_k
        return gain

    return rate


def by_matrix(path: HeatPath, set_c: float | None) -> Rate:
    """The same with our matrix handed over as an ordinary dense one: quicker for scipy."""
    system = HeatSystem(path, 0.0, set_c)
    count = len(system.free)
    matrix = np.zeros((count, count))
    for offset in range(-BELOW, ABOVE + 1):
        band = system.bands[ABOVE - offset]
        matrix += np.diag(band[max(0, offset) : min(count, count + offset)], offset)
    moves = system.free / system.capacity_j_k

    def rate(_: float, state_c: Floats) -> Floats:
        gain = system.inflow_w - matrix @ state_c
        gain[::2] -= system.loss_w_k(state_c[::2]) * (state_c[::2] - path.ambient_c)
        return gain * moves

    return rate


Answer = tuple[Floats, Floats]
"""Times (m,) and states (m, n)."""


def best_of(times: int, act: Callable[[], Answer]) -> tuple[float, Answer]:
    """Shortest wall time of several, and the answer."""
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        answer = act()
        spent.append(time.perf_counter() - begin)
    return min(spent), answer


def tried(name: str, settings: dict[float, Callable[[], Answer]], truth: Callable[[Floats], Floats]) -> float:
    """Time of the loosest setting that stays within the claim; every one tried is printed."""
    for setting, act in settings.items():
        spent_s, (times, states) = best_of(10, act)
        off_dk = float(np.abs(states - truth(times).T).max())
        print(f"  {name} at {setting:g}: {len(times) - 1} steps, {spent_s * 1000:.2f} ms, {off_dk:.4f} K off")
        if off_dk <= WITHIN_DK:
            return spent_s
    raise SystemExit(f"{name} never came within {WITHIN_DK} K")


def compare(what: str, set_c: float | None) -> None:
    """One mishap by both solvers."""
    path = heat_path(hot_end_of("lined"), load_catalogue().materials["pla"], flow_mm3_s=5.0)
    start = steady(path, SET_C)
    first = np.column_stack([start.wall_c, start.core_c]).ravel()

    def theirs(rate: Rate, rtol: float) -> Answer:
        found = solve_ivp(rate, (0, SECONDS), first, method="BDF", rtol=rtol, atol=10 * rtol)
        return found.t, found.y.T

    def ours(fineness: float) -> Answer:
        run = march(
            path, start, set_c=set_c, effectiveness_ratio=0.0, seconds=SECONDS,
            step_s=0.4 / fineness, growth_ratio=1 + 0.2 / fineness, longest_s=20 / fineness,
        )  # fmt: skip
        return run.after_s, np.stack([run.wall_c, run.core_c], axis=2).reshape(len(run.after_s), -1)

    fluxes, matrix = by_fluxes(path, set_c), by_matrix(path, set_c)
    truth = solve_ivp(fluxes, (0, SECONDS), first, method="Radau", dense_output=True, rtol=1e-8, atol=1e-7).sol
    print(f"{what}: {len(first)} unknowns, {SECONDS:.0f} s")
    ours_s = tried("ours", {fine: partial(ours, fine) for fine in (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)}, truth)
    for name, rate in (("BDF, balance written out", fluxes), ("BDF, our matrix handed over", matrix)):
        theirs_s = tried(name, {rtol: partial(theirs, rate, rtol) for rtol in (1e-3, 5e-4, 3e-4, 2e-4, 1e-4)}, truth)
        print(f"  ratio {theirs_s / ours_s:.1f}")


if __name__ == "__main__":
    compare("stalled fan", SET_C)
    compare("power cut", None)
