"""Rows of the records in words: what an act's page says of what it wrote."""

from datetime import UTC, datetime

from feedwright.farm.cases.cases import open_case, tell
from feedwright.farm.desk.acts import act_sheet
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.prints.runs import add_run
from feedwright.farm.stores.spools import add_spool
from feedwright.farm.stores.stores import add_item
from feedwright.records.store import Store

AT = datetime(2026, 3, 9, 8, tzinfo=UTC)


def _written(store: Store, table: str) -> dict[str, object]:
    """The fields of the first row of that table that the latest act wrote."""
    held = act_sheet(store, store.acts(1)[0].id)
    return dict(next(one.fields for one in held.wrote if one.table == table))


def test_numbers_and_ids_are_named(farm: Store) -> None:
    spool = add_spool(farm, "tpu_95a", label="grey_2", at_utc=AT).spool.id
    assert _written(farm, "spools") | {"added_utc": 0} == {
        "material": "TPU, 95 Shore A", "added_utc": 0, "net_g": 1000.0, "label": "grey_2", "currency": "EUR"
    }  # fmt: skip
    add_run(farm, "Alder", material="tpu_95a", toolpath="d20.gcode", spool=spool, started_utc=AT)
    told = _written(farm, "runs")
    assert (told["machine"], told["file"], told["material"]) == ("Alder", "d20.gcode", "TPU, 95 Shore A")
    used = _written(farm, "spool_uses")
    assert used["spool"] == f"spool {spool}, TPU, 95 Shore A, grey_2"
    assert used["run"] == "number 1"


def test_what_the_catalogue_has_a_title_for_is_called_so(farm: Store) -> None:
    add_finding(farm, "Alder", "sink_fan", grade="true", found_utc=AT)
    assert _written(farm, "findings")["grade"] == "runs true"
    number = open_case(farm, machine="Alder").id
    tell(farm, number, answers={"thin_lines": "yes"})
    assert _written(farm, "case_entries")["name"] == "Thin lines everywhere, with gaps between them"


def test_lists_and_truths_are_opened(farm: Store) -> None:
    known = act_sheet(farm, next(act.id for act in farm.acts(50) if act.kind == "add toolpath"))
    told = dict(known.wrote[0].fields)
    assert told["complete"] == "yes"
    assert "_" not in str(told["kind"])
    machine = act_sheet(farm, next(act.id for act in farm.acts(50) if act.kind == "add machine"))
    state = dict(next(one.fields for one in machine.wrote if one.table == "machine_states"))
    assert str(state["motion"]).startswith("ambient: ")
    assert "°C" in str(state["motion"])
    assert "[" not in str(state["box_mm"])


def test_what_an_item_renews_is_named(farm: Store) -> None:
    add_item(farm, "nozzles", ["nozzle:hardened_steel", "tube_end"], at_utc=AT)
    assert _written(farm, "items")["fits"] == "nozzle, hardened steel; tube end"
