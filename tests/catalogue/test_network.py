"""The causal network as shipped, and how a faulty entry is refused."""

from importlib.resources import files

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import FILES, Network, load_network, parse_network
from feedwright.errors import BadEntry

NAMES = [name for group in FILES.values() for name in group]


def texts() -> dict[str, bytes]:
    return {name: files("feedwright.catalogue").joinpath(name).read_bytes() for name in NAMES}


@pytest.fixture(scope="module")
def network() -> Network:
    return load_network()


def test_it_is_as_large_as_promised(network: Network) -> None:
    assert len(network.causes) >= 45
    assert len(network.observations) >= 90


def test_every_number_has_its_source_and_a_band(network: Network) -> None:
    numbers = [
        *(cause.prior_frac for cause in network.causes.values()),
        *(number for cause in network.causes.values() for number in [*cause.shows.values(), *cause.shifts.values()]),
        *(seen.leak_frac for seen in network.observations.values()),
        *(step.minutes for step in [*network.checks.values(), *network.repairs.values()]),
        *network.figures.values(),
    ]
    assert len(numbers) > 900
    for number in numbers:
        assert number.source in network.sources
        assert number.low <= number.value <= number.high
    assert all(cause.prior_frac.low < cause.prior_frac.high for cause in network.causes.values())


def test_every_cause_has_a_sign_of_its_own_and_every_observation_a_cause(network: Network) -> None:
    shown = {name for cause in network.causes.values() for name in cause.shows}
    assert shown == set(network.observations)
    for cause in network.causes.values():
        assert max(number.value for number in cause.shows.values()) >= 0.45, cause.id
        assert len(cause.shows) >= 4, cause.id


def test_every_repair_cures_something_and_every_circumstance_shifts_something(network: Network) -> None:
    assert {cause.cure for cause in network.causes.values()} == set(network.repairs)
    assert {name for cause in network.causes.values() for name in cause.shifts} == set(network.circumstances)


def test_hot_and_live_work_carries_its_cautions(network: Network) -> None:
    """Whatever heats the machine by hand work, or touches leads, says what can hurt."""
    for step in network.repairs.values():
        if step.state == "hot" and step.part:
            assert step.cautions, step.id
    supply = " ".join(network.repairs["qualified_supply"].cautions)
    assert "qualified person" in supply
    assert "local code" in supply
    for step in [*network.checks.values(), *network.repairs.values()]:
        assert step.how, step.id


@pytest.mark.parametrize(
    ("name", "old", "new", "told"),
    [
        ("causes_feed.toml", 'cure = "trim_tube_end"', 'cure = "pray"', "“pray”"),
        ("causes_feed.toml", "strings = 0.55", "strings = 1.55", "causes_feed.toml, liner_gap.shows.practice.strings"),
        ("causes_feed.toml", "strings = 0.55", "stringz = 0.55", "“stringz”"),
        ("causes_feed.toml", "strings = 0.55", 'strings = "often"', "expected a number"),
        ("causes_feed.toml", "shows.practice", "shows.hearsay", "“hearsay” is not in sources.toml"),
        ("causes_feed.toml", "grows = true", "grow = true", "no such key is known"),
        ("causes_feed.toml", 'part = "tube_end"', 'part = "wing"', "“wing”"),
        ("causes_feed.toml", "serviced_hot_end = 3.0", "serviced_hot_end = -3.0", "above 0"),
        ("causes_heat.toml", "[filament_moist]", "[liner_gap]", "another file already"),
        ("observations_print.toml", 'group = "print"', 'group = "prints"', "“prints” is not known here"),
        ("observations_print.toml", 'ask = "Are there fine', 'question = "Are there fine', "strings"),
        ("observations_measured.toml", 'law = "feed_error"', 'law = "guess"', "“guess”"),
        ("checks.toml", 'reveals = ["fan_still", "fan_slow"]', 'reveals = ["fan_still"]', "fan_slow"),
        ("checks.toml", 'state = "any"', 'state = "lukewarm"', "“lukewarm”"),
        ("causes_circumstances.toml", "[figures]", "[numbers]", "figures"),
        ("checks_repairs.toml", "minutes = {", "minutes = [", "checks_repairs.toml"),
    ],
)
def test_a_faulty_entry_is_refused_by_file_and_place(name: str, old: str, new: str, told: str) -> None:
    held = texts()
    assert old.encode() in held[name]
    held[name] = held[name].replace(old.encode(), new.encode(), 1)
    with pytest.raises(BadEntry) as refused:
        parse_network(held, load_catalogue())
    assert told in refused.value.sentence


def test_a_cause_can_be_added_by_an_entry_alone() -> None:
    held = texts()
    held["causes_feed.toml"] += b"""
[hummingbird]
title = "A hummingbird sits on the spool"
place = "spool"
because = "It is fond of bright filament."
cure = "free_spool"
prior_frac = { value = 0.001, source = "assumed" }
shows.assumed = { spool_hard = 0.5 }
"""
    assert parse_network(held, load_catalogue()).causes["hummingbird"].shows["spool_hard"].value == 0.5
