"""The web application: pages and the same content as JSON, for one farm on this machine."""

from pathlib import Path

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware

from feedwright import __version__
from feedwright.web import errors, security
from feedwright.web.api import description
from feedwright.web.assets import FOLDER, Assets
from feedwright.web.demo_farm import DemoFarm
from feedwright.web.gate import Gate
from feedwright.web.pages import (
    access,
    arrivals,
    bench,
    books,
    calibration,
    cases,
    csv_in,
    exchange,
    figures,
    first,
    fits,
    handbook,
    heat,
    labels,
    learning,
    machines,
    photos,
    prints,
    queue,
    records,
    rounds,
    runs,
    search,
    settings,
    sign_in,
    spools,
    stores,
    toolpaths,
    truing,
    visits,
)
from feedwright.web.render import Farms

LEAST_PACKED_BYTES = 1000
"""Shorter answers are sent as they are: packing gains nothing within one packet."""
OWN_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})


def create_app(
    farm_folder: Path,
    *,
    own_folder: Path | None = None,
    hosts: frozenset[str] = OWN_NAMES,
    any_address: bool = False,
    other_names: frozenset[str] = frozenset(),
    demo: DemoFarm | None = None,
) -> FastAPI:
    """The application on one farm's folder.

    ``own_folder`` is where the person's own farm may be begun, where ``farm_folder`` is the demo's; ``demo`` is the
    demo farm that may be shown in its stead. ``hosts`` are the names of this machine; ``other_names`` those under which
    only the network asks, such as a reverse proxy's; ``any_address`` opens it to whoever reaches the machine by its
    address.
    """
    app = FastAPI(title="Feedwright", version=__version__, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.farms = Farms(farm_folder, own_folder, demo)
    app.mount("/static", Assets(directory=FOLDER), name="static")
    for page in (
        bench, cases, machines, photos, visits, truing, calibration, prints, queue, runs, records, toolpaths, first,
        fits, heat, figures, learning, handbook, labels, search, settings, books, access, sign_in, stores, spools,
        rounds,
        arrivals, exchange, csv_in,
    ):  # fmt: skip
        app.router.routes.extend(page.router.routes)  # including routers would cost the first request half a second
    for part in (*description.ROUTERS, description.router):
        app.router.routes.extend(part.routes)
    app.state.api_description = description.description()
    errors.install(app)
    app.add_middleware(GZipMiddleware, minimum_size=LEAST_PACKED_BYTES, compresslevel=6)
    app.add_middleware(Gate, own_names=hosts)
    app.add_middleware(security.Guard, hosts=hosts | other_names, any_address=any_address)
    return app
