"""The heat model against scipy's BDF solver of the same equations, at equal accuracy.

A stalled fan at 210 °C for ten minutes, a lined hot end. Truth: the same equations by scipy's Radau at a tolerance
a hundred times tighter. Each solver is given the loosest setting that stays within the claim's 0.1 K of it.
Run: ``python benchmarks/bench_heat.py``.
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
from feedwright.physics.hot_end import heat_path

Floats = NDArray[np.float64]
SECONDS, SET_C = 600.0, 210.0
WITHIN_DK = 0.1
AT_S = np.linspace(0, SECONDS, 61)


def right_hand_side(system: HeatSystem) -> Callable[[float, Floats], Floats]:
    """``dT/dt = (s − K T) / C`` with K as an ordinary matrix, the held cells at rest."""
    count = len(system.free)
    matrix = np.zeros((count, count))
    for offset in range(-BELOW, ABOVE + 1):
        band = system.bands[ABOVE - offset]
        matrix += np.diag(band[max(0, offset) : min(count, count + offset)], offset)
    ambient_c, moves = system.path.ambient_c, system.free / system.capacity_j_k

    def rate(_: float, state_c: Floats) -> Floats:
        gain = system.inflow_w - matrix @ state_c
        gain[::2] -= system.loss_w_k(state_c[::2]) * (state_c[::2] - ambient_c)
        return gain * moves

    return rate


def best_of(times: int, act: Callable[[], Floats]) -> tuple[float, Floats]:
    """Shortest wall time of several, and the answer."""
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        answer = act()
        spent.append(time.perf_counter() - begin)
    return min(spent), answer


def main() -> None:
    path = heat_path(hot_end_of("lined"), load_catalogue().materials["pla"], flow_mm3_s=5.0)
    start = steady(path, SET_C)
    system = HeatSystem(path, 0.0, SET_C)
    first = np.column_stack([start.wall_c, start.core_c]).ravel()
    rate = right_hand_side(system)

    def scipy_bdf(rtol: float, method: str = "BDF", atol: float = 1e-2) -> Floats:
        found = solve_ivp(rate, (0, SECONDS), first, method=method, t_eval=AT_S, rtol=rtol, atol=atol)
        return found.y

    def ours(fineness: float) -> Floats:
        run = march(
            path, start, set_c=SET_C, effectiveness=0.0, seconds=SECONDS,
            step_s=0.25 / fineness, growth_ratio=1 + 0.05 / fineness, longest_s=20 / fineness,
        )  # fmt: skip
        states = np.stack([run.wall_c, run.core_c], axis=2).reshape(len(run.after_s), -1)
        return np.stack([np.interp(AT_S, run.after_s, states[:, i]) for i in range(states.shape[1])])

    truth = scipy_bdf(1e-7, "Radau", 1e-6)
    print(f"{2 * len(path.z_mm)} unknowns, {SECONDS:.0f} s")
    theirs = [(rtol, partial(scipy_bdf, rtol, atol=10 * rtol)) for rtol in (1e-2, 1e-3, 3e-4, 1e-4, 1e-5)]
    theirs_s, theirs_dk = tried("BDF", theirs, truth, 3)
    ours_s, ours_dk = tried("ours", [(fine, partial(ours, fine)) for fine in (0.25, 0.5, 1.0, 2.0, 4.0)], truth, 10)
    print(f"ours {ours_s * 1000:.1f} ms, {ours_dk:.3f} K off; BDF {theirs_s * 1000:.0f} ms, {theirs_dk:.3f} K off")
    print(f"ratio {theirs_s / ours_s:.1f}")


def tried(
    name: str, settings: list[tuple[float, Callable[[], Floats]]], truth: Floats, times: int
) -> tuple[float, float]:
    """The first setting, loosest first, that stays within the claim; every one tried is printed."""
    for setting, act in settings:
        spent_s, answer = best_of(times, act)
        off_dk = float(np.abs(answer - truth).max())
        print(f"  {name} at {setting:g}: {spent_s * 1000:.1f} ms, {off_dk:.4f} K off")
        if off_dk <= WITHIN_DK:
            return spent_s, off_dk
    raise SystemExit(f"{name} never came within {WITHIN_DK} K")


if __name__ == "__main__":
    main()
