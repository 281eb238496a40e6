"""What was recorded of a part a moment ago is taken back with one tap, and everything is as it was before."""

import io
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image

from feedwright.errors import Conflict
from feedwright.farm.dispatch.print_choices import undo_offer
from feedwright.farm.machines.charging import NANO
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew, tube_left_mm
from feedwright.farm.prints.prints import start
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.undo import taken_back, undo
from feedwright.farm.stores.stock import stocks
from feedwright.farm.stores.stores import add_item
from feedwright.farm.toolpaths.arrivals import arrivals, take_arrival
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.store import Store

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"
BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")


def state(store: Store) -> dict[str, object]:
    """All that a look or a renewal touches."""
    machine, fitted = store.machines()[0], [held.id for held in store.fittings(open_only=True)]
    totals = store.exposures()
    worn = {held: totals[held].exposure_nano / NANO for held in fitted if held in totals}
    return {
        "fitted": fitted, "findings": store.findings(),
        "removals": store.removals(), "worn": worn, "tube": tube_left_mm(store, machine),
        "stock": {item: held.on_hand for item, held in stocks(store).items()},
        "photos": (store.every(Photo), store.every(PhotoSubject)),
    }  # fmt: skip


@pytest.fixture
def used(farm: Store) -> Store:
    """Some printing, a spare nozzle and a spare tube in the stores."""
    add_run(farm, "Alder", material="pla", hours=10, started_utc=BEGUN + timedelta(days=1))
    add_run(farm, "Alder", material="pla", hours=10, started_utc=BEGUN + timedelta(days=3))
    add_item(farm, "a nozzle", ["nozzle"], on_hand=3)
    add_item(farm, "a tube", ["guide_tube"], on_hand=2)
    return farm


def test_a_look_is_taken_back_with_its_photo(used: Store) -> None:
    before, picture = state(used), io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(picture, "JPEG")
    made = add_finding(used, "Alder", "nozzle", grade="trace", photo=picture.getvalue())
    offer = undo_offer(used, made.act_id)
    assert offer is not None
    assert offer.words == "The look at the nozzle of Alder is on record."
    back = undo(used, made.act_id)
    assert back.words == "the look at the nozzle of Alder taken back."
    assert taken_back(used, back.act_id) == "Taken back: the look at the nozzle of Alder."
    assert state(used) == before
    assert undo_offer(used, made.act_id) is None
    with pytest.raises(Conflict, match="already"):
        undo(used, made.act_id)


@pytest.mark.parametrize("part", ["nozzle", "tube_end", "guide_tube"])
@pytest.mark.parametrize("days_ago", [0, 2])
def test_a_renewal_is_taken_back_with_all_that_it_brought(used: Store, part: str, days_ago: int) -> None:
    """The part that was there, what it has been through, the length of the tube, its end, and the stores."""
    before = state(used)
    at_utc = None if days_ago == 0 else BEGUN + timedelta(days=days_ago)
    grade = {"nozzle": "trace", "tube_end": "ring"}.get(part, "")
    length = {"length_mm": 500.0} if part == "guide_tube" else {}
    receipt = renew(used, "Alder", part, grade_found=grade, renewed_utc=at_utc, **length)
    assert state(used) != before
    offer = undo_offer(used, receipt.removal.act_id)
    assert offer is not None
    assert "The renewal of the " in offer.words
    undo(used, receipt.removal.act_id)
    assert state(used) == before


def test_a_renewal_that_others_rest_on_or_that_is_older_is_not_taken_back(used: Store) -> None:
    receipt = renew(used, "Alder", "nozzle")
    add_finding(used, "Alder", "nozzle", grade="clean")
    before = state(used)
    with pytest.raises(Conflict, match="findings rest on it"):
        undo(used, receipt.removal.act_id)
    with pytest.raises(Conflict, match="older than a minute"):
        undo(used, receipt.removal.act_id, now_utc=datetime.now(UTC) + timedelta(seconds=70))
    assert state(used) == before


def test_an_act_that_took_back_nothing_has_nothing_to_say(used: Store) -> None:
    assert taken_back(used, used.latest_act_id()) == ""
    assert taken_back(used, 10**9) == ""


@pytest.mark.parametrize("as_print", [True, False])
def test_a_new_file_is_offered_again_where_its_print_is_taken_back(farm: Store, tmp_path: Path, as_print: bool) -> None:
    file = tmp_path / "new.gcode"
    file.write_text((SAMPLES / "d20.gcode").read_text().replace("G92", "G92 ", 1))
    assert take_arrival(farm, file, "new.gcode") is not None
    if as_print:
        act_id = start(farm, "Alder", material="pla", toolpath="new.gcode").act_id
    else:
        act_id = add_run(farm, "Alder", material="pla", toolpath="new.gcode").run.act_id
    assert arrivals(farm).offers == ()
    undo(farm, act_id)
    assert [offer.arrival.name for offer in arrivals(farm).offers] == ["new.gcode"]
