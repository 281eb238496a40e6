"""Topics and payloads: what they say, and refusals that name the field."""

import json
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.errors import BadInput, FeedwrightError
from feedwright.farm.exchange.messages import (
    ENDED,
    LONGEST_PAYLOAD,
    STARTED,
    TEMPERATURES,
    RunEnded,
    RunStarted,
    machine_and_kind,
    read_message,
    topic_of,
)
from feedwright.service.hot_spells import Sample

CAME = datetime(2026, 3, 1, 12, tzinfo=UTC)
NAMES = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=60).filter(
    lambda name: "/" not in name
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=8,
)
FIELDS = st.sampled_from(
    ["id", "at", "file", "sha256", "material", "copies", "nozzle_c", "nozzle_target_c", "sink_fan_rpm", "hours",
     "outcome", "fraction", "started", "filament_g", "note"]
)  # fmt: skip


def read(kind: str, **said: Any) -> Any:
    return read_message(kind, json.dumps(said).encode(), CAME)


def test_a_start_and_an_end_are_read() -> None:
    start = read(STARTED, id=4711, at="2026-03-01T11:00:00+01:00", file="clip.gcode", material="pla", copies=2)
    assert start == RunStarted("4711", CAME - timedelta(hours=2), "clip.gcode", "pla", 2)
    end = read(ENDED, id="4711-end", outcome="stopped", fraction=0.5, hours=3, note="a\nb")
    assert end == RunEnded("4711-end", None, "stopped", 0.5, hours=3.0, note="a\nb")


def test_a_sample_is_read() -> None:
    assert read(TEMPERATURES, nozzle_c=214.6, nozzle_target_c=215, sink_fan_rpm=0) == Sample(CAME, 214.6, 215.0, 0.0)


@pytest.mark.parametrize(
    ("kind", "said", "field"),
    [
        (STARTED, {}, "id"),
        (STARTED, {"id": ""}, "id"),
        (STARTED, {"id": "x" * 101}, "id"),
        (STARTED, {"id": True}, "id"),
        (STARTED, {"id": "1", "copies": 1.5}, "copies"),
        (STARTED, {"id": "1", "nozzle_c": "215"}, "nozzle_c"),
        (STARTED, {"id": "1", "at": "yesterday"}, "at"),
        (STARTED, {"id": "1", "at": "2026-03-01T12:00:00"}, "at"),
        (ENDED, {"id": "1"}, "outcome"),
        (ENDED, {"id": "1", "outcome": "lost"}, "outcome"),
        (ENDED, {"id": "1", "outcome": "spoiled"}, "fraction"),
        (ENDED, {"id": "1", "outcome": "spoiled", "fraction": 40}, "fraction"),
        (TEMPERATURES, {}, "nozzle_c"),
        (TEMPERATURES, {"nozzle_c": 10**400}, "nozzle_c"),
        (TEMPERATURES, {"nozzle_c": 2000}, "nozzle_c"),
    ],
)
def test_what_is_wrong_is_named_by_its_field(kind: str, said: dict[str, Any], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        read(kind, **said)
    assert refused.value.subject == field


@pytest.mark.parametrize(
    "payload", [b"", b"{", b"[1]", b"\xff", b"null", b'{"id": "' + b"x" * LONGEST_PAYLOAD, b"[" * 10_000, b"NaN"]
)
def test_a_payload_that_is_no_object_is_refused(payload: bytes) -> None:
    with pytest.raises(BadInput, match="payload"):
        read_message(STARTED, payload, CAME)


@given(NAMES, st.sampled_from([STARTED, ENDED, TEMPERATURES]))
def test_every_name_comes_back_from_its_topic(name: str, kind: str) -> None:
    topic = topic_of("yard/feedwright", name, kind)
    assert not set("+#") & set(topic)
    assert machine_and_kind("yard/feedwright", topic) == (name, kind)


@pytest.mark.parametrize(
    "topic",
    [
        "",
        "feedwright",
        "feedwright/Larch",
        "feedwright//run/started",
        "other/Larch/run/ended",
        "feedwright/Larch/run/paused",
        "feedwright/La%00rch/run/ended",
    ],
)
def test_a_topic_that_is_not_ours_is_refused(topic: str) -> None:
    with pytest.raises(BadInput):
        machine_and_kind("feedwright", topic)


@given(st.sampled_from([STARTED, ENDED, TEMPERATURES]), st.dictionaries(FIELDS, JSON, max_size=8))
def test_whatever_an_object_says_it_is_read_or_refused_by_name(kind: str, said: dict[str, Any]) -> None:
    try:
        message = read_message(kind, json.dumps(said).encode(), CAME)
    except FeedwrightError:
        return
    if isinstance(message, Sample):
        assert -40 <= message.nozzle_c <= 600
    else:
        assert 1 <= len(message.key) <= 100
        assert message.at_utc is None or message.at_utc.tzinfo is not None


@given(st.sampled_from([STARTED, ENDED, TEMPERATURES]), st.binary(max_size=200))
def test_whatever_bytes_come_nothing_but_a_refusal_is_raised(kind: str, payload: bytes) -> None:
    with suppress(FeedwrightError):
        read_message(kind, payload, CAME)
