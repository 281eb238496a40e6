"""Prints as they happen: what is under way, one tap to begin and to end, and a whole shelf in one go."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Observation
from feedwright.errors import BadInput
from feedwright.farm.dispatch.print_choices import (
    Choice,
    ShelfRow,
    UndoOffer,
    choices_for,
    likely_material,
    shelf_rows,
    undo_offer,
)
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of
from feedwright.farm.ground.people import people
from feedwright.farm.machines.machines import machine_named, machines
from feedwright.farm.prints.prints import Tap, TapReceipt, UnderWay, looks_to_choose, record, start, under_way
from feedwright.farm.prints.undo import undo
from feedwright.farm.service.releases import HeldMachine, held_machines
from feedwright.farm.stores.spools import SpoolSheet, spools
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.records.store import Store
from feedwright.records.values import Machine, Person, Toolpath
from feedwright.web.fields import local_moment, number_or_none, share
from feedwright.web.form_keys import FIELD, MOST_FIELDS, SentKey
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
ENDINGS = ("finish", "stop", "spoil")
NO_FILE = "without a file"
SHELF_FIELDS = ("end", "percent", "file", "material", "copies")


@dataclass(frozen=True, slots=True)
class Context:
    """What is under way, and what may be begun."""

    now: datetime
    under_way: list[UnderWay]
    idle: list[Machine]
    held: list[HeldMachine]
    """In service, or serviced and not released."""
    chosen: Machine | None
    """The machine that is looked at; its print comes first, or what it may print next."""
    choices: list[Choice]
    toolpaths: list[Toolpath]
    materials: list[Material]
    people: list[Person]
    undo: UndoOffer | None
    material: str
    """What is in it; empty = not known."""
    spools: list[SpoolSheet]
    """What may hang on the machine that is looked at: its own spool, then those that hang nowhere."""


@dataclass(frozen=True, slots=True)
class EndContext:
    """How a print ended that did not come to its end well."""

    running: UnderWay
    done_frac: float | None
    looks: list[Observation]
    people: list[Person]


@dataclass(frozen=True, slots=True)
class ShelfContext:
    """Every machine, to mark many at once."""

    rows: list[ShelfRow]
    now: datetime
    toolpaths: list[Toolpath]
    materials: list[Material]
    people: list[Person]
    no_file: str
    """What is written in a file's place where none is known."""


@router.get("/prints")
def show(request: Request, machine: str = "", act: int | None = None) -> Response:
    """What is under way; of one machine first where it is named."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        running, chosen = under_way(store), machine_named(store, machine) if machine else None
        busy = {one.machine.id for one in running}
        held = held_machines(store)
        kept = busy | {one.machine.id for one in held}
        idle = [one for one in machines(store) if one.id not in kept]
        looked_at = chosen is not None and chosen.id not in busy
        free = [one for one in spools(store) if one.machine is None or one.machine == chosen] if looked_at else []
        context = Context(
            now=moment(None),
            under_way=sorted(running, key=lambda one: one.machine != chosen),
            idle=idle,
            held=held,
            chosen=chosen,
            choices=choices_for(store, chosen) if chosen and looked_at else [],
            toolpaths=known_toolpaths(store),
            materials=_materials(),
            people=people(store),
            undo=undo_offer(store, act),
            material=likely_material(store, chosen) if chosen and looked_at else "",
            spools=sorted(free, key=lambda one: one.machine is None),
        )
        return answer(request, "prints", context)


def _materials() -> list[Material]:
    return list(load_catalogue().materials.values())


@router.post("/prints/start")
def begin(
    request: Request, machine: Annotated[str, Form()], key: SentKey, material: Annotated[str, Form()] = "",
    toolpath: Annotated[str, Form()] = "", hours: Annotated[str, Form()] = "", copies: Annotated[int, Form()] = 1,
    entry: Annotated[int | None, Form()] = None, when: Annotated[str, Form()] = "", note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "", spool: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Begin a print."""
    with farm(request) as store:
        told = start(
            store, machine, material=material, toolpath=toolpath or None, hours=number_or_none("hours", hours),
            copies=copies, queue_entry=entry, spool=_whole("spool", spool) if spool else None,
            started_utc=local_moment(store, when), note=note, entry_key=key, person=person or None,
        )  # fmt: skip
    return _after(request, [told])


def _after(request: Request, told: list[TapReceipt]) -> Response:
    """Where to go on: to the run of a print that went wrong, else to what is under way."""
    ended = told[0].run if len(told) == 1 and told[0].kind == "spoil" else None
    to = f"/prints?act={told[0].act_id}" if ended is None else f"/runs/{ended.id}?act={told[0].act_id}"
    return done(request, to, told)


@router.get("/prints/end")
def end_form(request: Request, machine: str) -> Response:
    """How it went wrong: how far it came by the clock, and what it looks like."""
    with farm(request) as store:
        whose = machine_named(store, machine)
        running = next((one for one in under_way(store) if one.machine.id == whose.id), None)
        if running is None:
            raise BadInput("print", place=machine, expected="nothing is under way on it", remedy="log a run instead")
        context = EndContext(running, running.done_frac(moment(None)), looks_to_choose(), people(store))
        return answer(request, "print_end", context)


@router.post("/prints/end")
def end(
    request: Request, machine: Annotated[str, Form()], key: SentKey, kind: Annotated[str, Form()] = "finish",
    percent: Annotated[str, Form()] = "", look: Annotated[list[str] | None, Form()] = None,
    when: Annotated[str, Form()] = "", note: Annotated[str, Form()] = "", person: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """End a print: finished, stopped or spoiled."""
    one_of("ending", kind, ENDINGS)
    fraction = None if kind == "finish" else share("how far it came", percent)
    with farm(request) as store:
        tap = Tap(
            machine, kind, fraction=fraction, looks=tuple(look or ()) if kind == "spoil" else (),  # type: ignore[arg-type]
            at_utc=local_moment(store, when), note=note,
        )  # fmt: skip
        told = record(store, [tap], entry_key=key, person=person or None)
    return _after(request, told)


@router.post("/prints/undo")
def take_back(request: Request, act: Annotated[int, Form()]) -> Response:
    """Take back what was recorded within the last minute."""
    with farm(request) as store:
        back = undo(store, act)
    return done(request, f"/prints?recorded=back-{back.act_id}", {"done": back.words})


@router.get("/prints/shelf")
def shelf(request: Request) -> Response:
    """Every machine as a row."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        context = ShelfContext(
            shelf_rows(store), moment(None), known_toolpaths(store), _materials(), people(store), NO_FILE
        )
        return answer(request, "prints_shelf", context)


async def _form(request: Request) -> dict[str, str]:
    """The form's fields; several of one name count by their last."""
    return {
        name: value for name, value in (await request.form(max_fields=MOST_FIELDS)).items() if isinstance(value, str)
    }


@router.post("/prints/shelf")
def record_shelf(request: Request, key: SentKey, fields: Annotated[dict[str, str], Depends(_form)]) -> Response:
    """Record all that was marked, in one act or not at all."""
    fields.pop(FIELD, None)
    with farm(request) as store:
        taps = taps_of(store, fields)
        told = record(store, taps, entry_key=key, person=fields.get("person") or None)
    return done(request, f"/prints?act={told[0].act_id}", told)


def taps_of(store: Store, fields: dict[str, str]) -> list[Tap]:
    """What is marked on a shelf's form, machine by machine: how its print ended, then what was begun.

    Fields are called ``end.3`` (finish, stop, spoil), ``percent.3``, ``file.3``, ``material.3`` and ``copies.3`` by the
    number of the machine; ``when`` holds for all. A file is what begins a print: each row brings its material along.
    """
    at_utc, taps = local_moment(store, fields.get("when", "")), []
    for machine in machines(store):
        told = {name: fields.get(f"{name}.{machine.id}", "").strip() for name in SHELF_FIELDS}
        if told["end"] or told["percent"]:
            taps.append(_ended(machine.name, told, at_utc))
        if told["file"]:
            taps.append(_begun(machine.name, told, at_utc))
    return taps


def _ended(machine: str, told: dict[str, str], at_utc: datetime | None) -> Tap:
    if not told["end"]:
        words = "a share is given, but not how the print ended"
        raise BadInput(machine, expected=words, remedy="say that it was stopped or spoiled")
    kind = one_of("ending", told["end"], ENDINGS)
    fraction = None if kind == "finish" else share(f"how far {machine} came", told["percent"])
    return Tap(machine, kind, fraction=fraction, at_utc=at_utc)  # type: ignore[arg-type]


def _begun(machine: str, told: dict[str, str], at_utc: datetime | None) -> Tap:
    if not told["material"]:
        raise BadInput(machine, expected=f"no material is chosen for {told['file']}", remedy="choose it")
    file = None if told["file"].casefold() == NO_FILE else told["file"]
    copies = _whole(f"copies on {machine}", told["copies"] or "1")
    return Tap(machine, "start", file, told["material"], copies=copies, at_utc=at_utc)


def _whole(field: str, given: str) -> int:
    if not given.strip().isdecimal():
        raise BadInput(field, place=f"“{given:.40}”", expected="expected a whole number", remedy="such as 2")
    return int(given)
