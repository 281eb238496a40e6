"""The heat model's steps over time, compiled: the only loop of this room that an interpreter would be slow at.

Plain arrays in, plain arrays out; :mod:`feedwright.physics.heat_flow` is its typed door and explains it. Importing
this file loads the compiler, so that is done where the first step is taken.
"""

from collections.abc import Callable
from typing import Any

import numba
import numpy as np

from feedwright.physics.air import Floats


def _compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compiled on first use and kept on disk; where nothing can be written, compiled anew by each process."""
    try:
        return numba.njit(cache=True, nogil=True)(function)
    except RuntimeError:
        return numba.njit(nogil=True)(function)


def solve_in_place(rows: Floats, right: Floats, below: int, above: int) -> None:
    """Solve a banded system into ``right``, ``rows`` being lost: ``rows[i, below + j − i]`` holds row i, column j.

    Elimination without exchange of rows: sound for the heat model, whose matrix is dominated by its diagonal and,
    where filament moves, by what lies below it.
    """
    count = len(right)
    for pivot in range(count):
        inverse = 1.0 / rows[pivot, below]
        for row in range(pivot + 1, min(pivot + below + 1, count)):
            shift = pivot - row + below
            factor = rows[row, shift] * inverse
            if factor != 0.0:
                right[row] -= factor * right[pivot]
                for across in range(1, above + 1):
                    rows[row, shift + across] -= factor * rows[pivot, below + across]
    for row in range(count - 1, -1, -1):
        total = right[row]
        for across in range(1, min(above, count - 1 - row) + 1):
            total -= rows[row, below + across] * right[row + across]
        right[row] = total / rows[row, below]


_solve = _compiled(solve_in_place)


def march_steps(
    states: Floats,
    steps_s: Floats,
    weights: tuple[Floats, Floats, Floats],
    matrix: tuple[Floats, Floats, int, int],
    cells: tuple[Floats, Floats, Floats, Floats],
    still: tuple[Floats, Floats],
    ambient_c: float,
    settled_k_s: float,
) -> int:
    """Fill ``states`` (m, 2n) from its first row on; the index of the last row filled.

    ``weights``: ahead (m − 1,), past and reach (m − 1, k) padded with zeros in front; ``matrix``: rows and source
    with the held rows in place, bands below and above; ``cells``: storage (2n,), free (n,), loss to moving air
    (n,), envelope (n,); ``still``: table of still air over evenly spaced surface temperatures.
    """
    ahead, past, reach = weights
    solved, source_w, below, above = matrix
    storage_j_k, free_wall, steady_w_k, still_m2 = cells
    still_c, still_w_m2k = still
    per_dk = (len(still_c) - 1) / (still_c[-1] - still_c[0])
    last_place = len(still_c) - 1.0
    rows = np.empty_like(solved)
    count, most = states.shape[1], past.shape[1]
    for step in range(1, len(states)):
        first = max(0, step - most)
        skip = most - (step - first)
        rows[:] = solved
        new = states[step]
        for i in range(count):
            stored = 0.0
            for back in range(first, step):
                stored -= past[step - 1, skip + back - first] * states[back, i]
            new[i] = source_w[i] + storage_j_k[i] * stored
            rows[i, below] += storage_j_k[i] * ahead[step - 1]
        for cell in range(count // 2):
            wall_c = 0.0
            for back in range(first, step):
                wall_c += reach[step - 1, skip + back - first] * states[back, 2 * cell]
            place = min(max((wall_c - still_c[0]) * per_dk, 0.0), last_place)
            whole = min(int(place), len(still_c) - 2)
            h = still_w_m2k[whole] + (place - whole) * (still_w_m2k[whole + 1] - still_w_m2k[whole])
            loss = (steady_w_k[cell] + still_m2[cell] * h) * free_wall[cell]
            rows[2 * cell, below] += loss
            new[2 * cell] += loss * ambient_c
        _solve(rows, new, below, above)
        if np.abs(new - states[step - 1]).max() < settled_k_s * steps_s[step - 1]:
            return step
    return len(states) - 1


march_compiled = _compiled(march_steps)
