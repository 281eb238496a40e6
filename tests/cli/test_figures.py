"""Figures from the command line: tables, records behind a line, CSV and JSON."""

from tests.cli.conftest import Command


def test_figures_tell_cost_failures_and_what_is_behind_them(ash: Command) -> None:
    ash("run", "add", "Ash", "--hours", "30", "--material", "pla")
    ash("renew", "Ash", "nozzle", "--reason", "failed", "--minutes", "30")
    said = ash("figures")
    assert said.code == 0
    assert "30 printing hours" in said.out
    assert "How this is reckoned" in said.out
    assert "Nozzle failed" in ash("figures", "--by", "cause").out
    behind = ash("figures", "--by", "part", "--records", "Nozzle")
    assert "renewal 1" in behind.out
    assert "price by the catalogue" in behind.out
    data = ash("figures", "--json").data
    assert data["whole"]["failures"] == 1
    assert data["costs"]["part"][0]["name"] == "Nozzle"
    assert data["whole"]["time_between_h"]["low"] < 30 < data["whole"]["time_between_h"]["high"]
    csv = ash("figures", "--csv", "--by", "part").out.splitlines()
    assert csv[0].startswith("part,incidents")
    assert csv[1].startswith("Nozzle,1,1,0,")


def test_a_period_or_line_that_is_not_there_is_refused_with_what_to_do(ash: Command) -> None:
    assert "2026-03-01" in ash("figures", "--since", "spring").err
    assert ash("figures", "--since", "spring").code == 2
    assert "machine, part, cause" in ash("figures", "--by", "colour").err
    assert ash("figures", "--by", "part", "--records", "Nothing").code == 2
    assert "Nothing is on record" in ash("figures").out
    refused = ash("figures", "--saved", "--days", "20")
    assert (refused.code, "choose a longer period" in refused.err) == (2, True)
