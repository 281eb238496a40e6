"""The walk over a file's timed moves, compiled: where each move asks more than the machine gives.

Plain arrays in, plain arrays out; :mod:`feedwright.planning.fit` is its typed door and explains it. Importing this
file loads the compiler, so that is done where a file is first held against a machine.
"""

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Wholes = NDArray[np.int64]

MERGE_S = 2.0
"""Moves over the limit that lie closer than this are one stretch."""
BIN_MM = 0.5
UNLOAD_MM = 20.0
"""A longer pull is unloading, not a retraction (assumed)."""
RING = 4096
"""Bins of filament behind the furthest point whose passes are still counted: 2 m."""

# What is asked of the walk.
(
    A_SHORT_MM, A_LONG_MM, A_CHEWED, A_COLD_C, A_HOT_C, A_CAUTION_C, A_LIMIT_C,
) = range(7)  # fmt: skip

# A stretch over the limit.
T_BEGIN, T_END, T_LINE, T_LAYER, T_FLOW, T_LIMIT, T_AT_C, T_OVER_S = range(8)
STRETCH = 8

# A thing that is counted, with its first place and its worst value.
P_COUNT, P_AMOUNT, P_LINE, P_LAYER, P_BEGIN, P_WORST = range(6)
PLACE = 6
(
    N_SHORT, N_LONG, N_CHEWED, N_COLD, N_HOT, N_CAUTION, N_LIMIT, N_RETRACTIONS,
) = range(8)  # fmt: skip

# What the walk remembers between moves.
(
    S_STRETCHES, S_PULLED, S_AT, S_FURTHEST, S_PRINTING_S, S_OVER_S, S_PULL_LINE, S_PULL_LAYER, S_PULL_BEGIN, S_SLICE_S,
) = range(10)  # fmt: skip
STATE = 10


@numba.njit(cache=True, nogil=True)
def note(places: Floats, which: int, amount: float, line: float, layer: float, begin_s: float, value: float) -> None:
    """Count one more of a thing; its first place is kept, and its greatest value."""
    place = places[which]
    if place[P_COUNT] == 0.0:
        place[P_LINE], place[P_LAYER], place[P_BEGIN] = line, layer, begin_s
        place[P_WORST] = value
    place[P_COUNT] += 1.0
    place[P_AMOUNT] += amount
    place[P_WORST] = max(place[P_WORST], value)


@numba.njit(cache=True, nogil=True)
def over_limit(
    state: Floats, stretches: Floats, line: float, layer: float, begin_s: float, lasts_s: float, flow: float,
    limit: float, at_c: float,
) -> None:  # fmt: skip
    """Put a move that asks too much flow to the stretch at hand, or begin a new one."""
    count = int(state[S_STRETCHES])
    state[S_OVER_S] += lasts_s
    if count == 0 or begin_s - stretches[min(count, len(stretches)) - 1, T_END] > MERGE_S:
        count += 1
        state[S_STRETCHES] = count
        if count <= len(stretches):
            stretches[count - 1, T_BEGIN] = begin_s
            stretches[count - 1, T_LINE] = line
            stretches[count - 1, T_LAYER] = layer
    row = stretches[min(count, len(stretches)) - 1]
    row[T_END] = begin_s + lasts_s
    row[T_OVER_S] += lasts_s
    if flow * max(row[T_LIMIT], 1e-9) >= row[T_FLOW] * max(limit, 1e-9) or row[T_FLOW] == 0.0:
        row[T_FLOW], row[T_LIMIT], row[T_AT_C] = flow, limit, at_c


@numba.njit(cache=True, nogil=True)
def turn_forward(state: Floats, places: Floats, ring: Floats, asked: Floats) -> None:
    """A retraction has ended: judge its length and count its two passes over the filament it moved."""
    pulled = state[S_PULLED]
    line, layer, begin_s = state[S_PULL_LINE], state[S_PULL_LAYER], state[S_PULL_BEGIN]
    note(places, N_RETRACTIONS, pulled, line, layer, begin_s, pulled)
    if pulled < asked[A_SHORT_MM]:
        note(places, N_SHORT, pulled, line, layer, begin_s, pulled)
    if asked[A_LONG_MM] < pulled < UNLOAD_MM:
        note(places, N_LONG, pulled, line, layer, begin_s, pulled)
    low = int(np.floor(state[S_AT] / BIN_MM)) + 1
    high = int(np.floor((state[S_AT] + pulled) / BIN_MM))
    for place in range(max(low, high - RING + 1), high + 1):
        ring[place % RING] += 2.0
        passes = ring[place % RING]
        if passes >= asked[A_CHEWED]:
            first = passes - 2.0 < asked[A_CHEWED]
            note(places, N_CHEWED, BIN_MM if first else 0.0, line, layer, begin_s, passes)
    state[S_PULLED] = 0.0


@numba.njit(cache=True, nogil=True)
def halve(slices: Floats, state: Floats) -> None:
    """Make room in the picture: two slices become one, twice as long."""
    half = len(slices) // 2
    for index in range(half):
        slices[index, 0] = max(slices[2 * index, 0], slices[2 * index + 1, 0])
        slices[index, 1] = min(slices[2 * index, 1], slices[2 * index + 1, 1])
    slices[half:, 0], slices[half:, 1] = -1.0, np.inf
    state[S_SLICE_S] *= 2.0


@numba.njit(cache=True, nogil=True)
def fill(ring: Floats, furthest_mm: float, reached_mm: float) -> None:
    """Filament that passes the drive for the first time."""
    high = int(reached_mm / BIN_MM)
    for place in range(max(int(furthest_mm / BIN_MM) + 1, high - RING + 1), high + 1):
        ring[place % RING] = 1.0


@numba.njit(cache=True, nogil=True)
def walk_moves(
    line: Wholes, layer: Wholes, printing: NDArray[np.bool_], begin_s: Floats, duration_s: Floats,
    filament_mm: Floats, flow_mm3_s: Floats, nozzle_c: Floats, limit_by_c: Floats, asked: Floats, state: Floats,
    places: Floats, stretches: Floats, slices: Floats, ring: Floats,
) -> None:  # fmt: skip
    """Hold some moves in order against the machine; everything from ``state`` on is filled as the walk goes.

    ``limit_by_c[i]`` is the greatest flow at ``i`` °C; ``slices`` (m, 2) takes the greatest demand and the least limit
    of each slice of the print, and the slices grow with it.
    """
    hottest, cold_c, hot_c = min(asked[A_CAUTION_C], asked[A_LIMIT_C]), asked[A_COLD_C], asked[A_HOT_C]
    printing_s = 0.0
    for i in range(len(line)):
        fed, at_c = filament_mm[i], nozzle_c[i]
        if fed < 0.0:
            if state[S_PULLED] == 0.0:
                state[S_PULL_LINE], state[S_PULL_LAYER], state[S_PULL_BEGIN] = line[i], layer[i], begin_s[i]
            state[S_PULLED] -= fed
            state[S_AT] += fed
        elif fed > 0.0:
            if state[S_PULLED] > 0.0:
                turn_forward(state, places, ring, asked)
            state[S_AT] += fed
            if state[S_AT] > state[S_FURTHEST]:
                fill(ring, state[S_FURTHEST], state[S_AT])
                state[S_FURTHEST] = state[S_AT]
        if at_c > hottest:
            if at_c > asked[A_CAUTION_C]:
                note(places, N_CAUTION, duration_s[i], line[i], layer[i], begin_s[i], at_c)
            if at_c > asked[A_LIMIT_C]:
                note(places, N_LIMIT, duration_s[i], line[i], layer[i], begin_s[i], at_c)
        if not printing[i]:
            continue
        flow, limit = flow_mm3_s[i], limit_by_c[min(int(at_c + 0.5), len(limit_by_c) - 1)]
        printing_s += duration_s[i]
        if at_c < cold_c:
            note(places, N_COLD, duration_s[i], line[i], layer[i], begin_s[i], -at_c)
        elif at_c > hot_c:
            note(places, N_HOT, duration_s[i], line[i], layer[i], begin_s[i], at_c)
        index = int(begin_s[i] / state[S_SLICE_S])
        while index >= len(slices):
            halve(slices, state)
            index = int(begin_s[i] / state[S_SLICE_S])
        slices[index, 0] = max(slices[index, 0], flow)
        slices[index, 1] = min(slices[index, 1], limit)
        if flow > limit:
            over_limit(state, stretches, line[i], layer[i], begin_s[i], duration_s[i], flow, limit, at_c)
    state[S_PRINTING_S] += printing_s
