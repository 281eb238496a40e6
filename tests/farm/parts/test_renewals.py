"""A renewal ends one fitting and begins another; dated back, it moves what was printed since to the new part."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.desk.sheets import machine_sheet
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew, trims_left, tube_left_mm
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store
from feedwright.records.values import Fitting

BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")


def day(number: float) -> datetime:
    return BEGUN + timedelta(days=number)


def print_daily(farm: Store, days: int) -> None:
    for number in range(days):
        add_run(farm, "Alder", material="pla", hours=10, started_utc=day(number + 0.5))


def charges(farm: Store, fitting: Fitting) -> int:
    held = farm.exposures().get(fitting.id)
    return held.charges if held else 0


def fitted(farm: Store, part: str) -> Fitting:
    return next(held for held in farm.fittings(1, open_only=True) if held.part_kind == part)


@pytest.mark.parametrize("backdated", [False, True])
def test_what_was_printed_after_a_renewal_wears_the_new_part_whenever_it_is_written_down(
    farm: Store, *, backdated: bool
) -> None:
    if backdated:
        print_daily(farm, 10)
    receipt = renew(farm, "Alder", "nozzle", renewed_utc=day(4), grade_found="worn", product="hardened steel")
    if not backdated:
        print_daily(farm, 10)
    assert (charges(farm, receipt.removed), charges(farm, receipt.fitted)) == (4, 6)
    assert fitted(farm, "nozzle") == receipt.fitted
    assert receipt.fitted.product == "hardened_steel"
    assert receipt.fitted.history == "new"
    assert farm.removals(1) == [receipt.removal]
    assert [finding.grade for finding in farm.findings([receipt.removed.id])] == ["worn"]
    assert machine_sheet(farm, "Alder", day(11)).past == ((receipt.removed, receipt.removal),)


def test_a_voided_renewal_gives_its_exposure_back_and_takes_its_finding_along(farm: Store) -> None:
    print_daily(farm, 6)
    receipt = renew(farm, "Alder", "nozzle", renewed_utc=day(2), grade_found="worn")
    void(farm, "renewal", receipt.removal.id, "it was Beech's nozzle")
    assert fitted(farm, "nozzle") == receipt.removed
    assert charges(farm, receipt.removed) == 6
    assert farm.findings() == []


def test_each_trim_shortens_the_tube_until_it_no_longer_reaches(farm: Store) -> None:
    machine = farm.machines()[0]
    whole = tube_left_mm(farm, machine)
    assert whole == fitted(farm, "guide_tube").length_mm
    trims = trims_left(farm, machine)
    assert trims
    assert "mm long" in renew(farm, "Alder", "tube_end", renewed_utc=day(1), trimmed_mm=12.5).also[0]
    assert tube_left_mm(farm, machine) == whole - 12.5
    usual = renew(farm, "Alder", "tube_end", renewed_utc=day(2)).removal.trimmed_mm
    assert usual
    assert tube_left_mm(farm, machine) == whole - 12.5 - usual
    last = renew(farm, "Alder", "tube_end", renewed_utc=day(3), trimmed_mm=whole - 12.5 - usual - 100)
    assert "fit a new tube" in last.also[0]
    assert trims_left(farm, machine) == 0
    renew(farm, "Alder", "guide_tube", renewed_utc=day(4), length_mm=400)
    assert tube_left_mm(farm, machine) == 400
    void(farm, "renewal", farm.removals(1)[-1].id, "it was another machine's tube")
    void(farm, "renewal", last.removal.id, "it was cut less")
    assert tube_left_mm(farm, machine) == whole - 12.5 - usual
    assert trims_left(farm, farm.machines()[1]) is None, "a direct drive has no tube to trim"


def test_a_new_guide_tube_brings_a_new_end_in_the_same_act(farm: Store) -> None:
    old_end = fitted(farm, "tube_end")
    print_daily(farm, 4)
    receipt = renew(farm, "Alder", "guide tube", renewed_utc=day(3))
    end = fitted(farm, "tube_end")
    assert end.act_id == receipt.fitted.act_id
    assert (charges(farm, old_end), charges(farm, end)) == (3, 1)
    void(farm, "renewal", receipt.removal.id, "it was Beech's tube")
    assert fitted(farm, "tube_end") == old_end
    assert charges(farm, old_end) == 4


def test_a_renewal_cannot_be_dated_before_what_the_records_saw_of_the_part_afterwards(farm: Store) -> None:
    later = renew(farm, "Alder", "tube_end", renewed_utc=day(5))
    seen = add_finding(farm, "Alder", "nozzle", grade="clean", found_utc=day(6))
    before = farm.counts()
    for part, remedy in (
        ("tube_end", f"void renewal {later.removal.id} first"),
        ("guide_tube", f"void renewal {later.removal.id} first"),  # its end would have to come off twice
        ("nozzle", f"void finding {seen.id} first"),
    ):
        with pytest.raises(Conflict) as refused:
            renew(farm, "Alder", part, renewed_utc=day(4))
        assert remedy in refused.value.remedy
    with pytest.raises(Conflict, match="at this very moment"):
        renew(farm, "Alder", "tube_end", renewed_utc=day(5))
    assert farm.counts() == before


def test_a_form_sent_twice_renews_once(farm: Store) -> None:
    first = renew(farm, "Alder", "nozzle", renewed_utc=day(1))
    for seconds in (1, 59):
        with pytest.raises(Conflict) as refused:
            renew(farm, "Alder", "nozzle", renewed_utc=day(1) + timedelta(seconds=seconds))
        assert f"void renewal {first.removal.id} " in refused.value.remedy
        assert "give the time" in refused.value.remedy
    assert len(farm.removals(1)) == 1
    renew(farm, "Alder", "nozzle", renewed_utc=day(1) + timedelta(minutes=1))
    # a part the machine came with may be renewed as soon as the machine is described
    renew(farm, "Alder", "sink_fan", renewed_utc=BEGUN + timedelta(seconds=5))


def test_the_whole_tube_cannot_be_cut_off_trim_by_trim(farm: Store) -> None:
    left = tube_left_mm(farm, farm.machines()[0])
    assert left
    renew(farm, "Alder", "tube_end", renewed_utc=day(1), trimmed_mm=left - 10)
    with pytest.raises(BadInput, match="is 10 mm long by the records"):
        renew(farm, "Alder", "tube_end", renewed_utc=day(2), trimmed_mm=10)
    assert tube_left_mm(farm, farm.machines()[0]) == 10


def test_one_of_several_parts_of_a_kind_is_renewed_by_its_position(farm: Store) -> None:
    first, second = (held for held in farm.fittings(1) if held.part_kind == "tube_coupler")
    assert renew(farm, "Alder", "tube_coupler", position=2, renewed_utc=day(1)).removed == second
    assert first in farm.fittings(1, open_only=True)
    with pytest.raises(NotFound, match="no such part was fitted there then"):
        renew(farm, "Alder", "tube_coupler", position=3, renewed_utc=day(1))


@pytest.mark.parametrize(
    ("given", "subject"),
    [
        ({"part": "nozle"}, "part kind"),
        ({"reason": "lost"}, "reason"),
        ({"product": "gold"}, "product of nozzle"),
        ({"grade_found": "ring"}, "grade"),
        ({"trimmed_mm": 5.0}, "trim"),
        ({"part": "tube_end", "trimmed_mm": 0.0}, "trim"),
        ({"part": "tube_end", "trimmed_mm": float("nan")}, "trim"),
        ({"minutes": -1}, "minutes"),
        ({"minutes": float("inf")}, "minutes"),
        ({"length_mm": 40}, "length"),
        ({"part": "guide_tube", "length_mm": -3}, "length"),
        ({"part": "tube_end", "trimmed_mm": 500.0}, "trim"),
        ({"note": "x" * 2001}, "note"),
        ({"renewed_utc": datetime(2026, 3, 9)}, "time"),  # noqa: DTZ001
        ({"renewed_utc": datetime.min.replace(tzinfo=BEGUN.tzinfo)}, "time"),
    ],
)
def test_a_bad_renewal_is_refused_by_field_and_writes_nothing(farm: Store, given: dict[str, Any], subject: str) -> None:
    before = farm.counts()
    with pytest.raises(BadInput) as refused:
        renew(farm, "Alder", **{"part": "nozzle", "renewed_utc": day(1), **given})
    assert refused.value.subject == subject
    assert refused.value.expected
    assert refused.value.remedy
    assert farm.counts() == before
