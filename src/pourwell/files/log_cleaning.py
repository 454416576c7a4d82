"""Readings of a log made sure: their unit, open and dead thermocouples, spikes. Each fault in a sentence with its line."""

import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadFileError
from pourwell.files.log_table import Remark
from pourwell.units import c_from_f, c_from_k, h_from_s

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Unit = Literal["C", "F", "K"]

COLDEST_C, HOTTEST_C = -30.0, 1300.0
"""Beyond these no burnout kiln goes: what reads so is an open thermocouple. Type K ends at 1372 degC (IEC 60584-1:2013)."""
KILN_MOST_C: Final = 1150.0
"""No burnout is as hot: a column that goes over it is in Fahrenheit."""
ROOM_C: Final = (-5.0, 45.0)
ROOM_F: Final = (45.0, 115.0)
"""Where a log that begins cold begins, in either unit."""
COOL_F: Final = 850.0
"""A burnout peaks over 600 degC, or 1112 degF: what begins in a room and ends under this may be of either unit."""
SPIKE_C: Final = 12.0
SPIKE_TIMES: Final = 3.0
"""A spike stands off both its neighbours by so much, and by so many times what they differ."""
MOST_SPIKES: Final = 0.05
MOST_MISSING: Final = 0.3
"""Over these shares of all readings a column is a loose or dead thermocouple."""
STILL_C: Final = 2.0
MOVES_C: Final = 150.0
"""A column that stays within the one while another moves by the other is dead."""
STUCK_ROWS: Final = 30
STANDS_C: Final = 3.0
STANDS_S: Final = 3600.0
"""A kiln that changes by less in so long stands still."""
APART_C: Final = 100.0
"""Far over what thermocouples and places in a kiln differ by. Own choice."""
LEAST_COMING: Final = 0.05
"""In an hour the core of any flask comes nearer to a kiln that stands still by more than this share of what it is off. A cylinder
of 150 mm does by two thirds (slowest mode, R2 / (5.78 a): Carslaw and Jaeger 1959, 7.6; a = 3e-7 m2/s, from memory). Own choice."""
BOILING_C: Final = (80.0, 115.0)
"""In a wet mould a thermocouple may stand still for hours about here."""
FAHRENHEIT = re.compile(r"(\u00b0|\u00ba|deg\.?|degrees)\s*f\b|\bfahrenheit\b|[\s\[(_]f[\])]?$", re.IGNORECASE)
CELSIUS = re.compile(r"(\u00b0|\u00ba|deg\.?|degrees)\s*c\b|\bcelsius\b|\bcentigrade\b|[\s\[(_]c[\])]?$", re.IGNORECASE)
KELVIN = re.compile(r"\bkelvin\b", re.IGNORECASE)


EACH_UNIT: Final = 'Write the unit of each column into the header, as "Kiln °F" and "Core °C".'


def units_of(
    raw: Mapping[int, Floats], names: Mapping[int, str], *, file: str, asked: Unit | None, remarks: list[Remark]
) -> dict[int, Unit]:
    """The unit of each column: as asked, else by its header, else by its values, which must then leave no doubt.

    Raises BadFileError where header and values disagree, or the values may be of either.
    """
    if asked is not None:
        return dict.fromkeys(raw, asked)
    said = {n: _said(names[n]) for n in raw}
    open_ended = [n for n in raw if said[n] is None]
    for n, unit in said.items():
        if unit == "C" and _most(raw[n]) > KILN_MOST_C:
            raise BadFileError(
                f"{file}: {names[n]} says °C but goes up to {_most(raw[n]):.0f}.",
                why="No burnout kiln is as hot; that is Fahrenheit.",
                try_this="Say --unit F, or C if it is true.",
            )
    if not open_ended:
        return {n: unit for n, unit in said.items() if unit is not None}
    found = _by_values([raw[n] for n in open_ended], file)
    if found == "F":
        hottest = max(_most(raw[n]) for n in open_ended)
        begins = min(_first(raw[n]) for n in open_ended)
        remarks.append(Remark(line=0, says=f"From {begins:.0f} up to {hottest:.0f}: that is Fahrenheit, and is read so."))
    return {n: unit or found for n, unit in said.items()}


def _said(header: str) -> Unit | None:
    for pattern, unit in ((FAHRENHEIT, "F"), (KELVIN, "K"), (CELSIUS, "C")):
        if pattern.search(header.strip()):
            return unit  # type: ignore[return-value]
    return None


def _plausible(values: Floats) -> Floats:
    """Readings without those that mark an open thermocouple: not finite, or the very same highest value again and again."""
    kept = values[np.isfinite(values) & (np.abs(values) < 3000)]
    for _ in range(3):
        if not kept.size:
            break
        most = kept.max()
        again = kept == most
        below = kept[~again].max(initial=-np.inf)
        if most < HOTTEST_C or again.sum() < 2 or most - below < MOVES_C:
            break
        kept = kept[~again]
    return kept


def _most(values: Floats) -> float:
    """The highest reading that two neighbours bear out."""
    kept = _plausible(values)
    return float(np.minimum(kept[1:], kept[:-1]).max(initial=-np.inf)) if kept.size > 1 else -np.inf


def _first(values: Floats) -> float:
    kept = _plausible(values)
    return float(np.median(kept[:3])) if kept.size else np.nan


def _by_values(columns: list[Floats], file: str) -> Unit:
    """The unit that the values tell: by how hot it gets, and where it begins."""
    hottest, begins = max(map(_most, columns)), min(map(_first, columns))
    warm = ROOM_F[0] < begins <= ROOM_F[1]
    warmest = max(map(_first, columns))
    if hottest > KILN_MOST_C and ROOM_C[0] <= begins <= ROOM_F[0] < warmest <= ROOM_F[1]:
        raise BadFileError(
            f"{file}: one column begins at {begins:.0f}, another at {warmest:.0f}, and they go up to {hottest:.0f}.",
            why="Most likely one is in °C and another in °F.",
            try_this=f"{EACH_UNIT} If all of them are in °F, say --unit F.",
        )
    if hottest > KILN_MOST_C and begins > -ROOM_C[1]:
        return "F"
    if warm and hottest > COOL_F:
        return "F"
    if warm:
        raise BadFileError(
            f"{file}: from {begins:.0f} up to {hottest:.0f} may be °C or °F.",
            why="Neither header nor values say which.",
            try_this="Say --unit C or --unit F.",
        )
    return "C"


def in_celsius(values: Floats, unit: Unit) -> Floats:
    """Readings [degC] from those in a unit."""
    if unit == "C":
        return values
    turn = c_from_f if unit == "F" else c_from_k
    return np.array([turn(value) for value in values.tolist()])


def cleaned(values: Floats, name: str, *, file: str, lines: Ints, remarks: list[Remark]) -> Floats:
    """A column without open readings and spikes, which are counted. Raises BadFileError where too many are lost."""
    values = values.copy()
    open_ = np.isinf(values) | (values > HOTTEST_C) | (values < COLDEST_C)
    values[open_] = np.nan
    first = int(np.flatnonzero(open_)[0]) if open_.any() else 0
    missing = int(np.isnan(values).sum())
    if missing > MOST_MISSING * values.size:
        gone = int(np.flatnonzero(np.isnan(values))[0])
        raise BadFileError(
            f"{file}, line {lines[gone]}: {name} has no reading in {missing} of {values.size} rows.",
            why="Its thermocouple is open or dead." if open_.sum() * 2 > missing else "The cells are empty.",
            try_this="Leave the column out, or take another log.",
        )
    if open_.any():
        remarks.append(Remark(line=int(lines[first]), says=f"{name}: {_count(int(open_.sum()), 'open reading')}."))
    spikes = _spikes(values)
    if spikes.size > MOST_SPIKES * values.size:
        raise BadFileError(
            f"{file}, line {lines[spikes[0]]}: {name} jumps, {spikes.size} times in {values.size} rows.",
            why="A contact is loose, or mains gets into its leads.",
            try_this="Leave the column out, or take another log.",
        )
    if spikes.size:
        jump = values[spikes[0]]
        remarks.append(Remark(line=int(lines[spikes[0]]), says=f"{name}: {_count(spikes.size, 'spike')}, first of {jump:.0f} °C."))
        values[spikes] = np.nan
    return values


def _count(count: int, what: str) -> str:
    return f"one {what} is left out" if count == 1 else f"{count} {what}s are left out"


def _spikes(values: Floats) -> Ints:
    """Single readings that stand off both neighbours, while these agree; the ends against the two beside them."""
    known = np.flatnonzero(np.isfinite(values))
    x = values[known]
    if x.size < 5:
        return np.zeros(0, dtype=np.int64)
    before, after = np.concatenate([[x[1]], x[:-1]]), np.concatenate([x[1:], [x[-2]]])
    apart = np.abs(before - after)
    apart[0], apart[-1] = abs(x[1] - x[2]), abs(x[-2] - x[-3])
    off = np.minimum(np.abs(x - before), np.abs(x - after))
    same_side = (x - before) * (x - after) > 0
    spikes: Ints = known[same_side & (off > SPIKE_C) & (off > SPIKE_TIMES * apart)]
    return spikes


def refuse_dead(columns: Mapping[str, Floats], *, file: str, lines: Ints) -> None:
    """Raise BadFileError for a column that stands still while another moves, or from some row on."""
    moved = {name: float(np.nanmax(v) - np.nanmin(v)) for name, v in columns.items()}
    for name, values in columns.items():
        if moved[name] < STILL_C and (len(columns) == 1 or max(moved.values()) > MOVES_C):
            raise BadFileError(
                f"{file}, line {lines[0]}: {name} stands still at {np.nanmean(values):.0f} °C for the whole log.",
                why="Its thermocouple is dead, or was not in the kiln.",
                try_this="Leave the column out, or take another log.",
            )
        for other in columns.values():
            stuck = None if other is values else _stuck(values, other)
            if stuck is not None:
                raise BadFileError(
                    f"{file}, line {lines[stuck]}: {name} is stuck at {values[stuck]:g} °C while another moves.",
                    why="The logger repeats its last reading when a thermocouple or its lead breaks.",
                    try_this="Leave the column out, or cut the log before that line.",
                )


def _stuck(values: Floats, other: Floats) -> int | None:
    """Where a column begins to repeat one reading exactly while another moves far in a way that refutes it; None if nowhere.

    A kiln that holds its level in whole degrees repeats its reading for hours while a flask's core comes up, or down, to it. That
    is refuted by a core that moves away from the level, or by a level that is left in a jump.
    """
    edges = np.flatnonzero(np.concatenate([[True], values[1:] != values[:-1], [True]]))
    for a, b in pairwise(edges.tolist()):
        if b - a < STUCK_ROWS or BOILING_C[0] < values[a] < BOILING_C[1]:
            continue
        part = other[a:b][np.isfinite(other[a:b])]
        if part.size and part.max() - part.min() > MOVES_C:
            apart = np.abs(part - values[a])
            parted = float(np.max(apart - np.minimum.accumulate(apart)))
            if parted > MOVES_C or _jumps(values[b - 1 : b + 2]):
                return int(a)
    return None


def _jumps(values: Floats) -> bool:
    """Does a reading go on with one step that is far larger than the next."""
    if values.size < 3 or not np.isfinite(values).all():
        return False
    step, after = np.abs(np.diff(values))
    return bool(step > max(SPIKE_C, SPIKE_TIMES * after))


def refuse_contradiction(times: Floats, kiln: tuple[str, Floats], inside: Mapping[str, Floats], *, file: str) -> None:
    """Raise BadFileError where what is in a flask cannot be what it is in such a kiln: hotter, or not coming nearer to it.

    times : (n,) [s], rising; the readings of the kiln and of each column inside by name, (n,) [degC]
    """
    name, oven = kiln
    why = "Most likely one of them is in another unit, or sat elsewhere."
    for other, core in inside.items():
        hottest, most = _most(core), _most(oven)
        if hottest > most + APART_C:
            raise BadFileError(
                f"{file}: {other} goes up to {hottest:.0f} °C, {name} only to {most:.0f} °C.",
                why=why,
                try_this=f"{EACH_UNIT} {CUT}",
            )
        found = _apart(times, oven, core)
        if found is not None:
            hours, level, first, last = found
            raise BadFileError(
                f"{file}: from {hours:.1f} h on {name} stands at {level:.0f} °C for an hour, "
                f"and {other} goes from {first:.0f} to {last:.0f} °C.",
                why=f"A flask comes nearer to its kiln. {why}",
                try_this=f"{EACH_UNIT} {CUT}",
            )


CUT: Final = "If the flask was out of the kiln by then, say --until-h."


def _apart(times: Floats, oven: Floats, core: Floats) -> tuple[float, float, float, float] | None:
    """The first hour in which the kiln stands still and a core that does not boil, far off, comes no nearer; None if there is none.

    From when [h], the kiln, and the core at its beginning and its end [degC].
    """
    for begin in np.arange(times[0], times[-1] - STANDS_S, STANDS_S / 2).tolist():
        part = slice(*np.searchsorted(times, (begin, begin + STANDS_S)).tolist())
        hot, cold = _quarters(oven[part]), _quarters(core[part])
        if not hot or not cold or max(hot) - min(hot) >= STANDS_C or any(BOILING_C[0] < c < BOILING_C[1] for c in cold):
            continue
        level = float(np.median(hot))
        before, after = abs(level - cold[0]), abs(level - cold[-1])
        if after > APART_C and after > (1 - LEAST_COMING) * before:
            return h_from_s(begin), level, cold[0], cold[-1]
    return None


def _quarters(values: Floats) -> list[float]:
    """The medians of the four quarters of what is known; empty where that is less than half."""
    known = values[np.isfinite(values)]
    if known.size < 4 or known.size < values.size / 2:
        return []
    return [float(np.median(quarter)) for quarter in np.array_split(known, 4)]
