"""Readings as evidence: sound values speak against, bad ones for, and nothing is impossible."""

import pytest

from feedwright.catalogue.network import Network
from feedwright.diagnosis.readings import Around, likelihoods, sink_curve
from feedwright.errors import OutOfRange


def leaning(network: Network, kind: str, value: float, observation: str, around: Around | None = None) -> float:
    """Likelihood ratio present to absent."""
    told = likelihoods(network.readings[kind], value, around or Around())[observation]
    return told.present / told.absent


@pytest.mark.parametrize(
    ("kind", "value", "observation", "speaks_for"),
    [
        ("sink_top", 37.0, "sink_hot", False),
        ("sink_top", 75.0, "sink_hot", True),
        ("sink_top", 24.0, "sink_hot", False),
        ("feed", 99.5, "feed_short", False),
        ("feed", 91.0, "feed_short", True),
        ("feed", 91.0, "feed_long", False),
        ("feed", 108.0, "feed_long", True),
        ("feed", 108.0, "feed_short", False),
        ("wall", 0.45, "wall_thin", False),
        ("wall", 0.36, "wall_thin", True),
        ("wall", 0.36, "wall_thick", False),
        ("wall", 0.60, "wall_thick", True),
        ("filament", 1.75, "filament_off_size", False),
        ("filament", 1.86, "filament_off_size", True),
        ("filament", 1.62, "filament_off_size", True),
    ],
)
def test_a_reading_speaks_for_or_against(
    network: Network, kind: str, value: float, observation: str, speaks_for: bool
) -> None:
    ratio = leaning(network, kind, value, observation)
    assert ratio > 3 if speaks_for else ratio < 1 / 3


def test_the_farther_off_the_stronger(network: Network) -> None:
    ratios = [leaning(network, "feed", value, "feed_short") for value in (99.0, 97.0, 96.0, 94.0)]
    assert ratios == sorted(ratios)
    assert all(1e-4 / 2 < ratio < 1e4 * 2 for ratio in ratios)


def test_the_sink_is_judged_by_the_hot_end_s_own_heat_balance(network: Network) -> None:
    """The same reading counts less on a hotter nozzle in a warmer room: a sound sink is hotter there."""
    cool, warm = Around(), Around(nozzle_c=260.0, ambient_c=40.0, material="abs")
    assert leaning(network, "sink_top", 62.0, "sink_hot", warm) < leaning(network, "sink_top", 62.0, "sink_hot", cool)
    shares, top_c = sink_curve(cool)
    assert list(top_c) == sorted(top_c, reverse=True), "more air, cooler sink"
    assert shares[0] == 0


@pytest.mark.parametrize(
    ("kind", "value"),
    [("sink_top", 500.0), ("sink_top", -5.0), ("feed", -1.0), ("feed", 201.0), ("wall", 9.0), ("filament", 0.4)],
)
def test_a_number_that_cannot_be_such_a_reading_is_refused(network: Network, kind: str, value: float) -> None:
    with pytest.raises(OutOfRange):
        likelihoods(network.readings[kind], value, Around())
