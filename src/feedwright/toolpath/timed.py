"""Moves with their times, for whoever compares a file with what a machine can do."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Wholes = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class TimedMoves:
    """Some moves in order; every array has one entry a move, shape (n,).

    ``begin_s`` counts from the file's start with all waits; ``flow_mm3_s`` is the greatest flow within the
    move (negative where filament is pulled back); ``nozzle_c`` the set temperature, 0 = off; ``z_mm`` the
    height at the move's end; ``printing`` True where filament is laid along a path.
    """

    line: Wholes
    layer: Wholes
    printing: NDArray[np.bool_]
    begin_s: Floats
    duration_s: Floats
    filament_mm: Floats
    flow_mm3_s: Floats
    nozzle_c: Floats
    z_mm: Floats
