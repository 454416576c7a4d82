"""Logs that come in, into memory and nowhere else; and the pictures of what they told."""

from typing import Final

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse, Response
from starlette.requests import ClientDisconnect

from pourwell.app.desk import Desk
from pourwell.app.desk_words import safe_name
from pourwell.app.measuring import HeldLog
from pourwell.errors import PourwellError
from pourwell.files.log_table import MOST_BYTES
from pourwell.web.intake import GONE, MARK, MB, Gate, no
from pourwell.web.kept import KINDS, NOT_KEPT

MOST_COMING: Final = 2
"""Logs that may come in at once: they are held in memory meanwhile."""


def logs(desk: Desk, *, limit_bytes: int = MOST_BYTES) -> APIRouter:
    """PUT /incoming/log?name=FILE with the content as body, GET /log/KEY/NUMBER/NAME for a picture."""
    router = APIRouter()
    gate = Gate(MOST_COMING)

    @router.put("/incoming/log")
    async def put_log(request: Request, name: str) -> JSONResponse:
        """Hold a log."""
        if MARK not in request.headers:
            return no(403, "This did not come from a page of the desk.")
        with gate.passing() as room:
            if not room:
                return no(429, f"{MOST_COMING} logs are coming in already. Drop this one when they are there.")
            return await _take(desk, request, safe_name(name, without="log"), limit_bytes=limit_bytes)

    @router.get("/log/{key}/{number}/{name}")
    def get_picture(key: str, number: int, name: str) -> Response:
        """A picture of what a log told, as a file to load down."""
        log = desk.measuring.get(key)
        if log is None or log.told is None or log.told.number != number or name not in log.told.files:
            raise HTTPException(404, "There is no such file.")
        how = NOT_KEPT | {"content-disposition": f'attachment; filename="{name}"'}
        return Response(log.told.files[name], media_type=KINDS[name.rpartition(".")[2]], headers=how)

    return router


async def _take(desk: Desk, request: Request, name: str, *, limit_bytes: int) -> JSONResponse:
    said = request.headers.get("content-length", "0")
    too_large = f"{name} is too large to be a log: the limit is {limit_bytes / MB:,.0f} MB. Export one firing alone."
    if said.isdigit() and int(said) > limit_bytes:
        return no(413, too_large)
    content = bytearray()
    try:
        async for chunk in request.stream():
            content += chunk
            if len(content) > limit_bytes:
                return no(413, too_large)
        log = desk.measuring.take_in(bytes(content), name)
    except ClientDisconnect:
        return no(400, GONE)
    except PourwellError as err:
        return no(400, str(err))
    return JSONResponse({"log": log.key, "name": log.file})


def picture_link(log: HeldLog, name: str) -> str:
    """The URL of a picture of what a log told."""
    return f"/log/{log.key}/{log.told.number if log.told else 0}/{name}"
