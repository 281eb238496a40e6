"""Samples that come while the state is told, come again, or say what no event may hold: none stops the listening."""

import json
import sys
import threading
from datetime import UTC, datetime, timedelta

from feedwright.farm.exchange.reporting import Reporting
from feedwright.farm.exchange.ways import Broker
from feedwright.farm.machines.machines import add_machine
from feedwright.records.store import Store

NOW = datetime.now(UTC).replace(microsecond=0)


def sent(reporting: Reporting, store: Store, machine: str, at: datetime, **said: float) -> str:
    payload = json.dumps({"at": at.isoformat()} | said).encode()
    return reporting.take(store, f"feedwright/{machine}/temperatures", payload, at)


def stall(reporting: Reporting, store: Store, hot_c: float) -> list[str]:
    """A heat-up with the sink fan standing from the 60th to the 150th second."""
    told = []
    for second in range(0, 600, 10):
        rpm = 0 if 60 <= second <= 150 else 3000
        nozzle_c = hot_c if second >= 40 else 20 + 5.0 * second
        at = NOW - timedelta(hours=1) + timedelta(seconds=second)
        told.append(sent(reporting, store, "Alder", at, nozzle_c=nozzle_c, nozzle_target_c=hot_c, sink_fan_rpm=rpm))
    return [words for words in told if words]


def test_a_stall_hotter_than_an_event_may_say_is_recorded_and_what_follows_is_taken(farm: Store) -> None:
    told = stall(Reporting(Broker("localhost")), farm, 470.0)
    assert not [words for words in told if words.startswith("refused")]
    (event,) = farm.events()
    assert (event.kind, event.nozzle_c) == ("fan_stall", 450.0)
    assert "470" in event.note


def test_a_clock_of_another_century_is_refused_sample_by_sample_and_holds_nothing_up(farm: Store) -> None:
    reporting = Reporting(Broker("localhost"))
    begun = datetime(1970, 1, 1, tzinfo=UTC)
    refused = 0
    for second in range(0, 600, 10):
        rpm = 0 if 60 <= second <= 150 else 3000
        at = begun + timedelta(seconds=second)
        said = sent(reporting, farm, "Alder", at, nozzle_c=215.0, nozzle_target_c=215.0, sink_fan_rpm=rpm)
        refused += said.startswith("refused")
    assert refused == 1
    assert farm.events() == []


def test_samples_that_come_again_after_a_restart_charge_a_stall_once(farm: Store) -> None:
    stall(Reporting(Broker("localhost")), farm, 215.0)
    before = farm.exposures()
    stall(Reporting(Broker("localhost")), farm, 215.0)
    assert len(farm.events()) == 1
    assert farm.exposures() == before


def test_the_state_can_be_told_while_messages_come(farm: Store) -> None:
    for number in range(60):
        add_machine(farm, f"m{number}", "moving_bed_remote", at_utc=NOW - timedelta(days=3))
    reporting, stop = Reporting(Broker("localhost")), threading.Event()

    def take() -> None:
        second = 0
        while not stop.is_set():
            second += 1
            hot, at = (second // 60) % 2, NOW - timedelta(hours=5) + timedelta(seconds=second)
            sent(reporting, farm, f"m{second % 60}", at, nozzle_c=20.0 + 180 * hot, nozzle_target_c=210.0 * hot)

    usual = sys.getswitchinterval()
    thread = threading.Thread(target=take)
    thread.start()
    try:
        sys.setswitchinterval(1e-6)
        for _ in range(80):
            reporting.say(farm)
    finally:
        sys.setswitchinterval(usual)
        stop.set()
        thread.join(30)
