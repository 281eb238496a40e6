"""Lost motion and retraction."""

import pytest

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import Drive, HotEnd
from feedwright.errors import OutOfRange
from feedwright.physics.feed_force import feed_path
from feedwright.physics.slack import slack


def test_a_remote_drive_loses_more_than_one_on_the_carriage(
    lined: HotEnd, all_metal: HotEnd, remote: Drive, direct: Drive, pla: Material
) -> None:
    """Common practice: longer retractions on a remote drive."""
    far = slack(feed_path(lined, remote), pla, push_n=15)
    near = slack(feed_path(all_metal, direct), pla, push_n=15)
    assert far.lost_mm > 5 * near.lost_mm
    assert far.retraction_mm.mid > near.retraction_mm.mid
    for found in (far, near):
        assert found.lost_mm <= found.retraction_mm.mid <= found.longest_mm
        assert found.retraction_mm.low <= found.retraction_mm.mid <= found.retraction_mm.high


def test_a_close_bore_loses_less_but_not_for_filled_filament(
    lined: HotEnd, remote: Drive, materials: dict[str, Material]
) -> None:
    """The two bores are compared; filled filament is advised against the close one (common practice)."""
    wide, close = (slack(feed_path(lined, remote, tube_bore_mm=b), materials["pla"], push_n=15) for b in (2.0, 1.9))
    assert close.lost_mm < wide.lost_mm
    assert any("1.9 mm bore" in reason for reason in wide.because)
    assert wide.cautions == ()
    filled = slack(feed_path(lined, remote), materials["pla_carbon"], push_n=15)
    assert any("wide bore" in caution for caution in filled.cautions)


def test_no_retraction_takes_up_the_springing_of_soft_filament(
    lined: HotEnd, remote: Drive, materials: dict[str, Material]
) -> None:
    """It is said, with what helps instead."""
    soft = slack(feed_path(lined, remote), materials["tpu_95a"], push_n=10)
    assert soft.lost_mm > soft.longest_mm
    assert soft.retraction_mm.high <= soft.longest_mm
    assert any("no retraction" in caution for caution in soft.cautions)


def test_an_impossible_push_is_refused(lined: HotEnd, remote: Drive, pla: Material) -> None:
    """By name."""
    with pytest.raises(OutOfRange, match="push_n"):
        slack(feed_path(lined, remote), pla, push_n=-1)
