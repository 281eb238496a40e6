"""Labels: choosing and printing them, and the short addresses that they lead to."""

from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote, urlencode, urlsplit

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.desk.at_hand import AtHand, Wish, at_hand
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.settings import address
from feedwright.farm.handbook.label_sheets import PRESETS, LabelSheet, sheet_named
from feedwright.farm.handbook.labels import QUIET_MODULES, Label, code_of, labels, labels_pdf
from feedwright.farm.machines.machines import machines
from feedwright.farm.stores.shelves import shelf_named, shelves, spools_on
from feedwright.farm.stores.spools import SpoolSheet
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.web.asker import is_loopback
from feedwright.web.fields import number
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, farm, no_farm_yet

router = APIRouter()
USUAL_SHEET, OWN = "63.5x38.1", "own"
"""The sheet that is offered first; the name of one whose numbers are given one by one."""
Many = Annotated[list[str], Query(default_factory=list)]
WORDS: dict[Wish, str] = {
    "continue visit": "Continue the visit", "finish print": "Finished", "spoil print": "Spoiled or stopped",
    "start print": "Start a print", "look at part": "Look at the", "plan visit": "Plan a visit",
    "open case": "Something is wrong", "tell event": "Something happened", "see machine": "All about it",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SheetsContext:
    """What can be printed, and what was chosen."""

    machines: list[Machine]
    shelves: list[str]
    sheets: dict[str, LabelSheet]
    chosen: LabelSheet
    name: str
    """Of the sheet; 'own' where its numbers were given."""
    of_machines: list[str]
    of_shelves: list[str]
    base: str
    alone: bool
    """True where that address is this machine's own, which no phone can open."""
    first: int
    shown: Label
    """The first label, drawn as it will look."""
    code: str
    """Its code as path data, one unit a module."""
    modules: int
    """Modules across the code with its quiet border."""
    many: int
    query: str
    """What the PDF is asked with."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the three things to do."""

    words: str
    to: str


@dataclass(frozen=True, slots=True)
class MachineContext:
    """A machine that somebody stands before."""

    held: AtHand
    done_frac: float | None
    """How far the print on it should be by the clock."""
    choices: list[Choice]


@dataclass(frozen=True, slots=True)
class ShelfContext:
    """What lies on a shelf."""

    shelf: str
    spools: list[SpoolSheet]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the query asks for."""

    held: list[Label]
    sheet: LabelSheet
    base: str


def _own_sheet(request: Request) -> LabelSheet:
    asked = request.query_params

    def of(name: str, otherwise: float = 0.0) -> float:
        return number(name, asked[name]) if asked.get(name) else otherwise

    return LabelSheet(
        asked.get("paper", "a4"), int(of("columns", 3)), int(of("rows", 7)), of("width_mm", 60), of("height_mm", 36),
        of("left_mm"), of("top_mm"), of("gap_x_mm"), of("gap_y_mm"), cut_lines="cut_lines" in asked,
    )  # fmt: skip


def _asked(request: Request, store: Store, sheet: str, machine: list[str], shelf: list[str], base: str) -> _Asked:
    root = base or address(store) or str(request.base_url)
    held = labels(store, root, of_machines=machine, of_shelves=shelf)
    return _Asked(held, _own_sheet(request) if sheet == OWN else sheet_named(sheet), root.rstrip("/"))


@router.get("/labels")
def choose(
    request: Request, machine: Many, shelf: Many, sheet: str = USUAL_SHEET, base: str = "", first: int = 1
) -> Response:
    """Choose labels and a sheet; shows how the first will look."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        known = machines(store)
        if not known:
            return answer(request, "first_steps", NOTHING)
        asked = _asked(request, store, sheet, machine, shelf, base)
        code = code_of(asked.held[0].address)
        context = SheetsContext(
            known, shelves(store), PRESETS, asked.sheet, sheet, machine, shelf, asked.base,
            _alone(asked.base), first, asked.held[0],
            _path(code), len(code) + 2 * QUIET_MODULES, len(asked.held),
            urlencode([*((name, value) for name, value in request.query_params.multi_items() if name != "base"),
                       ("base", asked.base)]),
        )  # fmt: skip
        return answer(request, "labels", context)


@router.get("/labels.pdf")
def as_pdf(
    request: Request, machine: Many, shelf: Many, sheet: str = USUAL_SHEET, base: str = "", first: int = 1
) -> Response:
    """The labels on sheets."""
    with farm(request) as store:
        asked = _asked(request, store, sheet, machine, shelf, base)
    made = labels_pdf(asked.held, asked.sheet, first=first)
    return Response(
        made, media_type="application/pdf", headers={"Content-Disposition": 'attachment; filename="labels.pdf"'}
    )


@router.get("/m/{name}")
def machine_at_hand(request: Request, name: str) -> Response:
    """Where a machine's label leads: how it stands, and the three likeliest things to do."""
    now = moment(None)
    with farm(request) as store:
        held = at_hand(store, name, now)
        done_frac = held.under_way.done_frac(now) if held.under_way else None
        choices = [_choice(held, wish) for wish in held.wishes]
        return answer(request, "machine_at_hand", MachineContext(held, done_frac, choices))


def _choice(held: AtHand, wish: Wish) -> Choice:
    name = quote(held.machine.name)
    here = f"/machines/{name}"
    to = {
        "continue visit": f"/visits/{held.visit.id}" if held.visit else here,
        "finish print": f"/prints?machine={name}", "spoil print": f"/prints/end?machine={name}",
        "start print": f"/prints?machine={name}", "plan visit": f"{here}/visit",
        "open case": f"/cases/new?machine={name}", "tell event": f"{here}/event", "see machine": here,
    }  # fmt: skip
    if wish == "look at part" and held.pressing is not None:
        part = held.pressing
        words = f"Look at the {part.kind.title[0].lower()}{part.title[1:]}"
        return Choice(words, f"{here}/finding?part={part.kind.id}&position={part.fitting.position}")
    return Choice(WORDS[wish], to[wish])


@router.get("/s/{shelf}")
def shelf_at_hand(request: Request, shelf: str) -> Response:
    """Where a shelf's label leads: the spools that lie there."""
    with farm(request) as store:
        place = shelf_named(store, shelf)
        return answer(request, "shelf", ShelfContext(place, spools_on(store, place)))


def _alone(base: str) -> bool:
    host = urlsplit(base).hostname or ""
    return host == "localhost" or is_loopback(host)


def _path(code: list[list[bool]]) -> str:
    """The dark modules as path data, one unit a module, the quiet border left out."""
    return "".join(
        f"M{column + QUIET_MODULES} {row + QUIET_MODULES}h1v1h-1z"
        for row, held in enumerate(code)
        for column, dark in enumerate(held)
        if dark
    )
