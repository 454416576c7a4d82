"""One file that is written whole or not at all."""

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from itertools import chain, count
from pathlib import Path

from pourwell.errors import OutputError


def check_new(path: Path, *, replace: bool = False) -> None:
    """Raise OutputError if a file would be replaced that must not be, or its place is a folder."""
    if path.is_dir():
        raise OutputError(f"{path} is a folder, not a file.", try_this="Name a file with --out.")
    if path.exists() and not replace:
        raise OutputError(f"{path} exists already.", try_this="Name another with --out, or add --replace.")


def write_file(path: Path, content: bytes, *, replace: bool = False, mode: int = 0o644) -> None:
    """Write a file beside its place and move it there in one step; nothing is left behind if that fails.

    It is on the disk when this returns. Raises OutputError if the file exists and `replace` is not set, or cannot be written.
    """
    check_new(path, replace=replace)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(prefix=".pourwell-", suffix=path.suffix.lower(), dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(beside).chmod(mode)
            Path(beside).replace(path)
            settle(path.parent)
        finally:
            Path(beside).unlink(missing_ok=True)
    except OSError as err:
        raise OutputError(f"{path} cannot be written.", why=f"The system says: {err.strerror or err}.") from err


def settle(folder: Path) -> None:
    """Have the names in a folder on the disk too, where the system can do that."""
    with suppress(OSError, AttributeError):  # Windows opens no folder, and needs none of it
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def write_beside(folder: Path, contents: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write new files into a folder, all of them or none; a name that is taken gets a number. Their paths, in order.

    Nothing that is there is touched. Raises OutputError if one cannot be written.
    """
    done: list[Path] = []
    try:
        for name, content in contents.items():
            path = free_name(folder / name)
            write_file(path, content)
            done.append(path)
    except BaseException:
        for path in done:
            path.unlink(missing_ok=True)
        raise
    return tuple(done)


def free_name(path: Path) -> Path:
    """The path, or the first with a number behind its name that nothing has."""
    numbered = (path.with_name(f"{path.stem}-{n}{path.suffix}") for n in count(2))
    return next(there for there in chain([path], numbered) if not there.exists())
