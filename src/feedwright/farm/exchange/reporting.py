"""Taking messages as they come: which machine they are of, what they did, and how the listening goes."""

import json
from collections import deque
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from feedwright.errors import BadInput, FeedwrightError, StoreError
from feedwright.farm.exchange.hot_spells import keep_sign, keep_spell
from feedwright.farm.exchange.machine_reports import take_ended, take_started
from feedwright.farm.exchange.messages import (
    ENDED,
    STARTED,
    TEMPERATURES,
    RunEnded,
    RunStarted,
    machine_and_kind,
    read_message,
)
from feedwright.farm.exchange.ways import Broker, say_listening
from feedwright.farm.ground.house import moment
from feedwright.records.exchange_values import LinkState
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.service.hot_spells import GAP, Sample, Sign, Spell, Step, step

REFUSED_LISTED, STRANGERS_LISTED = 20, 50
LOOK_AGAIN = timedelta(seconds=10)
"""So often the machines on record are looked up anew."""
TOLD_EVERY = timedelta(seconds=60)
SPELLS = "spells"
"""Under this name the spells under way are kept, for when the program ends and begins again."""


class Reporting:
    """What one listening holds in memory: spells under way, and what the pages show of it."""

    def __init__(self, broker: Broker) -> None:
        self._broker = broker
        self.connected = False
        self.problem = "not connected yet"
        self._taken = 0
        self._strangers: dict[str, str] = {}
        self._refused: deque[str] = deque(maxlen=REFUSED_LISTED)
        self._spells: dict[int, Spell] = {}
        self._troubles: dict[str, str] = {}
        self._machines: dict[str, Machine] = {}
        self._looked_utc: datetime | None = None
        self._said_utc: datetime | None = None
        self._news = True

    def topics(self) -> list[str]:
        """What to subscribe to: one level for the machine, then what it reports."""
        return [f"{self._broker.prefix}/+/{what}" for what in (STARTED, ENDED, TEMPERATURES)]

    def found(self) -> None:
        """The broker took us."""
        self.connected, self.problem, self._news = True, "", True

    def lost(self, problem: str) -> None:
        """The broker is away."""
        self._news = self._news or self.problem != problem
        self.connected, self.problem = False, problem

    def take(self, store: Store, topic: str, payload: bytes, came_utc: datetime, *, retained: bool = False) -> str:
        """Take one message; returns in words what it did, nothing for a plain sample.

        What cannot be taken is listed with its reason. Raises StoreError where the records cannot be written: then
        nothing was taken, and the message must come again.
        """
        try:
            name, kind = machine_and_kind(self._broker.prefix, topic)
            machine = self._machine(store, name, came_utc)
            if machine is None:
                return self._stranger(name, came_utc)
            message = read_message(kind, payload, came_utc)
            if isinstance(message, Sample):
                is_stale = retained and message.at_utc == came_utc  # kept by the broker, nobody knows since when
                return "" if is_stale else self._sampled(store, machine, message)
            words = self._reported(store, machine, message, came_utc)
        except StoreError:
            raise
        except FeedwrightError as error:
            return self._refuse(topic, came_utc, error)
        self._taken += 1
        self._news = True
        self.problem = "" if self.connected else self.problem
        return f"{machine.name}: {words}"

    def _reported(self, store: Store, machine: Machine, message: RunStarted | RunEnded, came_utc: datetime) -> str:
        take: Any = take_started if isinstance(message, RunStarted) else take_ended
        return str(take(store, machine, message, came_utc).words)

    def _machine(self, store: Store, name: str, now_utc: datetime) -> Machine | None:
        """The machine of that name, whatever its letter case; None where nobody described it."""
        is_due = self._looked_utc is None or now_utc - self._looked_utc > LOOK_AGAIN
        is_new = name.casefold() not in self._machines and now_utc != self._looked_utc  # at most one look a second
        if is_due or is_new:
            self._machines = {machine.name.casefold(): machine for machine in store.machines()}
            self._looked_utc = now_utc
        machine = self._machines.get(name.casefold())
        if machine is not None and self._strangers.pop(name, ""):
            self._news = True
        return machine

    def _stranger(self, name: str, came_utc: datetime) -> str:
        first = name not in self._strangers
        self._strangers.pop(name, None)
        self._strangers[name] = came_utc.isoformat()
        while len(self._strangers) > STRANGERS_LISTED:
            del self._strangers[next(iter(self._strangers))]
        self._news = self._news or first
        return f"{name}: no machine of that name is described; its messages are left out" if first else ""

    def _refuse(self, topic: str, came_utc: datetime, error: FeedwrightError) -> str:
        said = f"{came_utc:%Y-%m-%d %H:%M:%S} UTC, {topic:.120}: {error.sentence}"
        self._refused.appendleft(said)
        self._news = True
        return f"refused: {said}"

    def _sampled(self, store: Store, machine: Machine, sample: Sample) -> str:
        """Take one sample; the records are written only where a spell ends or a sign is seen."""
        if sample.at_utc > moment(None) + timedelta(minutes=5):
            remedy = "set the clock of the machine"
            raise BadInput("at", place=sample.at_utc.isoformat(), expected="it is still to come", remedy=remedy)
        done = step(self._spells.get(machine.id), sample)
        try:
            self._keep(store, machine, done)
        except StoreError:
            raise  # the message comes again, to the spell as it was
        except FeedwrightError:  # what cannot be kept must not hold up what comes after it
            self._go_on(machine, done.spell)
            raise
        self._go_on(machine, done.spell)
        return "; ".join(f"{machine.name}: {WORDS[sign.kind]}" for sign in done.signs)

    def _keep(self, store: Store, machine: Machine, done: Step) -> None:
        if done.ended is not None:
            keep_spell(store, machine, done.ended)
        for sign in done.signs:
            self._note(machine, sign)
            keep_sign(store, machine, sign)

    def _go_on(self, machine: Machine, spell: Spell | None) -> None:
        if spell is None:
            self._spells.pop(machine.id, None)
        else:
            self._spells[machine.id] = spell

    def _note(self, machine: Machine, sign: Sign) -> None:
        """What goes on now, for whoever sends notices."""
        self._news = True
        kind = {"fan_still": "fan", "fan_stall": "fan", "fell_away": "heat", "recovered": "heat"}[sign.kind]
        if sign.kind in ("fan_still", "fell_away"):
            self._troubles[f"{kind}:{machine.id}"] = f"{machine.name}: {WORDS[sign.kind]}"
        else:
            self._troubles.pop(f"{kind}:{machine.id}", None)

    def is_news(self, now_utc: datetime) -> bool:
        """True where there is something new to keep, or nothing was kept for a minute."""
        return self._news or self._said_utc is None or now_utc - self._said_utc >= TOLD_EVERY

    def say(self, store: Store, *, at_work: bool = True) -> None:
        """Keep how the listening goes, and the spells under way; ``at_work`` is False where it ends."""
        self._news, self._said_utc = False, moment(None)
        say_listening(
            store,
            at_work=at_work,
            broker=f"{self._broker.host}:{self._broker.port}",
            connected=self.connected,
            problem=self.problem,
            taken=self._taken,
            strangers=dict(self._strangers),
            refused=list(self._refused),
            troubles=dict(self._troubles),
        )
        held = dict(self._spells)  # messages come in another thread meanwhile
        spells = {number: asdict(spell) for number, spell in held.items()}
        store.ways.keep_state(LinkState(SPELLS, moment(None), json.dumps(spells, default=str)))

    def resume(self, store: Store) -> None:
        """Go on with the spells that were under way when the program ended; those long past are recorded."""
        held = store.ways.states().get(SPELLS)
        machines = {machine.id: machine for machine in store.machines()}
        for number, said in (json.loads(held.value) if held else {}).items():
            machine, spell = machines.get(int(number)), _spell(said)
            if machine is None:
                continue
            if moment(None) - spell.last_utc > GAP:
                keep_spell(store, machine, spell)
            else:
                self._spells[machine.id] = spell


WORDS = {
    "fan_still": "the sink fan stands while the hot end is hot",
    "fan_stall": "the sink fan turns again, or the hot end is cold; the heat is charged",
    "fell_away": "the nozzle fell well below its target",
    "recovered": "the nozzle is back at its target, or off",
}


def _spell(said: dict[str, Any]) -> Spell:
    """A spell from JSON."""
    for name in ("begun_utc", "last_utc", "away_since", "still_since"):
        said[name] = datetime.fromisoformat(said[name]) if said[name] else None
    said["rise"] = tuple((seconds, at_c) for seconds, at_c in said["rise"])
    return Spell(**said)
