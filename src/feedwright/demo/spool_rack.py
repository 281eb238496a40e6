"""The spools that hang on one machine in the last days, and one lot that is not good: nobody has been told."""

import random
from dataclasses import replace
from datetime import datetime, timedelta

from feedwright.demo.yard import KEEPERS
from feedwright.farm.machines.charging import stretch_of_run
from feedwright.farm.stores.spool_draws import used_g
from feedwright.farm.stores.spools import add_spool, empty_spool, hang_spool
from feedwright.records.store import Store
from feedwright.records.values import Machine, Run
from feedwright.toolpath.values import Duty

BAD_MATERIAL, BAD_LOT, SPOILS_FRAC = "petg", "G-2207", 0.4
"""Taken up damp when it was wound: it strings, and a good part of its prints are spoiled."""
NET_G, TARE_G = 1000.0, 212.0
LOTS = {
    "pla": ("L-118", "L-121", "L-124"), "petg": ("G-2198", BAD_LOT), "pla_carbon": ("C-9",), "abs": ("A-31",),
    "pa12": ("N-4",), "tpu_95a": ("T-31",),
}  # fmt: skip
NEAR_EMPTY_G = 110.0
"""So little is thrown away, or kept for a test piece."""
COLOURS = ("green", "grey", "white", "brick red", "black")
PRICES = {"pla": 19.5, "petg": 22.0, "pla_carbon": 38.0, "abs": 23.0, "pa12": 54.0, "tpu_95a": 34.0}


class SpoolRack:
    """Hangs a spool that suits each run from some moment on, a new one where the old one ran out."""

    def __init__(self, store: Store, machine: str, since: datetime, draw: random.Random) -> None:
        self._store, self._machine, self._since, self._draw = store, machine, since, draw
        self._left: dict[str, tuple[int, str, float]] = {}
        """By material: number of the spool in use, its lot, and grams left on it."""
        self._hangs = ""

    def printed(self, run: Run, duty: Duty, machine: Machine) -> Run:
        """The run as it went on the spool that hung there: spoiled perhaps, where the lot is bad."""
        if run.started_utc < self._since:
            return run
        grams = used_g(run, stretch_of_run(run, duty), machine)
        if grams > NET_G:  # more than a spool holds was fed from a big one that nobody keeps account of
            return run
        number, lot, left = self._suiting(run.material, grams, run.started_utc - timedelta(minutes=8))
        if self._hangs != run.material:
            hang_spool(
                self._store, number, self._machine, at_utc=run.started_utc - timedelta(minutes=6),
                person=self._draw.choice(KEEPERS),
            )  # fmt: skip
            self._hangs = run.material
        if lot == BAD_LOT and run.outcome == "complete" and self._draw.random() < SPOILS_FRAC:
            run = replace(run, outcome="spoiled", fraction=round(self._draw.uniform(0.15, 0.9), 2),
                          note="strings all over, and it crackled at the nozzle")  # fmt: skip
        self._left[run.material] = (number, lot, left - used_g(run, stretch_of_run(run, duty), machine))
        return run

    def _suiting(self, material: str, grams: float, at: datetime) -> tuple[int, str, float]:
        """The spool in use where enough is left on it, else a new one."""
        held = self._left.get(material)
        if held is not None and held[2] >= grams:
            return held
        if held is not None and held[2] < NEAR_EMPTY_G:
            empty_spool(self._store, held[0], at_utc=at, person=self._draw.choice(KEEPERS))
        lot = self._draw.choice(LOTS[material])
        sheet = add_spool(
            self._store, material, net_g=NET_G, tare_g=TARE_G, lot=lot, label=self._draw.choice(COLOURS),
            price_paid=PRICES.get(material), at_utc=at, person=self._draw.choice(KEEPERS),
        )  # fmt: skip
        self._hangs = "" if self._hangs == material else self._hangs
        return sheet.spool.id, lot, NET_G
