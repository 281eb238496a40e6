"""Air at the hot end."""

import numpy as np
import pytest

from feedwright.physics.air import AIR, air_at, free_h_w_m2k, radiation_h_w_m2k, still_air


def test_rows_of_the_table_are_given_back() -> None:
    """The straight lines pass through the rows."""
    for at_kelvin, *row in AIR:
        assert air_at(at_kelvin) == pytest.approx(row, rel=1e-12)


def test_the_table_of_still_air_agrees_with_the_formulas_between_its_rows() -> None:
    """Within a tenth of a per cent beyond the first rows."""
    surface_c, h_w_m2k = still_air(25.0, 27.5, 0.85)
    for at_c in (31.0, 47.3, 90.1, 211.9):
        direct = free_h_w_m2k(at_c, 25.0, 27.5) + radiation_h_w_m2k(at_c, 25.0, 0.85)
        assert np.interp(at_c, surface_c, h_w_m2k) == pytest.approx(direct, rel=1e-3)


def test_a_surface_at_ambient_still_radiates() -> None:
    """No free convection without a difference, but the slope of radiation remains."""
    assert free_h_w_m2k(25.0, 25.0, 26.0) < 2.0
    assert radiation_h_w_m2k(25.0, 25.0, 1.0) == pytest.approx(4 * 5.670374419e-8 * 298.15**3)
