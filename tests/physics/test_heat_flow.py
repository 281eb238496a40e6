"""The heat model keeps account of every joule and converges at the order it claims."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd, hot_end_of
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import OutOfRange
from feedwright.physics.heat_flow import ORDER, HeatSystem, difference_weights, march, soft_from_mm, steady
from feedwright.physics.hot_end import heat_path


@given(
    set_c=st.floats(150, 300),
    effectiveness_ratio=st.floats(0, 1.5),
    flow_mm3_s=st.floats(0, 30),
    ambient_c=st.floats(0, 60),
    hot_end=st.sampled_from(["lined", "all_metal"]),
)
@settings(max_examples=40, deadline=None)
def test_in_the_steady_state_the_heater_gives_what_air_and_filament_take(
    set_c: float, effectiveness_ratio: float, flow_mm3_s: float, ambient_c: float, hot_end: str
) -> None:
    """The balance closes to a millionth."""
    pla = load_catalogue().materials["pla"]
    path = heat_path(hot_end_of(hot_end), pla, flow_mm3_s=flow_mm3_s, ambient_c=ambient_c)
    state = steady(path, set_c, effectiveness_ratio)
    assert state.lost_w + state.carried_w == pytest.approx(state.heater_w, rel=1e-6)
    assert ambient_c - 1e-6 <= state.wall_c.min() <= state.wall_c.max() <= set_c + 1e-6


@pytest.mark.parametrize("set_c", [None, 210.0])
@pytest.mark.parametrize("flow_mm3_s", [0.0, 8.0])
@pytest.mark.parametrize("effectiveness_ratio", [0.0, 0.7])
def test_over_time_heat_given_is_heat_lost_carried_and_stored(
    lined: HotEnd, pla: Material, set_c: float | None, flow_mm3_s: float, effectiveness_ratio: float
) -> None:
    """Summed over a soak by the model's own differences, the balance closes to a millionth of the heat that moved."""
    path = heat_path(lined, pla, flow_mm3_s=flow_mm3_s)
    run = march(path, steady(path, 210), set_c=set_c, effectiveness_ratio=effectiveness_ratio, seconds=400)
    system = HeatSystem(path, effectiveness_ratio, set_c)
    states = np.stack([run.wall_c, run.core_c], axis=2).reshape(len(run.after_s), -1)
    flowed = np.zeros((len(states), 3))
    for step, (ahead, past, reach) in enumerate(zip(*difference_weights(run.after_s), strict=True), start=1):
        known = min(step, ORDER)
        extrapolated = reach[-known:] @ run.wall_c[step - known : step]
        flows = np.array(system.flows_w(states[step], system.loss_w_k(extrapolated)))
        flowed[step] = (flows - past[-known:] @ flowed[step - known : step]) / ahead
    held_j, lost_j, carried_j = flowed[-1]
    stored_j = system.capacity_j_k @ (states[-1] - states[0])
    assert lost_j > 1000
    assert held_j - lost_j - carried_j == pytest.approx(stored_j, abs=1e-6 * lost_j)


def test_the_order_in_time_is_third_where_all_is_smooth(lined: HotEnd, pla: Material) -> None:
    """From a smooth course on, halving the steps cuts the error about eightfold; a jump at the start costs an order."""
    path = heat_path(lined, pla)
    start = steady(path, 210)
    errors = []
    fine = march(path, start, set_c=None, effectiveness_ratio=0.0, seconds=160, step_s=0.02, growth_ratio=1.0)
    for fineness in (1, 2, 4):
        run = march(
            path, start, set_c=None, effectiveness_ratio=0.0, seconds=160,
            step_s=0.05 / fineness**1.5, growth_ratio=1 + 0.2 / fineness, longest_s=8 / fineness,
        )  # fmt: skip
        errors.append(np.abs(run.wall_c[-1] - fine.wall_c[-1]).max())
    assert errors[0] / errors[1] > 4
    assert errors[1] / errors[2] > 4


def test_growing_steps_agree_with_fine_equal_ones(lined: HotEnd, pla: Material) -> None:
    """The usual steps stay within 0.1 K of steps of a tenth of a second, in mishap and cool-down."""
    path = heat_path(lined, pla)
    start = steady(path, 210)
    for set_c in (210.0, None):
        usual = march(path, start, set_c=set_c, effectiveness_ratio=0.0, seconds=600)
        fine = march(path, start, set_c=set_c, effectiveness_ratio=0.0, seconds=600, step_s=0.1, growth_ratio=1.0)
        exact = np.array([np.interp(usual.after_s, fine.after_s, column) for column in fine.wall_c.T]).T
        assert np.abs(usual.wall_c - exact).max() < 0.1
        assert len(usual.after_s) < 120


@pytest.mark.parametrize("flow_mm3_s", [0.0, 6.0])
def test_halving_the_cells_quarters_the_error(lined: HotEnd, pla: Material, flow_mm3_s: float) -> None:
    """Second order along the path, with and without a moving filament."""
    tops, soft = [], []
    for cells_per_mm in (2.0, 4.0, 8.0, 32.0):
        path = heat_path(lined, pla, flow_mm3_s=flow_mm3_s, cells_per_mm=cells_per_mm)
        state = steady(path, 210)
        tops.append(state.sink_top_c)
        soft.append(soft_from_mm(path, state.core_c, 60.0)[0])
    errors = np.abs(np.array(tops[:-1]) - tops[-1])
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.35)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.35)
    assert errors[0] < 1e-3
    assert soft[0] == pytest.approx(soft[-1], abs=0.02)


def test_a_run_that_starts_at_rest_stays_there(lined: HotEnd, pla: Material) -> None:
    """The steady state is where time leads."""
    path = heat_path(lined, pla, flow_mm3_s=3.0)
    state = steady(path, 230, 0.4)
    run = march(path, state, set_c=230, effectiveness_ratio=0.4, seconds=60)
    assert np.abs(run.wall_c[-1] - state.wall_c).max() < 1e-6
    assert np.abs(run.core_c[-1] - state.core_c).max() < 1e-6


def test_a_run_of_no_time_is_its_start(lined: HotEnd, pla: Material) -> None:
    """Zero seconds change nothing."""
    path = heat_path(lined, pla)
    run = march(path, steady(path, 210), set_c=None, effectiveness_ratio=0.0, seconds=0)
    assert len(run.after_s) == 1
    assert (run.wall_c[0] == steady(path, 210).wall_c).all()


def test_less_air_means_a_hotter_sink_all_along(lined: HotEnd, pla: Material) -> None:
    """Everywhere above the block."""
    path = heat_path(lined, pla)
    hotter, cooler = steady(path, 210, 0.2), steady(path, 210, 0.9)
    assert (hotter.wall_c[: path.neck_top] > cooler.wall_c[: path.neck_top]).all()


def test_moving_filament_keeps_the_neck_cool(lined: HotEnd, pla: Material) -> None:
    """Printing cools the path that a standing filament warms."""
    standing = steady(heat_path(lined, pla), 210)
    moving = steady(heat_path(lined, pla, flow_mm3_s=6.0), 210)
    assert moving.core_c[standing.core_c > 60].min() < 60 < standing.core_c.max()
    assert moving.carried_w > 1.0


def test_the_softened_part_is_found_between_cells(lined: HotEnd, pla: Material) -> None:
    """Depth by the straight line between two cells; the whole path where nothing is soft; 0 where all is."""
    path = heat_path(lined, pla)
    ramp = 20 + 2 * path.z_mm
    assert soft_from_mm(path, ramp, 60.0)[0] == pytest.approx(20.0, abs=0.3)
    assert soft_from_mm(path, ramp, 500.0)[0] == pytest.approx(lined.path_mm)
    assert soft_from_mm(path, ramp, 10.0)[0] == 0.0


@pytest.mark.parametrize(
    ("field", "value"), [("ambient_c", 300.0), ("flow_mm3_s", -1.0), ("filament_mm", 0.0), ("ambient_c", float("nan"))]
)
def test_what_cannot_be_is_refused_by_name(lined: HotEnd, pla: Material, field: str, value: float) -> None:
    """Field, range and remedy are in the refusal."""
    with pytest.raises(OutOfRange) as refusal:
        heat_path(lined, pla, **{field: value})
    assert refusal.value.subject == field
    assert refusal.value.remedy


def test_an_impossible_set_temperature_or_time_is_refused(lined: HotEnd, pla: Material) -> None:
    """Steady and over time alike."""
    path = heat_path(lined, pla)
    with pytest.raises(OutOfRange, match="set_c"):
        steady(path, 2100)
    start = steady(path, 210)
    with pytest.raises(OutOfRange, match="seconds"):
        march(path, start, set_c=None, effectiveness_ratio=0.0, seconds=-1)
    with pytest.raises(OutOfRange, match="effectiveness_ratio"):
        march(path, start, set_c=None, effectiveness_ratio=-0.1, seconds=1)


def test_a_settled_run_ends_early(lined: HotEnd, pla: Material) -> None:
    """Nothing is reckoned for hours in which nothing moves."""
    path = heat_path(lined, pla)
    run = march(path, steady(path, 210), set_c=210, effectiveness_ratio=1.0, seconds=36000, settled_k_s=1e-4)
    assert len(run.after_s) < 10
