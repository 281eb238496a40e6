"""The compiled steps do what plain Python and the library's solver do."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import solve_banded

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd
from feedwright.physics import kernel
from feedwright.physics.heat_flow import march, steady
from feedwright.physics.hot_end import heat_path


@given(seed=st.integers(0, 2**32 - 1), count=st.integers(1, 40))
@settings(max_examples=60, deadline=None)
def test_the_banded_solver_agrees_with_the_library(seed: int, count: int) -> None:
    """Random systems of the heat model's shape, dominated by their diagonal."""
    below, above, random = 4, 2, np.random.default_rng(seed)
    rows = random.uniform(-1, 1, (count, below + above + 1))
    rows[:, below] += 10
    bands = np.zeros((below + above + 1, count))
    for i in range(count):
        for offset in range(-below, above + 1):
            if 0 <= i + offset < count:
                bands[above - offset, i + offset] = rows[i, below + offset]
            else:
                rows[i, below + offset] = 0.0
    right = random.uniform(-5, 5, count)
    expected = solve_banded((below, above), bands, right)
    for solve in (kernel.solve_in_place, kernel._solve):
        found = right.copy()
        solve(rows.copy(), found, below, above)
        assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_compiled_steps_are_the_plain_ones(lined: HotEnd, pla: Material, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same function run by the interpreter gives the same temperatures."""
    path = heat_path(lined, pla, flow_mm3_s=4.0, cells_per_mm=0.5)
    start = steady(path, 210)
    given = {"set_c": None, "effectiveness_ratio": 0.2, "seconds": 5.0}
    compiled = march(path, start, **given)
    monkeypatch.setattr(kernel, "march_compiled", kernel.march_steps)
    plain = march(path, start, **given)
    assert compiled.wall_c == pytest.approx(plain.wall_c, rel=1e-12)
    assert compiled.core_c == pytest.approx(plain.core_c, rel=1e-12)


def test_where_nothing_can_be_kept_the_steps_are_compiled_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """A read-only installation costs time at every start, not the answer."""
    made = []

    def compiler(**options: bool):
        if options.get("cache"):
            raise RuntimeError("no locator available")
        made.append(options)
        return lambda function: function

    monkeypatch.setattr(kernel.numba, "njit", compiler)
    assert kernel._compiled(abs) is abs
    assert made == [{"nogil": True}]
