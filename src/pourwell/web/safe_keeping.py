"""The back-up by URL: GET makes it while the studio is in use, PUT takes one in into a new folder beside."""

import asyncio
import shutil
import tempfile
from pathlib import Path
from typing import Final

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import FileResponse, JSONResponse, Response
from starlette.background import BackgroundTask
from starlette.requests import ClientDisconnect

from pourwell.app.desk import Desk
from pourwell.app.safe_keeping import file_name, take_in
from pourwell.errors import PourwellError
from pourwell.store.back_up import back_up
from pourwell.web.intake import GONE, MARK, MB, Gate, no, to_disk

LIMIT_BYTES: Final = 20_000_000_000
"""Of a back-up: years of patterns and results."""


def safe_keeping(desk: Desk) -> APIRouter:
    """GET /back-up, PUT /incoming/back-up."""
    router = APIRouter()
    making, coming = Gate(1), Gate(1)

    @router.get("/back-up")
    def get_back_up(request: Request) -> Response:
        """The whole studio as one file. It is work, so only a page of the desk, or a typed address, may ask for it."""
        if not _asked_here(request):
            raise HTTPException(403, "This did not come from a page of the desk.")
        with making.passing() as room:
            if not room:
                raise HTTPException(429, "A back-up is being made already. Ask again when it is there.")
            return made()

    def made() -> Response:
        folder = Path(tempfile.mkdtemp(prefix=".back-up-", dir=desk.folder))
        try:
            name = file_name(desk.choices().studio, desk.clock())
            back_up(desk.store, folder / name)
        except PourwellError as err:
            shutil.rmtree(folder, ignore_errors=True)
            raise HTTPException(507, str(err)) from err
        done = BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
        how = {"cache-control": "no-store"}
        return FileResponse(folder / name, media_type="application/zip", filename=name, headers=how, background=done)

    @router.put("/incoming/back-up")
    async def put_back_up(request: Request, name: str) -> JSONResponse:
        """Take a back-up in. The name of the file is told in refusals and used for nothing else."""
        if MARK not in request.headers:
            return no(403, "This did not come from a page of the desk.")
        with coming.passing() as room:
            if not room:
                return no(429, "A back-up is coming in already. Bring this one in when it is there.")
            return await _take(desk, request)

    return router


def _asked_here(request: Request) -> bool:
    """Did a page of ours ask, or no page: a browser says by itself which page it asks for (W3C Fetch Metadata)."""
    origin = request.headers.get("origin")
    own = origin is None or origin.partition("://")[2].lower() == request.headers.get("host", "").lower()
    return own and request.headers.get("sec-fetch-site", "none") in ("same-origin", "none")


async def _take(desk: Desk, request: Request) -> JSONResponse:
    with tempfile.TemporaryDirectory(prefix=".incoming-", dir=desk.folder) as folder:
        path = Path(folder) / "The file"
        try:
            if await to_disk(request, path, limit_bytes=LIMIT_BYTES) > LIMIT_BYTES:
                return no(413, f"It is larger than {LIMIT_BYTES / MB:,.0f} MB, which no back-up is.")
            taken = await asyncio.to_thread(take_in, path, desk.folder, desk.clock())
        except ClientDisconnect:
            return no(400, GONE)
        except PourwellError as err:
            return no(400, str(err))
    return JSONResponse(
        {
            "folder": str(taken.folder),
            "files": taken.files_count,
            "patterns": taken.patterns_count,
            "runs": taken.runs_count,
            "doubt": taken.doubt,
        }
    )
