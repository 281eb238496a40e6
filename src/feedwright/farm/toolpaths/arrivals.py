"""Files that arrive in a watched folder: read, recorded, and offered until somebody says what became of them."""

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

from feedwright.errors import BadInput, BadToolpath, Conflict, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, text
from feedwright.farm.ground.people import person_id
from feedwright.farm.toolpaths.toolpaths import content_hash, record_toolpath, take_in
from feedwright.records.exchange_reads import waiting_arrivals
from feedwright.records.exchange_values import Answer, Arrival, ArrivalAnswer
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Setting, Toolpath

WATCH_FOLDER = "watch_folder"
"""The setting that names it."""
LONGEST_PATH = 4096


@dataclass(frozen=True, slots=True)
class Offer:
    """A file that was read and that nobody has spoken for yet."""

    arrival: Arrival
    toolpath: Toolpath


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What arrived: what waits for an answer, and what was refused, latest first."""

    offers: tuple[Offer, ...]
    refused: tuple[Arrival, ...]


def watched_folder(store: Reads) -> Path | None:
    """The folder that ``serve`` watches; None where none is set."""
    held = store.settings().get(WATCH_FOLDER)
    return Path(named) if held and (named := json.loads(held)) else None


def set_watched_folder(store: Store, folder: str, *, person: str | None = None) -> Path | None:
    """Watch a folder from now on; empty ends it."""
    named = text("folder", folder, LONGEST_PATH, lines=False)
    path = checked_folder(store, Path(named)) if named else None
    with store.act("set", person_id=person_id(store, person)) as act:
        act.add(Setting(WATCH_FOLDER, json.dumps(str(path) if path else "")))
    return path


def checked_folder(store: Store, folder: Path) -> Path:
    """The folder by its whole path; refuses what is no folder, or holds the farm's own files."""
    path = folder.expanduser().resolve()
    if not path.is_dir():
        raise BadInput(str(folder), expected="expected a folder that is there", remedy="make it, or correct the path")
    own = store.folder.resolve()
    if path == own or path.is_relative_to(own):
        raise BadInput(str(folder), expected="this is the farm's own folder", remedy="name a folder outside of it")
    return path


def take_arrival(store: Store, path: Path, name: str) -> Arrival | None:
    """Read a file that arrived and record it; None where its content is known already.

    An unanswered earlier file of the same name was replaced by this one, and is put aside. A refused kind is recorded
    with its reason. Raises BadInput or StoreError where the file cannot be read or kept at all.
    """
    sha256, size = content_hash(path), path.stat().st_size
    if store.every(Arrival, sha256=sha256) or store.toolpath(sha256) is not None:
        return None
    arrival = Arrival(moment(None), sha256, name, size)
    try:
        reading = take_in(store, path, name=name)
    except BadToolpath as refusal:
        arrival = replace(arrival, refused=f"{refusal.expected} ({refusal.place})")
        with store.act("arrival") as act:
            return replace(arrival, id=act.add(arrival), act_id=act.id)
    with store.act("arrival") as act:
        if act.every(Arrival, sha256=sha256):  # another watcher was quicker
            return None
        _put_replaced_aside(act, name)
        arrival = replace(arrival, toolpath_id=record_toolpath(act, reading).id)
        return replace(arrival, id=act.add(arrival), act_id=act.id)


def _put_replaced_aside(act: ActInHand, name: str) -> None:
    for earlier in waiting_arrivals(act):
        if earlier.name == name and not earlier.refused:
            act.add(ArrivalAnswer(earlier.id, moment(None), "put_aside"))


def arrivals(store: Store) -> Arrivals:
    """What waits for an answer, refused files too until they are put aside."""
    with store.snapshot() as reads:
        waiting = sorted(waiting_arrivals(reads), key=lambda arrival: arrival.id, reverse=True)
        toolpaths = {toolpath.id: toolpath for toolpath in reads.toolpaths()} if waiting else {}
    offers = tuple(Offer(one, toolpaths[one.toolpath_id or 0]) for one in waiting if one.toolpath_id in toolpaths)
    return Arrivals(offers, tuple(one for one in waiting if one.refused))


def answer_arrival(store: Store, number: int, answer: Answer, *, person: str | None = None) -> ArrivalAnswer:
    """Write down what became of a file that was offered; answered twice alike it counts once."""
    one_of("answer", answer, get_args(Answer))
    with store.act("arrival answer", person_id=person_id(store, person)) as act:
        arrival = act.one(Arrival, number)
        if arrival is None:
            raise NotFound("file", place=f"number {number}", expected="no such file arrived", remedy="list them")
        for held in act.every(ArrivalAnswer, arrival_id=number):
            if held.answer == answer:
                return held
            expected = f"it is on record as {held.answer.replace('_', ' ')}"
            raise Conflict(arrival.name, expected=expected, remedy="look at the new files again")
        said = ArrivalAnswer(number, moment(None), answer)
        return replace(said, id=act.add(said), act_id=act.id)


def put_all_aside(store: Store, *, person: str | None = None) -> int:
    """Put every file aside that waits; returns how many."""
    with store.act("arrival answer", person_id=person_id(store, person)) as act:
        waiting = waiting_arrivals(act)
        for arrival in waiting:
            act.add(ArrivalAnswer(arrival.id, moment(None), "put_aside"))
    return len(waiting)


def spoken_for(act: ActInHand, toolpath_id: int | None, answer: Answer) -> None:
    """Within the act that records a run or begins a print: the file that was printed waits no longer."""
    for arrival in act.every(Arrival, toolpath_id=toolpath_id) if toolpath_id is not None else ():
        if not act.every(ArrivalAnswer, arrival_id=arrival.id):
            act.add(ArrivalAnswer(arrival.id, moment(None), answer))
