"""The flow test of an orifice against the geometry it stands on."""

import math
from dataclasses import replace

import pytest

from feedwright.catalogue.entry import Material, Rheology, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.physics.orifice import orifice_by_flow, orifice_by_push


def _power(n: float) -> Material:
    held = {
        key: Sourced(value, value, value, "ratio", "assumed") for key, value in (("k_pa_sn", 9000.0), ("n_ratio", n))
    }
    return replace(load_catalogue().materials["pla"], rheology=Rheology("power", 200.0, held))


@pytest.mark.parametrize(("n", "push_ratio"), [(0.35, 0.822517), (1.0, 0.683013)])
def test_ten_per_cent_more_bore_is_found_from_the_push(n: float, push_ratio: float) -> None:
    """d = d_new (F_new/F_now)^(1/(3n+1)); 0.40 to 0.44 mm over 0.6 mm takes 0.01583363 mm³ = 0.13459 mg of brass."""
    verdict = orifice_by_push(_power(n), bore_new_mm=0.4, push_new_n=10, push_now_n=10 * push_ratio, flow_mm3_s=5)
    assert verdict.bore_mm.mid == pytest.approx(0.44, rel=1e-5)
    assert verdict.flow_area_ratio == pytest.approx(1.21, rel=1e-5)
    assert verdict.removed_mm3 == pytest.approx(0.01583363, rel=1e-4)
    assert verdict.removed_mg == pytest.approx(0.13459, rel=1e-4)
    assert math.pi / 4 * (0.44**2 - 0.40**2) * 0.6 == pytest.approx(0.01583363, rel=1e-6)


@pytest.mark.parametrize(("n", "flow_ratio"), [(1.0, 0.656100), (0.35, 0.539500)])
def test_a_tenth_less_bore_is_found_from_the_flow_at_fixed_push(n: float, flow_ratio: float) -> None:
    """Q goes as d^((3n+1)/n)."""
    verdict = orifice_by_flow(_power(n), bore_new_mm=0.4, flow_new_mm3_s=5, flow_now_mm3_s=5 * flow_ratio)
    assert verdict.bore_mm.mid == pytest.approx(0.36, rel=1e-5)
    assert verdict.word == "narrowed"
    assert verdict.removed_mm3 == 0.0
