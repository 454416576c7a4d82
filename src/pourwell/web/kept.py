"""Files of results by URL: pictures, arrays for the viewer, sheets.

A browser keeps them for ever, and the number of a result means another one in another studio, or after a restore. So a part of
the digest of what is in the file stands in its URL: under one URL there is only ever one content.
"""

from typing import Final

from fastapi import APIRouter, HTTPException
from fastapi.responses import FileResponse, Response

from pourwell.app.desk import Desk
from pourwell.app.desk_days import Placing
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
MARK_DIGITS: Final = 16
"""Of the digest, in a URL: two files that share them are not met with."""
NOT_KEPT: Final = {"cache-control": "no-store"}


def kept(desk: Desk) -> APIRouter:
    """The way to kept files: GET /kept/RESULT/MARK/NAME."""
    router = APIRouter()

    @router.get("/kept/{result_id}/{mark}/{name}")
    def get_file(result_id: int, mark: str, name: str) -> Response:
        """One file of a result, if it is the one that is asked for."""
        try:
            digest = desk.store.result(result_id).files[name]
            path = desk.store.shelf.path(digest)
        except (PourwellError, KeyError, OverflowError):
            raise HTTPException(404, "There is no such file.") from None
        if mark != digest[:MARK_DIGITS] or not path.is_file():
            raise HTTPException(404, "There is no such file.")
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

    @router.get("/days/{number}/{name}")
    def get_days(number: int, name: str) -> Response:
        """The sheet or the calendar of the days ahead."""
        try:
            content = desk.days.get(number).files[name]
        except (PourwellError, KeyError):
            raise HTTPException(404, "There is no such file.") from None
        return Response(content, media_type=KINDS.get(name.rpartition(".")[2], KINDS["bin"]), headers=NOT_KEPT)

    return router


def days_link(placing: Placing, name: str) -> str:
    """The URL of a file of the days ahead."""
    return f"/days/{placing.number}/{name}"


def draft_link(draft: Draft, name: str) -> str:
    """The URL of a file of a draft."""
    return f"/draft/{draft.number}/{name}"


def link(result: KeptResult, name: str) -> str:
    """The URL of a file of a result. Of a file that the result does not hold it leads nowhere."""
    return f"/kept/{result.id}/{result.files.get(name, 'none')[:MARK_DIGITS]}/{name}"
