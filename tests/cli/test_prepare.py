"""What setting up compiles, so that nobody waits for a compiler later."""

import os
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.slow
def test_after_setting_up_no_loop_is_compiled_again(tmp_path: Path) -> None:
    """Numba writes an index for each function that it keeps; a second run must find all and add none."""
    seen = []
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-m", "feedwright.cli.prepare"], capture_output=True, text=True, check=True,
            env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        )  # fmt: skip
        assert "Compiling" in done.stderr
        seen.append(sorted((path.name, path.stat().st_mtime_ns) for path in tmp_path.rglob("*.nbi")))
    kept = " ".join(name for name, _ in seen[0])
    assert "walk_moves" in kept
    assert "march_steps" in kept
    assert seen[0] == seen[1]
