"""``stores`` and ``spool``."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.cli.conftest import Command


@pytest.fixture
def kept(ash: Command) -> Command:
    begun = f"{datetime.now(UTC) - timedelta(days=40):%Y-%m-%d}"
    words = ["--fits", "nozzle:brass", "--pack", "5", "--price", "8,50", "--on-hand", "2", "--at", begun]
    assert ash("stores", "add", "brass nozzle", *words, "--supplier", "corner shop").code == 0
    return ash


def test_an_item_from_first_count_to_order_and_back(kept: Command) -> None:
    assert "8.50 EUR (said)" in kept("stores", "show", "Brass Nozzle").out
    ordered = kept("stores", "order", "brass nozzle", "2").out
    assert "10 ordered" in ordered
    assert "still to come" in kept("stores", "orders").out
    assert "5 on hand, 7 on order" in kept("stores", "receive", "brass nozzle", "3").out
    assert "4 on hand" in kept("stores", "use", "brass nozzle", "--reason", "bent").out
    said = kept("stores", "count", "brass nozzle", "3")
    assert said.code == 2
    assert "says why" in said.err
    assert kept("stores", "count", "brass nozzle", "3", "--reason", "lost").code == 0
    order = kept("stores", "orders", "--json").data["open_orders"][0][0]["movement"]["id"]
    assert "0 on order" in kept("stores", "cancel", str(order)).out
    renewed = kept("renew", "Ash", "nozzle")
    assert "Taken from the stores: 1 of brass nozzle; 2 left." in renewed.out
    kept("stores", "add", "gears", "--fits", "drive_gear", "--on-hand", "1")
    assert "stores" not in kept("renew", "Ash", "drive_gear", "--not-from-stores").out
    assert kept("stores", "show", "gears", "--json").data["sheet"]["stock"]["on_hand"] == 1
    (line,) = [one for one in kept("stores", "list", "--json").data["lines"] if one["item"]["name"] == "brass nozzle"]
    assert line["stock"]["on_hand"] == 2
    assert set(line["advice"]) >= {"status", "needed", "run_out_days", "because", "policy"}
    assert "brass nozzle" in kept("stores", "list").out


def test_terms_are_said_anew(kept: Command) -> None:
    said = kept("stores", "terms", "brass nozzle", "--pack", "25", "--break", "4:17.50", "--lead-days", "3").out
    assert "37.50 EUR (catalogue, assumed)" in said  # 25 at 1.50
    assert "3 days after the order (said)" in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["add", "x", "--fits", "nozzel"], "did you mean nozzle"),
        (["add", "x", "--fits", "nozzle:gold"], "product of nozzle"),
        (["add", "brass nozzle", "--fits", "nozzle"], "item of that name"),
        (["add", "x", "--fits", "nozzle", "--break", "4"], "PACKS:PRICE"),
        (["add", "x", "--fits", "nozzle", "--price", "much"], "amount of money"),
        (["show", "brass"], "did you mean brass nozzle"),
        (["use", "brass nozzle", "0"], "1"),
        (["receive", "brass nozzle", "two"], "integer"),
        (["cancel", "77"], "no such order"),
    ],
)
def test_what_cannot_be_is_refused_and_not_recorded(words: list[str], told: str, kept: Command) -> None:
    before = kept("acts", "--json").data
    said = kept("stores", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
    assert kept("acts", "--json").data == before


def test_a_spool_from_bag_to_empty(ash: Command) -> None:
    begun = f"{datetime.now(UTC) - timedelta(days=9):%Y-%m-%d}"
    made = ash(
        "spool", "add", "pla", "--label", "green", "--lot", "L-7", "--tare-g", "200", "--machine", "Ash", "--at", begun
    )
    assert "on Ash; 1000 g left" in made.out
    assert ash("spool", "add", "pla", "--net-g", "750").code == 0
    said = ash("run", "add", "Ash", "--material", "pla", "--hours", "4", "--filament-g", "120").out
    assert "Spool 1, PLA green: 120 g drawn, 880 g left." in said
    assert "other" not in ash("run", "add", "Ash", "--material", "pla", "--hours", "1", "--spool", "2").out
    assert "can finish it" in ash("spool", "enough", "Ash", "300").out
    assert ash("spool", "enough", "Ash", "2000", "--json").data["verdict"] == "short"
    assert "590 g left" in ash("spool", "weigh", "1", "--gross-g", "790").out
    assert ash("spool", "dry", "1", "--dry-c", "45", "--dry-h", "6").code == 0
    assert "on Ash" in ash("spool", "hang", "2", "Ash").out
    assert ash("spool", "shelve", "1", "dry box").code == 0
    assert "dry box" in ash("spool", "list").out
    shown = ash("spool", "show", "1").out
    assert all(word in shown for word in ("weighed", "45 °C, 6 h", "120.0"))
    assert ash("spool", "open", "2").code == 0
    assert "used up" in ash("spool", "empty", "2").out
    assert len(ash("spool", "list", "--json").data) == 1
    assert len(ash("spool", "list", "--empty", "--json").data) == 2
    assert "0 of 1" in ash("spool", "lots").out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["add", "wood"], "material"),
        (["hang", "7", "Ash"], "no such spool"),
        (["weigh", "1"], "one of them"),
        (["enough", "Ahs", "100"], "did you mean Ash"),
    ],
)
def test_a_spool_that_cannot_be_is_refused(words: list[str], told: str, ash: Command) -> None:
    said = ash("spool", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
