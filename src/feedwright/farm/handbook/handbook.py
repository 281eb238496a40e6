"""The handbook: what the catalogue holds, with what this farm has met and learned beside it."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from heapq import nlargest

from feedwright.catalogue.entry import Material, PartKind, Source, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Cause, Observation, load_network
from feedwright.catalogue.network import Step as Check
from feedwright.catalogue.procedures import Procedure, load_procedures
from feedwright.farm.ground.naming import pick
from feedwright.farm.ground.settings import farm_name
from feedwright.farm.outlook.kept import Kept
from feedwright.farm.outlook.learning import FarmLives, farm_lives
from feedwright.records.store import Store
from feedwright.records.values import Finding
from feedwright.wear.telling import about_the_farm, ratio_to_rule, source_of
from feedwright.wear.values import Interval

LATEST_FINDINGS = 6
STATE_WORDS = {"hot": "nozzle hot", "ready": "nozzle and bed hot", "pull": "nozzle where filament sets", "cold": "cold",
               "off": "cold and unplugged", "any": "hot or cold", "running": "while it prints"}  # fmt: skip
"""The state of the machine that a check or a step asks for."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What this farm has learned of one part kind."""

    fitted: int
    """Parts of the kind that are or were fitted."""
    findings: int
    """Of those, how many told something."""
    failures: int
    times_rule: Interval
    """Median life over the rule of thumb's; the band holds 80 %."""
    rests_on: str
    said: tuple[str, ...]
    latest: tuple[tuple[str, Finding], ...]
    """The latest findings, each with its machine's name."""


@dataclass(frozen=True, slots=True)
class PartChapter:
    """One part kind: the entry, its troubles, its procedures, and what this farm has learned."""

    kind: PartKind
    learned: Learned | None
    """None where no such part was ever fitted here, or there is no farm."""
    causes: tuple[Cause, ...]
    procedures: tuple[Procedure, ...]
    """Those that renew it or look at it."""


@dataclass(frozen=True, slots=True)
class CauseChapter:
    """One cause: what it shows, how to tell, how it is cured, how often this farm met it."""

    cause: Cause
    cure: Check
    shows: tuple[tuple[Observation, Sourced], ...]
    """The strongest sign first."""
    checks: tuple[Check, ...]
    """Checks that answer one of its signs."""
    met: int
    """Closed cases of this farm in which it was found."""


@dataclass(frozen=True, slots=True)
class SignChapter:
    """One thing that can be seen, and what may be behind it."""

    sign: Observation
    causes: tuple[tuple[Cause, Sourced], ...]
    """The likeliest first: what it comes with, times how often that cause is there at all."""


@dataclass(frozen=True, slots=True)
class Handbook:
    """All of it."""

    farm: str
    """Empty where there is no farm."""
    at_utc: datetime
    parts: tuple[PartChapter, ...]
    signs: tuple[SignChapter, ...]
    causes: tuple[CauseChapter, ...]
    checks: tuple[Check, ...]
    repairs: tuple[Check, ...]
    procedures: tuple[Procedure, ...]
    materials: tuple[Material, ...]
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    """Those that the procedures give, each once."""
    closed_cases: int

    @property
    def observations(self) -> Mapping[str, Observation]:
        """What can be seen, by id."""
        return {chapter.sign.id: chapter.sign for chapter in self.signs}


def handbook(store: Store | None, now_utc: datetime) -> Handbook:
    """The whole handbook; ``store`` is None where there is no farm to learn from."""
    catalogue, network, service = load_catalogue(), load_network(), load_procedures()
    met, so_far = _met(store), None if store is None else _so_far(store, now_utc)
    return Handbook(
        farm="" if store is None else farm_name(store),
        at_utc=now_utc,
        parts=tuple(_part_chapter(so_far, kind) for kind in catalogue.parts.values()),
        signs=tuple(sign_chapter(sign) for sign in network.observations),
        causes=tuple(_cause_chapter(cause, met[cause.id]) for cause in network.causes.values()),
        checks=tuple(network.checks.values()),
        repairs=tuple(network.repairs.values()),
        procedures=tuple(service.procedures.values()),
        materials=tuple(catalogue.materials.values()),
        sources=tuple(catalogue.sources.values()),
        cautions=tuple(service.cautions.values()),
        closed_cases=met.total(),
    )


def part_chapter(store: Store | None, part: str) -> PartChapter:
    """The chapter of a part kind by its id; refuses an unknown one with the nearest."""
    kind = pick(load_catalogue().parts, part, "part kind")
    return _part_chapter(None if store is None else _so_far(store, datetime.now(UTC)), kind)


def _part_chapter(so_far: Mapping[str, Learned] | None, kind: PartKind) -> PartChapter:
    procedures = load_procedures().procedures.values()
    return PartChapter(
        kind,
        None if so_far is None else so_far.get(kind.id),
        tuple(cause for cause in load_network().causes.values() if cause.part == kind.id),
        tuple(one for one in procedures if one.renews == kind.id or kind.id in one.looks_at),
    )


def cause_chapter(store: Store | None, cause: str) -> CauseChapter:
    """The chapter of a cause by its id; refuses an unknown one with the nearest."""
    known = pick(load_network().causes, cause, "cause")
    return _cause_chapter(known, _met(store)[known.id])


def sign_chapter(sign: str) -> SignChapter:
    """What may be behind a sign, by its id."""
    network = load_network()
    seen = pick(network.observations, sign, "sign")
    behind = [(cause, cause.shows[seen.id]) for cause in network.causes.values() if seen.id in cause.shows]
    likely = sorted(behind, key=lambda held: -held[0].prior_frac.value * held[1].value)
    return SignChapter(seen, tuple(likely))


def _cause_chapter(cause: Cause, met: int) -> CauseChapter:
    network = load_network()
    strongest = sorted(cause.shows.items(), key=lambda held: -held[1].value)
    telling = [check for check in network.checks.values() if set(check.reveals) & set(cause.shows)]
    return CauseChapter(
        cause,
        network.repairs[cause.cure],
        tuple((network.observations[name], strength) for name, strength in strongest),
        tuple(telling),
        met,
    )


def _met(store: Store | None) -> Counter[str]:
    """How often each cause was found in a closed case."""
    if store is None:
        return Counter()
    return Counter(ending.cause for ending in store.case_endings() if ending.cause in load_network().causes)


_KEPT = Kept[dict[str, Learned]]("what was learned of each part")


def _so_far(store: Store, now_utc: datetime) -> Mapping[str, Learned]:
    """What the farm has learned of each part kind that it ever had; of a large one a while longer than it holds."""
    return _KEPT.of(store, now_utc, lambda: dict(_learned_so_far(store)), stamp=store.latest_act_id())


def _learned_so_far(store: Store) -> Iterator[tuple[str, Learned]]:
    lives, names = farm_lives(store), {machine.id: machine.name for machine in store.machines()}
    found: dict[str, list[tuple[str, Finding]]] = defaultdict(list)
    for fitting in lives.histories.fittings:
        seen = lives.histories.seen(fitting)
        found[fitting.part_kind] += [(names[fitting.machine_id], finding) for finding in seen]
    for kind in load_catalogue().parts.values():
        if kind.id in lives.by_kind:
            yield kind.id, _learned(lives, kind, found[kind.id])


def _learned(lives: FarmLives, kind: PartKind, found: Sequence[tuple[str, Finding]]) -> Learned:
    stories, life = lives.by_kind[kind.id], lives.life(kind.id)
    latest = nlargest(LATEST_FINDINGS, found, key=lambda held: (held[1].found_utc, held[1].id))
    return Learned(
        len(stories),
        life.findings,
        sum(story.end == "failed" for story in stories),
        ratio_to_rule(life, life.kind_weight),
        source_of(life.findings),
        about_the_farm(life, kind.products[0].id),
        tuple(latest),
    )
