"""From the outlooks of the farm's parts to what is ordered; lots and spares on real records."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.farm.conftest import BEGUN

from feedwright.farm.cases.cases import open_case
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine, machine_named
from feedwright.farm.outlook.bench import bench
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.farm.stores.lots import lots
from feedwright.farm.stores.reordering import order_text, own_lead_days, reordering
from feedwright.farm.stores.spares import spares_for, spares_of_parts
from feedwright.farm.stores.spools import add_spool
from feedwright.farm.stores.stores import add_item, item_sheet, order_items, receive
from feedwright.records.store import Store

NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture(scope="module")
def busy_ground(ground: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A farm that has printed for eight weeks until now."""
    folder = tmp_path_factory.mktemp("busy") / "farm"
    shutil.copytree(ground, folder)
    with open_farm(folder) as store:
        for machine in ("Alder", "Beech", "Hazel"):
            for week in range(8):
                at = NOW - timedelta(days=7 * week + 2)
                add_run(store, machine, material="pla", hours=70.0, nozzle_c=225.0, filament_g=900.0, started_utc=at)
    return folder


@pytest.fixture
def busy(busy_ground: Path, tmp_path: Path) -> Iterator[Store]:
    shutil.copytree(busy_ground, tmp_path / "busy")
    with open_farm(tmp_path / "busy") as store:
        yield store


def test_the_demand_is_that_of_the_parts_that_the_item_fits(busy: Store) -> None:
    add_item(busy, "brass nozzle", ["nozzle:brass"], pack_count=5, on_hand=1, supplier="corner shop", at_utc=BEGUN)
    add_item(busy, "rubies", ["nozzle:hard_tip"], on_hand=0, at_utc=BEGUN)
    add_item(busy, "cheap nozzle", ["nozzle:brass"], on_hand=0, at_utc=BEGUN)
    told = reordering(busy, NOW)
    found = {line.item.name: line for line in told.lines}
    line = found["brass nozzle"]
    brass = [part for part in fitted_parts(busy, NOW) if (part.kind.id, part.fitting.product) == ("nozzle", "brass")]
    assert {need.machine for need in line.needs} == {part.machine.name for part in brass}
    due = sum(1 for part in brass if part.advice.act == "renew" and part.advice.best_in_days == 0)
    assert line.advice.due_count == due
    assert line.advice.needed.low <= line.advice.needed.mid <= line.advice.needed.high
    assert sum(line.advice.needed_pmf) == pytest.approx(1.0, abs=1e-9)
    assert found["rubies"].advice.status == "not used"
    assert found["rubies"].advice.order_count == 0
    assert "rubies" not in order_text(told)
    assert (found["cheap nozzle"].instead, line.instead) == ("brass nozzle", ""), "one of two is used first"
    unkept = {one.kind.id for one in told.unkept}
    assert unkept
    assert not unkept & {"nozzle", "tube_end"}, "kept, or a trim that uses nothing up"


def test_the_order_list_names_packs_and_supplier_and_what_is_ordered_is_not_ordered_again(busy: Store) -> None:
    name = "tube couplers"
    add_item(busy, name, ["tube_coupler"], pack_count=10, pack_price=6, on_hand=0, supplier="corner shop", at_utc=BEGUN)
    for at in range(6):  # they wear fast here: found broken again and again
        renew(busy, "Alder", "tube_coupler", reason="failed", renewed_utc=NOW - timedelta(days=50 - 8 * at))
    found = reordering(busy, NOW)
    (line,) = found.lines
    assert line.advice.status == "order now"
    text = order_text(found)
    assert text.startswith("corner shop:\n- ")
    assert f"{line.advice.order_packs} x pack of 10, {name} (tube coupler), about {line.advice.order_price}" in text
    order_items(busy, [(name, line.advice.order_packs)], at_utc=NOW)
    (again,) = reordering(busy, NOW).lines
    assert again.advice.status != "order now"
    assert order_text(reordering(busy, NOW)) == ""


def test_ones_own_orders_say_how_long_they_take(busy: Store) -> None:
    add_item(busy, "fans", ["part_fan"], on_hand=0, lead_days=3, at_utc=BEGUN)
    for days, took in ((60, 9), (40, 12), (20, 10)):
        order_items(busy, [("fans", 2)], at_utc=NOW - timedelta(days=days))
        receive(busy, "fans", 2, at_utc=NOW - timedelta(days=days - took))
    assert own_lead_days(item_sheet(busy, "fans").movements) == (9.0, 12.0, 10.0)
    (line,) = reordering(busy, NOW).lines
    assert any("took 9 to 12 days" in text for text in line.advice.because)


def test_spares_are_told_for_the_bench_and_for_a_visit(busy: Store) -> None:
    add_item(busy, "nozzles and breaks", ["nozzle", "heat_break"], on_hand=1, at_utc=BEGUN)
    alder = machine_named(busy, "Alder")
    told = spares_for(busy, alder, ["nozzle", "heat_break", "part_fan", "tube_end"])
    assert [(spare.needed, spare.there) for spare in told] == [(2, False), (1, False)]
    assert told[0].words == "2 of nozzles and breaks, 1 on hand"
    assert told[1].words == "Part-cooling fan: not kept in the stores"
    listed = bench(busy, NOW)
    by_fitting = spares_of_parts(busy, (*listed.now, *listed.soon, *listed.later))
    for part in (*listed.now, *listed.soon, *listed.later):
        if part.kind.id == "nozzle" and part.advice.act == "renew":
            assert by_fitting[part.fitting.id].there


def test_a_bad_lot_shows_up_and_a_bad_machine_does_not(farm: Store) -> None:
    """Lot L-7 spoils half its runs on three machines; Hazel spoils much with any lot, and one case follows a run."""
    day = 0.0
    for machine in ("Alder", "Beech", "Hazel"):
        for lot in ("L-5", "L-7", "L-9"):
            add_spool(farm, "pla", net_g=5000, lot=lot, machine=machine, at_utc=BEGUN + timedelta(days=day))
            for run in range(10):
                day += 0.4
                bad = (lot == "L-7" and run % 2 == 0) or (machine == "Hazel" and run % 5 == 0)
                at = BEGUN + timedelta(days=day)
                ended: dict[str, object] = {"outcome": "spoiled", "fraction": 0.4} if bad else {}
                add_run(farm, machine, material="pla", hours=3.0, started_utc=at, **ended)  # type: ignore[arg-type]
            day += 0.1
    found = {line.lot: line.verdict for line in lots(farm)}
    assert found["L-7"].suspect
    assert found["L-7"].machines_wrong == ("Alder", "Beech", "Hazel")
    assert not found["L-5"].suspect
    assert not found["L-9"].suspect
    assert lots(farm)[0].lot == "L-7"
    wrong = found["L-9"].own.wrong
    open_case(farm, machine="Hazel", opened_utc=BEGUN + timedelta(days=day))
    assert {line.lot: line.verdict for line in lots(farm)}["L-9"].own.wrong == wrong + 1


def test_a_farm_without_machines_or_prints_orders_nothing(tmp_path: Path) -> None:
    with open_farm(tmp_path / "new", create=True) as store:
        assert reordering(store, NOW).lines == ()
        add_item(store, "brass nozzle", ["nozzle:brass"], on_hand=0)
        (line,) = reordering(store, NOW).lines
        assert (line.advice.status, line.needs) == ("not used", ())
        add_machine(store, "Ash", "moving_bed_remote", history="new")
        (line,) = reordering(store, NOW).lines
        assert line.advice.status in ("enough", "order now")
        assert lots(store) == []
