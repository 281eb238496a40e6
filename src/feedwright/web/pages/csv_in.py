"""A CSV file before it is recorded: its first rows, how its columns are taken, and what speaks against it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.exchange.csv_columns import KINDS, UNITS, CsvKind, Reading, guessed_kind, guessed_reading
from feedwright.farm.exchange.csv_in import Look, look_at, take_in
from feedwright.farm.exchange.csv_waiting import waiting
from feedwright.farm.ground.csv_text import DATE_FORMATS, SEPARATORS, Writing, decoded, guessed, read_sheet
from feedwright.farm.ground.naming import one_of, pick
from feedwright.farm.ground.people import people
from feedwright.records.values import Person
from feedwright.web.render import answer, done, farm

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """The file as it would be taken, and everything that may be chosen otherwise."""

    key: str
    name: str
    look: Look
    kind: CsvKind
    kinds: list[CsvKind]
    separators: tuple[str, ...]
    date_formats: dict[str, str]
    units: dict[str, list[str]]
    people: list[Person]


@router.get("/exchange/in/{key}")
def show(request: Request, key: str) -> Response:
    """How the file would be taken, by the guess or as the form says."""
    form = dict(request.query_params)
    with farm(request) as store:
        content, name = waiting(store.folder, key), form.get("name", "file.csv")
        writing, reading = _as_told(content, name, form)
        made = look_at(store, content, name, writing=writing, reading=reading)
        context = Context(
            key, name, made, KINDS[made.reading.kind], list(KINDS.values()), tuple(SEPARATORS), DATE_FORMATS,
            {own: list(units) for own, units in UNITS.items()}, people(store),
        )  # fmt: skip
        return answer(request, "csv_in", context)


@router.post("/exchange/in/{key}")
async def take(request: Request, key: str) -> Response:
    """Record every row of the file, or none."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    return await run_in_threadpool(_take, request, key, form)


def _take(request: Request, key: str, form: dict[str, str]) -> Response:
    with farm(request) as store:
        content, name = waiting(store.folder, key), form.get("name", "file.csv")
        writing, reading = _as_told(content, name, form)
        taken = take_in(store, content, name, writing=writing, reading=reading, person=form.get("person") or None)
    return done(request, f"/exchange?taken={taken.new}-{taken.kind}-{taken.known}", taken)


def _as_told(content: bytes, name: str, form: Mapping[str, Any]) -> tuple[Writing, Reading]:
    """How the form says that the file is written and read; by the guess where it was not sent yet."""
    text, encoding = decoded(content, name)
    writing = guessed(text, encoding)
    if form.get("separator"):
        writing = Writing(
            one_of("separator", form["separator"], list(SEPARATORS)), form.get("decimal") == "comma",
            one_of("date format", form.get("dates", "iso"), list(DATE_FORMATS)), encoding,
        )  # fmt: skip
    headings = read_sheet(text, writing, name).headings
    kind = pick(KINDS, form["kind"], "kind of file").name if form.get("kind") else guessed_kind(headings)
    if form.get("kind_before") != kind:  # looked at first, or another kind with other columns: guess them
        return writing, guessed_reading(kind, headings)
    columns = [column.name for column in KINDS[kind].columns]
    return writing, Reading(
        kind,
        {name: form[f"col-{name}"] for name in columns if form.get(f"col-{name}") in headings},
        {name: form[f"unit-{name}"] for name in columns if form.get(f"unit-{name}")},
        {name: form[f"fixed-{name}"] for name in columns if form.get(f"fixed-{name}", "").strip()},
    )
