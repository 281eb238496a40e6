"""Everyday words lead to the right observation."""

import pytest

from feedwright.catalogue.network import Network
from feedwright.diagnosis.search import find_observations


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("spider webs between parts", "strings"),
        ("stringing", "strings"),
        ("stringng", "strings"),
        ("strings everywhere", "strings"),
        ("it keeps clicking", "clicks"),
        ("nothing comes out any more", "stops_midway"),
        ("bird nest", "came_off"),
        ("won't stick", "no_stick"),
        ("corners peel up", "lifted_corners"),
        ("underextrusion", "thin_lines"),
        ("heatsink too hot to touch", "sink_hot"),
        ("burnt smell", "smell_burnt"),
        ("popping sounds", "crackles"),
        ("zits", "blobs"),
        ("ghosting", "echoes"),
        ("layers shifted", "layer_shift"),
        ("ELEPHANT FOOT", "elephant_foot"),
        ("filament snapped", "filament_snaps"),
        ("thermal runaway", "fault_stop"),
        ("level", "first_uneven"),
        ("dust in the gear", "gear_dust"),
    ],
)
def test_what_people_say_is_found_among_the_first(network: Network, words: str, meant: str) -> None:
    assert meant in [seen.id for seen in find_observations(network, words)[:4]]


@pytest.mark.parametrize("words", ["", "   ", "xyzzy", "the and of", "½ § 日本"])
def test_what_fits_nothing_finds_nothing(network: Network, words: str) -> None:
    assert find_observations(network, words) == []


def test_every_observation_is_found_by_its_own_title(network: Network) -> None:
    for seen in network.observations.values():
        assert seen in find_observations(network, seen.title), seen.id
