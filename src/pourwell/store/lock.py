"""One desk at a time on one studio folder. The system holds the lock and lets go of it when its process ends, however it ends."""

import json
import os
import sys
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from pourwell.errors import BadRequestError, OutputError

FILE: Final = ".desk.lock"
FAR: Final = 1 << 30
"""The byte that is locked: beyond what is written, so that a second desk can read who has it."""


class Hold:
    """The hold of one desk on its folder. A file of a desk that is gone is taken over: its lock went with it."""

    def __init__(self, folder: Path) -> None:
        """Take it. Raises BadRequestError if another desk has it, with its address; OutputError if the folder cannot be written."""
        folder.mkdir(parents=True, exist_ok=True)
        self.path = folder / FILE
        try:
            self.file = os.open(self.path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o600)
        except OSError as err:
            raise OutputError(f"The studio folder {folder} cannot be written.", why=f"The system says: {err.strerror}.") from err
        if not _locked(self.file):
            said = read(self.path)
            os.close(self.file)
            raise _taken(folder, said)
        self.tell("")

    def tell(self, address: str) -> None:
        """Write down who has it, and where its pages are."""
        text = json.dumps({"pid": os.getpid(), "address": address}).encode()
        os.ftruncate(self.file, 0)
        os.lseek(self.file, 0, os.SEEK_SET)
        os.write(self.file, text)

    def let_go(self) -> None:
        """End it."""
        with suppress(OSError):
            os.ftruncate(self.file, 0)
            os.close(self.file)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        self.let_go()


def read(path: Path) -> dict[str, Any]:
    """What the holder has written: its `pid` and `address`, as far as it has."""
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def _taken(folder: Path, said: dict[str, Any]) -> BadRequestError:
    address, pid = said.get("address"), said.get("pid")
    there = f"It is open at {address}" if address else "It is just being opened"
    process = f" (process {pid})" if pid else ""
    return BadRequestError(
        f"A desk is open on the studio folder {folder} already.",
        why=f"{there}{process}.",
        try_this="Use that one, or end it first: Ctrl-C in its window.",
    )


def _locked(file: int) -> bool:
    """Take the lock, if nobody has it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(file, FAR, os.SEEK_SET)
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
