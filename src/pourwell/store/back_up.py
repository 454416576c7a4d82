"""A studio as one file, and a studio from such a file."""

import hashlib
import json
import lzma
import shutil
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing, suppress
from functools import partial
from pathlib import Path, PurePosixPath
from typing import IO, Any, Final

from sqlalchemy.exc import SQLAlchemyError

from pourwell.errors import BadDataError, BadFileError, OutputError, shown
from pourwell.store.shelf import DIGEST
from pourwell.store.store import DATABASE, SHELF, Store

LIST: Final = "pourwell-back-up.json"
SCHEMA: Final = "pourwell.back-up"
SCHEMA_VERSION: Final = 1
CHUNK_BYTES: Final = 1 << 20
GB: Final = 1_000_000_000
LONGEST_LIST_BYTES: Final = 100_000_000
"""A line of it takes 150: so much is for more files than a studio makes in a life."""
DAMAGE: Final = (zipfile.BadZipFile, EOFError, zlib.error, lzma.LZMAError, struct.error, RuntimeError)
"""What reading a damaged file raises; the last also for a packing that is not known, or a password."""
OWN: Final = (".toml",)
"""Endings of what the user wrote in the studio folder: equipment, materials, prices."""
STEERS: Final = frozenset('<>:"|?*\\')
"""What no part of a name holds: on one system or another it names a drive, a stream or a way."""


def back_up(store: Store, out: Path, *, replace: bool = False) -> int:
    """Write the whole studio folder into one file while it is in use; how many files are in it. Raises OutputError.

    The database is copied by its own means, so the copy is of one moment; the files that it names are never changed, so they may be
    copied after it. What the user wrote may change meanwhile: each is read once. The finished file is read again and held against
    its own list before it takes its name: one that cannot be restored is told now, not when it is needed.
    """
    if out.is_dir() or (out.exists() and not replace):
        raise OutputError(f"{out} exists already.", try_this="Name another file.")
    out.parent.mkdir(parents=True, exist_ok=True)
    try:
        with tempfile.TemporaryDirectory(prefix=".pourwell-", dir=out.parent) as name:
            copy, fresh = Path(name) / DATABASE, Path(name) / "back-up.zip"
            _copy_database(store.folder / DATABASE, copy)
            count = _pack(store, copy, fresh)
            _hold_against_list(fresh)
            fresh.replace(out)
    except OSError as err:
        raise OutputError(f"{out} cannot be written.", why=f"The system says: {err.strerror or err}.") from err
    return count


def _copy_database(path: Path, copy: Path) -> None:
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")


def _pack(store: Store, copy: Path, fresh: Path) -> int:
    files: dict[str, Path] = {DATABASE: copy}
    files |= {f"{SHELF}/{path.parent.name}/{path.name}": path for path in map(store.shelf.path, _named(copy))}
    own = dict(_own(store.folder))
    strange = [name for name in own if not may_hold(name)]
    if strange:
        raise OutputError(
            f"{shown(strange[0])} cannot be backed up: not every system can have a file of this name.",
            try_this="Give it a name of letters, figures and hyphens, or move it out of the studio folder.",
        )
    listed = {name: _digest(path) for name, path in files.items()}
    listed |= {name: hashlib.sha256(content).hexdigest() for name, content in own.items()}
    how: Any = {"compression": zipfile.ZIP_DEFLATED, "compresslevel": 1, "strict_timestamps": False}
    with zipfile.ZipFile(fresh, "w", **how) as box:
        box.writestr(LIST, json.dumps({"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": listed}, indent=1))
        for name, path in files.items():
            box.write(path, name)
        for name, content in own.items():
            box.writestr(name, content)
    return len(listed)


def _hold_against_list(fresh: Path) -> None:
    """Read a finished back-up as a restore would. Raises OutputError."""
    try:
        with zipfile.ZipFile(fresh) as box:
            other = [name for name, digest in _listed(box, fresh).items() if _digest_in(box, name) != digest]
        why = f"{', '.join(other)} in it is not what it was." if other else ""
    except (BadFileError, KeyError, *DAMAGE) as err:
        why = f"It says: {err}"
    if why:
        raise OutputError(
            "The back-up could not be made: what was written cannot be read back whole.",
            why=why,
            try_this="Make it once more. If it happens again, the disk may be failing: save to another one.",
        )


def _digest_in(box: zipfile.ZipFile, name: str) -> str:
    with box.open(name) as source:
        return _digest_of(source)


def _named(database: Path) -> list[str]:
    """The digests that a copy of the database names: those of its moment, not of now."""
    with closing(sqlite3.connect(database)) as copy:
        return [row[0] for row in copy.execute("SELECT digest FROM pattern UNION SELECT digest FROM result_file")]


def _own(folder: Path) -> Iterator[tuple[str, bytes]]:
    """What the user wrote, by name, each read once. A file that is taken away meanwhile is not in it."""
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path.suffix in OWN and SHELF not in path.relative_to(folder).parts:
            with suppress(FileNotFoundError):
                yield path.relative_to(folder).as_posix(), path.read_bytes()


def restore(file: Path, folder: Path) -> int:
    """Make a studio folder from a back-up, whole or not at all; how many files came. Raises BadFileError, OutputError.

    An existing folder is never written into. Every file is held against the list before the folder takes its name.
    """
    if not file.is_file():
        raise BadFileError(f"There is no file {file}.", try_this="Look how the back-up is called, and where it lies.")
    if folder.exists() and any(folder.iterdir()):
        raise OutputError(f"The folder {folder} is not empty.", try_this="Name a new folder, then set POURWELL_STUDIO to it.")
    try:
        with zipfile.ZipFile(file) as box:
            listed = _listed(box, file)
            _has_room(box, folder)
            folder.parent.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".pourwell-", dir=folder.parent) as name:
                fresh = Path(name) / "studio"
                for inner, digest in listed.items():
                    _unpack(box, inner, fresh / inner, digest=digest, file=file)
                _open(fresh, file)  # a back-up of an older form is brought up here, before it can be missed
                if folder.exists():
                    folder.rmdir()
                fresh.replace(folder)
    except DAMAGE as err:
        raise BadFileError(
            f"{file.name} is no back-up, or is damaged.", why=f"It says: {err}.", try_this="Take another copy, or an older one."
        ) from err
    except OSError as err:
        raise OutputError(f"{folder} cannot be written.", why=f"The system says: {err.strerror or err}.") from err
    return len(listed)


def _has_room(box: zipfile.ZipFile, folder: Path) -> None:
    """Refuse before anything is written what would fill the disk. Raises OutputError."""
    needed = sum(part.file_size for part in box.infolist())
    there = next(parent for parent in folder.absolute().parents if parent.exists())
    free = shutil.disk_usage(there).free
    if needed > free:
        raise OutputError(
            f"There is no room for it: it unpacks to {needed / GB:,.1f} GB, and {free / GB:,.1f} GB are free.",
            try_this="Make room, or restore it on another disk.",
        )


def _listed(box: zipfile.ZipFile, file: Path) -> Mapping[str, str]:
    """The files that a back-up says it holds, by name, with their digests."""
    try:
        if box.getinfo(LIST).file_size > LONGEST_LIST_BYTES:
            raise BadFileError(f"{file.name} holds what no back-up holds.", why="Its list of files has no end.")
        with box.open(LIST) as source:  # in parts: read as a whole, a size that is a lie would be unpacked before it is seen
            said: Any = json.loads(b"".join(iter(partial(source.read, CHUNK_BYTES), b"")))
        listed = dict(said["files"])
        known = said["schema"] == SCHEMA and said["schema_version"] == SCHEMA_VERSION
    except (KeyError, ValueError, TypeError) as err:
        raise BadFileError(f"{file.name} is no back-up of Pourwell.") from err
    if not known:
        raise BadFileError(f"{file.name} was written by another version.", try_this="Restore it with that version.")
    if DATABASE not in listed or not all(may_hold(name) and isinstance(digest, str) for name, digest in listed.items()):
        raise BadFileError(f"{file.name} holds what no back-up holds.", why="It was not written by Pourwell.")
    return listed


def may_hold(name: object) -> bool:
    """May a back-up hold a file of this name: the database, a kept file, or what the user wrote, plainly named on any system."""
    if not isinstance(name, str):
        return False
    parts = name.split("/")
    if any(not part or part[-1] in ". " or not part.isprintable() or STEERS & set(part) for part in parts):
        return False
    if parts[0] == SHELF:
        return len(parts) == 3 and DIGEST.fullmatch(parts[2]) is not None and parts[1] == parts[2][:2]
    return name == DATABASE or (SHELF not in parts and PurePosixPath(name).suffix in OWN)


def _open(folder: Path, file: Path) -> None:
    """Open a restored studio once, and read what it lists. Raises BadFileError."""
    try:
        with closing(Store(folder)) as store:
            store.patterns(), store.runs()
    except (BadDataError, SQLAlchemyError, ValueError) as err:
        raise BadFileError(
            f"{file.name} holds no studio that can be opened here.",
            why=err.why if isinstance(err, BadDataError) else "Its database holds something else.",
            try_this="Take another copy, or an older one. One that a newer Pourwell wrote wants that version.",
        ) from err


def _unpack(box: zipfile.ZipFile, name: str, place: Path, *, digest: str, file: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    try:
        with box.open(name) as source, place.open("wb") as target:
            while chunk := source.read(CHUNK_BYTES):
                target.write(chunk)
    except KeyError as err:
        raise BadFileError(f"{file.name} is damaged.", why=f"{name} is missing in it.") from err
    if _digest(place) != digest:
        raise BadFileError(f"{file.name} is damaged.", why=f"{name} in it is not what it was.")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return _digest_of(file)


def _digest_of(file: IO[bytes]) -> str:
    mark = hashlib.sha256()
    while chunk := file.read(CHUNK_BYTES):
        mark.update(chunk)
    return mark.hexdigest()
