"""What was learned and what policies cost, from the command line."""

from tests.cli.conftest import Command


def test_learning_says_what_it_rests_on_and_whether_the_findings_tell(ash: Command) -> None:
    ash("run", "add", "Ash", "--hours", "300", "--material", "pla")
    ash("finding", "add", "Ash", "tube_end", "clean")
    said = ash("learn", "tube_end")
    assert said.code == 0
    assert "life over rule of thumb" in said.out
    assert "The findings do not tell" in said.out
    data = ash("learn", "--json").data
    assert {kind["kind"] for kind in data["kinds"]} >= {"tube_end", "nozzle"}
    assert "did you mean tube_end" in ash("learn", "tube_and").err


def test_policies_are_compared_the_cheapest_first(ash: Command) -> None:
    refused = ash("policy")
    assert refused.code == 2
    assert "feedwright run add" in refused.err
    ash("run", "add", "Ash", "--hours", "300", "--material", "pla")
    said = ash("policy", "--farms", "20", "--years", "1")
    assert said.code == 0
    assert "as advised" in said.out
    costs = [one["mean"]["cost"] for one in ash("policy", "--farms", "20", "--years", "1", "--json").data["outcomes"]]
    assert costs == sorted(costs)
