"""What waits in the yard: prints with their due dates, two machines at work through the night."""

import random
from datetime import datetime, timedelta

from feedwright.demo.yard import KEEPERS
from feedwright.farm.prints import start
from feedwright.farm.queue import add_to_queue
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
OVERNIGHT = (("Alder", "planter_vase", "pla", 4), ("Cedar", "drawer_tray", "pla", 1))


def plan_week(store: Store, begun: datetime, until: datetime, seed: int) -> None:
    """Queue prints and start two on the eve of the last day."""
    if until - begun < timedelta(days=60):
        return
    draw = random.Random(f"{seed} week")
    known = {toolpath.name for toolpath in store.toolpaths()}
    for name, material, copies, days, note in QUEUE:
        if f"{name}.gcode" in known:
            due = None if days is None else until + timedelta(days=days)
            add_to_queue(store, f"{name}.gcode", material=material, copies=copies, due_utc=due, note=note,
                         person=draw.choice(KEEPERS))  # fmt: skip
    machines = {machine.name for machine in store.machines()}
    for machine, name, material, copies in OVERNIGHT:
        if machine in machines:
            begun_utc = until - timedelta(minutes=draw.randrange(20, 90))
            start(store, machine, toolpath=f"{name}.gcode", material=material, copies=copies, started_utc=begun_utc,
                  person=draw.choice(KEEPERS))  # fmt: skip
