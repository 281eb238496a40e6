"""A visit's end writes fittings, stores, findings, measurements, photos and exposure in one act, or nothing at all."""

import io
from datetime import UTC, datetime, timedelta

import pytest
from PIL import Image

from feedwright.errors import Conflict, NotFound
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.voids import void
from feedwright.farm.service.service_visits import VisitSheet, begin_visit, end_visit, enter, visit_sheet
from feedwright.farm.service.visit_plan import suiting
from feedwright.farm.stores.stock import stocks
from feedwright.farm.stores.stores import add_item
from feedwright.records.photo_values import PhotoSubject
from feedwright.records.store import Store
from feedwright.records.stores_values import Item, Movement
from feedwright.records.values import Fitting

AT = datetime(2026, 4, 1, 9, tzinfo=UTC)
VALUES: dict[str, dict[str, object]] = {
    "trim_tube.look": {"grade": "ring"},
    "trim_tube.cut": {"trimmed_mm": 15},
    "renew_nozzle.look": {"grade": "worn"},
    "renew_nozzle.screw_in": {"product": "hardened_steel"},
    "tram_bed.read": {"value": 0.04},
    "first_layer.print": {"value": 1},
}


def photo() -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (8, 8), "brown").save(held, "JPEG")
    return held.getvalue()


@pytest.fixture
def entered(farm: Store) -> VisitSheet:
    """All steps entered, a minute apart; a print before, and one logged meanwhile that began after the last of them."""
    add_item(farm, "hard nozzles", ["nozzle:hardened_steel"], on_hand=4, at_utc=AT - timedelta(days=9))
    add_item(farm, "brass nozzles", ["nozzle:brass"], on_hand=7, at_utc=AT - timedelta(days=9))
    add_run(farm, "Alder", material="pla", hours=100, nozzle_c=240, started_utc=AT - timedelta(days=8))
    number = begin_visit(farm, "Alder", ["trim_tube", "renew_nozzle"], begun_utc=AT).id
    for screen in visit_sheet(farm, number).screens:
        step = screen.step.id
        enter(
            farm, number, step, entry_key=step, value=VALUES.get(step), cautions_read=True,
            photo=photo() if step.endswith("look") else None, entered_utc=AT + timedelta(minutes=screen.number),
        )  # fmt: skip
    add_run(farm, "Alder", material="pla", hours=10, nozzle_c=240, started_utc=AT + timedelta(hours=2))
    return visit_sheet(farm, number)


def on_hand(farm: Store) -> dict[str, int]:
    held = stocks(farm)
    return {item.name: held[item.id].on_hand for item in farm.every(Item)}


def exposure(farm: Store, fitting: Fitting) -> float:
    return farm.exposures()[fitting.id].exposure_nano / 1e9


def nozzles(farm: Store, sheet: VisitSheet) -> list[Fitting]:
    return [one for one in farm.fittings(sheet.machine.id) if one.part_kind == "nozzle"]


def test_a_visit_writes_all_of_it_in_one_act(farm: Store, entered: VisitSheet) -> None:
    (old,) = nozzles(farm, entered)
    before, tables = exposure(farm, old), farm.counts()
    receipt = end_visit(farm, entered.visit.id)
    act = receipt.ending.act_id
    assert receipt.renewed == ("Tube end", "Nozzle")
    written = [
        *farm.removals(entered.machine.id), *farm.findings(), *farm.measurements(entered.machine.id),
        *[one for one in farm.every(Movement) if one.kind == "used"], *farm.every(PhotoSubject),
    ]  # fmt: skip
    assert {one.act_id for one in written} == {act}
    assert len(written) == 2 + 2 + 2 + 1 + 2
    assert on_hand(farm) == {"hard nozzles": 3, "brass nozzles": 7}
    assert any("hard nozzles" in words for words in receipt.also)
    _, new = nozzles(farm, entered)
    assert (new.product, new.act_id) == ("hardened_steel", act)
    # the print that began after the nozzle was renewed wears the new one, and no longer the old
    assert exposure(farm, new) > 0
    assert exposure(farm, old) == pytest.approx(before - exposure(farm, new), rel=1e-9)
    after = farm.counts()
    assert after["acts"] == tables["acts"] + 1
    assert end_visit(farm, entered.visit.id).ending == receipt.ending
    assert {**farm.counts(), "acts": 0} == {**after, "acts": 0}, "ending twice writes nothing more"


def test_a_part_that_is_refused_leaves_nothing_of_the_rest(farm: Store, entered: VisitSheet) -> None:
    """The nozzle was renewed by hand meanwhile, after the visit's own renewal of it: the trim must not stay either."""
    made = renew(farm, "Alder", "nozzle", renewed_utc=AT + timedelta(hours=1), from_stores=False)
    before, stock, totals = farm.counts(), on_hand(farm), farm.exposures()
    with pytest.raises(Conflict, match="taken off later"):
        end_visit(farm, entered.visit.id)
    assert farm.counts() == before
    assert on_hand(farm) == stock
    assert farm.exposures() == totals
    assert visit_sheet(farm, entered.visit.id).ending is None
    void(farm, "renewal", made.removal.id, "it was the visit's")
    assert end_visit(farm, entered.visit.id).renewed == ("Tube end", "Nozzle")
    assert on_hand(farm)["hard nozzles"] == 3


def test_one_of_several_parts_is_named_at_the_step(farm: Store) -> None:
    number = begin_visit(farm, "Alder", ["renew_coupler"], begun_utc=AT).id
    with pytest.raises(NotFound, match="Tube coupler 3"):
        enter(farm, number, "renew_coupler.look", entry_key="1", value={"grade": "loose", "position": 3})
    values: dict[str, dict[str, object]] = {
        "renew_coupler.look": {"grade": "loose", "position": 2}, "renew_coupler.swap": {"position": 2},
    }  # fmt: skip
    sheet = visit_sheet(farm, number)
    for screen in sheet.screens:
        step = screen.step.id
        enter(farm, number, step, entry_key=step, value=values.get(step), cautions_read=True, entered_utc=AT)
    end_visit(farm, number)
    (removal,) = farm.removals(sheet.machine.id)
    assert next(one.position for one in farm.fittings(sheet.machine.id) if one.id == removal.fitting_id) == 2


def test_no_procedure_is_offered_whose_part_is_not_there(farm: Store) -> None:
    tower = add_machine(farm, "Rowan", "three_tower_remote")
    offered = {one.id for one in suiting(farm, tower)}
    assert {"look_lead_screw", "look_wheels", "renew_lead_screw"} & offered == set()
    assert {"after_power_cut", "trim_tube", "look_belts"} <= offered
    with pytest.raises(NotFound, match="lead_screw on Rowan"):
        begin_visit(farm, "Rowan", ["look_lead_screw"])
    hot = next(one for one in farm.machines() if one.name == "Hazel")
    assert "after_power_cut" in {one.id for one in suiting(farm, hot)}, "an all-metal machine loses power, too"
