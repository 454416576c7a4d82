"""A thermocouple log of a firing: times and temperatures in degC, with all that was set right or left out told by line.

The file is only read. What is surely wrong and can be told apart is set right and said; what could be read in two ways is refused.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadFileError, shown
from pourwell.files.log_cleaning import MOST_MISSING, Unit, cleaned, in_celsius, refuse_dead, units_of
from pourwell.files.log_table import Remark, Table, number_in, read_table
from pourwell.files.log_time import Stamps, TimeUnit, in_order, is_date_alone, is_moment, moments_s, numbers_s, unit_in

Floats = NDArray[np.float64]

LEAST_ROWS: Final = 20
"""Fewer readings tell of no firing."""
LEAST_S: Final = 1200.0
TIMES = re.compile(
    r"time|zeit|elapsed|dauer|date|datum|heure|hora|stamp|^\s*(s|sec|min|h|hours?|minutes?|seconds?)\s*$", re.IGNORECASE
)
COUNTS = re.compile(r"^\s*(no|nr|n|#|index|id|sample|record|row)\.?\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogColumn:
    """One thermocouple: its name, its place in the file (from 1), and (n,) readings [degC], NaN where there is none."""

    name: str
    number: int
    readings: Floats

    @property
    def known(self) -> NDArray[np.bool_]:
        """(n,) where there is a reading."""
        return np.asarray(np.isfinite(self.readings))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KilnLog:
    """A log: (n,) times from its first reading [s], which rise; its columns; and what was found in it."""

    file: str
    digest: str
    times: Floats
    columns: tuple[LogColumn, ...]
    remarks: tuple[Remark, ...]

    def column(self, number: int) -> LogColumn:
        """The column that stands at a place in the file."""
        return next(column for column in self.columns if column.number == number)


def open_table(path: Path) -> Table:
    """The table in a log file. Raises BadFileError for what cannot be read or holds none."""
    try:
        data = path.read_bytes()
    except OSError as err:
        raise BadFileError(f"{path} cannot be read.", why=f"The system says: {err.strerror or err}.") from err
    return read_table(data, file=shown(path.name))


def time_columns(table: Table) -> tuple[int, ...]:
    """Where the time stands: one place, or two where date and clock stand apart. Raises BadFileError if nowhere."""
    width = max(map(len, table.rows))
    head = table.rows[: min(len(table.rows), LEAST_ROWS)]

    def all_moments(i: int) -> bool:
        return all(i < len(row) and is_moment(row[i]) for row in head)

    moments = [i for i in range(width) if all_moments(i)]
    if moments:
        dates = [i for i in moments if all(is_date_alone(row[i]) for row in head)]
        clocks = [i for i in moments if i not in dates]
        if dates and clocks:
            return (dates[0], clocks[0])
        return (moments[0],)
    named = [i for i, name in enumerate(table.names) if i < width and TIMES.search(name)]
    if named:
        return (named[0],)
    if not table.names or not table.names[0].strip():
        return (0,)
    raise BadFileError(
        f"{table.file}, line {table.lines[0]}: no column is a time.",
        why=f"Its columns are: {', '.join(table.names)}.",
        try_this='Name one "time (s)", "time (min)" or "time (h)" in the header, or export clock times.',
    )


def reading_columns(table: Table) -> dict[int, str]:
    """The columns that hold readings: place in the file (from 1) to name; what holds words, counts or percents is left out."""
    width, skipped = max(map(len, table.rows)), set(time_columns(table))
    out = {}
    for i in range(width):
        name = table.names[i] if i < len(table.names) else ""
        cells = [cell for cell in table.cells(i) if cell]
        good = sum(number_in(cell) is not None for cell in cells)
        if i in skipped or COUNTS.match(name) or "%" in name or good < len(cells) / 2 or not good:
            continue
        out[i + 1] = name or f"column {i + 1}"
    return out


def find_column(table: Table, wanted: str) -> int:
    """The place (from 1) of a column by its number, or its name or a part of it that no other has.

    Raises BadFileError with the names there are.
    """
    there = reading_columns(table)
    if re.fullmatch("[0-9]{1,3}", wanted.strip()) and int(wanted) in there:
        return int(wanted)
    asked = wanted.strip().lower()
    for fits in (lambda name: name.lower() == asked, lambda name: asked in name.lower()):
        found = [number for number, name in there.items() if asked and fits(name)]
        if len(found) == 1:
            return found[0]
    raise BadFileError(
        f'{table.file} has no column "{wanted}".',
        why=f"Its columns of readings are: {', '.join(f'{n} = {name}' for n, name in there.items()) or 'none'}.",
        try_this="Name one by its number or its header.",
    )


def log_of(table: Table, numbers: Sequence[int], *, unit: Unit | None = None, time_unit: TimeUnit | None = None) -> KilnLog:
    """Times and the columns at some places (from 1) of a table, cleaned.

    unit, time_unit: what readings and times are in; read from header and values if not said. Raises BadFileError with the line.
    """
    remarks = list(table.remarks)
    times, turned = _times(table, time_unit, remarks)
    order = np.arange(len(times))[::-1] if turned else np.arange(len(times))
    lines = np.array(table.lines)[order]
    if len(times) < LEAST_ROWS or times[-1] - times[0] < LEAST_S:
        raise BadFileError(
            f"{table.file} holds {len(times)} readings over {(times[-1] - times[0]) / 60:.0f} min.",
            why=f"A fit wants {LEAST_ROWS} at least, and {LEAST_S / 60:.0f} min.",
            try_this="Give the log of a whole firing.",
        )
    raw = {n: _numbers(table, n, order=order, lines=lines, remarks=remarks) for n in numbers}
    names = {n: _name(table, n) for n in numbers}
    units = units_of(raw, names, file=table.file, asked=unit, remarks=remarks)
    columns = [
        LogColumn(
            name=names[n],
            number=n,
            readings=cleaned(in_celsius(values, units[n]), names[n], file=table.file, lines=lines, remarks=remarks),
        )
        for n, values in raw.items()
    ]
    refuse_dead({column.name: column.readings for column in columns}, file=table.file, lines=lines)
    return KilnLog(
        file=table.file,
        digest=table.digest,
        times=np.array(times) - times[0],
        columns=tuple(columns),
        remarks=tuple(sorted(remarks, key=lambda r: r.line)),
    )


def _name(table: Table, number: int) -> str:
    name = table.names[number - 1] if number <= len(table.names) else ""
    return name or f"column {number}"


def _times(table: Table, time_unit: TimeUnit | None, remarks: list[Remark]) -> tuple[list[float], bool]:
    """The times of all rows [s], rising, and whether the rows are turned round."""
    places = time_columns(table)
    says: list[tuple[int, str]] = []
    stamps = Stamps(file=table.file, lines=table.lines, says=says)
    cells = [" ".join(parts) for parts in zip(*(table.cells(i) for i in places), strict=True)]
    zoned = any(re.search(r"\d\s*(Z|[+-]\d{2}:?\d{2})$", cell) for cell in cells[:1])
    if is_moment(cells[0]):
        times = moments_s(cells, stamps=stamps)
    else:
        values = [number_in(cell) for cell in cells]
        for row, value in enumerate(values):
            if value is None or not math.isfinite(value) or abs(value) > 1e15:
                raise stamps.refuse(row, f"{cells[row][:40]!r} is no time.", why="", try_this="Mend or remove that line.")
        header = table.names[places[0]] if places[0] < len(table.names) else ""
        times = numbers_s([v for v in values if v is not None], unit=time_unit or unit_in(header), stamps=stamps)
    out, turned = in_order(times, stamps=stamps, zoned=zoned)
    remarks += [Remark(line=line, says=text) for line, text in says]
    return out, turned


def _numbers(table: Table, number: int, *, order: NDArray[np.int64], lines: NDArray[np.int64], remarks: list[Remark]) -> Floats:
    """A column's numbers in the order of time; NaN where there is none, inf where the logger says that nothing is connected."""
    cells = table.cells(number - 1)
    read = [number_in(cells[i]) for i in order]
    wrong = [row for row, value in enumerate(read) if value is None]
    if wrong:
        first = f"{cells[order[wrong[0]]][:40]!r}"
        if len(wrong) > MOST_MISSING * len(read):
            raise BadFileError(
                f"{table.file}, line {lines[wrong[0]]}: {first} in {_name(table, number)} is no number.",
                why=f"So are {len(wrong)} of {len(read)} cells of that column.",
                try_this="Name a column that holds temperatures.",
            )
        remarks.append(
            Remark(
                line=int(lines[wrong[0]]), says=f"{_name(table, number)}: {first} is no number; {_left_out(len(wrong), 'cell')}."
            )
        )
    return np.array([math.nan if value is None else value for value in read])


def _left_out(count: int, what: str) -> str:
    return f"one {what} is left out" if count == 1 else f"{count} such {what}s are left out"
