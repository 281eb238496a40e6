"""Messages from machines: what a topic and its payload say. Pure functions; ``docs/mqtt.md`` describes them.

Topics are UTF-8 (OASIS MQTT 3.1.1); payloads are JSON objects (RFC 8259) with times in ISO 8601.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, get_args
from urllib.parse import quote, unquote

from feedwright.errors import BadInput
from feedwright.farm.ground.naming import NAME, NOTE, one_of, text, within
from feedwright.records.values import RunOutcome
from feedwright.service.hot_spells import Sample

PREFIX = "feedwright"
LONGEST_PAYLOAD = 16_384
LONGEST_KEY = 100
ONE_OBJECT = 'send one object with its fields, such as {"id": "4711-start"}'
STARTED, ENDED, TEMPERATURES = "run/started", "run/ended", "temperatures"
COLDEST_C, HOTTEST_C = -40.0, 600.0
"""What a sensor may say; beyond it the reading is a broken wire."""


@dataclass(frozen=True, slots=True)
class RunStarted:
    """A machine began to print."""

    key: str
    """The message's own id: sent again it counts once."""
    at_utc: datetime | None
    """None where the message did not say: then it is when it came."""
    toolpath: str = ""
    """Name or content hash of a known file; empty where it was not said."""
    material: str = ""
    copies: int = 1
    nozzle_c: float | None = None
    hours: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class RunEnded:
    """A machine ended a print; with what a start would say, where none was seen."""

    key: str
    at_utc: datetime | None
    outcome: RunOutcome
    fraction: float | None = None
    started_utc: datetime | None = None
    toolpath: str = ""
    material: str = ""
    hours: float | None = None
    filament_g: float | None = None
    note: str = ""


Message = RunStarted | RunEnded | Sample


def topic_of(prefix: str, machine: str, what: str) -> str:
    """The topic for a machine; signs of its name that a topic may not hold are percent-encoded (RFC 3986).

    >>> topic_of("feedwright", "Maple #2", "run/started")
    'feedwright/Maple%20%232/run/started'
    """
    return f"{prefix}/{quote(machine, safe='')}/{what}"


def machine_and_kind(prefix: str, topic: str) -> tuple[str, str]:
    """The machine that a topic names, and what kind of message it is for; raises BadInput for another's topic."""
    rest = topic.removeprefix(f"{prefix}/")
    named, _, kind = rest.partition("/")
    if rest == topic or not named or kind not in (STARTED, ENDED, TEMPERATURES):
        expected = f"expected {prefix}/MACHINE/ and {STARTED}, {ENDED} or {TEMPERATURES}"
        remedy = "send it to a topic of that form; blanks and signs in a name are percent-encoded"
        raise BadInput("topic", place=f"{topic:.120}", expected=expected, remedy=remedy)
    return text("machine", unquote(named), NAME, lines=False, needed=True), kind


def read_message(kind: str, payload: bytes, came_utc: datetime) -> Message:
    """What a payload says; raises BadInput that names the field."""
    said = _object(payload)
    if kind == TEMPERATURES:
        return _sample(said, came_utc)
    key = _text(said, "id", LONGEST_KEY)
    if not key:
        expected = "expected a text of its own for each message"
        raise BadInput("id", expected=expected, remedy="give the run's number and what happened, such as 4711-start")
    shared: dict[str, Any] = {
        "key": key,
        "at_utc": _moment(said, "at"),
        "toolpath": _text(said, "sha256", 64) or _text(said, "file", 255),
        "material": _text(said, "material", NAME),
        "hours": _number(said, "hours", 0, 10_000),
        "note": _text(said, "note", NOTE),
    }
    if kind == STARTED:
        copies = _number(said, "copies", 1, 10_000)
        if copies is not None and copies != int(copies):
            raise BadInput("copies", place=f"{copies:g}", expected="expected a whole number", remedy="give 1 or more")
        return RunStarted(copies=int(copies or 1), nozzle_c=_number(said, "nozzle_c", 0, 500), **shared)
    return RunEnded(
        outcome=_outcome(said),
        fraction=_number(said, "fraction", 0, 1),
        started_utc=_moment(said, "started"),
        filament_g=_number(said, "filament_g", 0, 100_000),
        **shared,
    )


def _object(payload: bytes) -> Mapping[str, Any]:
    if len(payload) > LONGEST_PAYLOAD:
        place, expected = f"{len(payload)} bytes", f"expected at most {LONGEST_PAYLOAD}"
        raise BadInput("payload", place=place, expected=expected, remedy="send the named fields alone")
    try:
        said = json.loads(payload.decode("utf-8"))
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        where = f"line {error.lineno}, column {error.colno}" if isinstance(error, json.JSONDecodeError) else ""
        raise BadInput("payload", place=where, expected="expected JSON in UTF-8", remedy=ONE_OBJECT) from error
    if not isinstance(said, dict):
        raise BadInput("payload", expected="expected a JSON object", remedy=ONE_OBJECT)
    return said


def _text(said: Mapping[str, Any], name: str, most: int) -> str:
    value = said.get(name)
    if isinstance(value, int) and not isinstance(value, bool) and name == "id" and abs(value) < 10**18:
        return str(value)  # a number is as good a name for a message as a word
    return "" if value is None else text(name, value, most, lines=name == "note")


def _number(said: Mapping[str, Any], name: str, low: float, high: float) -> float | None:
    value = said.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not _finite(value):
        raise BadInput(name, place=f"“{value!s:.40}”", expected="expected a number", remedy="give it without quotes")
    return within(name, float(value), low, high)


def _finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number of hundreds of digits
        return False


def _moment(said: Mapping[str, Any], name: str) -> datetime | None:
    value = said.get(name)
    if value is None:
        return None
    try:
        at = datetime.fromisoformat(value)
    except (TypeError, ValueError):
        at = None
    if at is None or at.tzinfo is None:
        expected = "expected a time in ISO 8601 with its zone"
        raise BadInput(name, place=f"“{value!s:.40}”", expected=expected, remedy="such as 2026-03-01T14:00:00Z")
    return at


def _outcome(said: Mapping[str, Any]) -> RunOutcome:
    outcome: RunOutcome = one_of("outcome", _text(said, "outcome", 20), get_args(RunOutcome))  # type: ignore[assignment]
    if outcome != "complete" and said.get("fraction") is None:
        expected = f"a {outcome} run needs the share that was done"
        raise BadInput("fraction", expected=expected, remedy="give a number from 0 to 1, such as 0.37")
    return outcome


def _sample(said: Mapping[str, Any], came_utc: datetime) -> Sample:
    nozzle_c = _number(said, "nozzle_c", COLDEST_C, HOTTEST_C)
    if nozzle_c is None:
        raise BadInput("nozzle_c", expected="expected the nozzle's temperature in °C", remedy="send it as a number")
    return Sample(
        _moment(said, "at") or came_utc,
        nozzle_c,
        _number(said, "nozzle_target_c", 0, HOTTEST_C),
        _number(said, "sink_fan_rpm", 0, 100_000),
    )
