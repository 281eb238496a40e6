"""The web application: pages and the same content as JSON, for one farm on this machine."""

from pathlib import Path

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from feedwright import __version__
from feedwright.web import errors, security
from feedwright.web.pages import bench, books, catalogue, learning, machines, records, runs, toolpaths
from feedwright.web.render import HERE


def create_app(farm_folder: Path, *, hosts: tuple[str, ...] = ("127.0.0.1", "localhost")) -> FastAPI:
    """The application on one farm's folder; ``hosts`` are the names it answers to."""
    app = FastAPI(title="Feedwright", version=__version__, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.farm_folder = farm_folder
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")
    for page in (bench, machines, runs, records, toolpaths, learning, catalogue, books):
        app.include_router(page.router)
    errors.install(app)
    security.install(app, hosts)
    return app
