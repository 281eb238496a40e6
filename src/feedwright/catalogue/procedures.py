"""Procedures of service: their steps, cautions and proofs, read from TOML and typed.

Adding one is adding a table to one of the files; a fault names its file and path.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from feedwright.catalogue.entry import FitsDrive, FitsHotEnd, Source
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.table import Table
from feedwright.errors import BadEntry, BadInput
from feedwright.units import BY_SUFFIX, DIMENSIONLESS

StepState = Literal["hot", "ready", "pull", "cold", "off", "any"]
"""Nozzle at printing temperature; nozzle and bed at it; nozzle where filament sets; all below 43 °C and switched on;
cold and unplugged; whichever."""
CHANGES = ("hot", "ready", "pull", "cold", "off", "on")
RecordKind = Literal["finding", "renewal", "proof"]

SHARED, FILES = "procedures.toml", ("procedures_feed.toml", "procedures_hot_end.toml", "procedures_machine.toml")
EVERY_OTHER = "*"
"""In ``after``: this procedure comes after every other one that does not say the same."""


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What a step asks to be recorded: a grade of a part, its renewal, or the reading of a proof."""

    kind: RecordKind
    part: str = ""
    proof: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, on one screen."""

    id: str
    """``procedure.step``; a shared step bears its own name, and a visit does it once."""
    do: str
    why: str
    state: StepState
    minutes: float
    timer_minutes: float
    """How long to wait within it; 0 = no timer."""
    tools: tuple[str, ...]
    parts: tuple[str, ...]
    cautions: tuple[str, ...]
    """Each to be acknowledged before the step."""
    record: StepRecord | None
    shared: bool
    hot_end: FitsHotEnd = "any"
    photo: str = ""
    """What a photo taken there should show; empty where none is asked for."""


@dataclass(frozen=True, slots=True)
class Procedure:
    """One job of service."""

    id: str
    title: str
    purpose: str
    steps: tuple[Step, ...]
    renews: str
    """Part kind that it renews; empty where it renews none."""
    looks_at: tuple[str, ...]
    drive: FitsDrive
    hot_end: FitsHotEnd
    after: tuple[str, ...]
    """Procedures that come first, where a visit has them too."""
    proofs: tuple[str, ...]
    """What must be proved before the machine is released."""
    proves: tuple[str, ...]
    """The proofs that it yields."""
    source: str


@dataclass(frozen=True, slots=True)
class Proof:
    """A reading that must lie within bounds before a machine takes work again."""

    id: str
    title: str
    what: str
    unit: str
    low: float
    high: float
    least: float
    """What a reading can be at all: beyond, it is a slip or another unit."""
    most: float
    source: str


@dataclass(frozen=True, slots=True)
class Procedures:
    """All that the files hold."""

    procedures: dict[str, Procedure]
    proofs: dict[str, Proof]
    cautions: dict[str, str]
    changes: dict[str, Step]
    """How the machine is brought into each state, by state; and ``on``, before any state but ``off`` after ``off``."""

    def proving(self, proof: str) -> Procedure:
        """The procedure that yields a proof."""
        return next(one for one in self.procedures.values() if proof in one.proves)


@cache
def load_procedures() -> Procedures:
    """The procedures shipped with this version; raises BadEntry where one is at fault."""
    folder = files("feedwright.catalogue")
    return parse_procedures({name: folder.joinpath(name).read_bytes() for name in (SHARED, *FILES)})


def parse_procedures(texts: Mapping[str, bytes]) -> Procedures:
    """The same from the bytes of the files, by file name."""
    sources = load_catalogue().sources
    common = _read(SHARED, texts, sources)
    common.only("cautions", "shared", "changes", "proofs")
    cautions = {key: common.inner("cautions").get(key, str) for key in common.inner("cautions").held}
    proofs = {proof.id: proof for proof in common.each("proofs", _proof)}
    shared_table = common.inner("shared")
    shared = {key: _step(shared_table.inner(key), key, cautions, proofs, shared=True) for key in shared_table.held}
    changes = {step.id: step for step in common.each("changes", lambda inner, key: _change(inner, key, cautions))}
    for state in CHANGES:
        if state not in changes:
            raise common.fault("changes", f"{state} is missing", f"describe changes.{state}")
    found: dict[str, Procedure] = {}
    for name in FILES:
        table = _read(name, texts, sources)
        for key in table.held:
            if key in found:
                raise table.fault(key, "a procedure of that id is there already", "rename one")
            found[key] = _procedure(table.inner(key), key, shared, cautions, proofs)
    _resolve(found, proofs)
    return Procedures(found, proofs, cautions, changes)


def procedure_named(procedure_id: str) -> Procedure:
    """A procedure by id; refuses an unknown one with the known."""
    known = load_procedures().procedures
    if procedure_id not in known:
        raise BadInput(
            "procedure", place=f"“{procedure_id}”", expected="no such procedure", remedy="known: " + ", ".join(known)
        )
    return known[procedure_id]


def _read(name: str, texts: Mapping[str, bytes], sources: Mapping[str, Source]) -> Table:
    try:
        return Table(tomllib.loads(texts[name].decode()), name, "", sources)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadEntry(name, expected=str(error), remedy="correct the file") from error


def _proof(table: Table, key: str) -> Proof:
    table.only("title", "what", "unit", "low", "high", "least", "most", "source")
    unit = table.get("unit", str)
    if unit not in BY_SUFFIX and unit not in DIMENSIONLESS:
        raise table.fault("unit", f"“{unit}” is no unit", "use a suffix of units.py")
    low, high, least, most = (table.plain(name) for name in ("low", "high", "least", "most"))
    if not least <= low <= high <= most:
        raise table.fault("low", "expected least <= low <= high <= most", "put them in order")
    return Proof(key, table.get("title", str), table.get("what", str), unit, low, high, least, most, table.source())


STEP_KEYS = (
    "id", "do", "why", "state", "minutes", "timer_minutes", "tools", "parts", "cautions", "record", "hot_end",
    "photo",
)  # fmt: skip


def _step(
    table: Table, step_id: str, cautions: Mapping[str, str], proofs: Mapping[str, Proof], *, shared: bool
) -> Step:
    table.only(*STEP_KEYS)
    named = table.words("cautions")
    for key in named:
        if key not in cautions:
            raise table.fault("cautions", f"“{key}” is not among the cautions", f"use one of {', '.join(cautions)}")
    minutes = table.plain("minutes")
    if minutes < 0:
        raise table.fault("minutes", "expected nought or more", "correct the minutes")
    return Step(
        id=step_id,
        do=table.get("do", str),
        why=table.get("why", str),
        state=table.one_of("state", StepState),
        minutes=minutes,
        timer_minutes=table.plain("timer_minutes", 0.0),
        tools=table.words("tools"),
        parts=table.words("parts"),
        cautions=named,
        record=_record(table.inner("record"), proofs) if "record" in table.held else None,
        shared=shared,
        hot_end=table.one_of("hot_end", FitsHotEnd, "any"),
        photo=table.get("photo", str, ""),
    )


def _change(table: Table, state: str, cautions: Mapping[str, str]) -> Step:
    table.only("do", "why", "minutes", "tools", "cautions")
    held = Table({**table.held, "state": "any"}, table.file, table.path, table.sources)
    return _step(held, state, cautions, {}, shared=True)


def _record(table: Table, proofs: Mapping[str, Proof]) -> StepRecord:
    table.only("kind", "part", "proof")
    kind = table.one_of("kind", RecordKind)
    part, proof = table.get("part", str, ""), table.get("proof", str, "")
    if kind == "proof" and proof not in proofs:
        raise table.fault("proof", f"“{proof}” is not among the proofs", f"use one of {', '.join(proofs)}")
    if kind != "proof" and part not in load_catalogue().parts:
        raise table.fault("part", f"“{part}” is no part kind", "name one of the catalogue")
    return StepRecord(kind, part, proof)


def _procedure(
    table: Table, key: str, shared: Mapping[str, Step], cautions: Mapping[str, str], proofs: Mapping[str, Proof]
) -> Procedure:
    table.only(
        "title", "purpose", "steps", "renews", "looks_at", "drive", "hot_end", "after", "proofs", "proves", "source"
    )
    steps = tuple(
        _one_step(Table(held, table.file, f"{key}.steps[{number}]", table.sources), key, shared, cautions, proofs)
        for number, held in enumerate(table.get("steps", list), 1)
    )
    if len({step.id for step in steps}) < len(steps) or not steps:
        raise table.fault("steps", "expected steps, each with an id of its own", "add or rename steps")
    renews, looks_at = table.get("renews", str, ""), table.words("looks_at")
    for part in (*looks_at, *((renews,) if renews else ())):
        if part not in load_catalogue().parts:
            raise table.fault("renews", f"“{part}” is no part kind", "name one of the catalogue")
    return Procedure(
        key, table.get("title", str), table.get("purpose", str), steps, renews, looks_at,
        table.one_of("drive", FitsDrive, "any"), table.one_of("hot_end", FitsHotEnd, "any"), table.words("after"),
        table.words("proofs"), table.words("proves"), table.source(),
    )  # fmt: skip


def _one_step(
    table: Table, procedure: str, shared: Mapping[str, Step], cautions: Mapping[str, str], proofs: Mapping[str, Proof]
) -> Step:
    if "use" not in table.held:
        return _step(table, f"{procedure}.{table.get('id', str)}", cautions, proofs, shared=False)
    table.only("use", "hot_end")
    used = table.get("use", str)
    if used not in shared:
        raise table.fault("use", f"“{used}” is no shared step", f"use one of {', '.join(shared)}")
    return replace(shared[used], hot_end=table.one_of("hot_end", FitsHotEnd, "any"))


def _resolve(found: Mapping[str, Procedure], proofs: Mapping[str, Any]) -> None:
    """Every name that one entry says of another is there, and every proof has a procedure that yields it."""
    for procedure in found.values():
        for other in procedure.after:
            if other != EVERY_OTHER and other not in found:
                raise BadEntry(
                    SHARED,
                    place=f"{procedure.id}.after",
                    expected=f"no procedure “{other}”",
                    remedy="name one there is",
                )
        for proof in (*procedure.proofs, *procedure.proves):
            if proof not in proofs:
                raise BadEntry(
                    SHARED, place=f"{procedure.id}.proofs", expected=f"no proof “{proof}”", remedy="name one there is"
                )
    for proof in proofs:
        if not any(proof in procedure.proves for procedure in found.values()):
            raise BadEntry(SHARED, place=f"proofs.{proof}", expected="no procedure yields it", remedy="add one")
