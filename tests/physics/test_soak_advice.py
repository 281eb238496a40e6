"""The words that a soak's numbers lead to."""

from dataclasses import replace

from feedwright.physics.soak_advice import SoakFacts, cautions_for, checks_for

CALM = SoakFacts("hot stop", True, "PLA", 1.0, 1.0, 40.0, 210.0, 240.0, 260.0, 300.0, 4.0, 4.0, False)


def test_a_short_stop_asks_for_its_cause_alone() -> None:
    """Nothing is advised without a reason."""
    assert checks_for(CALM) == ("Find what stopped the feed before going on.",)


def test_a_little_creep_asks_for_a_push_by_hand() -> None:
    """Only where it went further than in plain printing."""
    assert any("by hand" in check for check in checks_for(replace(CALM, creep_mm=5.0)))


def test_every_soak_warns_of_hot_metal() -> None:
    """The usual caution comes first."""
    assert "burn skin" in cautions_for(CALM)[0]
