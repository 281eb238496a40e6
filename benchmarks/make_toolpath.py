"""A synthetic toolpath of any size: layered infill with retractions, as dense as real ones are."""

import math
import random
from pathlib import Path


def make_toolpath(path: Path, size_bytes: int, seed: int = 7) -> int:
    """Write about ``size_bytes`` of G-code; returns the number of moves."""
    draw = random.Random(seed)
    moves = written = 0
    with path.open("w") as file:
        file.write("G21\nG90\nM83\nM140 S60\nM104 S210\nG28\nM190 S60\nM109 S210\nM106 S255\n")
        z = 0.2
        while written < size_bytes:
            lines = [f"G1 Z{z:.2f} F600\nM204 S{draw.choice((800, 1000, 1500))}\n"]
            x, y = 20.0, 20.0
            for _ in range(60):
                lines.append(
                    f"G1 E-4 F2400\nG0 X{x:.3f} Y{y:.3f} F9000\nG1 E4 F2400\nG1 F{draw.choice((1800, 2400, 3000))}\n"
                )
                moves += 3
                radius, centre = draw.uniform(5, 60), draw.uniform(80, 120)
                for step in range(40):
                    angle = step * 0.15
                    x, y = centre + radius * math.cos(angle), centre + radius * math.sin(angle)
                    lines.append(f"G1 X{x:.3f} Y{y:.3f} E{radius * 0.15 * 0.033:.5f}\n")
                    moves += 1
            text = "".join(lines)
            file.write(text)
            written += len(text)
            z += 0.2
        file.write("M104 S0\nM140 S0\nM107\nG28 X\n")
    return moves
