"""Files of results by URL: pictures, arrays for the viewer, sheets. What lies under a result's number never changes."""

from typing import Final

from fastapi import APIRouter, HTTPException
from fastapi.responses import FileResponse, Response

from pourwell.app.desk import Desk
from pourwell.app.desk_drafts import Draft
from pourwell.errors import PourwellError
from pourwell.store.model import KeptResult

KINDS: Final = {
    "png": "image/png",
    "bin": "application/octet-stream",
    "json": "application/json",
    "pdf": "application/pdf",
    "ics": "text/calendar; charset=utf-8",
    "glb": "model/gltf-binary",
    "stl": "model/stl",
    "svg": "image/svg+xml",
}
SHOWN: Final = frozenset({"png", "bin", "json", "pdf"})
"""What a browser shows by itself; the rest is saved."""
FOREVER: Final = {"cache-control": "private, max-age=31536000, immutable"}
NOT_KEPT: Final = {"cache-control": "no-store"}


def kept(desk: Desk) -> APIRouter:
    """The way to kept files: GET /kept/RESULT/NAME."""
    router = APIRouter()

    @router.get("/kept/{result_id}/{name}")
    def get_file(result_id: int, name: str) -> Response:
        """One file of a result."""
        try:
            digest = desk.store.result(result_id).files[name]
            path = desk.store.shelf.path(digest)
        except (PourwellError, KeyError, OverflowError):
            raise HTTPException(404, "There is no such file.") from None
        ending = name.rpartition(".")[2]
        how = {} if ending in SHOWN else {"content-disposition": f'attachment; filename="{digest[:8]}.{ending}"'}
        return FileResponse(path, media_type=KINDS.get(ending, "application/octet-stream"), headers=FOREVER | how)

    @router.get("/draft/{number}/{name}")
    def get_draft(number: int, name: str) -> Response:
        """One file of a pattern that is not kept yet."""
        try:
            content = desk.drafts.get(number).files[name]
        except (PourwellError, KeyError):
            raise HTTPException(404, "There is no such file.") from None
        return Response(content, media_type=KINDS.get(name.rpartition(".")[2], KINDS["bin"]), headers=NOT_KEPT)

    return router


def draft_link(draft: Draft, name: str) -> str:
    """The URL of a file of a draft."""
    return f"/draft/{draft.number}/{name}"


def link(result: KeptResult, name: str) -> str:
    """The URL of a file of a result."""
    return f"/kept/{result.id}/{name}"
