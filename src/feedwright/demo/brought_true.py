"""Measurements and working values of the yard: trammed beds, feed tests, heating logs, and what was set by them."""

import math
import random
from datetime import datetime, timedelta

from feedwright.demo.yard import KEEPERS
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.service.settings_ledger import set_value
from feedwright.farm.service.truing import check_feed, screws_of, tram_machine, tune_heater
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.service.values import BedReading, HeatingLog

STEPS_PER_MM = {"Alder": 93.0, "Beech": 96.4, "Cedar": 93.0, "Fir": 140.0, "Larch": 415.0, "Rowan": 93.0}
"""What is set on the machines whose values are written down."""
RETRACT_MM = {"Alder": 5.0, "Beech": 4.5, "Cedar": 5.5, "Fir": 5.0, "Larch": 1.2, "Rowan": 5.0}
WANDERS = {"Cedar": 2, "Rowan": 0}
"""The corner of a bed, counted round from the front left, whose screw works loose."""
TRAMMED = ("Alder", "Beech", "Cedar", "Fir", "Rowan")
HEATED = {"Alder": 1.0, "Rowan": 0.82}
"""Share of the heater's first power that is left at the second log."""


def bring_true(store: Store, begun: datetime, until: datetime, seed: int) -> None:
    """Write what was measured and set over the ten months."""
    days = (until - begun) // timedelta(days=1)
    if days < 60:
        return
    for machine in store.machines():
        draw = random.Random(f"{seed} true {machine.name}")
        if machine.name in STEPS_PER_MM:
            _set(store, machine, begun + timedelta(days=3, hours=17), draw)
            for part in (0.5, 0.93):
                _feed(store, machine, begun + timedelta(days=int(days * part) + draw.randrange(9), hours=18), draw)
        if machine.name in TRAMMED:
            for part in (0.2, 0.5, 0.75, 0.9):
                _tram(store, machine, begun + timedelta(days=int(days * part), hours=18), part, draw)
        if machine.name in HEATED:
            for power_frac, part in ((1.0, 0.15), (HEATED[machine.name], 0.85)):
                log = _heating(machine.motion.ambient_c, power_frac, draw)
                tune_heater(store, machine.name, log, target_c=215.0, write=True, person=KEEPERS[1],
                            measured_utc=begun + timedelta(days=int(days * part), hours=16))  # fmt: skip


def _set(store: Store, machine: Machine, at: datetime, draw: random.Random) -> None:
    person = draw.choice(KEEPERS)
    set_value(
        store, machine.name, "steps_per_mm", STEPS_PER_MM[machine.name], why="as it came", set_utc=at, person=person
    )
    why, offset_mm = "tuned with a stringing piece", round(draw.uniform(-1.9, -0.9), 2)
    set_value(
        store, machine.name, "retract_mm", RETRACT_MM[machine.name], why=why, set_utc=at, material="pla", person=person
    )
    why = "first layer, by eye"
    set_value(store, machine.name, "nozzle_offset_mm", offset_mm, why=why, set_utc=at, person=person)


def _feed(store: Store, machine: Machine, at: datetime, draw: random.Random) -> None:
    """A hundred millimetres asked three times, hot; what came is a little short."""
    short = draw.uniform(0.6, 2.6)
    came = [round(2 * (100 - short + draw.gauss(0, 0.25))) / 2 for _ in range(3)]
    check_feed(store, machine.name, commanded_mm=100.0, measured_mm=came, write=True, measured_utc=at,
               person=draw.choice(KEEPERS))  # fmt: skip


def _tram(store: Store, machine: Machine, at: datetime, gone: float, draw: random.Random) -> None:
    """Readings at the screws: a bed that leans a little anew each time, and one corner that always sinks."""
    lean = [draw.gauss(0, 0.05) for _ in range(3)]
    screws = screws_of(store, machine_named(store, machine.name)).screws
    readings = []
    for number, screw in enumerate(screws):
        height = lean[0] * screw.x_mm / 200 + lean[1] * screw.y_mm / 200 + lean[2] * 0.3
        if WANDERS.get(machine.name) == number:
            height -= 0.16 + 0.1 * gone
        readings.append(BedReading(screw.x_mm, screw.y_mm, round(height + draw.gauss(0, 0.01), 2)))
    tram_machine(store, machine.name, readings, measured_utc=at, person=draw.choice(KEEPERS))


def _heating(ambient_c: float, power_frac: float, draw: random.Random) -> HeatingLog:
    """One temperature a second at full power: a dead time, then a first-order rise towards far above the target."""
    rise_dk, lag_s, dead_s = 340.0 * power_frac, 118.0, 4.5
    times = [float(second) for second in range(130)]
    heat = [
        ambient_c + rise_dk * (1 - math.exp(-max(0.0, second - dead_s) / lag_s)) + draw.gauss(0, 0.25)
        for second in times
    ]
    return HeatingLog(tuple(times), tuple(round(at_c, 1) for at_c in heat))
