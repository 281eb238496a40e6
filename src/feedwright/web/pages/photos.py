"""The photos themselves, and the worker that keeps the pages of visits for when the connection is lost."""

from fastapi import APIRouter, UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from feedwright.farm.parts.photos import LONGEST_BYTES, photo_file
from feedwright.web.render import HERE, farm

router = APIRouter()


@router.get("/photos/{number}.jpg")
def photo(request: Request, number: int) -> Response:
    """One photo; its content never changes."""
    with farm(request) as store:
        _, path = photo_file(store, number)
    kept = {"Cache-Control": "private, max-age=86400"}
    return FileResponse(path, media_type="image/jpeg", headers=kept)


@router.get("/visits/worker.js")
def worker() -> Response:
    """The service worker of visits: served from there, so that its reach ends there (W3C Service Workers, 3.4.1)."""
    path = HERE / "static" / "visit_worker.js"
    return FileResponse(path, media_type="text/javascript", headers={"Cache-Control": "no-cache"})


def photo_bytes(photo: UploadFile | None) -> bytes | None:
    """The bytes of a photo that was sent, no more of them than a photo may have, and one; None where none was."""
    return photo.file.read(LONGEST_BYTES + 1) or None if photo else None
