"""A farm that is killed at any moment loses nothing it has acknowledged, and holds no half act.

A child records acts and says a line after each, once it is on disk; the parent kills it at a random moment
(SIGKILL cannot be caught). What was said is then looked for with SQLite alone, and the totals counted again.
"""

import os
import random
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import FeedwrightError
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.charging import charges_of, charges_on, nano_of
from feedwright.farm.machines.machines import add_machine, change_machine
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run, add_runs
from feedwright.farm.prints.voids import void
from feedwright.records.engine import FILE_NAME, HEAD
from feedwright.records.store import Store, open_store
from feedwright.records.values import Person, Run

Say = Callable[[str], None]
Fork = Callable[[Callable[[Say], None]], tuple[int, int]]
KILLS = 220
BEGUN = datetime(2026, 1, 5, 8, tzinfo=UTC)


def killed(forked: Fork, work: Callable[[Say], None], after_s: float) -> list[str]:
    """Let a child work for so long, kill it, and hand out the lines that it had finished saying."""
    pid, heard = forked(work)
    time.sleep(after_s)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    with os.fdopen(heard) as lines:
        said = lines.read().split("\n")[:-1]
    assert not [line for line in said if line.startswith("error")], said[-1]
    return said


def act_at_random(store: Store, draw: random.Random, number: int) -> str:
    """One act of any kind, and what it claims to have written."""
    at = BEGUN + timedelta(minutes=number)
    what = draw.choice(["run", "run", "runs", "renew", "renew", "event", "void run", "void renewal", "change"])
    if what == "run":
        return f"runs {add_run(store, 'Alder', material='pla', hours=draw.uniform(0.1, 9), started_utc=at).run.id}"
    if what == "runs":
        week = [Run(0, at, "complete", "petg", hours=draw.uniform(0.1, 9)) for _ in range(5)]
        return "runs " + " ".join(map(str, add_runs(store, "Alder", week)))
    if what == "renew":
        part = draw.choice(["guide_tube", "tube_end", "nozzle"])
        receipt = renew(
            store, "Alder", part, grade_found=draw.choice(["", "clean"]) * (part == "tube_end"), renewed_utc=at
        )
        return f"renewal {receipt.removal.id} {receipt.removed.id} {receipt.fitted.id}"
    if what == "event":
        return f"events {add_event(store, 'Alder', 'fan_stall', at_utc=at, nozzle_c=240, minutes=30).id}"
    if what == "change":
        change_machine(store, "Alder", {"enclosure_c": draw.uniform(20, 60)}, reason="moved")
        return f"acts {store.latest_act_id()}"
    live = store.runs() if what == "void run" else store.removals()
    if not live:
        return ""
    chosen = live[-1].id
    void(store, what.removeprefix("void "), chosen, "entered twice")
    return f"void {what.removeprefix('void ')} {chosen}"


def no_acknowledged_record_is_lost(rows: sqlite3.Connection, said: list[str]) -> None:
    def count(query: str, *numbers: str) -> int:
        return int(rows.execute(f"SELECT count(*) FROM {query}", numbers).fetchone()[0])

    for line in said:
        what, *numbers = line.split()
        if what == "renewal":
            assert count("removals WHERE id = ? AND fitting_id = ? AND replaced_by = ?", *numbers) == 1, line
        elif what == "void":
            table = {"run": "runs", "renewal": "removals"}[numbers[0]]
            assert count(f"{table} WHERE id = ? AND void_act_id IS NOT NULL", numbers[1]) == 1, line
        else:
            assert all(count(f"{what} WHERE id = ?", number) == 1 for number in numbers), line


HALF_ACTS = {
    "a run without its charge": "SELECT id FROM runs WHERE id NOT IN (SELECT run_id FROM charges)",
    "a charge without its run": "SELECT run_id FROM charges WHERE run_id NOT IN (SELECT id FROM runs)",
    "a week of five runs in part": """
        SELECT act_id FROM runs JOIN acts ON acts.id = act_id WHERE acts.kind = 'runs'
        GROUP BY act_id HAVING count(*) != 5
    """,
    "a renewal without its new part": """
        SELECT r.id FROM removals r LEFT JOIN fittings f ON f.id = r.replaced_by AND f.act_id = r.act_id
        WHERE f.id IS NULL
    """,
    "a new part without its renewal": """
        SELECT id FROM fittings WHERE act_id > 1 AND id NOT IN (SELECT replaced_by FROM removals)
    """,
    "a guide tube renewed without its end": """
        SELECT r.act_id FROM removals r JOIN fittings f ON f.id = r.fitting_id
        GROUP BY r.act_id HAVING sum(f.part_kind = 'guide_tube') = 1 AND sum(f.part_kind = 'tube_end') != 1
    """,
    "a renewal voided in part": """
        SELECT r.id FROM removals r JOIN fittings f ON f.id = r.replaced_by WHERE r.void_act_id IS NOT f.void_act_id
    """,
    "an act that wrote nothing": "SELECT id FROM acts WHERE id NOT IN (" + " UNION ".join(
        f"SELECT {column} FROM {table}"
        for table in ("runs", "events", "removals", "fittings", "findings", "machines", "machine_states", "people")
        for column in ("act_id", "coalesce(void_act_id, act_id)")
    ) + ")",
}  # fmt: skip


def whole(folder: Path, said: list[str]) -> None:
    with closing(sqlite3.connect(folder / FILE_NAME)) as rows:
        assert rows.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert rows.execute("PRAGMA foreign_key_check").fetchall() == []
        for what, query in HALF_ACTS.items():
            assert rows.execute(query).fetchall() == [], what
        no_acknowledged_record_is_lost(rows, said)
    catalogue = load_catalogue()
    with open_farm(folder) as store:
        machine = store.machines()[0]
        removals = {removal.fitting_id: removal for removal in store.removals()}
        charges, held = charges_of(store, machine.id), store.exposures()
        for fitting in store.fittings():
            kind = catalogue.parts[fitting.part_kind]
            own = [nano_of(catalogue, kind, one) for one in charges_on(fitting, removals.get(fitting.id), charges)]
            total = held.get(fitting.id)
            assert (sum(own), len(own)) == ((total.exposure_nano, total.charges) if total else (0, 0)), fitting


@pytest.fixture
def alder(folder: Path) -> Iterator[Path]:
    with open_farm(folder, create=True) as store:
        add_machine(store, "Alder", "moving_bed_remote", history="new", at_utc=BEGUN - timedelta(days=1))
        # loads the heat model here, once, so that no forked child spends its short life on that
        void(store, "event", add_event(store, "Alder", "fan_stall", at_utc=BEGUN, nozzle_c=240, minutes=30).id, "trial")
    return folder


@pytest.mark.slow
def test_no_kill_loses_an_acknowledged_act_or_leaves_half_of_one(alder: Path, forked: Fork) -> None:
    draw = random.Random(20260301)
    said: list[str] = []
    longest_s = 0.1  # follows the speed of the computer, so that a child says some three lines before its end
    for kill in range(KILLS):
        seed, first = draw.random(), len(said)

        def work(say: Say, seed: float = seed, first: int = first, kill: int = kill) -> None:
            own = random.Random(seed)
            with open_farm(alder) as store:
                number = first * 5 + kill * 50
                while True:
                    number += 1
                    try:
                        line = act_at_random(store, own, number)
                    except FeedwrightError:  # a refused act, such as voiding a renewal that another rests on
                        continue
                    if line:
                        say(line)

        lines = killed(forked, work, draw.uniform(0, longest_s))
        longest_s = min(0.25, longest_s * (1.1 if len(lines) < 3 else 0.85))
        said += lines
        if kill % 55 == 54:
            whole(alder, said)
    assert len(said) > 50, "the children must have got somewhere"
    assert {line.split()[0] for line in said} == {"runs", "renewal", "events", "void", "acts"}


@pytest.mark.slow
def test_a_farm_whose_making_was_killed_is_made_whole_at_the_next_try(tmp_path: Path, forked: Fork) -> None:
    draw = random.Random(7)
    unfinished = 0
    begun = time.perf_counter()
    open_store(tmp_path / "unkilled", create=True).close()
    usual_s = time.perf_counter() - begun
    for kill in range(60):
        folder = tmp_path / f"farm {kill}"

        def work(say: Say, folder: Path = folder) -> None:
            with open_store(folder, create=True) as store, store.act("add person") as act:
                act.add(Person("Ines"))
            say("made")

        made = killed(forked, work, draw.uniform(0, 3 * usual_s)) == ["made"]
        unfinished += not made
        with open_store(folder, create=True) as store, store._reading() as connection:
            assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalars().all() == [HEAD]
        with open_store(folder) as store:
            assert store.people() or not made
            assert store.counts()["people"] == store.counts()["acts"]
    assert 5 < unfinished < 60, "some must have been killed on the way, some have got through"


def test_the_look_for_half_acts_finds_one(alder: Path) -> None:
    with open_store(alder) as store, store.act("run") as act:
        act.add(Run(1, BEGUN, "complete", "pla", hours=1.0))
    with pytest.raises(AssertionError, match="a run without its charge"):
        whole(alder, [])
    with pytest.raises(AssertionError, match="events 7"), closing(sqlite3.connect(alder / FILE_NAME)) as rows:
        no_acknowledged_record_is_lost(rows, ["events 7"])
