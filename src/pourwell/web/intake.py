"""Files that come in: one a request, straight onto the disk, no longer than may be, and never under a name that somebody sent."""

import asyncio
import tempfile
from pathlib import Path
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse

from pourwell.app.desk import Desk
from pourwell.app.desk_words import safe_name
from pourwell.errors import PourwellError

LIMIT_BYTES: Final = 256_000_000
"""Of one file: a binary STL of five million triangles, which is what the readers take."""
MOST_WAITING: Final = 100
"""Files that may wait to be checked."""
MARK: Final = "x-pourwell"
"""A header that a form of another page cannot send."""
MB: Final = 1_000_000


def intake(desk: Desk, *, limit_bytes: int = LIMIT_BYTES) -> APIRouter:
    """The way in for pattern files: PUT /incoming/pattern?name=FILE with the content as body."""
    router = APIRouter()

    @router.put("/incoming/pattern")
    async def put_pattern(request: Request, name: str) -> JSONResponse:
        """Keep a pattern file and have it checked."""
        if MARK not in request.headers:
            return _no(403, "This did not come from a page of the desk.")
        if (
            sum(job.about is not None and job.about[0] == "pattern" and not job.over.is_set() for job in desk.crew.jobs)
            >= MOST_WAITING
        ):
            return _no(429, f"{MOST_WAITING} files are waiting already. Drop this one when some are checked.")
        said = request.headers.get("content-length", "0")
        if said.isdigit() and int(said) > limit_bytes:
            return _no(413, _too_large(name, int(said), limit_bytes))
        with tempfile.TemporaryDirectory(prefix=".incoming-", dir=desk.folder) as folder:
            path = Path(folder) / "content"
            size = 0
            with path.open("wb") as file:
                async for chunk in request.stream():
                    size += len(chunk)
                    if size > limit_bytes:
                        return _no(413, _too_large(name, size, limit_bytes))
                    file.write(chunk)
            try:
                pattern = await asyncio.to_thread(desk.take_in, path, safe_name(name))
            except PourwellError as err:
                return _no(400, str(err))
        return JSONResponse({"pattern": pattern.id, "name": pattern.name})

    return router


def _no(status: int, why: str) -> JSONResponse:
    return JSONResponse({"why": why}, status_code=status)


def _too_large(name: str, size: int, limit_bytes: int) -> str:
    return (
        f"{safe_name(name)} is too large: {size / MB:,.0f} MB, and the limit is {limit_bytes / MB:,.0f} MB. "
        "Export it coarser: a tolerance of 0.01 mm is finer than any printer."
    )
