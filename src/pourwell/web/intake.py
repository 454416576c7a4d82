"""Files that come in: one a request, straight onto the disk, no longer than may be, and never under a name that somebody sent."""

import asyncio
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.requests import ClientDisconnect

from pourwell.app.desk import Desk
from pourwell.app.desk_words import safe_name
from pourwell.errors import PourwellError

LIMIT_BYTES: Final = 256_000_000
"""Of one file: a binary STL of five million triangles, which is what the readers take."""
MOST_WAITING: Final = 100
"""Files that may wait to be checked."""
MOST_COMING: Final = 8
"""Files that may come in at once: a page sends one after the other, and nobody works on more pages."""
MARK: Final = "x-pourwell"
"""A header that a form of another page cannot send."""
MB: Final = 1_000_000


class Gate:
    """Counts who is inside, and lets in no more than may be."""

    def __init__(self, most: int) -> None:
        self.most, self.inside = most, 0
        self._lock = threading.Lock()

    @contextmanager
    def passing(self) -> Iterator[bool]:
        """Whether there is room; if so, a place is held until the end."""
        with self._lock:
            room = self.inside < self.most
            self.inside += room
        try:
            yield room
        finally:
            with self._lock:
                self.inside -= room


async def to_disk(request: Request, path: Path, *, limit_bytes: int) -> int:
    """Write what is sent into a file; how many bytes came, which are over the limit where the rest was not waited for.

    Raises ClientDisconnect if the sender went away before all of it was there.
    """
    size = 0
    with path.open("wb") as file:
        async for chunk in request.stream():
            size += len(chunk)
            if size > limit_bytes:
                break
            file.write(chunk)
    return size


def intake(desk: Desk, *, limit_bytes: int = LIMIT_BYTES) -> APIRouter:
    """The way in for pattern files: PUT /incoming/pattern?name=FILE with the content as body."""
    router = APIRouter()
    gate = Gate(MOST_COMING)

    @router.put("/incoming/pattern")
    async def put_pattern(request: Request, name: str) -> JSONResponse:
        """Keep a pattern file and have it checked."""
        if MARK not in request.headers:
            return no(403, "This did not come from a page of the desk.")
        waiting = sum(job.about is not None and job.about[0] == "pattern" and not job.over.is_set() for job in desk.crew.jobs)
        if waiting + gate.inside >= MOST_WAITING:
            return no(429, f"{MOST_WAITING} files are waiting already. Drop this one when some are checked.")
        said = request.headers.get("content-length", "0")
        if said.isdigit() and int(said) > limit_bytes:
            return no(413, _too_large(name, int(said), limit_bytes))
        with gate.passing() as room:
            if not room:
                return no(429, f"{MOST_COMING} files are coming in already. Drop this one when some are there.")
            return await _take(desk, request, name, limit_bytes=limit_bytes)

    return router


async def _take(desk: Desk, request: Request, name: str, *, limit_bytes: int) -> JSONResponse:
    with tempfile.TemporaryDirectory(prefix=".incoming-", dir=desk.folder) as folder:
        path = Path(folder) / "content"
        try:
            size = await to_disk(request, path, limit_bytes=limit_bytes)
            if size > limit_bytes:
                return no(413, _too_large(name, size, limit_bytes))
            pattern = await asyncio.to_thread(desk.take_in, path, safe_name(name))
        except ClientDisconnect:
            return no(400, GONE)
        except PourwellError as err:
            return no(400, str(err))
    return JSONResponse({"pattern": pattern.id, "name": pattern.name})


GONE: Final = "It did not come whole."
"""Said to nobody: a page was closed while it sent a file."""


def no(status: int, why: str) -> JSONResponse:
    """A refusal, as the page reads it."""
    return JSONResponse({"why": why}, status_code=status)


def _too_large(name: str, size: int, limit_bytes: int) -> str:
    return (
        f"{safe_name(name)} is too large: {size / MB:,.0f} MB, and the limit is {limit_bytes / MB:,.0f} MB. "
        "Export it coarser: a tolerance of 0.01 mm is finer than any printer."
    )
