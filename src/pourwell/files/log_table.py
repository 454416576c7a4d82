"""A logger's text as a table: marks, quotes, comments, headers, numbers with commas; every cell kept with its line."""

import csv
import hashlib
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pourwell.errors import BadFileError
from pourwell.files.log_time import is_moment

MOST_BYTES: Final = 50_000_000
MOST_ROWS: Final = 500_000
"""More than a month of readings a second apart would hold no firing any better."""
MOST_COLUMNS: Final = 200
"""No logger of a kiln has so many thermocouples, with a status for each."""
LONGEST_LINE: Final = 100 * MOST_COLUMNS
"""Characters; a cell of a log has no hundred."""
MARKS: Final = ("\t", ";", "|", ",", " ")
"""What may part two cells, tried in this order."""
COMMENTS: Final = ("#", "//", "%", "'")
MISSING: Final = frozenset({"", "-", "--", "---", "----", "nan", "na", "n/a", "null", "none", "*", "?"})
"""Cells without a reading."""
OPEN: Final = frozenset(
    {"err", "error", "open", "ol", "o.l", "o.l.", "over", "under", "overflow", "inf", "-inf", "+inf", "fault", "tc open"}
)
"""Cells by which a logger says that nothing is connected."""
_NUMBER = re.compile(r"[+-]?(?:\d[\d.,\u00a0\u202f ]*|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_UNIT = re.compile(r"\s*(?:\u00b0|\u00ba|deg\.?)?\s*[CFKcf]?\s*$")
SEEN: Final = 400
"""So many rows are looked at to find out how the cells are parted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What was found in a log and set right, or left out; line 0 stands for all of it."""

    line: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The rows of a log as text: names of the columns (empty for a log without a header), and each row with its line."""

    file: str
    digest: str
    """SHA-256 of the file."""
    names: tuple[str, ...]
    lines: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]
    remarks: tuple[Remark, ...]

    def cells(self, column: int) -> list[str]:
        """A column's cells; empty where a row is too short."""
        return [row[column] if column < len(row) else "" for row in self.rows]


def read_table(data: bytes, *, file: str) -> Table:
    """The table in a logger's file.

    Raises BadFileError for what is no text, has no table of times and readings, or is too long.
    """
    if len(data) > MOST_BYTES:
        raise BadFileError(
            f"{file} is too large to be a log.",
            why=f"It has {len(data) / 1e6:.0f} MB; a firing with a reading a second has 3.",
            try_this="Export one firing alone.",
        )
    lines = [(number, line) for number, line in enumerate(_text(data, file).splitlines(), start=1) if _said(line)]
    if not lines:
        raise BadFileError(
            f"{file} is empty.", why="It holds no line but blank ones and comments.", try_this="Export the log again."
        )
    if len(lines) > MOST_ROWS:
        raise BadFileError(
            f"{file} has {len(lines)} lines.", why=f"{MOST_ROWS} are read at most.", try_this="Export fewer readings a minute."
        )
    _refuse_wide(file, [(number, len(line), LONGEST_LINE, "characters") for number, line in lines])
    mark = _mark([line for _, line in lines[-SEEN:]])
    rows = [(number, _split(line, mark, where=f"{file}, line {number}")) for number, line in lines]
    _refuse_wide(file, [(number, len(cells), MOST_COLUMNS, "cells") for number, cells in rows])
    first = _first_reading(rows)
    if first is None:
        raise BadFileError(
            f"{file} holds no table of times and readings.",
            why=f"Line {rows[0][0]} reads: {lines[0][1].strip()[:60]!r}.",
            try_this="Export the log as CSV: one row a reading, the time first, then a column for each thermocouple.",
        )
    names, above = _header(rows[:first], width=max(len(cells) for _, cells in rows[first:]))
    remarks = [Remark(line=rows[0][0], says=f"{above} lines above the table are not read.")] if above else []
    table = Table(
        file=file,
        digest=hashlib.sha256(data).hexdigest(),
        names=names,
        lines=tuple(number for number, _ in rows[first:]),
        rows=tuple(tuple(cells) for _, cells in rows[first:]),
        remarks=tuple(remarks),
    )
    _refuse_commas(table, mark)
    return table


def _refuse_wide(file: str, lines: Sequence[tuple[int, int, int, str]]) -> None:
    """Raise BadFileError for the first line (number, how much, at most, of what) that holds more than may be."""
    for number, count, most, what in lines:
        if count > most:
            raise BadFileError(
                f"{file}, line {number} has {count} {what}.",
                why=f"A row of a log has {most} at most.",
                try_this="Export the log as CSV: one row a reading, a column for each thermocouple.",
            )


def _said(line: str) -> bool:
    """Is a line more than blank, a comment, or empty cells."""
    bare = line.strip().strip("\t;,| ")
    return bool(bare) and not line.lstrip().startswith(COMMENTS)


NO_TEXT: Final = "Bytes stand in it that are no letters or figures: it may be the logger's own format, a workbook or a picture."


def _text(data: bytes, file: str) -> str:
    """The file as text: by its byte order mark, else UTF-8, else the usual code page of western machines."""
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            text = data.decode("utf-16")
        else:
            try:
                text = data.decode("utf-8-sig")
            except UnicodeDecodeError:
                text = data.decode("cp1252")
    except UnicodeDecodeError as err:
        raise BadFileError(f"{file} is no text.", why=NO_TEXT, try_this="Export the log as CSV or text.") from err
    if "\0" in text:
        raise BadFileError(f"{file} is no text.", why="It holds bytes of zero.", try_this="Export the log as CSV or text.")
    return text


def _mark(lines: Sequence[str]) -> str:
    """What parts the cells: the first mark that gives the most rows of one width, two cells at least."""

    def agreeing(mark: str) -> int:
        widths = Counter(len(_split(line, mark, where="")) for line in lines)
        return max((count for width, count in widths.items() if width > 1), default=0)

    found = {mark: agreeing(mark) for mark in MARKS}
    enough = 0.8 * max(found.values())
    return next(mark for mark in MARKS if found[mark] >= enough)


def _split(line: str, mark: str, *, where: str) -> list[str]:
    """The cells of a line, without quotes and blanks about them."""
    if mark == " " and '"' not in line:
        return line.split()
    try:
        cells = next(csv.reader([line], delimiter=mark, skipinitialspace=True), [])
    except csv.Error as err:
        if not where:
            return []
        raise BadFileError(f"{where} cannot be read.", why=f"{err}.", try_this="Export the log again, as CSV.") from err
    return [cell.strip().strip('"').strip() for cell in cells]


def number_in(cell: str) -> float | None:
    """The number in a cell, with a unit behind it or not, comma or point as its mark; NaN for none, None for what is no number."""
    text = cell.strip().lower()
    if text in MISSING:
        return math.nan
    if text in OPEN:
        return math.inf
    found = _NUMBER.match(cell.strip())
    if not found or not _UNIT.fullmatch(cell.strip()[found.end() :]):
        return None
    digits = re.sub(r"[\u00a0\u202f ]", "", found[0])
    comma, point = digits.rfind(","), digits.rfind(".")
    if comma >= 0 and point >= 0:
        digits = digits.replace("." if comma > point else ",", "")
    digits = digits.replace(",", ".")
    try:
        return float(digits)
    except ValueError:
        return None


def is_reading(cell: str) -> bool:
    """Is a cell a number that was measured."""
    value = number_in(cell)
    return value is not None and math.isfinite(value)


def _first_reading(rows: Sequence[tuple[int, list[str]]]) -> int | None:
    """The first row of the table: a time or number, then a number; and the next one too, if there is one."""

    def reads(cells: list[str]) -> bool:
        return len(cells) > 1 and (is_moment(cells[0]) or is_reading(cells[0])) and any(map(is_reading, cells[1:]))

    fit = [reads(cells) for _, cells in rows]
    return next((i for i, ok in enumerate(fit) if ok and (i + 1 == len(fit) or fit[i + 1] or not any(fit[i + 1 :]))), None)


def _header(above: Sequence[tuple[int, list[str]]], *, width: int) -> tuple[tuple[str, ...], int]:
    """The names of the columns from the rows right above the table, and how many rows above those are not read."""
    kept: list[list[str]] = []
    for _, cells in reversed(above):
        if len(kept) < 2 and 1 < len(cells) <= width + 1 and (not kept or len(cells) == len(kept[0])):
            kept.insert(0, cells)
        else:
            break
    if not kept:
        return (), len(above)
    return tuple(" ".join(part for part in parts if part) for parts in zip(*kept, strict=True)), len(above) - len(kept)


def _refuse_commas(table: Table, mark: str) -> None:
    """Commas that part cells and digits alike cannot be told apart."""
    named = len(table.names)
    if mark == "," and named > 1 and table.rows and Counter(map(len, table.rows)).most_common(1)[0][0] == 2 * named - 1:
        raise BadFileError(
            f"{table.file}, line {table.lines[0]}: commas part both the cells and the digits.",
            why=f"The header names {named} columns, the row has {2 * named - 1}.",
            try_this="Export with semicolons between the cells, or points in the numbers.",
        )
