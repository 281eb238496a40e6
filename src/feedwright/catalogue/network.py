"""The causal network of trouble: causes, what they show, what tells them apart and what cures them.

Read from the TOML files named causes, observations and checks. Strengths and shifts stand under their source's key.
"""

import hashlib
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, TypeVar

from feedwright.catalogue.entry import Catalogue, FitsDrive, FitsHotEnd, Place, Source, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.table import Table
from feedwright.errors import BadEntry

Group = Literal["print", "machine", "hear", "smell", "inside", "measure", "history", "records"]
MachineState = Literal["any", "cold", "hot", "running"]
ReadingLaw = Literal["sink_temperature", "feed_error", "wall_thickness", "filament_diameter"]
MaterialTrait = Literal["", "abrasive", "thirsty", "flexible", "shrinking", "hot"]

FILES = {
    "cause": ("causes_feed.toml", "causes_heat.toml", "causes_machine.toml"),
    "circumstance": ("causes_circumstances.toml",),
    "observation": ("observations_print.toml", "observations_machine.toml", "observations_measured.toml"),
    "check": ("checks.toml",),
    "repair": ("checks_repairs.toml",),
}


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that can be at fault."""

    id: str
    title: str
    place: Place
    part: str
    """Part kind whose outlook speaks for it; empty where there is none."""
    grows: bool
    """True where it comes with that part's wear."""
    drive: FitsDrive
    hot_end: FitsHotEnd
    because: str
    """How it does harm, one sentence."""
    cure: str
    """Id of the repair."""
    prior_frac: Sourced
    """Chance that it is there when a machine has trouble, nothing else known."""
    shows: dict[str, Sourced]
    """Noisy-OR strength by observation: chance that this cause alone brings it."""
    shifts: dict[str, Sourced]
    """Factor on the odds by circumstance."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing that is there or not: in the print, at the machine, by ear, by measuring, in the records."""

    id: str
    title: str
    ask: str
    group: Group
    words: tuple[str, ...]
    """Everyday words by which it is found."""
    picture: str
    leak_frac: Sourced
    """Chance that it is there with none of the causes behind it."""


@dataclass(frozen=True, slots=True)
class ReadingKind:
    """A number that informs observations through a likelihood."""

    id: str
    title: str
    ask: str
    unit: str
    law: ReadingLaw
    informs: tuple[str, ...]
    usual: str


@dataclass(frozen=True, slots=True)
class Circumstance:
    """What is known beforehand and shifts what is likely."""

    id: str
    title: str
    ask: str
    event: str
    """Kind of recorded event that answers it; empty = none."""
    renewed: tuple[str, ...]
    """Part kinds whose recent renewal answers it."""
    material: MaterialTrait


@dataclass(frozen=True, slots=True)
class Step:
    """Something one can do: a check, or a repair that is its own test."""

    id: str
    title: str
    state: MachineState
    minutes: Sourced
    parts_cost: Sourced | None
    risk_minutes: Sourced | None
    """Minutes lost on average to mishaps of doing it."""
    how: tuple[str, ...]
    cautions: tuple[str, ...]
    drive: FitsDrive
    hot_end: FitsHotEnd
    reveals: tuple[str, ...] = ()
    """Checks: the observations it answers."""
    one_by_one: bool = False
    """Checks: True where each observation is asked singly."""
    part: str = ""
    """Repairs: the part kind that is renewed or serviced."""


@dataclass(frozen=True, slots=True)
class Network:
    """All of it, every reference resolved."""

    causes: dict[str, Cause]
    observations: dict[str, Observation]
    readings: dict[str, ReadingKind]
    circumstances: dict[str, Circumstance]
    checks: dict[str, Step]
    repairs: dict[str, Step]
    figures: dict[str, Sourced]
    sources: dict[str, Source]
    digest: str
    """SHA-256 over the files."""

    def figure(self, name: str) -> float:
        """One of the figures of ``causes_circumstances.toml``."""
        return self.figures[name].value


@cache
def load_network() -> Network:
    """The network shipped with this version; raises BadEntry where an entry is at fault."""
    folder = files("feedwright.catalogue")
    names = [name for group in FILES.values() for name in group]
    return parse_network({name: folder.joinpath(name).read_bytes() for name in names}, load_catalogue())


def parse_network(texts: Mapping[str, bytes], catalogue: Catalogue) -> Network:
    """The same from the bytes of the files, by file name; ``catalogue`` lends its sources and part kinds."""
    tables = {group: [_read(name, texts, catalogue.sources) for name in FILES[group]] for group in FILES}
    figures, circumstances = _apart(tables["circumstance"], "figures")
    readings, observed = _apart(tables["observation"], "readings")
    known = {name: figures[name] for name in figures}
    numbers = {name: figures[name].number(name) for name in known}
    widen = _Bands(numbers)
    network = Network(
        causes=_each(tables["cause"], lambda table, key: _cause(table, key, widen)),
        observations={key: _observation(table, key, widen) for key, table in observed.items()},
        readings={key: _reading(table, key) for key, table in readings.items()},
        circumstances={key: _circumstance(table, key) for key, table in circumstances.items()},
        checks=_each(tables["check"], _step),
        repairs=_each(tables["repair"], _step),
        figures=numbers,
        sources=catalogue.sources,
        digest=hashlib.sha256(b"\0".join(texts[name] for group in FILES.values() for name in group)).hexdigest(),
    )
    _resolve(network, catalogue)
    return network


def _read(name: str, texts: Mapping[str, bytes], sources: Mapping[str, Source]) -> Table:
    try:
        return Table(tomllib.loads(texts[name].decode()), name, "", sources)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadEntry(name, expected=str(error), remedy="correct the file") from error


Made = TypeVar("Made")


def _each(tables: list[Table], make: Callable[[Table, str], Made]) -> dict[str, Made]:
    made: dict[str, Made] = {}
    for table in tables:
        for key in table.held:
            if key in made:
                raise table.fault(key, "it stands in another file already", "choose another name")
            made[key] = make(table.inner(key), key)
    return made


def _apart(tables: list[Table], key: str) -> tuple[dict[str, Table], dict[str, Table]]:
    """The entries of the one table of that name, and all other entries."""
    entries = _each(tables, lambda table, _: table)
    if key not in entries:
        raise tables[-1].fault(key, "it is missing", f"add [{key}]")
    inner = entries.pop(key)
    holds_numbers = key == "figures"
    return {name: inner if holds_numbers else inner.inner(name) for name in inner.held}, entries


class _Bands:
    """Gives a network number its band: how far its odds may be off, by source."""

    def __init__(self, figures: Mapping[str, Sourced]) -> None:
        self._ratio = {"practice": figures["practice_odds_ratio"].value, "assumed": figures["assumed_odds_ratio"].value}

    def chance(self, table: Table, key: str, value: float, source: str) -> Sourced:
        if not 0 < value < 1:
            raise table.fault(key, f"expected a chance between 0 and 1, found {value:g}", "correct the value")
        ratio, odds = self._ratio.get(source, 1.5), value / (1 - value)
        low, high = (odds * factor / (1 + odds * factor) for factor in (1 / ratio, ratio))
        return Sourced(value, low, high, "frac", source)

    def of(self, table: Table, key: str) -> Sourced:
        held = table.number(key)
        return self.chance(table, key, held.value, held.source)

    def each(self, table: Table, key: str) -> dict[str, Sourced]:
        return {name: self.chance(at, name, value, source) for name, value, source, at in _by_source(table, key)}

    def factors(self, table: Table, key: str) -> dict[str, Sourced]:
        made = {}
        for name, value, source, at in _by_source(table, key):
            if value <= 0:
                raise at.fault(name, f"expected a factor above 0, found {value:g}", "correct the value")
            ratio = self._ratio.get(source, 1.5)
            made[name] = Sourced(value, value / ratio, value * ratio, "ratio", source)
        return made


def _by_source(table: Table, key: str) -> list[tuple[str, float, str, Table]]:
    """Each number of the tables below a key: name, value, and the source by whose key it stands."""
    if key not in table.held:
        return []
    by_source, made = table.inner(key), []
    for source in by_source.held:
        if source not in table.sources:
            raise by_source.fault(source, f"“{source}” is not in sources.toml", "name a source that is there")
        inner = by_source.inner(source)
        made += [(name, inner.plain(name), source, inner) for name in inner.held]
    names = [name for name, *_ in made]
    for name in names:
        if names.count(name) > 1:
            raise by_source.fault(name, "it stands under two sources", "keep one")
    return made


def _cause(table: Table, key: str, widen: _Bands) -> Cause:
    table.only(*Table.keys_of(Cause))
    return Cause(
        id=key,
        title=table.get("title", str),
        place=table.one_of("place", Place),
        part=table.get("part", str, ""),
        grows=table.get("grows", bool, False),
        drive=table.one_of("drive", FitsDrive, "any"),
        hot_end=table.one_of("hot_end", FitsHotEnd, "any"),
        because=table.get("because", str),
        cure=table.get("cure", str),
        prior_frac=widen.of(table, "prior_frac"),
        shows=widen.each(table, "shows"),
        shifts=widen.factors(table, "shifts"),
    )


def _observation(table: Table, key: str, widen: _Bands) -> Observation:
    table.only(*Table.keys_of(Observation))
    return Observation(
        id=key,
        title=table.get("title", str),
        ask=table.get("ask", str),
        group=table.one_of("group", Group),
        words=table.words("words"),
        picture=table.get("picture", str, ""),
        leak_frac=widen.of(table, "leak_frac"),
    )


def _reading(table: Table, key: str) -> ReadingKind:
    table.only(*Table.keys_of(ReadingKind))
    return ReadingKind(
        key, table.get("title", str), table.get("ask", str), table.get("unit", str), table.one_of("law", ReadingLaw),
        table.words("informs"), table.get("usual", str),
    )  # fmt: skip


def _circumstance(table: Table, key: str) -> Circumstance:
    table.only(*Table.keys_of(Circumstance))
    return Circumstance(
        key, table.get("title", str), table.get("ask", str), table.get("event", str, ""), table.words("renewed"),
        table.one_of("material", MaterialTrait, ""),
    )  # fmt: skip


def _step(table: Table, key: str) -> Step:
    table.only(*Table.keys_of(Step))
    return Step(
        id=key,
        title=table.get("title", str),
        state=table.one_of("state", MachineState),
        minutes=table.number("minutes", above_zero=True),
        parts_cost=table.maybe_number("parts_cost", "currency"),
        risk_minutes=table.maybe_number("risk_minutes"),
        how=table.words("how"),
        cautions=table.words("cautions"),
        drive=table.one_of("drive", FitsDrive, "any"),
        hot_end=table.one_of("hot_end", FitsHotEnd, "any"),
        reveals=table.words("reveals"),
        one_by_one=table.get("one_by_one", bool, False),
        part=table.get("part", str, ""),
    )


def _resolve(network: Network, catalogue: Catalogue) -> None:
    """Refuse a name that leads nowhere, an observation that no check answers, and a check with too many answers."""
    for cause in network.causes.values():
        _known(cause.id, "cure", [cause.cure], network.repairs)
        _known(cause.id, "part", [cause.part] if cause.part else [], catalogue.parts)
        _known(cause.id, "shows", cause.shows, network.observations)
        _known(cause.id, "shifts", cause.shifts, network.circumstances)
    for step in [*network.checks.values(), *network.repairs.values()]:
        _known(step.id, "reveals", step.reveals, network.observations)
        _known(step.id, "part", [step.part] if step.part else [], catalogue.parts)
        if len(step.reveals) > 4 and not step.one_by_one:
            raise BadEntry(step.id, expected="a check answers four observations at most", remedy="ask them one by one")
    for reading in network.readings.values():
        _known(reading.id, "informs", reading.informs, network.observations)
    answered = {name for check in network.checks.values() for name in check.reveals}
    for name in network.observations:
        if name not in answered:
            raise BadEntry(name, expected="no check reveals it", remedy="name it in a check's reveals")


def _known(entry: str, key: str, names: Mapping[str, object] | list[str] | tuple[str, ...],
           known: Mapping[str, object]) -> None:  # fmt: skip
    for name in names:
        if name not in known:
            raise BadEntry(f"{entry}.{key}", place=f"“{name}”", expected="no such entry", remedy="correct the name")
