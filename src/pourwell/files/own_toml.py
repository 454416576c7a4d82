"""The user's own TOML files, changed at one key: comments and order stay, and nothing that somebody else changed meanwhile is lost.

The file on the disk is the only truth. A change is put into the file as it stands now, not as it stood when a page was drawn. Only
where the key itself was changed outside is it refused, and says what stands there now.
"""

import os
import tomllib
from collections.abc import Callable, Mapping, Sequence
from enum import Enum
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.items import AoT, InlineTable, Item, Table

from pourwell.errors import BadDataError, OutputError, PourwellError
from pourwell.files.one_file import free_name, settle, write_file
from pourwell.materials.reading import parse

Key = tuple[str | int, ...]
"""The way to a value: names of tables and keys, places in lists."""
Check = Callable[[dict[str, Any]], None]
"""Raises PourwellError for a table that may not stand in the file."""
BOM: Final = b"\xef\xbb\xbf"
TRIES: Final = 5
"""So often a change begins anew because the file was changed in the very moment."""
REMOVED: Final = ".removed"
"""Folder of what was taken away: for Undo, and for whoever wants it back later."""


class Absent(Enum):
    """No value: the key is not in the file, or is to be taken out of it."""

    ABSENT = "absent"

    def __repr__(self) -> str:
        return "ABSENT"


ABSENT: Final = Absent.ABSENT


class ChangedOutsideError(PourwellError):
    """The key was changed by another hand since it was read; `now` is what stands there."""

    def __init__(self, key: Key, now: Any) -> None:
        self.now = now
        said = "it is not in the file any more" if now is ABSENT else f"the file says {_said(now)} now"
        super().__init__(f"It was changed elsewhere meanwhile: {said}.", try_this="Enter yours again to put it in its place.")


def read_bytes(path: Path) -> bytes:
    """What is in a file, empty if there is none. Raises BadDataError."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return b""
    except OSError as err:
        raise BadDataError(f"{path} cannot be read.", why=f"{err.strerror}.") from err


def table_of(path: Path) -> dict[str, Any]:
    """The table in a file, empty if there is none. Raises BadDataError."""
    return parse(read_bytes(path), str(path))


def value_at(table: Any, key: Key) -> Any:
    """What stands at a key, or ABSENT."""
    for part in key:
        try:
            table = table[part]
        except (KeyError, IndexError, TypeError):
            return ABSENT
    return table


def change(path: Path, changes: Mapping[Key, Any], *, was: Mapping[Key, Any] | None = None, check: Check | None = None) -> None:
    """Set keys of a file, or take them out (ABSENT), all or none. It is on the disk when this returns.

    Parameters
    ----------
    was : what stood at these keys when they were read; a key that is not named is not held against the file
    check : is asked about the whole table before anything is written

    Raises ChangedOutsideError, BadDataError for a file that is no TOML, OutputError, and what `check` raises.
    """

    def edit(document: tomlkit.TOMLDocument, now: dict[str, Any]) -> None:
        for key, to in changes.items():
            there = value_at(now, key)
            if key in (was or {}) and not _same(there, (was or {})[key]) and not _same(there, to):
                raise ChangedOutsideError(key, there)
        for key, to in changes.items():
            if not _same(value_at(now, key), to):
                _put(document, key, to)

    rewrite(path, edit, check=check)


def rewrite(path: Path, edit: Callable[[tomlkit.TOMLDocument, dict[str, Any]], None], *, check: Check | None = None) -> None:
    """Change a file by a function of its document and its plain table, as they stand now. Raises as `change`."""
    place = Path(os.path.realpath(path))  # a link stays one
    for _ in range(TRIES):
        before = read_bytes(place)
        now = parse(before, str(path))
        document = tomlkit.parse(before.removeprefix(BOM).decode("utf-8"))
        edit(document, now)
        after = _as_before(tomlkit.dumps(document), before)
        if after == before:
            return
        if check is not None:
            check(tomllib.loads(after.removeprefix(BOM).decode("utf-8")))
        if read_bytes(place) == before:
            write_file(place, after, replace=True, mode=_mode(place))
            return
    raise OutputError(f"{path} is being changed by another program all the time.", try_this="Close it there, then try again.")


def add_to_list(path: Path, key: Key, entry: Mapping[str, Any], *, place: int | None = None, check: Check | None = None) -> None:
    """Add a table to the list of tables at a key (`[[kilns]]`), at its end or at a place. Raises as `change`."""

    def edit(document: tomlkit.TOMLDocument, now: dict[str, Any]) -> None:
        there = value_at(now, key)
        if there is ABSENT or not isinstance(there, list):
            whole = tomlkit.aot()
            whole.append(_table(entry))
            _put(document, key, whole)
            return
        target: Any = value_at(document, key)
        made: Any = entry if not isinstance(entry, Mapping) else _inline(entry)
        if isinstance(target, AoT):
            made = _table(entry)
            made.trivia.indent = "\n"  # a free line before its heading
        target.insert(len(target) if place is None else min(place, len(target)), made)

    rewrite(path, edit, check=check)


def put_list(path: Path, key: Key, entries: Sequence[Mapping[str, Any]], *, check: Check | None = None) -> None:
    """Write a list of tables (`[[steps]]`) at a key where nothing stands yet; else ChangedOutsideError. Raises as `change`."""

    def edit(document: tomlkit.TOMLDocument, now: dict[str, Any]) -> None:
        there = value_at(now, key)
        if there is not ABSENT:
            raise ChangedOutsideError(key, there)
        whole = tomlkit.aot()
        for entry in entries:
            whole.append(_table(entry))
        _put(document, key, whole)

    rewrite(path, edit, check=check)


def set_aside(path: Path, folder: Path) -> Path:
    """Take a file out of the studio folder into its `.removed`; where it lies now. Raises OutputError."""
    try:
        box = folder / REMOVED / path.parent.name
        box.mkdir(parents=True, exist_ok=True)
        there = free_name(box / path.name)
        path.rename(there)
        settle(path.parent)
    except OSError as err:
        raise OutputError(f"{path} cannot be removed.", why=f"The system says: {err.strerror or err}.") from err
    return there


def bring_back(there: Path, path: Path) -> None:
    """Undo `set_aside`. Raises OutputError, also if another file has taken the place."""
    if path.exists():
        raise OutputError(f"{path.name} is there again, so the removed one stays in {there.parent}.")
    try:
        there.rename(path)
        settle(path.parent)
    except OSError as err:
        raise OutputError(f"{path} cannot be brought back.", why=f"The system says: {err.strerror or err}.") from err


def _put(document: tomlkit.TOMLDocument, key: Key, to: Any) -> None:
    """Set or take out one key; tables on the way are made where they are missing."""
    table: Any = document
    for part in key[:-1]:
        if isinstance(part, str) and part not in table:
            if to is ABSENT:
                return
            table[part] = tomlkit.inline_table() if isinstance(table, InlineTable) else tomlkit.table()
        table = table[part]
    last: Any = key[-1]
    if to is ABSENT:
        del table[last]
        return
    there = value_at(table, (last,))
    made = to if isinstance(to, Item) else _item(to)
    if isinstance(there, Item) and not isinstance(there, Table | AoT) and not isinstance(made, Table | AoT):
        made.trivia.indent, made.trivia.comment_ws = there.trivia.indent, there.trivia.comment_ws
        made.trivia.comment, made.trivia.trail = there.trivia.comment, there.trivia.trail
    table[last] = made


def _item(value: Any) -> Item:
    """A value as it is written in line: a table in braces, not under a heading of its own."""
    if isinstance(value, Mapping):
        return _inline(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:  # 896, as a person writes it
        value = int(value)
    made: Item = tomlkit.item(value)
    return made


def _inline(entry: Mapping[str, Any]) -> InlineTable:
    made = tomlkit.inline_table()
    for name, value in entry.items():
        made[name] = _item(value)
    return made


def _table(entry: Mapping[str, Any]) -> Table:
    made = tomlkit.table()
    for name, value in entry.items():
        made[name] = value if isinstance(value, Item) else _item(value)
    return made


def _as_before(text: str, before: bytes) -> bytes:
    """The text with the line ends and the mark at its beginning that the file had."""
    if b"\r\n" in before:
        text = text.replace("\r\n", "\n").replace("\n", "\r\n")
    return (BOM if before.startswith(BOM) else b"") + text.encode("utf-8")


def _mode(path: Path) -> int:
    try:
        return path.stat().st_mode & 0o777
    except OSError:
        return 0o644


def _same(a: Any, b: Any) -> bool:
    """Equal as TOML: true is not 1, but 1 is 1.0."""
    if isinstance(a, bool) != isinstance(b, bool):
        return False
    return bool(a == b)


def _said(value: Any) -> str:
    """A value in a sentence."""
    if isinstance(value, Mapping):
        return str(value.get("value", value.get("text", "something else")))
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_said(one) for one in value)
    return f'"{value}"' if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value).lower()
