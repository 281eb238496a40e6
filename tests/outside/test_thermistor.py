"""Thermistors: tables of a 100 k part by the B equation (IEC 60539, from memory), and Steinhart & Hart 1968.

The three-point fit is held against readings of an instrument manual's table that it did not see; its 40 °C row is
left out, being misprinted there.
"""

import pytest

from feedwright.errors import BadInput
from feedwright.service.thermistor import (
    check_sensor,
    coefficients,
    resistance_ohm,
    temperature_by_coefficients_c,
    temperature_c,
    true_c,
)


@pytest.mark.parametrize(
    ("at_c", "by_3950", "by_4267"),
    [(25, 100_000, 100_000), (100, 6975.198, 5633.111), (150, 1996.821, 1458.599), (210, 626.454, 416.949),
     (240, 388.431, 248.799), (260, 291.010, 182.129)],
)  # fmt: skip
def test_resistances(at_c: float, by_3950: float, by_4267: float) -> None:
    assert resistance_ohm(at_c) == pytest.approx(by_3950, rel=1e-6)
    assert resistance_ohm(at_c, beta_kelvin=4267) == pytest.approx(by_4267, rel=1e-5)
    assert temperature_c(resistance_ohm(at_c)) == pytest.approx(at_c)


def test_a_part_of_another_b_shows_another_temperature() -> None:
    """4267 fitted, 3950 set: true 210 shows 235.320. 3950 fitted, 4267 set: true 210 shows 188.710."""
    assert true_c(235.320, fitted_beta_kelvin=4267, set_beta_kelvin=3950) == pytest.approx(210, abs=1e-3)
    assert true_c(188.710, fitted_beta_kelvin=3950, set_beta_kelvin=4267) == pytest.approx(210, abs=1e-3)
    assert temperature_c(1000) == pytest.approx(183.856943, abs=1e-6)


def test_the_published_coefficients_give_the_published_temperatures() -> None:
    held = (1.129148e-3, 2.34125e-4, 8.76741e-8)
    for ohm, at_c in ((32_650, 0.000225), (10_000, 24.999668), (3603, 49.985658)):
        assert temperature_by_coefficients_c(ohm, *held) == pytest.approx(at_c, abs=1e-5)
    assert temperature_by_coefficients_c(10_000, 1.009249522e-3, 2.378405444e-4, 2.019202697e-7) == pytest.approx(
        24.681293, abs=1e-5
    )


def test_three_points_tell_the_rest_of_the_table() -> None:
    held = coefficients([(0, 32_128), (25, 9814), (50, 3542)])
    assert held == pytest.approx((1.10415912e-3, 2.38917947e-4, 6.93162653e-8), rel=1e-6)
    for ohm, at_c in ((19_549, 10), (12_262, 20), (7908, 30)):
        assert temperature_by_coefficients_c(ohm, *held) == pytest.approx(at_c, abs=0.01)


def test_two_readings_of_the_table_tell_its_b() -> None:
    """The pair at 0 and 50 °C of the same manual: B = ln(32128/3542) / (1/273.15 - 1/323.15) = 3892.7017 K."""
    assert check_sensor([(0, 32_128), (50, 3542)]).beta_kelvin == pytest.approx(3892.7017, rel=1e-6)


def test_two_readings_tell_a_wrong_part_before_it_overheats() -> None:
    right = check_sensor([(22, resistance_ohm(22)), (90, resistance_ohm(90))])
    assert right.good
    assert right.beta_kelvin == pytest.approx(3950)
    assert right.true_at_210_c == pytest.approx(210)
    wrong = check_sensor([(22, resistance_ohm(22)), (90, resistance_ohm(90))], beta_kelvin=4267)
    assert not wrong.good
    assert wrong.true_at_210_c is not None
    assert wrong.true_at_210_c > 230
    assert check_sensor([(25, 100_500)]).beta_kelvin is None
    with pytest.raises(BadInput, match="broken wire"):
        check_sensor([(22, 5e7)])
    with pytest.raises(BadInput, match="expected a resistance"):
        check_sensor([])
