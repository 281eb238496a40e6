"""The cells hold what the geometry says."""

import math

import pytest

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd
from feedwright.physics.hot_end import finned_area_m2, heat_path, sink_j_k, sink_w_k


def test_cells_add_up_to_the_whole(lined: HotEnd, all_metal: HotEnd, pla: Material) -> None:
    """Length, heat capacity of block and loss of sink do not depend on the cells."""
    for hot_end in (lined, all_metal):
        for cells_per_mm in (1.0, 3.0):
            path = heat_path(hot_end, pla, cells_per_mm=cells_per_mm)
            assert path.width_mm.sum() == pytest.approx(hot_end.path_mm)
            assert path.forced_w_k.sum() == pytest.approx(sink_w_k(hot_end, 40))
            assert path.fixed_w_k.sum() == pytest.approx(0.1)
            assert path.wall_j_k[path.z_mm > path.block_top_mm].sum() >= hot_end.block_j_k.value - 1e-9


def test_the_metal_of_the_sink_is_its_geometry(lined: HotEnd) -> None:
    """12.3725 J/K of the reference sink."""
    assert sink_j_k(lined) == pytest.approx(12.3725, rel=1e-5)
    assert finned_area_m2(lined)[1] == pytest.approx(7.913672e-3, rel=1e-6)


def test_the_liner_ends_where_it_reaches_to(lined: HotEnd, all_metal: HotEnd, pla: Material) -> None:
    """At the nozzle in a lined hot end, within the sink in an all-metal one."""
    for hot_end in (lined, all_metal):
        path = heat_path(hot_end, pla)
        end_mm = path.z_mm[path.liner_end] + path.width_mm[path.liner_end] / 2
        assert end_mm == pytest.approx(hot_end.liner_reach_mm.value)
    assert path.liner_end < path.neck_top
    assert heat_path(lined, pla).liner_end > heat_path(lined, pla).neck_top


def test_the_melt_takes_heat_as_a_plug_in_a_warm_tube(lined: HotEnd, pla: Material) -> None:
    """5.783 pi k per metre in the melt, a fraction of it through liner and clearance."""
    path = heat_path(lined, pla)
    per_m = path.cross_w_k / path.width_mm * 1000
    assert per_m[-1] == pytest.approx(5.783186 * math.pi * 0.13)
    assert per_m[0] < 0.5 * per_m[-1]
