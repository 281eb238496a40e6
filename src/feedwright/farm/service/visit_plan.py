"""What a visit to a machine is made of: procedures for what is due, the proofs they call for, merged into screens."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.procedures import Procedure, Step, load_procedures, procedure_named
from feedwright.errors import BadInput, NotFound
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.parts.feed_paths import hot_end_and_drive
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.service.merging import HEATED, HeatPlan, Leg, Merged, merge

PULL_C = {"pla": 90.0, "petg": 110.0}
"""Where a cold pull is made (common practice); otherwise :data:`PULL_SHARE` of the usual temperature."""
PULL_SHARE = 0.45


@dataclass(frozen=True, slots=True)
class Screen:
    """One step as the phone shows it."""

    number: int
    step: Step
    do: str
    """What to do, temperatures filled in."""
    change: bool
    """True where it brings the machine into another state."""
    wait_minutes: float
    """How long the machine takes for it, or the step's own timer."""
    procedures: tuple[str, ...]
    """Titles of those that need it."""


def due_procedures(store: Store, machine: Machine, now_utc: datetime, *, soon: bool = True) -> tuple[str, ...]:
    """Ids of the procedures for what the bench list says of the machine: what is due now, and, if asked, soon."""
    from feedwright.farm.outlook.bench import bench

    listed = bench(store, now_utc, machine=machine.name)
    parts = (*listed.now, *(listed.soon if soon else ()))
    return tuple(dict.fromkeys(procedure_for(machine, part).id for part in parts if has_procedure(machine, part)))


def has_procedure(machine: Machine, part: FittedPart) -> bool:
    """True where some procedure looks at the part or renews it."""
    return any(_serves(machine, one, part) for one in load_procedures().procedures.values())


def procedure_for(machine: Machine, part: FittedPart) -> Procedure:
    """The procedure that does what is advised for a part; a look where that is all, else its renewal."""
    serving = [one for one in load_procedures().procedures.values() if _serves(machine, one, part)]
    return next((one for one in serving if (part.advice.act == "renew") == bool(one.renews)), serving[0])


def _serves(machine: Machine, procedure: Procedure, part: FittedPart) -> bool:
    return _fits(machine, procedure) and part.kind.id in (procedure.renews, *procedure.looks_at)


def _fits(machine: Machine, procedure: Procedure) -> bool:
    return procedure.drive in ("any", machine.drive) and procedure.hot_end in ("any", machine.hot_end)


def suiting(records: Reads, machine: Machine) -> list[Procedure]:
    """The procedures that suit the machine and its parts."""
    fitted = {fitting.part_kind for fitting in records.fittings(machine.id, open_only=True)}
    return [
        one for one in load_procedures().procedures.values()
        if _fits(machine, one) and parts_of(machine, one) <= fitted
    ]  # fmt: skip


def parts_of(machine: Machine, procedure: Procedure) -> set[str]:
    """Part kinds that a procedure renews or looks at on a machine: without them its steps cannot be entered."""
    steps = [step for step in procedure.steps if step.hot_end in ("any", machine.hot_end) and step.record]
    return {step.record.part for step in steps if step.record and step.record.part}


def chosen(records: Reads, machine: Machine, ids: Sequence[str]) -> list[Procedure]:
    """The procedures of these ids, with the ones that yield the proofs they call for.

    Raises BadInput for one that does not suit the machine, NotFound for a part that it does not have.
    """
    held = {one.id: one for one in (procedure_named(name.strip().replace("-", "_")) for name in ids)}
    if not held:
        raise BadInput("procedures", expected="expected at least one", remedy="choose what is to be done")
    fitted = {fitting.part_kind for fitting in records.fittings(machine.id, open_only=True)}
    for one in held.values():
        if not _fits(machine, one):
            raise BadInput(
                "procedure", place=one.title, expected=f"it does not suit {machine.name}: {machine.drive} drive, "
                f"{machine.hot_end.replace('_', '-')} hot end", remedy="choose another",
            )  # fmt: skip
        missing = sorted(parts_of(machine, one) - fitted)
        if missing:
            raise NotFound(
                "part", place=f"{missing[0]} on {machine.name}", expected="no such part is fitted",
                remedy="leave that procedure out, or correct the machine's parts",
            )  # fmt: skip
    return with_proofs(held.values())


def with_proofs(procedures: Iterable[Procedure]) -> list[Procedure]:
    """The procedures, and after them those that yield what they must prove, until nothing more is called for."""
    held = {one.id: one for one in procedures}
    waiting = list(held.values())
    while waiting:
        for proof in waiting.pop().proofs:
            if not any(proof in one.proves or proof in _recorded(one) for one in held.values()):
                proving = load_procedures().proving(proof)
                held[proving.id] = proving
                waiting.append(proving)
    return list(held.values())


def _recorded(procedure: Procedure) -> set[str]:
    return {step.record.proof for step in procedure.steps if step.record and step.record.kind == "proof"}


def heat_plan(machine: Machine, material: Material) -> HeatPlan:
    """Temperatures for work on the machine with that material in it; never within 2 K of the liner's limit."""
    hot_end, _ = hot_end_and_drive(machine)
    limit_c = hot_end.liner_limit_c.value - 2.0 if hot_end.lined else 500.0
    motion, usual_c = machine.motion, material.nozzle_c.value
    return HeatPlan(
        nozzle_c=min(usual_c, limit_c),
        bed_c=material.bed_c.value,
        pull_c=PULL_C.get(material.polymer, round(PULL_SHARE * usual_c)),
        ambient_c=motion.ambient_c,
        nozzle_heating_c_s=motion.nozzle_heating_c_s,
        nozzle_cooling_c_s=motion.nozzle_cooling_c_s,
        bed_heating_c_s=motion.bed_heating_c_s,
        bed_cooling_c_s=max(motion.bed_cooling_c_s, 0.01),
    )


def merged_for(machine: Machine, procedures: Sequence[Procedure], material_id: str) -> tuple[Merged, HeatPlan]:
    """The procedures as one visit to that machine."""
    plan = heat_plan(machine, load_catalogue().materials[material_id])
    return merge(procedures, plan, hot_end=machine.hot_end), plan


def screens(merged: Merged, plan: HeatPlan) -> tuple[Screen, ...]:
    """The visit step by step, with what brings the machine into each state."""
    titles = {one.id: one.title for one in merged.procedures}
    held: list[Screen] = []
    for number, leg in enumerate(merged.legs):
        held += [_change(leg, number, change, plan) for change in _changes(leg)]
        for each in leg.steps:
            needs = tuple(titles[one] for one in each.procedures)
            held.append(Screen(0, each.step, each.step.do, False, each.step.timer_minutes, needs))
    return tuple(replace(one, number=number) for number, one in enumerate(held, 1))


def _changes(leg: Leg) -> tuple[str, ...]:
    if leg.state == leg.from_state:
        return ()
    if leg.state == "off":
        return ("cold", "off") if leg.from_state in HEATED else ("off",)
    if leg.from_state == "off":
        return ("on", leg.state) if leg.state in HEATED else ("on",)
    return (leg.state,)


def _change(leg: Leg, number: int, change: str, plan: HeatPlan) -> Screen:
    step = load_procedures().changes[change]
    do = step.do.format(nozzle_c=f"{plan.nozzle_c:.0f}", bed_c=f"{plan.bed_c:.0f}", pull_c=f"{plan.pull_c:.0f}")
    wait = leg.change_minutes if change in ("cold", *HEATED) else step.minutes
    return Screen(0, replace(step, id=f"change{number}.{change}"), do, True, wait, ())
