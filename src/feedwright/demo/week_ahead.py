"""What waits in the yard: prints with their due dates, two machines at work through the night, the rounds to come."""

import random
from datetime import datetime, timedelta

from feedwright.demo.yard import KEEPERS
from feedwright.farm.prints.prints import start
from feedwright.farm.prints.queue import add_to_queue
from feedwright.farm.rounds.bench_hours import add_busy, set_hours
from feedwright.farm.rounds.rounds import plan
from feedwright.records.store import Store

QUEUE = (
    ("bird_house_wall", "pla", 6, 2.4, "for the allotment society"),
    ("hose_bracket", "petg", 4, 1.6, "the garden shop waits for these"),
    ("drone_arm", "pla_carbon", 8, 4.5, ""),
    ("lamp_lattice", "pla", 3, 6.0, ""),
    ("gear_cover", "pa12", 2, 5.2, "spare covers for the mill"),
    ("planter_vase", "pla", 10, 9.5, ""),
    ("cable_clips", "pla", 12, None, "whenever a machine is free"),
)
"""Toolpath, material, copies, days until due, note."""
HOURS = (("monday", "17:00", 0), ("wednesday", "17:00", 120), ("friday", "17:00", 90), ("saturday", "09:00", 180))
"""When somebody is at the bench: weekday, begin, minutes."""
SEARCH_S = 5.0
"""A plan of the yard is mostly proved the best within two seconds; the demo waits no longer than this."""
OVERNIGHT = (("Alder", "planter_vase", "pla", 4), ("Cedar", "drawer_tray", "pla", 1))


def plan_week(store: Store, begun: datetime, until: datetime, seed: int) -> None:
    """Say the hours for rounds, queue prints, start two on the eve of the last day, and plan the rounds to come."""
    if until - begun < timedelta(days=60):
        return
    draw = random.Random(f"{seed} week")
    for day, begins, minutes in HOURS:
        set_hours(store, day, minutes, begins=begins, person=KEEPERS[0])
    known = {toolpath.name for toolpath in store.toolpaths()}
    for name, material, copies, days, note in QUEUE:
        if f"{name}.gcode" in known:
            due = None if days is None else until + timedelta(days=days)
            add_to_queue(store, f"{name}.gcode", material=material, copies=copies, due_utc=due, note=note,
                         queued_utc=until, person=draw.choice(KEEPERS))  # fmt: skip
    machines = {machine.name for machine in store.machines()}
    if "Hornbeam" in machines:
        rush = until + timedelta(days=1, hours=6)
        add_busy(store, "Hornbeam", rush, rush + timedelta(hours=34), note="rush order of bearing seats",
                 person=KEEPERS[1])  # fmt: skip
    for machine, name, material, copies in OVERNIGHT:
        if machine in machines:
            begun_utc = until - timedelta(minutes=draw.randrange(20, 90))
            start(store, machine, toolpath=f"{name}.gcode", material=material, copies=copies, started_utc=begun_utc,
                  person=draw.choice(KEEPERS))  # fmt: skip
    plan(store, now_utc=until, limit_s=SEARCH_S, person=KEEPERS[0])
