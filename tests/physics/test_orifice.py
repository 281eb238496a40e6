"""The flow test of an orifice."""

import pytest

from feedwright.catalogue.entry import Material
from feedwright.errors import OutOfRange
from feedwright.physics.orifice import orifice_by_flow, orifice_by_push


def test_the_same_push_is_as_new(pla: Material) -> None:
    """And surely so, where the pushes were measured well."""
    verdict = orifice_by_push(pla, bore_new_mm=0.4, push_new_n=10, push_now_n=10, flow_mm3_s=5, spread_frac=0.01)
    assert verdict.word == "as new"
    assert verdict.sure
    assert verdict.bore_mm.mid == pytest.approx(0.4)


def test_less_push_is_worn_and_growth_is_given_per_kilogram(pla: Material) -> None:
    """0.1 mm over two kilograms is 0.05 mm/kg."""
    verdict = orifice_by_push(pla, bore_new_mm=0.4, push_new_n=12, push_now_n=8, flow_mm3_s=5, printed_kg=2.0)
    assert verdict.word == "worn"
    assert verdict.growth_mm_per_kg == pytest.approx((verdict.bore_mm.mid - 0.4) / 2)


def test_a_rough_measurement_is_not_sure(pla: Material) -> None:
    """The band crosses a line; a pin gauge settles it."""
    verdict = orifice_by_push(pla, bore_new_mm=0.4, push_new_n=10, push_now_n=8.7, flow_mm3_s=5, spread_frac=0.1)
    assert not verdict.sure
    assert any("pin gauge" in line for line in verdict.because)
    assert verdict.bore_mm.low < verdict.bore_mm.mid < verdict.bore_mm.high


def test_push_and_flow_tests_of_one_orifice_agree(pla: Material) -> None:
    """Less flow at the same push, more push at the same flow: both narrowed."""
    by_flow = orifice_by_flow(pla, bore_new_mm=0.4, flow_new_mm3_s=5, flow_now_mm3_s=3)
    by_push = orifice_by_push(pla, bore_new_mm=0.4, push_new_n=10, push_now_n=13, flow_mm3_s=5)
    assert by_flow.word == by_push.word == "narrowed"


@pytest.mark.parametrize(
    ("field", "value"), [("push_now_n", 0.0), ("flow_mm3_s", -5.0), ("printed_kg", 0.0), ("spread_frac", 3.0)]
)
def test_what_cannot_be_is_refused_by_name(pla: Material, field: str, value: float) -> None:
    """Field and range are in the refusal."""
    given = {"bore_new_mm": 0.4, "push_new_n": 10.0, "push_now_n": 9.0, "flow_mm3_s": 5.0, field: value}
    with pytest.raises(OutOfRange, match=field):
        orifice_by_push(pla, **given)
