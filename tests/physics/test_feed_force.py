"""Push needed and push available."""

import numpy as np
import pytest

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import Drive, HotEnd
from feedwright.errors import NotFound, OutOfRange
from feedwright.physics.feed_force import feed_path, force_balance, melt_and_core_c, push_n, stiffness_n


def test_a_plain_print_needs_five_to_thirty_newtons(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """Common practice for a healthy 0.4 mm nozzle and PLA; the drive has margin."""
    balance = force_balance(feed_path(lined, remote), pla, flow_mm3_s=5, nozzle_c=205)
    assert 5 < balance.needed_n < 30
    assert balance.holds
    assert balance.margin_n == pytest.approx(balance.available_n - balance.needed_n)
    assert balance.nozzle_n + balance.tube_n == pytest.approx(balance.needed_n)
    assert balance.limits_n[0] == (balance.limited_by, balance.available_n)


def test_every_worsening_raises_the_push_or_lowers_the_grip(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """More flow, less heat, a narrower orifice, more bends, a worn tube; a worn gear."""
    usual = force_balance(feed_path(lined, remote), pla, flow_mm3_s=5, nozzle_c=205)
    for worse in (
        force_balance(feed_path(lined, remote), pla, flow_mm3_s=7, nozzle_c=205),
        force_balance(feed_path(lined, remote), pla, flow_mm3_s=5, nozzle_c=190),
        force_balance(feed_path(lined, remote, orifice_mm=0.3), pla, flow_mm3_s=5, nozzle_c=205),
        force_balance(feed_path(lined, remote, tube_bend_deg=360), pla, flow_mm3_s=5, nozzle_c=205),
        force_balance(feed_path(lined, remote, tube="ring"), pla, flow_mm3_s=5, nozzle_c=205),
    ):
        assert worse.needed_n > usual.needed_n
    grip = [
        force_balance(feed_path(lined, remote, gear=gear), pla, flow_mm3_s=5, nozzle_c=205).available_n
        for gear in ("sharp", "dusty", "worn", "polished")
    ]
    assert grip == sorted(grip, reverse=True)


def test_soft_filament_buckles_in_the_gap_of_a_remote_drive(
    lined: HotEnd, all_metal: HotEnd, remote: Drive, direct: Drive, materials: dict[str, Material]
) -> None:
    """Common practice: soft grades want a drive at the hot end with a short gap."""
    soft = materials["tpu_85a"]
    far = force_balance(feed_path(lined, remote), soft, flow_mm3_s=3, nozzle_c=220)
    near = force_balance(feed_path(all_metal, direct), soft, flow_mm3_s=3, nozzle_c=220)
    assert far.limited_by == "unsupported gap"
    assert not far.holds
    assert near.holds


def test_a_core_that_stays_cold_stops_the_flow_whatever_the_push(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """30 mm³/s through ten millimetres of hot bore."""
    balance = force_balance(feed_path(lined, remote), pla, flow_mm3_s=30, nozzle_c=205)
    assert not balance.heated_through
    assert balance.limited_by == "heat into the filament"
    assert not balance.holds


def test_a_straight_tube_adds_nothing(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """No bend, no friction."""
    path = feed_path(lined, remote, tube_bend_deg=0)
    assert stiffness_n(path, pla) == 0.0
    assert force_balance(path, pla, flow_mm3_s=5, nozzle_c=205).tube_n == pytest.approx(0.0)


def test_many_moves_are_reckoned_at_once(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """Arrays give what single moves give."""
    path, flow, nozzle_c = feed_path(lined, remote), np.array([1.0, 5.0, 9.0]), np.array([200.0, 205.0, 215.0])
    melt_c, _ = melt_and_core_c(path, pla, flow, nozzle_c, 22.0)
    needed = push_n(path, pla, flow, melt_c)[1]
    for i in range(3):
        single = force_balance(path, pla, flow_mm3_s=float(flow[i]), nozzle_c=float(nozzle_c[i]))
        assert needed[i] == pytest.approx(single.needed_n)


def test_unknown_grades_and_impossible_sizes_are_refused(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """With the known ones, and by field."""
    with pytest.raises(NotFound, match="sharp, dusty"):
        feed_path(lined, remote, gear="rusty")
    with pytest.raises(OutOfRange, match="tube_bore_mm"):
        feed_path(lined, remote, tube_bore_mm=1.5)
    with pytest.raises(OutOfRange, match="tube_length_mm"):
        feed_path(lined, remote, tube_length_mm=-1)
    with pytest.raises(OutOfRange, match="flow_mm3_s"):
        force_balance(feed_path(lined, remote), pla, flow_mm3_s=-1, nozzle_c=205)
    with pytest.raises(OutOfRange, match="nozzle_c"):
        force_balance(feed_path(lined, remote), pla, flow_mm3_s=5, nozzle_c=2050)
