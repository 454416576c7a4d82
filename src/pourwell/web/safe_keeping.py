"""The back-up by URL: GET makes it while the studio is in use, PUT takes one in into a new folder beside."""

import asyncio
import shutil
import tempfile
from pathlib import Path
from typing import Final

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import FileResponse, JSONResponse, Response
from starlette.background import BackgroundTask

from pourwell.app.desk import Desk
from pourwell.app.safe_keeping import file_name, take_in
from pourwell.errors import PourwellError
from pourwell.store.back_up import back_up
from pourwell.web.intake import MARK, MB

LIMIT_BYTES: Final = 20_000_000_000
"""Of a back-up: years of patterns and results."""


def safe_keeping(desk: Desk) -> APIRouter:
    """GET /back-up, PUT /incoming/back-up."""
    router = APIRouter()

    @router.get("/back-up")
    def get_back_up() -> Response:
        """The whole studio as one file."""
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
            return _no(403, "This did not come from a page of the desk.")
        with tempfile.TemporaryDirectory(prefix=".incoming-", dir=desk.folder) as folder:
            path = Path(folder) / "The file"
            size = 0
            with path.open("wb") as file:
                async for chunk in request.stream():
                    size += len(chunk)
                    if size > LIMIT_BYTES:
                        return _no(413, f"It is larger than {LIMIT_BYTES / MB:,.0f} MB, which no back-up is.")
                    file.write(chunk)
            try:
                made = await asyncio.to_thread(take_in, path, desk.folder, desk.clock())
            except PourwellError as err:
                return _no(400, str(err))
        return JSONResponse(
            {
                "folder": str(made.folder),
                "files": made.files_count,
                "patterns": made.patterns_count,
                "runs": made.runs_count,
                "doubt": made.doubt,
            }
        )

    return router


def _no(status: int, why: str) -> JSONResponse:
    return JSONResponse({"why": why}, status_code=status)
