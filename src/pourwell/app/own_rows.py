"""The rows of the library and the studio's own beside them: told value by value, copied, changed, removed.

A shipped row is never changed. A copy is a file of the studio's own folder, whole, with all values, sources and notes of the row
that it was made from; what is changed in it is the user's own from then on.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import tomlkit

from pourwell.app.asked import Asked, text_of, value_of
from pourwell.app.row_fields import groups
from pourwell.app.shop import melts_if_asked
from pourwell.app.typed import NotYetError
from pourwell.errors import BadDataError, BadRequestError
from pourwell.files.one_file import write_file
from pourwell.files.own_toml import ABSENT, Key, change, set_aside, table_of, value_at
from pourwell.materials.checks import row_faults
from pourwell.materials.library import SHELVES, Library, load_library, row_of, shipped_tables
from pourwell.materials.model import (
    OWN_CHOICE,
    OWN_ESTIMATE,
    PRACTICE_SOURCE,
    STUDIO_SOURCE,
    Alloy,
    FlaskRow,
    Grade,
    Investment,
    Quantity,
    Words,
)

TITLES: Final[Mapping[str, str]] = {
    "alloys": "Alloys",
    "investments": "Investments",
    "patterns": "Pattern materials",
    "flasks": "Flasks",
    "programmes": "Burnout programmes",
}
GRADES: Final[Mapping[Grade, str]] = {
    Grade.MEASURED: "measured, published",
    Grade.HANDBOOK: "handbook",
    Grade.SUPPLIER: "published by a supplier",
    Grade.PRACTICE: "common practice",
    Grade.MEMORY: "from memory",
    Grade.ESTIMATE: "estimate",
    Grade.CHOICE: "own choice",
}
OWN: Final = "own"
IMPOSSIBLE: Final = ("solidus_c", "melt_loss_fraction", "returns_limit_fraction", "hemihydrate_fraction")
"""Keys at which a fault cannot be true of any metal or powder: such a change is refused. Other faults are doubts, and told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A row, and whose it is."""

    shelf: str
    id: str
    row: Any
    path: Path | None
    """Its file in the studio's folder; None: shipped, or listed in studio.toml."""
    over_shipped: bool = False
    """The user's file changes a shipped row."""

    @property
    def own(self) -> bool:
        """May it be changed here."""
        return self.path is not None

    @property
    def name(self) -> str:
        """How it is called."""
        return str(getattr(self.row, "name", "") or self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One value of a row as a page tells it."""

    asked: Asked
    text: str
    """In the unit of `asked`."""
    low: str = ""
    high: str = ""
    grade: str = ""
    source: str = ""
    note: str = ""
    kept: Any = ABSENT
    """What the user's file says there."""


class OwnRows:
    """All rows of a studio as its files stand when this is made. Raises BadDataError for a file that does not say what it must."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.library: Library = load_library(folder, melts=melts_if_asked)

    def entries(self, shelf: str) -> list[Entry]:
        """The rows of a shelf: the user's own first."""
        rows: Mapping[str, Any] = getattr(self.library, shelf)
        own, shipped = own_paths(self.folder, shelf), shipped_tables(shelf)
        made = [Entry(shelf=shelf, id=key, row=row, path=own.get(key), over_shipped=key in shipped) for key, row in rows.items()]
        return sorted(made, key=lambda entry: (not entry.own, *(_size(entry.row) if shelf == "flasks" else ())))

    def entry(self, shelf: str, name: str) -> Entry:
        """One row. Raises BadRequestError if there is none."""
        found = next((one for one in self.entries(shelf) if one.id == name), None) if shelf in SHELVES else None
        if found is None:
            raise BadRequestError(f'Nothing is called "{name}" here.', try_this="Look for it in the list.")
        return found

    def lines(self, entry: Entry) -> list[tuple[str, list[Line]]]:
        """All values of a row by group."""
        table = table_of(entry.path) if entry.path else {}
        programmes = tuple((row.id, row.name) for row in self.library.programmes.values())
        return [
            (title, [self._line(entry, asked, table) for asked in fields]) for title, fields in groups(type(entry.row), programmes)
        ]

    def _line(self, entry: Entry, asked: Asked, table: Mapping[str, Any]) -> Line:
        value = entry.row
        for part in asked.key:
            value = getattr(value, str(part))
        kept = value_at(table, asked.key)
        text = text_of(asked, value)
        if not isinstance(value, Quantity | Words):
            grade, source = self._of_row(entry) if isinstance(entry.row, FlaskRow) and asked.kind == "number" else ("", "")
            return Line(asked=asked, text=text, grade=grade, source=source, kept=kept)
        low, high = (
            (text_of(asked, value.low), text_of(asked, value.high))
            if isinstance(value, Quantity) and value.low is not None and value.high is not None and value.low < value.high
            else ("", "")
        )
        note = value.note if isinstance(value, Quantity) else ""
        grade = OWN if value.source == STUDIO_SOURCE else GRADES[value.grade]
        return Line(
            asked=asked,
            text=text,
            low=low,
            high=high,
            grade=grade,
            source=told_source(value.source, self.library),
            note=note,
            kept=kept,
        )

    def _of_row(self, entry: Entry) -> tuple[str, str]:
        row = entry.row
        return (OWN if row.source == STUDIO_SOURCE else GRADES[row.grade], told_source(row.source, self.library))

    def doubts(self, entry: Entry) -> tuple[str, ...]:
        """What speaks against a row, as sentences."""
        if not isinstance(entry.row, Alloy | Investment):
            return ()
        return tuple(_sentence(fault) for fault in row_faults(entry.row, self.library))

    # ---- changes; each returns once it is on the disk

    def set(self, entry: Entry, line: Line, text: str) -> None:
        """Keep what was typed for a value. Raises NotYetError for what cannot be, and as `own_toml.change`."""
        if entry.path is None:
            raise BadRequestError("That row belongs to the library.", try_this="Make a copy of your own, and change that.")
        path, key = entry.path, line.asked.key
        to = self._figure(entry, line, value_of(line.asked, text))
        change(path, {key: to}, was={key: line.kept}, check=lambda table: self.check(entry, key, table))

    def _figure(self, entry: Entry, line: Line, value: Any) -> Any:
        """An own figure keeps the range that it lies in, if that is the user's own; else it stands alone."""
        kept = line.kept
        if line.asked.kind != "figure" or not isinstance(kept, Mapping) or kept.get("source", STUDIO_SOURCE) != STUDIO_SOURCE:
            return value
        low, high = kept.get("low"), kept.get("high")
        held = value is not ABSENT and low is not None and high is not None and low <= value <= high
        return {"value": value, "low": low, "high": high} if held else value

    def set_range(self, entry: Entry, line: Line, text: str) -> None:
        """Keep the range of a value, as "893 to 899"; empty: none. Raises as `set`."""
        if entry.path is None:
            raise BadRequestError("That row belongs to the library.", try_this="Make a copy of your own, and change that.")
        value = value_of(line.asked, line.text)
        ends = [part for part in text.replace("\u2013", " to ").split(" to ") if part.strip()]
        to: Any = value
        if ends:
            if len(ends) != 2:
                raise NotYetError("A range has two ends. Enter it as 890 to 900.")
            low, high = (value_of(line.asked, end) for end in ends)
            if not low <= value <= high:
                mine = f"{value:.4g} {line.asked.unit}".rstrip()
                raise NotYetError(f"{mine} does not lie in it. Enter a low end, then a high end, with the value between.")
            to = {"value": value, "low": low, "high": high}
        key = line.asked.key
        change(entry.path, {key: to}, was={key: line.kept}, check=lambda table: self.check(entry, key, table))

    def check(self, entry: Entry, key: Key, table: dict[str, Any]) -> None:
        """Whether a changed table is still a row, and nothing impossible was made of it."""
        try:
            row = row_of(entry.shelf, table, entry.id, melts=melts_if_asked)
        except BadDataError as err:
            raise NotYetError(f"That cannot be: {_plain(err.what, entry.id)}.") from err
        if row.id != entry.id:
            raise NotYetError("Its id names it in your runs, so it stays.")
        if isinstance(row, Alloy | Investment):
            before = set(row_faults(entry.row, self.library))
            for fault in row_faults(row, self.library):
                if fault not in before and fault.partition(":")[0] in IMPOSSIBLE:
                    raise NotYetError(f"{_sentence(fault)} Change the other one first, if this one is right.")

    def copy(self, entry: Entry, today: date) -> str:
        """Make a copy of the user's own; its id. Raises OutputError, BadRequestError."""
        content = entry.path.read_text(encoding="utf-8-sig") if entry.path else shipped_text(entry.shelf, entry.id)
        document = tomlkit.parse(content)
        if entry.over_shipped and entry.path is not None:
            raise BadRequestError("Your file changes that row of the library.", try_this="Change it there, or copy another row.")
        taken = {one.id for one in self.entries(entry.shelf)}
        new = next(name for k in range(1, len(taken) + 2) if (name := f"{entry.id}-own{'' if k == 1 else f'-{k}'}") not in taken)
        document["id"] = new
        if "name" in document:
            document["name"] = f"{entry.name}, own"
        if entry.shelf == "flasks":  # its sizes are measured with the user's own rule
            for key in ("source", "grade"):
                document.pop(key, None)
        head = f"# Copied from {entry.id} on {today.isoformat()}. What is changed here is your own.\n"
        path = self.folder / entry.shelf / f"{new}.toml"
        row_of(entry.shelf, tomllib.loads(content) | {"id": new}, str(path), melts=melts_if_asked)
        write_file(path, (head + tomlkit.dumps(document)).encode("utf-8"))
        return new

    def remove(self, entry: Entry) -> tuple[Path, Path]:
        """Take an own row away; where it lies now, and where it was. Raises OutputError."""
        if entry.path is None:
            raise BadRequestError("That row belongs to the library, and stays.")
        return set_aside(entry.path, self.folder), entry.path


def _size(row: FlaskRow) -> tuple[float, float, bool]:
    return row.diameter_mm, row.height_mm, row.perforated


def own_paths(folder: Path, shelf: str) -> dict[str, Path]:
    """The files of the user's own rows of a shelf by id."""
    found = {}
    for path in sorted((folder / shelf).glob("*.toml")):
        table = table_of(path)
        found[row_of(shelf, table, str(path), melts=melts_if_asked).id if shelf == "flasks" else str(table.get("id", ""))] = path
    return found


def shipped_text(shelf: str, name: str) -> str:
    """The file of a shipped row as it is: it is called by its id."""
    return (files("pourwell.materials") / "data" / shelf / f"{name}.toml").read_text(encoding="utf-8")


def told_source(source: str, library: Library) -> str:
    """Where a value comes from, as people say it: author, title, year and place for a key of the list of sources."""
    if source == STUDIO_SOURCE:
        return "your own figure"
    if source in (PRACTICE_SOURCE, OWN_ESTIMATE, OWN_CHOICE):  # the grade says it already
        return "no source" if source == PRACTICE_SOURCE else ""
    key, _, place = source.partition(":")
    known = library.sources.get(key)
    if known is None:
        return source
    return ", ".join(part for part in (known.author, known.title, known.year, place.strip() or known.place) if part)


def limit_source(source: str, library: Library) -> str:
    """Where a limit comes from, in words of a page: also what has no source says so."""
    return told_source(source, library) if source not in (PRACTICE_SOURCE, OWN_ESTIMATE, OWN_CHOICE) else source


def _sentence(fault: str) -> str:
    """A fault of a row without its key."""
    said = fault.partition(": ")[2] or fault
    return f"{said[:1].upper()}{said[1:]}."


def _plain(what: str, name: str) -> str:
    """What is wrong with a row, without its place."""
    return what.removeprefix(f"{name}: ").rstrip(".")


def weak_count(entry: Entry) -> int:
    """How many of a row's values are estimates or remembered."""
    return sum(quantity.grade in (Grade.ESTIMATE, Grade.MEMORY) for quantity in _quantities(entry.row))


def _quantities(row: Any) -> Iterator[Quantity]:
    for name in type(row).model_fields:
        value = getattr(row, name)
        if isinstance(value, Quantity):
            yield value
