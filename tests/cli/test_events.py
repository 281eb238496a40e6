"""``event``: what happened outside plain printing."""

import pytest
from tests.cli.conftest import Command


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["fire"], "power_cut"),
        (["fan_stall", "--minutes", "-5"], "min"),
        (["fan_stall", "--nozzle-c", "nan"], "°C"),
        (["fan_stall", "--material", "wood"], "material"),
        (["fan_stall", "--at", "2999-01-01"], "until now"),
    ],
)
def test_an_event_that_cannot_be_so_is_refused_and_not_recorded(words: list[str], told: str, ash: Command) -> None:
    said = ash("event", "add", "Ash", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert ash("event", "list", "--json").data == []


def test_hot_minutes_of_an_event_wear_the_parts(ash: Command) -> None:
    def end() -> float:
        parts = ash("machine", "show", "Ash", "--json").data["parts"]
        return next(p["outlook"]["exposure"]["mid"] for p in parts if p["fitting"]["part_kind"] == "tube_end")

    before = end()
    assert ash("event", "add", "Ash", "hot_stop", "--nozzle-c", "240", "--minutes", "90", "--material", "pla").code == 0
    assert end() > before
    assert "hot_stop" in ash("event", "list", "--machine", "Ash", "--limit", "1").out
