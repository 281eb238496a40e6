"""Simulated farms whose truth is known: a small run of benchmarks/calibration.py (the recorded one is 200 farms).

Nothing of the truth is handed to the program but what keepers would have written down.
"""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

BENCHMARK = Path(__file__).parents[2] / "benchmarks" / "calibration.py"


def benchmark() -> ModuleType:
    spec = importlib.util.spec_from_file_location("calibration", BENCHMARK)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_intervals_hold_the_truth_and_the_advice_pays() -> None:
    """Forty farms of 500 days; the bands allow for the chance of so few (binomial, three standard errors)."""
    found = benchmark().run(40, 500.0, 3)
    assert 0.76 <= found["90 % interval holds the kind's median"] <= 1.0
    assert 0.76 <= found["90 % interval holds the kind's shape"] <= 1.0
    assert 0.82 <= found["90 % interval holds a machine's median"] <= 0.97
    assert 0.84 <= found["90 % interval holds the next part's life"] <= 0.95
    assert found["advised / all-knowing, mean over farms"] <= 1.10
    assert found["advised / all-knowing, mean over farms"] < found["best fixed calendar / all-knowing"]
    assert found["advised / all-knowing, mean over farms"] < found["rule of thumb alone / all-knowing"]
