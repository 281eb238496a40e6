"""One fitted part with all that its numbers rest on: what brought its use, what its life is believed from."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import NotFound
from feedwright.farm.ground.naming import pick_entry
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.charging import (
    NANO,
    Charge,
    charge_of_event,
    charge_of_run,
    nanos_of,
)
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.outlook.learning import farm_lives
from feedwright.farm.outlook.stories import before, median_life
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Finding, Fitting, Machine, Removal
from feedwright.wear.exposure import LAWS
from feedwright.wear.pooled import counts
from feedwright.wear.telling import ratio_to_rule
from feedwright.wear.values import Interval

MOST_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Brought:
    """One run or event, and the exposure it brought."""

    at_utc: datetime
    what: str
    """'run' or 'event'."""
    number: int
    title: str
    exposure: float
    share_frac: float
    """Of all that was gathered since the part was fitted."""


@dataclass(frozen=True, slots=True)
class BroughtBy:
    """All printings of one file, or all events of one sort, and the exposure they brought together."""

    title: str
    times: int
    exposure: float
    share_frac: float


@dataclass(frozen=True, slots=True)
class UseReckoned:
    """How the exposure of one fitting came about."""

    law: str
    """What the wear law counts, in a sentence."""
    before: Interval
    """What it had been through when it was fitted."""
    gathered: float
    """Since then, in the part's own unit."""
    charges: int
    """Runs and events that brought it."""
    by_title: tuple[BroughtBy, ...]
    """Files and sorts of events, the most exposure first."""
    most: tuple[Brought, ...]
    """The single runs and events that brought most."""


@dataclass(frozen=True, slots=True)
class LifeReckoned:
    """What is believed of the life of such parts, and why."""

    rule: Interval
    """The rule of thumb for this product, its band 90 %."""
    times_rule: Interval
    """What is believed in its place here, in rules of thumb; the band holds 80 %."""
    findings_farm: int
    """Parts of the kind that told something on the whole farm."""
    findings_here: int
    """Of those, on this machine."""


@dataclass(frozen=True, slots=True)
class PlaceFitting:
    """A part that sits or sat at the place."""

    fitting: Fitting
    removal: Removal | None


@dataclass(frozen=True, slots=True)
class PartSheet:
    """One fitted part."""

    part: FittedPart
    use: UseReckoned
    life: LifeReckoned
    findings: tuple[Finding, ...]
    """Of every part that sat here, latest first."""
    fittings: tuple[PlaceFitting, ...]
    """Latest first."""
    positions: tuple[int, ...]
    """Where the machine has such parts."""


def part_sheet(store: Store, machine: str, part: str, position: int, now_utc: datetime) -> PartSheet:
    """The part at a place of a machine; raises NotFound where none is fitted there."""
    whose = machine_named(store, machine)
    kind = pick_entry(load_catalogue().parts, part, "part kind")
    alike = [held for held in fitted_parts(store, now_utc, machines=[whose]) if held.kind.id == kind.id]
    fitted = next((held for held in alike if held.fitting.position == position), None)
    if fitted is None:
        raise NotFound(
            kind.title, place=f"{whose.name}, position {position}", expected="no such part is fitted there",
            remedy="see what is fitted on the machine's page",
        )  # fmt: skip
    removals = {removal.fitting_id: removal for removal in store.removals(whose.id)}
    held = [one for one in store.fittings(whose.id) if (one.part_kind, one.position) == (kind.id, position)]
    found = store.findings([one.id for one in held])
    return PartSheet(
        part=fitted,
        use=_use(store, whose, fitted),
        life=_life(store, fitted),
        findings=tuple(sorted(found, key=lambda one: (one.found_utc, one.id), reverse=True)),
        fittings=tuple(
            PlaceFitting(one, removals.get(one.id))
            for one in sorted(held, key=lambda one: (one.fitted_utc, one.id), reverse=True)
        ),
        positions=tuple(sorted(other.fitting.position for other in alike)),
    )


def law_words(kind: PartKind) -> str:
    """What the wear law of a part kind counts, in the sentence that describes the law."""
    return str(LAWS[kind.exposure.law].__doc__).split("\n\n", 1)[0].replace("\n", " ").strip()


def _use(store: Store, machine: Machine, fitted: FittedPart) -> UseReckoned:
    named, kind = _charges(store, machine, fitted.fitting.fitted_utc), fitted.kind
    amounts = nanos_of(load_catalogue(), kind, [charge for charge, *_ in named])
    total = sum(amounts)
    brought = [
        Brought(charge.at_utc, what, number, title, nano / NANO, nano / total)
        for nano, (charge, what, number, title) in zip(amounts, named, strict=True)
        if nano > 0 and total > 0
    ]
    alike: dict[str, list[Brought]] = defaultdict(list)
    for one in brought:
        alike[one.title].append(one)
    together = [
        BroughtBy(title, len(ones), sum(one.exposure for one in ones), sum(one.share_frac for one in ones))
        for title, ones in alike.items()
    ]
    return UseReckoned(
        law_words(kind),
        before(fitted.fitting, median_life(kind, fitted.fitting.product)),
        total / NANO,
        len(amounts),
        tuple(sorted(together, key=lambda one: -one.exposure)[:MOST_SHOWN]),
        tuple(sorted(brought, key=lambda one: -one.exposure)[:MOST_SHOWN]),
    )


def _charges(records: Reads, machine: Machine, since_utc: datetime) -> list[tuple[Charge, str, int, str]]:
    """All that wore a machine's parts from a moment on, with the record it comes from."""
    states = records.states(machine.id)
    names = {one.id: one.name for one in records.toolpaths()}
    made = [
        (charge_of_run(run, stretch, states), "run", run.id, names.get(run.toolpath_id or 0, "without a file"))
        for run, stretch in records.charged_runs(machine.id, since_utc=since_utc)
    ]
    made += [
        (charge, "event", event.id, event.kind.replace("_", " "))
        for event in records.events(machine.id)
        if event.at_utc >= since_utc and (charge := charge_of_event(event, states)) is not None
    ]
    return made


def _life(store: Store, fitted: FittedPart) -> LifeReckoned:
    lives, kind, product = farm_lives(store), fitted.kind, fitted.fitting.product
    life = lives.life(kind.id)
    own = lives.of_machine(kind.id, fitted.machine.id)
    median, known = kind.life.median, kind.product(product)
    rule = Interval(median.low, median.value, median.high).times(known.life_ratio.value if known else 1.0)
    ratio = ratio_to_rule(life, life.weight_of(fitted.machine.id, product))  # over the same product's rule of thumb
    return LifeReckoned(rule, ratio, life.findings, sum(counts(story) for story in own))
