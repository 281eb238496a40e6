"""What was seen of a part, and what happened to a machine."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from feedwright.errors import BadInput, FeedwrightError, NotFound
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding, finding_lines
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store

BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")
NAN = float("nan")


def test_a_finding_belongs_to_the_part_that_sat_there_then(farm: Store) -> None:
    receipt = renew(farm, "Alder", "nozzle", renewed_utc=BEGUN + timedelta(days=5))
    before = add_finding(farm, "alder", "Nozzle", grade="Trace", found_utc=BEGUN + timedelta(days=4))
    after = add_finding(farm, "Alder", "nozzle", reading=0.43, reading_unit="mm", found_utc=BEGUN + timedelta(days=5))
    assert (before.fitting_id, before.grade) == (receipt.removed.id, "trace")
    assert (after.fitting_id, after.reading, after.reading_unit) == (receipt.fitted.id, 0.43, "mm")
    assert farm.findings() == [before, after]
    lines = finding_lines(farm, "Alder")
    assert [(finding, machine.name) for finding, _, machine in lines] == [(after, "Alder"), (before, "Alder")]
    assert finding_lines(farm, "Beech") == []
    assert len(finding_lines(farm, limit=1)) == 1


@pytest.mark.parametrize(
    ("given", "subject"),
    [
        ({"machine": "Aldr"}, "machine"),
        ({"part": "nozle"}, "part kind"),
        ({"position": 2}, "part"),
        ({"found_utc": BEGUN - timedelta(days=1)}, "part"),
        ({"grade": "rusty"}, "grade"),
        ({"grade": ""}, "finding"),
        ({"reading": NAN, "reading_unit": "mm"}, "reading"),
        ({"reading": 0.4, "reading_unit": "furlong"}, "reading_unit"),
        ({"reading": 0.4}, "reading_unit"),
        ({"person": "Ine"}, "person"),
        ({"found_utc": datetime(2026, 3, 9)}, "time"),  # noqa: DTZ001
    ],
)
def test_a_bad_finding_is_refused_by_field_and_writes_nothing(farm: Store, given: dict[str, Any], subject: str) -> None:
    before = farm.counts()
    with pytest.raises(FeedwrightError) as refused:
        add_finding(farm, **{"machine": "Alder", "part": "nozzle", "grade": "clean", "found_utc": BEGUN, **given})
    assert refused.value.subject == subject
    assert refused.value.expected
    assert refused.value.remedy
    assert farm.counts() == before


def test_minutes_stood_hot_are_charged_to_what_heat_wears_and_given_back_when_void(farm: Store) -> None:
    event = add_event(
        farm, "Alder", "fan_stall", at_utc=BEGUN, nozzle_c=240, minutes=90, material="PETG", note="thread"
    )
    assert farm.events(1) == [event]
    end = next(held for held in farm.fittings(1) if held.part_kind == "tube_end")
    hours = farm.exposures()[end.id].exposure_nano / 1e9
    assert 1.5 < hours < 1.6, "1.5 h at the reference of 240 °C, and the cooling down after them"
    void(farm, "event", event.id, "the fan was fine")
    assert (farm.exposures()[end.id].exposure_nano, farm.exposures()[end.id].charges) == (0, 0)
    assert farm.events() == []


@pytest.mark.parametrize(
    "given", [{"kind": "jam"}, {"kind": "hot_stop", "minutes": 9}, {"kind": "power_cut", "nozzle_c": 9}]
)
def test_what_kept_nothing_hot_for_a_known_time_charges_nothing(farm: Store, given: dict[str, Any]) -> None:
    add_event(farm, "Alder", at_utc=BEGUN, **given)
    assert farm.exposures() == {}


@pytest.mark.parametrize(
    ("given", "subject"),
    [
        ({"kind": "fan_stal"}, "event"),
        ({"nozzle_c": 5000}, "nozzle temperature"),
        ({"minutes": NAN}, "minutes"),
        ({"material": "cheese"}, "material"),
    ],
)
def test_a_bad_event_is_refused_by_field_and_writes_nothing(farm: Store, given: dict[str, Any], subject: str) -> None:
    before = farm.counts()
    with pytest.raises(BadInput) as refused:
        add_event(farm, "Alder", **{"kind": "fan_stall", **given})
    assert refused.value.subject == subject
    assert refused.value.remedy
    assert farm.counts() == before


def test_a_void_says_why_and_what_it_was(farm: Store) -> None:
    found = add_finding(farm, "Alder", "nozzle", grade="clean", found_utc=BEGUN)
    assert void(farm, "finding", found.id, " wrong machine ", person="Tobias") == f"Finding {found.id} is void."
    assert (farm.acts(1)[0].reason, farm.acts(1)[0].person_id) == ("wrong machine", 2)
    before = farm.counts()
    for what, number, reason in (
        ("finding", found.id, "again"),
        ("run", 7, "no such"),
        ("machine", 2**70, "no such"),
        ("renewal", 0, "no such"),
    ):
        with pytest.raises(NotFound, match=f"number {number}"):
            void(farm, what, number, reason)
    with pytest.raises(BadInput, match="says why"):
        void(farm, "finding", found.id, "  ")
    with pytest.raises(BadInput, match="did you mean finding"):
        void(farm, "findings", found.id, "typo")
    assert farm.counts() == before


def test_a_part_the_machine_never_had_and_a_person_may_be_voided(farm: Store) -> None:
    wheel = next(held for held in farm.fittings(1) if held.part_kind == "guide_wheel")
    void(farm, "fitting", wheel.id, "it runs on rails")
    void(farm, "person", 2, "typed twice")
    assert wheel not in farm.fittings(1)
    assert [person.name for person in farm.people()] == ["Ines"]
