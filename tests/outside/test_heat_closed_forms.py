"""The heat model in its limiting cases against closed forms of the textbooks (Incropera, conduction and fins)."""

import math
from dataclasses import replace

import numpy as np
import pytest

from feedwright.catalogue.hot_ends import hot_end_of
from feedwright.catalogue.load import load_catalogue
from feedwright.physics.heat_flow import march, steady
from feedwright.physics.hot_end import HeatPath, heat_path, ring_m2
from feedwright.physics.values import HeatState

NECK_MM = 4.0
NECK_M2 = math.pi / 4 * (5.0**2 - 4.1**2) * 1e-6


def _rod(conducts_w_mk: float, side_w_m2k: float, ambient_c: float, cold_w_k: float, count: int = 400) -> HeatPath:
    """The neck alone: a last cell held hot, a first cell tied to the air, sides losing heat; no filament."""
    width_mm = np.full(count + 2, NECK_MM / count)
    width_mm[[0, -1]] = 1e-6
    half = width_mm / 2000 / (conducts_w_mk * NECK_M2)
    inside = np.ones(count + 2)
    inside[[0, -1]] = 0.0
    heated, none = 1 - inside, np.zeros(count + 2)
    heated[0] = 0.0
    cold = none.copy()
    cold[0] = cold_w_k
    return HeatPath(
        z_mm=np.cumsum(width_mm) - width_mm / 2,
        width_mm=width_mm,
        wall_j_k=np.ones(count + 2),
        wall_link_w_k=1 / (half[:-1] + half[1:]),
        core_j_k=np.ones(count + 2),
        core_link_w_k=np.full(count + 1, 1e-12),
        cross_w_k=np.full(count + 2, 1e-12),
        forced_w_k=side_w_m2k * math.pi * 5.0e-3 * width_mm / 1000 * inside,
        still_m2=none,
        fixed_w_k=cold,
        heated=heated,
        stream_w_k=0.0,
        ambient_c=ambient_c,
        still_c=np.array([0.0, 500.0]),
        still_w_m2k=np.zeros(2),
        liner_end=0,
        neck_top=0,
        block_top_mm=NECK_MM,
    )


@pytest.mark.parametrize(
    ("outer_mm", "inner_mm", "length_mm", "conducts_w_mk", "expected_w_k"),
    [
        (5.0, 4.1, 4.0, 14.9, 0.0239607),
        (5.0, 4.1, 4.0, 16.6, 0.0266945),
        (6.0, 4.1, 2.1, 14.9, 0.106938),
        (4.0, 2.0, 2.1, 0.25, 0.00112200),
    ],
)
def test_section_of_a_tube_gives_the_conductance_of_fourier(
    outer_mm: float, inner_mm: float, length_mm: float, conducts_w_mk: float, expected_w_k: float
) -> None:
    """G = k A / L; necks and liner of the reference table."""
    assert conducts_w_mk * ring_m2(outer_mm, inner_mm) / (length_mm / 1000) == pytest.approx(expected_w_k, rel=3e-6)


def test_a_neck_without_side_loss_conducts_as_fourier_says() -> None:
    """3.83372 W from 210 to 50 °C through 5.0/4.1 mm of steel, 4 mm long; the air stands for the cold end."""
    path = _rod(14.9, 0.0, 50.0, 1e6)
    state = steady(path, 210.0)
    assert state.heater_w == pytest.approx(3.83372, rel=2e-5)
    assert np.allclose(np.diff(state.wall_c[1:-1]), np.diff(state.wall_c[1:-1])[0], rtol=1e-6)


def test_a_neck_that_loses_heat_at_its_side_is_a_fin_with_two_fixed_ends() -> None:
    """Q in 3.916144 W, Q out 3.784771 W at h 20, ends at 210 and 50 °C, air at 25 °C; temperatures along it too."""
    m_per_m, ambient_c = math.sqrt(20 * math.pi * 5e-3 / (14.9 * NECK_M2)), 25.0
    assert m_per_m == pytest.approx(57.25256, rel=1e-6)
    cold_w = 3.784771
    path = _rod(14.9, 20.0, ambient_c, cold_w / (50 - ambient_c))
    state = steady(path, 210.0)
    assert state.heater_w == pytest.approx(3.916144, rel=1e-4)
    assert state.wall_c[0] == pytest.approx(50.0, abs=1e-2)
    length_m, x_m = NECK_MM / 1000, (NECK_MM - path.z_mm) / 1000
    hot, cold = 210 - ambient_c, 50 - ambient_c
    exact = (cold * np.sinh(m_per_m * x_m) + hot * np.sinh(m_per_m * (length_m - x_m))) / math.sinh(m_per_m * length_m)
    assert np.abs(state.wall_c - ambient_c - exact).max() < 0.02


def _one_lump(capacity_j_k: float, loss_w_k: float, ambient_c: float) -> HeatPath:
    """Four cells of one temperature, each losing a quarter of the heat."""
    quarter = np.full(4, 0.25)
    return replace(
        _rod(1.0, 0.0, ambient_c, 0.0, count=2),
        wall_j_k=capacity_j_k * quarter,
        wall_link_w_k=np.full(3, 1e3),
        fixed_w_k=loss_w_k * quarter,
        heated=np.zeros(4),
    )


def _at(path: HeatPath, at_c: float) -> HeatState:
    cells = np.full(len(path.z_mm), at_c)
    return HeatState(path.z_mm, cells, cells, 0.0, 0.0, 0.0)


def test_a_lump_cools_exponentially() -> None:
    """Heater block of 10.1 J/K with a loss of 0.10 W/K: time constant 101 s."""
    path = _one_lump(10.1, 0.10, 25.0)
    run = march(path, _at(path, 210.0), set_c=None, effectiveness_ratio=1.0, seconds=202, step_s=0.5, growth_ratio=1.0)
    exact = 25 + 185 * np.exp(-run.after_s / 101.0)
    assert np.abs(run.wall_c[:, 0] - exact).max() < 5e-3


def test_the_two_node_network_after_a_fan_stop() -> None:
    """Sink of 12.3725 J/K between a neck of 0.0239607 W/K and 0.0388496 W/K to still air, from 38.1146 °C.

    It heads for 95.5734 °C with a time constant of 196.982 s: 55 °C after 68.541 s, 60 °C after 94.447 s, 80 °C after
    257.160 s. The neck and the air together act as one loss to a warmer air.
    """
    neck, air = 0.02396073, 0.0388496
    mixed_c = (210 * neck + 25 * air) / (neck + air)
    assert mixed_c == pytest.approx(95.5734, abs=1e-3)
    path = _one_lump(12.3725, neck + air, mixed_c)
    run = march(
        path, _at(path, 38.1146), set_c=None, effectiveness_ratio=1.0, seconds=300, step_s=0.5, growth_ratio=1.0
    )
    for at_s, expected_c in ((68.541, 55.0), (94.447, 60.0), (257.160, 80.0)):
        assert np.interp(at_s, run.after_s, run.wall_c[:, 0]) == pytest.approx(expected_c, abs=5e-3)


@pytest.mark.parametrize(
    ("set_c", "on_c", "off_c"), [(210, 38.1146, 95.5734), (240, 40.2413, 107.0177), (260, 41.6592, 114.6473)]
)
def test_neck_and_sink_in_series_settle_where_the_network_says(set_c: float, on_c: float, off_c: float) -> None:
    """Ts = Ta + (Th − Ta) G_neck / (G_neck + G_sink), fan on at h 40 and off on the envelope at 14.6 W/(m² K)."""
    for sink_w_k, expected_c in ((0.314038, on_c), (0.0388496, off_c)):
        state = steady(_rod(14.9, 0.0, 25.0, sink_w_k), set_c)
        assert state.wall_c[0] == pytest.approx(expected_c, abs=1e-3)


def test_the_whole_hot_end_agrees_with_the_network_it_refines() -> None:
    """Fan on 38.1, off 95.6 °C by the network; the model adds gradients, liner, filament and h that grows with heat."""
    path = heat_path(hot_end_of("lined"), load_catalogue().materials["pla"], ambient_c=25)
    mean = (path.forced_w_k > 0).astype(float)
    for effectiveness_ratio, expected_c in ((1.0, 38.1146), (0.0, 95.5734)):
        wall_c = steady(path, 210, effectiveness_ratio).wall_c
        assert (wall_c @ mean) / mean.sum() - 25 == pytest.approx(expected_c - 25, rel=0.1)


def test_moving_filament_carries_its_enthalpy() -> None:
    """5 mm³/s of PLA, 1.24 g/cm³ and 1800 J/(kg K): 0.01116 W/K, 2.0646 W from 25 to 210 °C (no heat of melting)."""
    pla = load_catalogue().materials["pla"]
    path = heat_path(hot_end_of("all_metal"), pla, flow_mm3_s=5.0, ambient_c=25)
    assert path.stream_w_k == pytest.approx(0.01116, rel=1e-9)
    carried_w = steady(path, 210).carried_w
    assert 0.95 * 2.0646 < carried_w < 2.0646
