"""Ways in and out: the watched folder, the broker, notices, CSV and the archive of the whole farm."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, UploadFile
from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, Response, StreamingResponse

from feedwright.errors import BadInput
from feedwright.farm.exchange import notices
from feedwright.farm.exchange.archives import export_farm
from feedwright.farm.exchange.csv_columns import KINDS
from feedwright.farm.exchange.csv_out import CsvList, csv_lines, lists
from feedwright.farm.exchange.csv_waiting import keep_waiting
from feedwright.farm.exchange.hot_spells import HeatUps, heat_ups
from feedwright.farm.exchange.notices import NoticeSettings
from feedwright.farm.exchange.ways import Broker, ListenState, WatchState, broker, listening, set_broker, watching
from feedwright.farm.ground.csv_text import MOST_BYTES
from feedwright.farm.ground.file_names import shown_name
from feedwright.farm.ground.house import open_farm
from feedwright.farm.toolpaths.arrivals import set_watched_folder, watched_folder
from feedwright.records.exchange_values import NoticeLine
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
SHOWN_NOTICES = 12


@dataclass(frozen=True, slots=True)
class Context:
    """How each way is set, and how it goes."""

    folder: str
    watch: WatchState | None
    broker: Broker | None
    listen: ListenState | None
    heat_ups: list[HeatUps]
    settings: NoticeSettings
    kinds: dict[str, str]
    notices: list[NoticeLine]
    last_sending: tuple[datetime, dict[str, bool]] | None
    lists: list[CsvList]
    taken: str
    """What a CSV file brought just before, for one line at the top."""


@router.get("/exchange")
def show(request: Request, taken: str = "") -> Response:
    """Every way in and out."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        context = Context(
            str(watched_folder(store) or ""), watching(store), broker(store), listening(store), heat_ups(store),
            notices.notice_settings(store), notices.KINDS, store.ways.notices(SHOWN_NOTICES),
            notices.last_sending(store), lists(), _taken(taken),
        )  # fmt: skip
        return answer(request, "exchange", context)


def _taken(said: str) -> str:
    """'12-runs-3' as a sentence; nothing for anything else."""
    new, _, rest = said.partition("-")
    kind, _, known = rest.partition("-")
    if kind not in KINDS or not (new.isdigit() and known.isdigit()):
        return ""
    more = f"; {known} were on record already" if known != "0" else ""
    return f"{new} rows of {kind} are recorded{more}."


@router.post("/exchange/watch")
def watch(request: Request, folder: Annotated[str, Form()] = "") -> Response:
    """Watch a folder from now on, or none."""
    with farm(request) as store:
        path = set_watched_folder(store, folder)
    return done(request, "/exchange#watch", {"watch_folder": str(path) if path else None})


@router.post("/exchange/broker")
def listen(
    request: Request,
    host: Annotated[str, Form()] = "",
    port: Annotated[int, Form()] = 1883,
    user: Annotated[str, Form()] = "",
    password: Annotated[str, Form()] = "",
    tls: Annotated[bool, Form()] = False,
    ca_file: Annotated[str, Form()] = "",
    prefix: Annotated[str, Form()] = "feedwright",
) -> Response:
    """Listen to a broker from now on, or none; an empty password leaves the one that is kept."""
    wanted = Broker(host, port, user, tls, ca_file, prefix) if host.strip() else None
    with farm(request) as store:
        set_broker(store, wanted, password=password or None)
    return done(request, "/exchange#broker", {"broker": wanted})


@router.post("/exchange/notices")
def tell(
    request: Request,
    on: Annotated[bool, Form()] = False,
    kind: Annotated[list[str] | None, Form()] = None,
    quiet_from: Annotated[str, Form()] = "",
    quiet_until: Annotated[str, Form()] = "",
) -> Response:
    """Change how notices go out."""
    with farm(request) as store:
        made = notices.set_notices(store, on=on, kinds=kind or [], quiet_from=quiet_from, quiet_until=quiet_until)
    return done(request, "/exchange#notices", made)


@router.post("/exchange/notices/address")
def add_address(request: Request, address: Annotated[str, Form()]) -> Response:
    """Send notices to one more address."""
    if "://" not in address:
        raise BadInput("address", expected="expected a kind and ://, such as mailto://…", remedy=notices.HOW_WRITTEN)
    with farm(request) as store:
        shown = notices.add_address(store, address)
    return done(request, "/exchange#notices", {"address": shown})


@router.post("/exchange/notices/forget")
def forget_address(request: Request, shown: Annotated[str, Form()]) -> Response:
    """Send no more notices to an address."""
    with farm(request) as store:
        notices.remove_address(store, shown)
    return done(request, "/exchange#notices", {"forgotten": shown})


@router.post("/exchange/notices/test")
def send_a_test(request: Request) -> Response:
    """Have a test sent to every address."""
    with farm(request) as store:
        notices.ask_for_a_test(store)
    return done(request, "/exchange#notices", {"asked": True})


@router.get("/exchange/csv/{name}")
def csv(request: Request, name: str) -> Response:
    """One list as CSV, sent as it is made; with its mark in UTF-8, by which spreadsheets know it."""
    with farm(request) as store:
        folder = store.folder
        csv_lines(store, name)  # refuses an unknown list before anything is sent

    def body() -> Iterator[bytes]:
        yield b"\xef\xbb\xbf"
        with open_farm(folder) as held:
            for line in csv_lines(held, name):
                yield line.encode()

    headers = {"Content-Disposition": f'attachment; filename="{name}.csv"'}
    return StreamingResponse(body(), media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/exchange/archive")
def archive(request: Request) -> Response:
    """The whole farm as one archive."""
    held = tempfile.TemporaryDirectory(prefix="feedwright-")
    path = Path(held.name) / "farm.zip"
    try:
        with farm(request) as store:
            export_farm(store, path)
    except BaseException:
        held.cleanup()
        raise
    return FileResponse(
        path, filename="farm.zip", media_type="application/zip", background=BackgroundTask(held.cleanup)
    )


@router.post("/exchange/csv")
def take(request: Request, file: Annotated[UploadFile, ...]) -> Response:
    """Take a CSV file, to be looked at before it is recorded."""
    name = shown_name(file.filename, "file.csv")
    with farm(request) as store:
        key = keep_waiting(store.folder, file.file.read(MOST_BYTES + 1), name)
    return done(request, f"/exchange/in/{key}?name={quote(name, safe='')}", {"key": key, "name": name})
