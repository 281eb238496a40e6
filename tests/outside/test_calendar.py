"""The calendar feed against RFC 5545 (and RFC 7986 where it adds), read by a parser that did not write it (vobject).

Clauses: 3.1 content lines of at most 75 octets, folded, each ended by CRLF; 3.4 and 3.6 what a calendar must hold;
3.6.1 what an event must hold; 3.3.5 form 2 of a time, in UTC; 3.8.4.7 UID, 3.8.7.4 SEQUENCE.
"""

import re
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import vobject

from feedwright.farm.ground.house import moment, open_farm
from feedwright.farm.ground.settings import set_farm_name, set_zone
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.prints.runs import add_run
from feedwright.farm.rounds.round_calendar import rounds_calendar
from feedwright.farm.rounds.round_sheets import rounds_sheet
from feedwright.farm.rounds.rounds import lock, move, plan
from feedwright.records.store import Store

UTC_TIME = re.compile(r"\d{8}T\d{6}Z")


@pytest.fixture(scope="module")
def worn_farm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A farm whose names want escaping, worn enough for a round, and planned."""
    folder = tmp_path_factory.mktemp("rounds") / "farm"
    with open_farm(folder, create=True) as store:
        set_farm_name(store, "Höf, Yard; \\ Söhne")
        set_zone(store, "Europe/Vienna")
        now = datetime.now(UTC)
        for name in ("Ülme, alt", "Ash"):
            add_machine(store, name, "moving_bed_remote", history="new", at_utc=now - timedelta(days=60))
            for day in range(6):
                at = now - timedelta(days=9 * day + 6)
                add_run(store, name, material="pla", hours=140.0, nozzle_c=245.0, started_utc=at)
        plan(store)
    return folder


@pytest.fixture
def store(worn_farm: Path, tmp_path: Path) -> Iterator[Store]:
    shutil.copytree(worn_farm, tmp_path / "farm")
    with open_farm(tmp_path / "farm") as opened:
        yield opened


def unfolded(feed: bytes) -> list[str]:
    return feed.decode().replace("\r\n ", "").split("\r\n")


def test_lines_are_folded_and_ended_as_the_standard_says(store: Store) -> None:
    feed = rounds_calendar(store, moment(None))
    assert feed.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in feed.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in feed.split(b"\r\n")), "75 octets without the line break (3.1)"
    assert any(line.startswith(b" ") for line in feed.split(b"\r\n")), "a long description is folded"
    feed.decode("utf-8")


def test_it_holds_what_a_calendar_and_its_events_must(store: Store) -> None:
    lines = unfolded(rounds_calendar(store, moment(None)))
    assert lines[0] == "BEGIN:VCALENDAR"
    head = lines[: lines.index("BEGIN:VEVENT")]
    assert sum(line.startswith("PRODID:") for line in head) == 1
    assert head.count("VERSION:2.0") == 1
    for event in "\n".join(lines).split("BEGIN:VEVENT\n")[1:]:
        names = [re.split("[:;]", line, maxsplit=1)[0] for line in event.split("\n")]
        for once in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "SEQUENCE", "LAST-MODIFIED"):
            assert names.count(once) == 1, once
        assert "DURATION" not in names, "an event has an end or a duration, not both"
        for name in ("DTSTAMP", "DTSTART", "DTEND", "LAST-MODIFIED"):
            value = next(line for line in event.split("\n") if line.startswith(f"{name}:")).split(":", 1)[1]
            assert UTC_TIME.fullmatch(value), (name, value)


def test_another_parser_reads_the_very_rounds_of_the_plan(store: Store) -> None:
    sheet = rounds_sheet(store, moment(None))
    calendar = vobject.readOne(rounds_calendar(store, moment(None)).decode())
    events = calendar.vevent_list
    assert len(events) == len(sheet.rounds) > 0
    for event, one in zip(events, sheet.rounds, strict=True):
        assert event.dtstart.value == one.begins_utc.replace(microsecond=0)
        assert event.dtend.value > event.dtstart.value
        for stop in one.stops:
            assert stop.machine.name in event.description.value, "escaped commas and letters come back"
    assert len({event.uid.value for event in events}) == len(events)
    calendar.validate(raiseException=True)


def test_an_event_keeps_its_uid_and_its_sequence_rises_only_when_it_changes(store: Store) -> None:
    def seen() -> dict[str, tuple[int, datetime]]:
        calendar = vobject.readOne(rounds_calendar(store, moment(None)).decode())
        return {one.uid.value: (int(one.sequence.value), one.dtstart.value) for one in calendar.vevent_list}

    first = seen()
    lock(store, rounds_sheet(store, moment(None)).rounds[0].stops[0].number)
    plan(store)
    assert seen() == first, "planned anew and the same: no calendar is told of a change"
    stop = rounds_sheet(store, moment(None)).rounds[0].stops[0]
    to = rounds_sheet(store, moment(None)).rounds[0].day + timedelta(days=9)
    move(store, stop.number, to.isoformat())
    plan(store)
    after = seen()
    same_day = [uid for uid in after if uid in first]
    assert all(after[uid][0] >= first[uid][0] for uid in same_day)
    moved = next(uid for uid, (_, begins) in after.items() if begins.date() == to)
    assert moved not in first or after[moved][0] > first[moved][0]
