"""Messages through a real broker (a general-purpose MQTT library's) become records, each of them once.

Sources: OASIS MQTT 3.1.1, 4.3.2 (at least once), 3.3.1.3 (retained), 3.1.2.4 (a lasting session).
"""

import json
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from real_broker import PASSWORD, USER, RealBroker

from feedwright.farm.exchange.messages import topic_of
from feedwright.farm.exchange.ways import Broker, checked_broker, listening
from feedwright.farm.prints.prints import under_way
from feedwright.link.listen import listen
from feedwright.records.exchange_values import HotSpell
from feedwright.records.store import Store

Open = Callable[[], AbstractContextManager[Store]]
pytestmark = pytest.mark.filterwarnings("default::DeprecationWarning", "default::ResourceWarning")


@contextmanager
def heard(yard: Open, broker: Broker, password: str = PASSWORD) -> Iterator[list[str]]:
    """Listens meanwhile; gives what was told."""
    stop, told = threading.Event(), []
    thread = threading.Thread(
        target=listen, args=(yard, broker, password, stop), kwargs={"tell": told.append}, daemon=True
    )
    thread.start()
    try:
        until(lambda: is_connected(yard))
        yield told
    finally:
        stop.set()
        thread.join(15)
        assert not thread.is_alive()


def is_connected(yard: Open) -> bool:
    with yard() as store:
        state = listening(store)
    return state is not None and state.connected


def until(holds: Callable[[], bool], within_s: float = 20) -> None:
    end = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)


def wanted(broker: RealBroker) -> Broker:
    return checked_broker(Broker("127.0.0.1", broker.port, user=USER, client_id="the-test-yard"))


def sender(port: int) -> Client:
    client = Client(CallbackAPIVersion.VERSION2)
    client.username_pw_set(USER, PASSWORD)
    client.connect("127.0.0.1", port)
    client.loop_start()
    return client


def send(port: int, topic: str, said: object, *, retain: bool = False, times: int = 1) -> None:
    client = sender(port)
    payload = said if isinstance(said, bytes) else json.dumps(said).encode()
    for _ in range(times):
        client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(10)
    client.disconnect()
    client.loop_stop()


def runs_of(yard: Open) -> list[tuple[int, str, float]]:
    with yard() as store:
        return [(run.id, run.outcome, run.hours or 0.0) for run in store.runs()]


def ago(**how_long: float) -> str:
    return (datetime.now(UTC) - timedelta(**how_long)).isoformat(timespec="seconds")


def test_a_print_is_begun_and_ended_once_however_often_it_is_said(yard: Open, broker: RealBroker) -> None:
    started, ended = topic_of("feedwright", "Ash #2", "run/started"), topic_of("feedwright", "Ash #2", "run/ended")
    with heard(yard, wanted(broker)) as told:
        begun = {"id": "4711-start", "material": "petg", "at": ago(hours=3), "file": "bracket.gcode"}
        send(broker.port, started, begun, times=3)
        until(lambda: len(told) >= 3)
        with yard() as store:
            (going,) = under_way(store)
        assert (going.machine.name, going.held.material) == ("Ash #2", "petg")
        assert "bracket.gcode, not known" in going.held.note
        send(broker.port, ended, {"id": "4711-end", "outcome": "complete", "at": ago(minutes=1)}, times=3)
        until(lambda: len(told) >= 6)
    ((_, outcome, hours),) = runs_of(yard)
    assert outcome == "complete"
    assert hours == pytest.approx(3 - 1 / 60, abs=0.01)
    with yard() as store:
        assert under_way(store) == []


def test_a_retained_message_counts_once_over_restarts(yard: Open, broker: RealBroker) -> None:
    said = {"id": "9", "outcome": "spoiled", "fraction": 0.4, "material": "pla", "hours": 5}
    send(broker.port, "feedwright/Larch/run/ended", said, retain=True)
    for _ in range(2):
        with heard(yard, wanted(broker)) as told:
            until(lambda: bool(told))
    ((_, outcome, hours),) = runs_of(yard)
    assert (outcome, hours) == ("spoiled", 5)


def test_what_was_sent_while_nobody_listened_is_taken_afterwards(yard: Open, broker: RealBroker) -> None:
    with heard(yard, wanted(broker)):
        pass
    send(broker.port, "feedwright/Larch/run/ended", {"id": "1", "outcome": "complete", "material": "pla", "hours": 2})
    with heard(yard, wanted(broker)):
        until(lambda: len(runs_of(yard)) == 1)


def test_it_connects_again_by_itself(yard: Open, broker: RealBroker) -> None:
    with heard(yard, wanted(broker)):
        broker.end()
        until(lambda: not is_connected(yard))
        broker.begin()
        until(lambda: is_connected(yard))
        send(
            broker.port, "feedwright/larch/run/ended", {"id": "1", "outcome": "complete", "material": "pla", "hours": 2}
        )
        until(lambda: len(runs_of(yard)) == 1)


def test_unknown_machines_and_odd_messages_are_listed_and_nothing_is_made(yard: Open, broker: RealBroker) -> None:
    with heard(yard, wanted(broker)) as told:
        send(broker.port, "feedwright/Nobody/run/started", {"id": "1", "material": "pla"})
        send(broker.port, "feedwright/Larch/run/started", b"\xff not json")
        send(broker.port, "feedwright/Larch/run/started", {"id": "2", "material": "unobtainium"})
        send(broker.port, "feedwright/Larch/run/ended", {"id": "3", "outcome": "stopped"})
        until(lambda: len(told) == 4)
        until(lambda: _refused(yard) == 3)
        with yard() as store:
            state = listening(store)
            assert [machine.name for machine in store.machines()] == ["Larch", "Ash #2"]
            assert store.open_prints() == []
    assert state is not None
    assert list(state.strangers) == ["Nobody"]
    assert any("fraction" in line for line in state.refused)


def _refused(yard: Open) -> int:
    with yard() as store:
        state = listening(store)
    return len(state.refused) if state else 0


def test_temperatures_become_one_spell_and_a_stalled_fan_is_charged(yard: Open, broker: RealBroker) -> None:
    topic = "feedwright/Larch/temperatures"
    began = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=2)
    samples = [(s, min(215.0, 22 + s * 2.0), 215, 4200) for s in range(0, 120, 5)]
    samples += [(s, 215.0, 215, 0) for s in range(120, 420, 5)]
    samples += [(s, 215.0, 215, 4200) for s in range(420, 450, 5)] + [(450, 210.0, 0, 4200), (900, 40.0, 0, 0)]
    with heard(yard, wanted(broker)) as told:
        client = sender(broker.port)
        for second, nozzle_c, target_c, rpm in samples:
            at = (began + timedelta(seconds=second)).isoformat()
            said = {"at": at, "nozzle_c": nozzle_c, "nozzle_target_c": target_c, "sink_fan_rpm": rpm}
            done = client.publish(topic, json.dumps(said), qos=1)
        done.wait_for_publish(20)
        client.disconnect()
        client.loop_stop()
        until(lambda: _spells(yard) == 1)
    with yard() as store:
        (event,) = store.events()
        (spell,) = store.every(HotSpell)
    assert (event.kind, event.nozzle_c, event.minutes) == ("fan_stall", 215.0, 5.0)
    assert event.stretch is not None
    assert spell.samples == len(samples) - 1
    assert spell.rise_s == 100
    assert any("stands" in words for words in told)


def _spells(yard: Open) -> int:
    with yard() as store:
        return len(store.every(HotSpell))


def test_a_broker_that_refuses_the_password_is_named(yard: Open, broker: RealBroker) -> None:
    stop = threading.Event()
    thread = threading.Thread(target=listen, args=(yard, wanted(broker), "short ash", stop), daemon=True)
    thread.start()
    until(lambda: "refused" in _problem(yard))
    stop.set()
    thread.join(15)
    assert not thread.is_alive()


def test_over_tls_only_a_trusted_certificate_will_do(yard: Open, tmp_path: Path) -> None:
    tool = shutil.which("openssl")
    if tool is None:
        pytest.skip("no openssl command found, which makes the certificate")
    certificate, key = tmp_path / "certificate.pem", tmp_path / "key.pem"
    subprocess.run(
        [tool, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", key, "-out", certificate, "-days", "2",
         "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"],
        check=True, capture_output=True,
    )  # fmt: skip
    held = RealBroker(tmp_path, (certificate, key))
    held.begin()
    try:
        trusting = Broker("localhost", held.port, USER, tls=True, ca_file=str(certificate))
        with heard(yard, checked_broker(trusting)):
            pass
        stop = threading.Event()
        doubting = checked_broker(replace(trusting, ca_file=""))
        thread = threading.Thread(target=listen, args=(yard, doubting, PASSWORD, stop), daemon=True)
        thread.start()
        until(lambda: "not trusted" in _problem(yard))
        stop.set()
        thread.join(15)
    finally:
        held.close()


def _problem(yard: Open) -> str:
    with yard() as store:
        state = listening(store)
    return state.problem if state else ""
