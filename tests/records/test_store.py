"""What is written comes back, from the file and not from memory; void records are left out."""

import os
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.errors import Conflict
from feedwright.records.store import Store, open_store
from feedwright.records.values import (
    Case,
    CaseEnding,
    CaseEntry,
    CaseEntryKind,
    Event,
    EventKind,
    ExposureTotal,
    Finding,
    Fitting,
    History,
    Machine,
    Person,
    Removal,
    RemovalReason,
    Run,
    RunOutcome,
    Setting,
    Toolpath,
)
from feedwright.toolpath.values import ADDITIVE, MotionLimits, Reading, Stretch

AT = datetime(2026, 3, 1, tzinfo=UTC)
moments = st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001
words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
figures = st.floats(-1e9, 1e9)
maybe = st.none() | figures
levels = st.dictionaries(st.floats(0, 500), st.floats(0, 1e9), max_size=4).map(lambda held: tuple(sorted(held.items())))
stretches = st.builds(Stretch, **dict.fromkeys(ADDITIVE, st.floats(0, 1e9)), nozzle_s=levels, bed_s=levels)


def word(literal: Any) -> st.SearchStrategy[str]:
    return st.sampled_from(get_args(literal))


@pytest.fixture(scope="module")
def parent(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A store in which everything that a record may rest on has the number 1."""
    with open_store(tmp_path_factory.mktemp("kept") / "farm", create=True) as store:
        with store.act("ground") as act:
            box = (1.0, 2.0, 3.0)
            act.add(Machine("ground", "moving_bed_remote", "remote", "lined", box, MotionLimits(), AT))
            act.add(Fitting(1, "nozzle", 1, "brass", AT))
            act.add(Toolpath("0" * 64, "ground.gcode", 1, "filament", True, AT))
            act.add(Case(AT))
        yield store


KINDS = {
    Person: st.builds(Person, words),
    Machine: st.builds(
        Machine,
        name=words,
        build=words,
        drive=st.sampled_from(["remote", "direct"]),
        hot_end=st.sampled_from(["lined", "all_metal"]),
        box_mm=st.tuples(figures, figures, figures),
        motion=st.builds(MotionLimits, retract_mm=st.floats(0, 99)),
        registered_utc=moments,
        tube_needed_mm=figures,
        enclosure_c=figures,
        note=words,
    ),
    Fitting: st.builds(
        Fitting, st.just(1), words, st.integers(1, 9), words, moments, word(History), figures, maybe, words
    ),
    Toolpath: st.builds(
        Toolpath, words, words, st.integers(0, 2**62), words, st.booleans(), read_utc=moments
    ),
    Run: st.builds(
        Run, st.just(1), moments, word(RunOutcome), words, st.none() | st.just(1), st.floats(0, 1),
        st.integers(1, 10**6), maybe, maybe, maybe, words,
    ),
    Event: st.builds(Event, st.just(1), word(EventKind), moments, maybe, maybe, words, words, st.none() | stretches),
    Finding: st.builds(Finding, st.just(1), moments, words, maybe, words, words),
    Setting: st.builds(Setting, words, words),
    Case: st.builds(
        Case, moments, words, st.none() | st.just(1), st.sampled_from(["remote", "direct", ""]),
        st.sampled_from(["lined", "all_metal", ""]), words,
    ),
    CaseEntry: st.builds(CaseEntry, st.just(1), moments, word(CaseEntryKind), words, words),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_kind_of_record_comes_back_as_it_was_written(parent: Store, kind: type[Any]) -> None:
    numbers = count()

    @settings(deadline=None, max_examples=60)
    @given(KINDS[kind])
    def comes_back(value: Any) -> None:
        once = {Person: "name", Machine: "name", Toolpath: "sha256"}.get(kind)
        if once:
            value = replace(value, **{once: f"{getattr(value, once)} {next(numbers)}"})
        with parent.act("write") as act:
            number = act.add(value)
        kept = parent.machine(number) if kind is Machine else parent.one(kind, number)
        assert kept == replace(value, id=number, act_id=act.id)

    comes_back()


@settings(deadline=None, max_examples=60)
@given(moments, word(RemovalReason), maybe, maybe, words)
def test_a_removal_comes_back_as_it_was_written(
    parent: Store, at: datetime, reason: Any, trimmed: float | None, minutes: float | None, note: str
) -> None:
    with parent.act("renew") as act:
        old, new = (act.add(Fitting(1, "tube_end", 1, "plain", AT)) for _ in range(2))
        removal = Removal(old, at, reason, new, trimmed, minutes, note)
        number = act.add(removal)
    assert parent.one(Removal, number) == replace(removal, id=number, act_id=act.id)
    assert old not in {fitting.id for fitting in parent.fittings(open_only=True)}
    assert new in {fitting.id for fitting in parent.fittings(1, open_only=True)}


@settings(deadline=None, max_examples=30)
@given(moments, words, words, words)
def test_the_ending_of_a_case_comes_back_as_it_was_written(
    parent: Store, at: datetime, cause: str, cure: str, note: str
) -> None:
    with parent.act("close case") as act:
        case = act.add(Case(at))
        told = act.add(CaseEntry(case, at, "answer", "strings", "yes"))
        ending = CaseEnding(case, at, cause, cure, note)
        number = act.add(ending)
    assert parent.one(CaseEnding, number) == replace(ending, id=number, act_id=act.id)
    assert [entry.id for entry in parent.case_entries([case])] == [told]
    with pytest.raises(Conflict), parent.act("close case") as act:
        act.add(ending)


def test_an_act_says_what_was_done_when_by_whom_and_why(store: Store) -> None:
    with store.act("add person") as act:
        person = act.add(Person("Ines"))
    with store.act("void", person_id=person, reason="entered twice", at_utc=AT):
        pass
    latest = store.acts(1)[0]
    assert (latest.kind, latest.person_id, latest.reason, latest.at_utc) == ("void", person, "entered twice", AT)
    assert latest.id == store.latest_act_id()


def test_a_machine_described_anew_keeps_its_former_descriptions(store: Store, machine: Machine) -> None:
    later = machine.registered_utc + timedelta(days=3)
    with store.act("change machine", reason="boxed in") as act:
        act.add_state(replace(machine, enclosure_c=45.0), later)
    assert store.machines() == [replace(machine, enclosure_c=45.0)]
    assert [(since, held.enclosure_c) for since, held in store.states(machine.id)] == [
        (machine.registered_utc, machine.enclosure_c),
        (later, 45.0),
    ]


def test_reads_of_one_machine_leave_out_the_others(store: Store, machine: Machine, fitting: Fitting) -> None:
    with store.act("write") as act:
        other = act.add(replace(machine, name="Beech"))
        old, new = act.add(replace(fitting, machine_id=other)), act.add(replace(fitting, machine_id=other))
        act.add(Removal(old, AT, "worn", new))
        for whose, day in ((machine.id, 0), (other, 1), (machine.id, 2)):
            run = act.add(Run(whose, AT + timedelta(days=day), "complete", "pla"))
            act.put_charge(run, Stretch(printing_s=day), "test")
        act.add(Event(other, "jam", AT))
        act.put_exposure(fitting.id, "law", 5, 1)
        act.put_exposure(new, "law", 7, 2)
        act.add(Finding(new, AT, "worn"))
    assert [run.id for run in store.runs(machine.id)] == [1, 3]
    assert store.runs_count(machine.id) == 2
    assert store.runs_count() == 3
    assert store.last_runs() == {machine.id: AT + timedelta(days=2), other: AT + timedelta(days=1)}
    assert [run.id for run, _ in store.charged_runs(latest=2)] == [3, 2]
    assert store.charged_runs(latest=0) == []
    assert [run.id for run, _ in store.charged_runs(machine.id, since_utc=AT + timedelta(days=1))] == [3]
    assert store.charged_run(3) == (store.runs()[2], Stretch(printing_s=2))
    assert [removal.fitting_id for removal in store.removals(other)] == [old]
    assert store.removals(machine.id) == []
    assert store.events(machine.id) == []
    assert store.findings([fitting.id]) == []
    assert [finding.fitting_id for finding in store.findings([fitting.id, new])] == [new]
    assert store.exposures(other) == {new: ExposureTotal("law", 7, 2)}
    assert len(store.findings(range(200_000))) == 1, "any number of fittings may be asked for"


@pytest.mark.parametrize("number", [0, -1, 7, 2**63, 10**40])
def test_a_number_that_no_record_carries_finds_nothing(store: Store, number: int) -> None:
    assert store.one(Run, number) is None
    assert store.machine(number) is None
    assert store.charged_run(number) is None


def test_a_reading_is_kept_by_content_reader_and_limits(store: Store) -> None:
    reading = Reading("part.gcode", "filament", True, "ab", 3, 1, None, "reader 2")
    store.keep_reading(reading, "reader 2", MotionLimits())
    store.keep_reading(replace(reading, name="other"), "reader 2", MotionLimits())
    assert store.reading("ab", "reader 2", MotionLimits()) == reading
    assert store.reading("ab", "reader 3", MotionLimits()) is None
    assert store.reading("ab", "reader 2", MotionLimits(ambient_c=30)) is None


def test_the_latest_setting_of_a_name_holds(store: Store) -> None:
    for value in ('"UTC"', '"Europe/Vienna"'):
        with store.act("set") as act:
            act.add(Setting("zone", value))
    assert store.settings() == {"zone": '"Europe/Vienna"'}


def test_a_reader_is_not_held_up_by_an_act_and_sees_none_of_it(folder: Path, store: Store) -> None:
    with open_store(folder) as other, store.act("add person") as act:
        act.add(Person("Ines"))
        assert [person.name for person in act.people()] == ["Ines"]
        assert other.people() == store.people() == []
    assert [person.name for person in store.people()] == ["Ines"]


def test_all_reads_of_a_snapshot_see_the_records_of_one_moment(folder: Path, store: Store, machine: Machine) -> None:
    with open_store(folder) as other, store.snapshot() as reads:
        assert reads.machines() == [machine]
        with other.act("write") as act:
            number = act.add(replace(machine, name="Beech"))
            act.put_charge(act.add(Run(number, AT, "complete", "pla")), Stretch(), "test")
        assert (reads.machines(), reads.charged_runs(latest=9)) == ([machine], [])
    assert [run.machine_id for run, _ in store.charged_runs(latest=9)] == [number]


def test_two_processes_that_write_at_once_wait_for_each_other(
    folder: Path, store: Store, machine: Machine, forked: Callable[..., tuple[int, int]]
) -> None:
    store.close()

    def write(say: Callable[[str], None]) -> None:
        with open_store(folder) as own:
            for _ in range(40):
                with own.act("run") as act:
                    run = act.add(Run(machine.id, AT, "complete", "pla", hours=1.0))
                    act.put_charge(run, Stretch(printing_s=3600.0), "test")
                say(f"{run}")

    children = [forked(write) for _ in range(3)]
    said = []
    for pid, heard in children:
        with os.fdopen(heard) as lines:
            said += lines.read().split("\n")[:-1]
        assert os.waitpid(pid, 0)[1] == 0, said[-1]
    assert sorted(map(int, said)) == list(range(1, 121))
    assert len(store.charged_runs()) == 120


def test_names_of_machines_people_and_contents_are_held_once(store: Store, machine: Machine) -> None:
    with pytest.raises(Conflict, match=r"machines\.name"), store.act("add machine") as act:
        act.add(replace(machine))
    assert store.latest_act_id() == machine.act_id
