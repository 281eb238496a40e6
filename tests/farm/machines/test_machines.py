"""Machines are described by a build, looked for by name, and described anew without losing what was."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict, FeedwrightError, NotFound
from feedwright.farm.machines.machines import add_machine, change_machine, machine_named, machines
from feedwright.farm.prints.voids import void
from feedwright.farm.toolpaths.toolpaths import reading_for, toolpath_named
from feedwright.records.store import Store
from feedwright.toolpath.values import MotionLimits

BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")


@pytest.mark.parametrize("build", load_catalogue().builds)
def test_a_machine_comes_with_all_parts_of_its_build(farm: Store, build: str) -> None:
    made = add_machine(farm, "Yew", build.replace("_", " "), at_utc=BEGUN)
    plan = load_catalogue().builds[build]
    fitted = [(held.part_kind, held.product) for held in farm.fittings(made.id)]
    assert fitted == [(kind, product) for kind, product, count in plan.parts for _ in range(count)]
    assert made == machine_named(farm, "yew")
    assert (made.drive, made.hot_end, made.box_mm) == (plan.drive, plan.hot_end, plan.box_mm)
    tubes = [held.length_mm for held in farm.fittings(made.id) if held.part_kind == "guide_tube"]
    assert all(length == plan.tube_length_mm for length in tubes)


def test_a_used_machine_brings_what_its_parts_have_likely_been_through(farm: Store) -> None:
    for name, days in (("Yew", 100), ("Oak", 200)):
        add_machine(
            farm, name, "moving_bed_remote", history="used", at_utc=BEGUN, in_service_since=BEGUN - timedelta(days=days)
        )
    yew, oak = (
        {(held.part_kind, held.position): held.exposure_before for held in farm.fittings(machine_named(farm, name).id)}
        for name in ("Yew", "Oak")
    )
    assert all(oak[place] > yew[place] > 0 for place in yew)
    assert oak["nozzle", 1] == pytest.approx(2 * yew["nozzle", 1])


def test_a_used_machine_has_been_heated_up_once_a_day(farm: Store) -> None:
    """Hot hours and heat-ups wear a heater by the catalogue's own numbers: 100 days of 5 h, a hundred heat-ups."""
    made = add_machine(
        farm, "Yew", "moving_bed_remote", history="used", at_utc=BEGUN, in_service_since=BEGUN - timedelta(days=100)
    )
    catalogue = load_catalogue()
    kind = next(kind for kind in catalogue.parts.values() if kind.exposure.law == "heat_cycles")
    fitted = next(held for held in farm.fittings(made.id) if held.part_kind == kind.id)
    hours = catalogue.figures.numbers["usual_hours_per_day_h"].value
    assert fitted.exposure_before == pytest.approx(100 * (hours + kind.exposure.numbers["hours_per_cycle_h"].value))


def test_other_products_and_limits_are_taken_however_they_are_spelt(farm: Store) -> None:
    made = add_machine(
        farm,
        "  Yew ",
        "moving-bed-remote",
        product_changes={"Nozzle": "Hardened Steel", "tube-end": "higher temperature"},
        motion_changes={"retract_mm": 3, "axis_speed_mm_s": [200, 200, 10, 50]},
        box_mm=(200, 210, 220),
        person="Ines",
    )
    products = {held.part_kind: held.product for held in farm.fittings(made.id)}
    assert (products["nozzle"], products["tube_end"]) == ("hardened_steel", "higher_temperature")
    assert made.name == "Yew"
    assert (made.motion.retract_mm, made.motion.axis_speed_mm_s) == (3, (200, 200, 10, 50))


def test_a_whole_number_may_be_written_with_its_nought(farm: Store) -> None:
    """16.0 is 16: kept as a float, it would have the reader fail later."""
    made = add_machine(farm, "Yew", "moving_bed_remote", motion_changes={"look_ahead_moves": 16.0})
    assert repr(made.motion.look_ahead_moves) == "16"
    assert reading_for(farm, toolpath_named(farm, "d20.gcode"), made).duty is not None


def test_a_note_keeps_its_lines_and_the_letters_of_any_script(farm: Store) -> None:
    note = "first line\r\nzweite Zeile, 10\u202fmm\n\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645\tend "
    kept = add_machine(farm, "Yew", "moving_bed_remote", note=note).note
    assert kept == "first line\nzweite Zeile, 10\u202fmm\n\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645 end"


def test_machines_are_found_whatever_the_letter_case_or_the_nearest_is_named(farm: Store) -> None:
    assert machine_named(farm, "aLDER").name == "Alder"
    assert [machine.name for machine in machines(farm)] == ["Alder", "Beech", "Hazel"]
    with pytest.raises(NotFound) as refused:
        machine_named(farm, "Aldr")
    assert refused.value.remedy == "did you mean Alder?"


def test_a_machine_described_anew_is_changed_from_now_on_alone(farm: Store) -> None:
    changed = change_machine(
        farm, "alder", {"enclosure_c": 45, "note": "boxed in", "retract_mm": 6.5}, reason="boxed in", person="Tobias"
    )
    assert changed == machine_named(farm, "Alder")
    assert (changed.enclosure_c, changed.note, changed.motion.retract_mm) == (45.0, "boxed in", 6.5)
    (since, first), (later, second) = farm.states(1)
    assert (since, first.enclosure_c, second) == (BEGUN, 22.0, changed)
    assert later > since
    assert farm.acts(1)[0].reason == "boxed in"


def test_a_void_machine_frees_its_name(farm: Store) -> None:
    void(farm, "machine", 1, "entered as the wrong build")
    with pytest.raises(NotFound):
        machine_named(farm, "Alder")
    assert farm.fittings(1) == []
    assert add_machine(farm, "Alder", "large_remote").id == 4


BAD: list[tuple[dict[str, Any], str]] = [
    ({"name": " "}, "machine name"),
    ({"name": "x" * 61}, "machine name"),
    ({"name": "New"}, "machine name"),
    ({"name": "."}, "machine name"),
    ({"name": " .. "}, "machine name"),
    ({"name": "Yew/Oak"}, "machine name"),
    ({"name": "Yew\nOak"}, "machine name"),
    ({"name": "Yew \u202eOak"}, "machine name"),
    ({"note": "x" * 2001}, "note"),
    ({"note": "bell \a"}, "note"),
    ({"note": None}, "note"),
    ({"history": "used"}, "in service since"),
    ({"history": "used", "in_service_since": BEGUN, "at_utc": BEGUN}, "in service since"),
    ({"build": "moving_bed"}, "build"),
    ({"history": "old"}, "history"),
    ({"box_mm": (220, 220)}, "box"),
    ({"box_mm": (220, 220, float("nan"))}, "box Z"),
    ({"box_mm": (220, "wide", 220)}, "box Y"),
    ({"product_changes": {"tube_end": "gold"}}, "product of tube end"),
    ({"product_changes": {"wing": "plain"}}, "part of this build"),
    ({"motion_changes": {"retract": 3}}, "motion limit"),
    ({"motion_changes": {"retract_mm": "three"}}, "retract_mm"),
    ({"motion_changes": {"retract_mm": [1, 2, 3, 4]}}, "retract_mm"),
    ({"motion_changes": {"retract_mm": float("nan")}}, "retract_mm"),
    ({"motion_changes": {"axis_speed_mm_s": 300}}, "axis_speed_mm_s"),
    ({"motion_changes": {"axis_speed_mm_s": [1, 2, 3]}}, "axis_speed_mm_s"),
    ({"motion_changes": {"corner_rule": "brave"}}, "corner_rule"),
    ({"motion_changes": {"retract_mm": -1}}, "retract_mm"),
    ({"motion_changes": {"retract_mm": 10**400}}, "retract_mm"),
    ({"motion_changes": {"look_ahead_moves": 16.5}}, "look_ahead_moves"),
    ({"motion_changes": {"look_ahead_moves": 10**400}}, "look_ahead_moves"),
    ({"motion_changes": {"look_ahead_moves": float("inf")}}, "look_ahead_moves"),
    ({"motion_changes": {"corner_rule": [1]}}, "corner_rule"),
    ({"box_mm": (220, 10**5000, 220)}, "box Y"),
    ({"at_utc": datetime.now(BEGUN.tzinfo) + timedelta(hours=1)}, "time"),
    ({"in_service_since": BEGUN + timedelta(days=1), "at_utc": BEGUN}, "in service since"),
    ({"person": "Nobody"}, "person"),
]


@pytest.mark.parametrize(("given", "subject"), BAD)
def test_a_bad_description_is_refused_by_field_and_writes_nothing(
    farm: Store, given: dict[str, Any], subject: str
) -> None:
    before = farm.counts()
    with pytest.raises(FeedwrightError) as refused:
        add_machine(farm, **{"name": "Yew", "build": "moving_bed_remote", **given})
    assert refused.value.subject == subject
    assert refused.value.expected
    assert refused.value.remedy
    assert farm.counts() == before


@pytest.mark.parametrize(
    ("changes", "subject"),
    [
        ({"name": "Yew"}, "field"),
        ({"motion": MotionLimits()}, "field"),
        ({"enclosure_c": "warm"}, "enclosure_c"),
        ({"enclosure_c": 2000}, "enclosure_c"),
        ({"tube_needed_mm": -1}, "tube_needed_mm"),
        ({"box_mm": "big"}, "box"),
        ({"retract_mm": True}, "retract_mm"),
        ({"note": None}, "note"),
        ({"note": 5}, "note"),
        ({"enclosure_c": 10**400}, "enclosure_c"),
    ],
)
def test_a_bad_change_is_refused_by_field_and_writes_nothing(
    farm: Store, changes: dict[str, Any], subject: str
) -> None:
    before = farm.counts()
    with pytest.raises(BadInput) as refused:
        change_machine(farm, "Alder", changes, reason="a try")
    assert refused.value.subject == subject
    assert refused.value.remedy
    assert farm.counts() == before


def test_a_name_is_given_once_whatever_its_letter_case(farm: Store) -> None:
    with pytest.raises(Conflict, match="is known"):
        add_machine(farm, "ALDER", "moving_bed_remote")
