"""Cases of the yard: troubles that were followed to their cause, two that are open, and questions from elsewhere."""

import random
from datetime import datetime, timedelta

from feedwright.catalogue.network import Cause, Network, load_network
from feedwright.demo.yard import KEEPERS
from feedwright.farm.cases.cases import close_case, open_case, tell
from feedwright.records.store import Store
from feedwright.records.values import Machine, Removal

FOLLOWED = ("tube_end", "nozzle", "drive_gear", "idler", "tube_end", "nozzle")
"""Failures of which part kinds were looked into, one case each, the latest first."""
OF_THE_RECORDS = "records"
"""Group of observations that the records answer themselves."""


def tell_cases(store: Store, begun: datetime, until: datetime, seed: int) -> None:
    """Write the cases: the symptoms that a found cause brings, by the network's own strengths."""
    if until - begun < timedelta(days=60):
        return
    draw, network = random.Random(f"{seed} cases"), load_network()
    machines = {machine.id: machine for machine in store.machines()}
    fittings = {fitting.id: fitting for fitting in store.fittings()}
    failed = sorted(
        (one for one in store.removals() if one.reason == "failed"), key=lambda one: one.removed_utc, reverse=True
    )
    for part in FOLLOWED:
        of_part = [one for one in failed if fittings[one.fitting_id].part_kind == part]
        if of_part:
            removal = of_part[draw.randrange(min(4, len(of_part)))]
            failed.remove(removal)
            _followed(store, network, machines[fittings[removal.fitting_id].machine_id], part, removal, draw)
    _asked_from_elsewhere(store, until)
    _open_now(store, machines, until)


def _followed(
    store: Store, network: Network, machine: Machine, part: str, removal: Removal, draw: random.Random
) -> None:
    """A case on an own machine, opened when the print went bad and closed once the new part was in."""
    causes = [one for one in network.causes.values() if one.part == part and _fits(one, machine)]
    if not causes:
        return
    cause, person = draw.choice(causes), draw.choice(KEEPERS)
    at = removal.removed_utc - timedelta(minutes=draw.randrange(12, 35))
    seen = {name: "yes" if draw.random() < strength.value else "no" for name, strength in cause.shows.items()
            if network.observations[name].group != OF_THE_RECORDS}  # fmt: skip
    told = sorted(seen, key=lambda name: (-cause.shows[name].value, name))
    case = open_case(
        store, machine=machine.name, answers={name: seen[name] for name in told[:3]}, opened_utc=at, person=person
    )
    for number, name in enumerate(told[3:6]):
        minutes = 4 * (number + 1)
        tell(store, case.id, answers={name: seen[name]}, told_utc=at + timedelta(minutes=minutes), person=person)
    close_case(store, case.id, cause=cause.id, cure=cause.cure, ended_utc=removal.removed_utc + timedelta(minutes=25),
               person=person)  # fmt: skip


def _fits(cause: Cause, machine: Machine) -> bool:
    return cause.drive in ("any", machine.drive) and cause.hot_end in ("any", machine.hot_end)


def _asked_from_elsewhere(store: Store, until: datetime) -> None:
    """Somebody else's machines: one that was settled, one that still waits for an answer."""
    at = until - timedelta(days=31, hours=-19)
    settled = open_case(
        store, label="the reading room's printer", drive="remote", hot_end="lined", material="pla",
        answers={"strings": "yes", "blobs": "no", "end_ring": "yes"}, opened_utc=at, person=KEEPERS[0],
    )  # fmt: skip
    close_case(store, settled.id, cause="liner_gap", cure="trim_tube_end", note="they wrote back: it prints again",
               ended_utc=at + timedelta(days=2), person=KEEPERS[0])  # fmt: skip
    open_case(
        store, label="a friend of the mill", drive="direct", material="petg",
        answers={"thin_lines": "yes", "clicks": "yes", "grew_slowly": "yes"}, opened_utc=until - timedelta(hours=5),
        person=KEEPERS[1],
    )  # fmt: skip


def _open_now(store: Store, machines: dict[int, Machine], until: datetime) -> None:
    """The machine that wears out everything, and nobody knows why."""
    puzzling = next((machine for machine in machines.values() if machine.name == "Rowan"), None)
    if puzzling is None:
        return
    at = until - timedelta(hours=4)
    case = open_case(store, machine=puzzling.name, answers={"gaps_after_travel": "yes", "strings": "yes"},
                     material="petg", opened_utc=at, person=KEEPERS[0])  # fmt: skip
    tell(store, case.id, answers={"other_spool_good": "unsure"}, tried="trim_tube_end",
         told_utc=at + timedelta(minutes=40), person=KEEPERS[0])  # fmt: skip
