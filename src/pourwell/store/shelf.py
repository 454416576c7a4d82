"""Files named by what is in them: the same content lies there once, and a file that is there is whole."""

import hashlib
import os
import re
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final

from pourwell.errors import BadDataError, OutputError

DIGEST: Final = re.compile(r"[0-9a-f]{64}")
CHUNK_BYTES: Final = 1 << 20


class Shelf:
    """A folder of such files."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def path(self, digest: str) -> Path:
        """Where the content of a digest lies. Raises BadDataError for what is no digest."""
        if not DIGEST.fullmatch(digest):
            raise BadDataError("That is no name of a kept file.")
        return self.folder / digest[:2] / digest

    def put(self, content: bytes | Path) -> str:
        """Keep bytes, or a copy of a file; their digest. It is on the disk when this returns. Raises OutputError."""
        chunks = [content] if isinstance(content, bytes) else _chunks(content)
        try:
            return self._put(chunks)
        except OSError as err:
            raise OutputError(
                f"The studio folder {self.folder} cannot be written.",
                why=f"The system says: {err.strerror or err}.",
                try_this="Make room, or look at the rights of the folder.",
            ) from err

    def _put(self, chunks: Iterable[bytes]) -> str:
        mark = hashlib.sha256()
        handle, name = tempfile.mkstemp(prefix=".new-", dir=self.folder)
        beside = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                for chunk in chunks:
                    mark.update(chunk)
                    file.write(chunk)
                file.flush()
                os.fsync(file.fileno())
            place = self.path(mark.hexdigest())
            if not place.is_file():
                place.parent.mkdir(exist_ok=True)
                beside.replace(place)
                _settle(place.parent)
        finally:
            beside.unlink(missing_ok=True)
        return mark.hexdigest()

    def digests(self) -> Iterator[str]:
        """All that is kept."""
        for path in sorted(self.folder.glob("??/*")):
            if DIGEST.fullmatch(path.name):
                yield path.name

    def damaged(self) -> Iterator[str]:
        """Digests whose file no longer holds what it is called by."""
        for digest in self.digests():
            mark = hashlib.sha256()
            for chunk in _chunks(self.path(digest)):
                mark.update(chunk)
            if mark.hexdigest() != digest:
                yield digest

    def sweep(self, keep: Iterable[str]) -> int:
        """Remove what nobody speaks of any more, and what a fall left half written; how many files."""
        kept, gone = set(keep), 0
        for path in (*self.folder.glob(".new-*"), *(self.path(d) for d in self.digests() if d not in kept)):
            with suppress(OSError):
                path.unlink()
                gone += 1
        return gone


def _chunks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while chunk := file.read(CHUNK_BYTES):
            yield chunk


def _settle(folder: Path) -> None:
    """Have a folder's list of names on the disk, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
