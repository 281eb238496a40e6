"""What a feed path sustains."""

import numpy as np
import pytest

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import Drive, HotEnd
from feedwright.errors import OutOfRange
from feedwright.physics.feed_force import feed_path, force_balance
from feedwright.physics.flow_limit import flow_limit, greatest_flow


def test_a_lined_hot_end_melts_about_ten_cubic_millimetres_a_second(
    lined: HotEnd, all_metal: HotEnd, remote: Drive, direct: Drive, pla: Material
) -> None:
    """Common practice for a 0.4 mm nozzle and PLA: 8 to 15; more where filament touches hot metal for longer."""
    band, word = greatest_flow(feed_path(lined, remote), pla, nozzle_c=210)
    assert 8 < band.mid < 15
    assert band.low < band.mid < band.high
    assert word == "heat into the filament"
    assert greatest_flow(feed_path(all_metal, direct), pla, nozzle_c=210)[0].mid > band.mid


def test_the_limit_is_where_the_balance_tips(lined: HotEnd, remote: Drive, materials: dict[str, Material]) -> None:
    """Just below it the flow holds, just above it does not: by heat for one material, by push for another."""
    for key, at_c in (("pla", 205.0), ("petg", 235.0), ("pc", 275.0)):
        path = feed_path(lined, remote)
        most = greatest_flow(path, materials[key], nozzle_c=at_c)[0].mid
        assert force_balance(path, materials[key], flow_mm3_s=most * 0.999, nozzle_c=at_c).holds
        assert not force_balance(path, materials[key], flow_mm3_s=most * 1.001, nozzle_c=at_c).holds


def test_a_worn_gear_sustains_less_and_a_hotter_nozzle_more(
    lined: HotEnd, remote: Drive, materials: dict[str, Material]
) -> None:
    """Both move the limit the way a keeper expects."""
    petg = materials["petg"]
    sharp, worn = (
        greatest_flow(feed_path(lined, remote, gear=g), petg, nozzle_c=235)[0].mid for g in ("sharp", "worn")
    )
    assert worn < sharp
    table = flow_limit(feed_path(lined, remote), petg)
    assert (np.diff(table.flow_mm3_s) >= 0).all()
    assert (table.low_mm3_s <= table.flow_mm3_s).all()
    assert (table.flow_mm3_s <= table.high_mm3_s).all()


def test_the_table_answers_for_many_moves_and_nothing_flows_cold(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """A nozzle that is off sustains nothing."""
    table = flow_limit(feed_path(lined, remote), pla)
    found = table.at(np.array([[0.0, 205.0], [210.0, 230.0]]))
    assert found.shape == (2, 2)
    assert found[0, 0] == 0.0
    assert found[0, 1] == pytest.approx(greatest_flow(feed_path(lined, remote), pla, nozzle_c=205)[0].mid, rel=1e-6)


def test_below_its_flow_temperature_a_material_does_not_flow(
    lined: HotEnd, remote: Drive, materials: dict[str, Material]
) -> None:
    """Polyamide at 200 °C."""
    assert greatest_flow(feed_path(lined, remote), materials["pa6"], nozzle_c=200)[0].mid == 0.0


def test_an_impossible_temperature_is_refused(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """By name."""
    with pytest.raises(OutOfRange, match="nozzle_c"):
        greatest_flow(feed_path(lined, remote), pla, nozzle_c=2000)
