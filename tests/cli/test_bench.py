"""``bench``: the list at 80 columns, and as JSON."""

from tests.cli.conftest import Command


def test_what_is_worn_stands_first_with_cost_reason_and_what_to_look_for(ash: Command) -> None:
    """Words alone carry the meaning, within 80 columns."""
    for _ in range(3):
        ash("run", "add", "Ash", "--hours", "300", "--nozzle-c", "245", "--material", "petg")
    said = ash("bench")
    assert said.code == 0
    lines = said.out.splitlines()
    assert all(len(line) <= 80 for line in lines)
    assert "\x1b" not in said.out
    first = lines[lines.index(next(line for line in lines if line.startswith("SERVICE NOW"))) + 2]
    assert first.startswith(" 1. Ash:")
    assert "waiting a week costs" in first
    for words in ("to fail within a week", "eight in ten between", "Renewed in good time it costs", "Look: "):
        assert words in said.out
    data = ash("bench", "--json").data
    assert data["now"][0]["machine"]["name"] == "Ash"
    costs = [float(part["advice"]["waiting_cost_week"]["amount"]) for part in data["now"]]
    assert costs == sorted(costs, reverse=True)
    assert len(ash("bench", "--full").out) > len(said.out)


def test_a_new_machine_has_nothing_to_service_and_an_empty_farm_says_how_to_begin(ash: Command) -> None:
    assert "SERVICE NOW: nothing" in ash("bench", "--machine", "Ash").out
    assert "did you mean Ash" in ash("bench", "--machine", "Ask").err
    ash("void", "machine", "1", "--reason", "never had it")
    assert "feedwright machine add" in ash("bench").out


def test_a_clean_look_before_the_first_run_breaks_nothing(ash: Command) -> None:
    for part in ("tube_end", "nozzle", "drive_gear"):
        grade = {"tube_end": "clean", "nozzle": "clean", "drive_gear": "sharp"}[part]
        assert ash("finding", "add", "Ash", part, grade).code == 0
    assert ash("bench").code == 0
    assert ash("machine", "show", "Ash").code == 0
