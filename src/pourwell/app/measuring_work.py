"""What the desk has done with a log or a weighing, in a process of its own. Plain data comes out, in words of a page."""

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pourwell.app.calibrating import LogWish, Told, calibrate, places_of
from pourwell.app.calibrating_keep import becomes, files_of
from pourwell.app.calibrating_picture import Curves, picture_files
from pourwell.app.calibrating_scale import ScaleWish, calibrate_weighed
from pourwell.app.calibrating_words import Value
from pourwell.app.desk_words import for_desk
from pourwell.app.measuring import GivenLog
from pourwell.app.shop import open_shop
from pourwell.errors import PourwellError, shown
from pourwell.files.kiln_log import KilnLog, log_of, reading_columns, time_columns
from pourwell.files.log_table import Remark, Table, read_table
from pourwell.materials.calibration import COVERS
from pourwell.sheets.log_view import Trace
from pourwell.units import h_from_s

WATER: Final = "water_ratio"
"""The key of the share of its water that a flask takes into the kiln."""
SHARE: Final = re.compile(r"\b([01]\.\d{2,3})( to )?")
"""A share in a sentence, or the lower end of a band of them."""
Tell = Callable[[str], None]
Floats = NDArray[np.float64]
FIRST: Final = 3
"""So many cells of a column are shown."""
LONGEST_CELL: Final = 40
"""Characters of a cell or a heading that are shown."""
POINTS: Final = 400
"""So many points of a curve are drawn."""


def read_log(log: GivenLog, wish: Mapping[str, Any], *, tell: Tell) -> dict[str, Any]:
    """What is in a log, for a `wish` of columns, unit and time unit.

    `columns` with their first cells, `time`, `places` that they were given or that their headings say, `remarks`, `curves`; and
    `refused`, why its readings cannot be used so. Raises BadFileError for what is no log at all.
    """
    tell("Reading the log")
    table = read_table(log.content, file=log.file)
    times = time_columns(table)
    data: dict[str, Any] = {
        "columns": [{"number": n, "name": _cut(name), "first": _first(table, n - 1)} for n, name in reading_columns(table).items()],
        "time": {"name": _cut(" ".join(_name(table, i) for i in times)), "first": _first(table, *times)},
        "rows_count": len(table.rows),
        "places": {},
        "remarks": _remarks(table.remarks),
        "curves": [],
        "hours": None,
        "refused": None,
    }
    try:
        places = places_of(table, wish["columns"])
        data["places"] = {str(number): place for place, number in places.items()}
        wanted = list(places.values()) or list(reading_columns(table))
        found = log_of(table, wanted, unit=wish["unit"], time_unit=wish["time_unit"])
    except PourwellError as err:
        data["refused"] = str(err)
        return data
    return data | {
        "hours": h_from_s(float(found.times[-1])),
        "remarks": _remarks(found.remarks),
        "curves": [_read(found, n, {number: place for place, number in places.items()}.get(n, "")) for n in wanted],
    }


def work_out(folder: Path, log: GivenLog, asked: Mapping[str, Any], *, tell: Tell) -> dict[str, Any]:
    """What a log tells of kiln, flask and investment: `data` for the page, the picture's `files` by name.

    `asked` holds a `wish`, in the words of a LogWish, and what time it is `now`. Raises what `calibrate` raises.
    """
    tell("Reading the log")
    table, wish = read_table(log.content, file=log.file), LogWish(**asked["wish"])
    told = calibrate(table, wish, shop=open_shop(folder), now=asked["now"], tell=tell)
    tell("Drawing it")
    return {"data": told_data(told), "files": picture_files(told)}


def weigh(folder: Path, wish: Mapping[str, Any], now: datetime, *, tell: Tell) -> dict[str, Any]:
    """What a weighed flask tells. `wish` holds the words of a ScaleWish. Raises what `calibrate_weighed` raises."""
    return told_data(calibrate_weighed(ScaleWish(**wish), now=now, shop=open_shop(folder)))


def told_data(told: Told) -> dict[str, Any]:
    """What was told, as pages show and keep it."""
    return {
        "values": [_shown(value) for value in told.values],
        "calibrations": [one.model_dump(mode="json", exclude_none=True) for one in told.calibrations],
        "files": files_of(told.calibrations),
        "becomes": becomes(told.calibrations),
        "remarks": _remarks(told.remarks),
        "notes": [for_desk(note) for note in told.notes],
        "of_kiln": for_desk(told.of_kiln),
        "doubtful": for_desk(told.doubtful),
        "about": told.curves.about if told.curves else "",
        "curves": list(_against(told.curves)) if told.curves else [],
    }


def _shown(value: Value) -> dict[str, str]:
    """A value as a page shows it: a share of the water in percent, all else in the figures of the command line."""
    (figure, unit), says = value.figure, for_desk(value.remark)
    if value.key == WATER:
        says = SHARE.sub(lambda share: f"{100 * float(share[1]):g}{share[2] or ' %'}", says)
        if value.measured:
            off = max(1.0, 100 * COVERS * value.uncertainty)  # percent: less is not claimed
            figure, unit = f"{100 * value.value:.0f}{f' ± {off:.0f}' if value.uncertainty else ''}", "%"
    return {"what": value.what, "figure": figure, "unit": unit, "says": says}


def _remarks(remarks: tuple[Remark, ...]) -> list[dict[str, Any]]:
    return [{"line": one.line, "says": shown(for_desk(one.says))} for one in remarks]


def _name(table: Table, i: int) -> str:
    return table.names[i] if i < len(table.names) else ""


def _first(table: Table, *places: int) -> list[str]:
    """The first cells at some places, together."""
    return [_cut(" ".join(row[i] for i in places if i < len(row))) for row in table.rows[:FIRST]]


def _cut(text: str) -> str:
    """A text of a stranger, in one line that is not too long."""
    line = shown(text)
    return line if len(line) <= LONGEST_CELL else f"{line[: LONGEST_CELL - 1]}…"


def _read(log: KilnLog, number: int, place: str) -> dict[str, Any]:
    """A column as it was read."""
    column = log.column(number)
    return {"name": _cut(column.name), "place": place, "read": _points(log.times[column.known], column.readings[column.known])}


def _against(curves: Curves) -> Iterator[dict[str, Any]]:
    """What was read, and what the model gives."""

    def data(trace: Trace, place: str) -> dict[str, Any]:
        model = [] if trace.modelled is None else _points(trace.times, trace.modelled)
        return {"name": _cut(trace.name), "place": place, "read": _points(trace.times, trace.readings), "model": model}

    yield data(curves.kiln, "kiln")
    for place, trace in curves.inside.items():
        yield data(trace, place)


def _points(times: Floats, level: Floats) -> list[list[float]]:
    """A curve as [h, degC], thinned out."""
    step = max(1, -(-times.size // POINTS))
    return [[round(h_from_s(t), 4), round(c, 1)] for t, c in zip(times[::step].tolist(), level[::step].tolist(), strict=True)]
