"""A log of a firing, or a flask on the scale, turned into what is measured of kiln, flask and investment; kept only on request."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

import numpy as np

from pourwell.app.calibrating_case import Default, default_of
from pourwell.app.calibrating_picture import Curves, curves_of
from pourwell.app.calibrating_words import Value, kiln_values, mould_values
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError
from pourwell.files.kiln_log import KilnLog, LogColumn, find_column, log_of, open_table, reading_columns
from pourwell.files.log_cleaning import Unit, refuse_contradiction
from pourwell.files.log_table import Remark, Table
from pourwell.files.log_time import TimeUnit
from pourwell.materials.calibration import Calibration, Measure
from pourwell.materials.model import FlaskRow, Investment
from pourwell.materials.studio import Studio
from pourwell.physics.burnout.curve import KilnTold, kiln_told, means, programme_of
from pourwell.physics.burnout.fit import HIGH, LOW, NAMES, Firing, Fitted, Probe, fit
from pourwell.sheets.drawing import Drawing
from pourwell.steps.day.clock import local
from pourwell.steps.flask.plan import parse_flask
from pourwell.units import h_from_s, k_from_c, m_from_mm, s_from_h

Telling = Callable[[str], None]

WORDS: Final = {
    "kiln": ("kiln", "oven", "furnace", "chamber"),
    "core": ("core", "centre", "middle", "axis"),
    "half": ("half",),
    "wall": ("wall", "shell", "steel"),
}
"""Places, and the words of a header that name them when no column was named."""
DEPTH = re.compile(r"(\d+(?:\.\d+)?)\s*mm(?:\s*@\s*(\d+(?:\.\d+)?)\s*mm)?", re.IGNORECASE)
MOST_READINGS: Final = 1500
"""A longer record is read as means: a flask changes nothing within half a minute."""
BEGIN_S: Final = 300.0
"""Over so long from the start the flask's own temperature is read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogWish:
    """What a log is of."""

    flask: str = ""
    investment: str = "gypsum-resin"
    columns: tuple[str, ...] = ()
    """`PLACE=COLUMN` each: kiln, core, half, wall, or a depth from the wall as 12mm or 12mm@40mm (over the shelf)."""
    unit: Unit | None = None
    time_unit: TimeUnit | None = None
    placing_mm: float = 2.0
    until_h: float | None = None
    flask_c: float = 500.0
    """The kiln's fall is read about here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Told:
    """What a log or a weighing told."""

    values: tuple[Value, ...]
    calibrations: tuple[Calibration, ...]
    """What would be kept."""
    remarks: tuple[Remark, ...] = ()
    notes: tuple[str, ...] = ()
    """What to know about the result."""
    of_kiln: str = ""
    """Of which of several kilns it must be to be kept, in words; empty: there is one, or nothing of a kiln would be kept."""
    doubtful: str = ""
    """Why it should not be kept; empty: nothing speaks against it."""
    curves: Curves | None = None
    """The log against the model; None for a weighing."""

    @property
    def picture(self) -> Drawing | None:
        """The curves as they are printed; None for a weighing."""
        return self.curves.drawing if self.curves else None

    @property
    def data(self) -> dict[str, Any]:
        """The same for a program."""
        return {
            "values": [value.data for value in self.values],
            "calibrations": [one.model_dump(mode="json", exclude_none=True) for one in self.calibrations],
            "remarks": [{"line": r.line, "says": r.says} for r in self.remarks],
            "notes": list(self.notes),
            "doubtful": self.doubtful,
        }


def calibrate_log(path: Path, wish: LogWish, *, now: datetime, tell: Telling = lambda _: None) -> Told:
    """What the log in a file tells of kiln, mould and water. Raises BadFileError for what cannot be read, and as `calibrate`."""
    tell("Reading the log")
    return calibrate(open_table(path), wish, shop=open_shop(), now=now, tell=tell)


def calibrate(table: Table, wish: LogWish, *, shop: Shop, now: datetime, tell: Telling = lambda _: None) -> Told:
    """What a log tells of kiln, mould and water; what is kept of it bears the day of the studio's clock.

    Raises BadFileError for readings that cannot be, BadRequestError for what cannot be fitted, UnknownNameError for names unknown.
    """
    places = places_of(table, wish.columns)
    log = _until(log_of(table, list(places.values()), unit=wish.unit, time_unit=wish.time_unit), wish.until_h)
    if "kiln" not in places:
        raise BadRequestError(
            f"{table.file} has no column of the kiln.",
            why="What the flask does says nothing without what the kiln did.",
            try_this="Name it, as --column kiln=2.",
        )
    kiln = log.column(places["kiln"])
    told = kiln_told(log.times[kiln.known], k_from_c(0) + kiln.readings[kiln.known], level=k_from_c(wish.flask_c))
    inside = {place: log.column(number) for place, number in places.items() if place != "kiln"}
    within = {column.name: column.readings for column in inside.values()}
    refuse_contradiction(log.times, (kiln.name, kiln.readings), within, file=log.file)
    row, investment = _flask(wish, shop, needed=bool(inside)), shop.library.investment(wish.investment)
    default, fitted, firing = None, None, None
    if inside and row:
        default = default_of(row, investment, shop.library)
        firing = _firing(log, kiln, inside, default=default, placing_mm=wish.placing_mm)
        fitted = _fitted(firing, default, tell)
    values = [
        *(mould_values(fitted, default, investment) if fitted and default else ()),
        *kiln_values(told, shop.studio, wish.flask_c),
    ]
    about, at = _about(log, inside, row=row, fitted=fitted), local(now, shop.studio.zone)
    calibrations = tuple(_calibrations(values, log, now=at, about=about, flask=row, investment=investment))
    of_kiln = _of_kiln(calibrations, shop.studio)
    return Told(
        values=tuple(values),
        calibrations=calibrations,
        remarks=log.remarks,
        notes=(*filter(None, [of_kiln]), *_notes(told, fitted, firing, unused=_unused(table, places))),
        of_kiln=of_kiln,
        doubtful=_doubt(fitted, firing),
        curves=curves_of(log, kiln, inside, fitted=fitted, firing=firing, about=about),
    )


def places_of(table: Table, given: Sequence[str] = ()) -> dict[str, int]:
    """Place to column: as named, else by the words of the header, else a lone column is the kiln's.

    Raises BadRequestError for a place that is none or is named twice, or where words of the header fit two columns.
    """
    out: dict[str, int] = {}
    for entry in given:
        place, mark, column = entry.partition("=")
        place = place.strip().lower()
        if not mark or not (place in WORDS or DEPTH.fullmatch(place)):
            raise BadRequestError(
                f'"{entry}" names no place.',
                try_this="Write PLACE=COLUMN, the place being kiln, core, half, wall, or a depth as 12mm; such as --column core=3.",
            )
        if place in out:
            raise BadRequestError(f'"{place}" is named twice.', try_this="Give each place one column; a second probe by its depth.")
        out[place] = find_column(table, column)
    if given:
        twice = [n for n in out.values() if list(out.values()).count(n) > 1]
        if twice:
            raise BadRequestError(f"Column {twice[0]} is named for two places.", try_this="Give each place its own.")
        return out
    there = reading_columns(table)
    if len(there) == 1:
        return {"kiln": next(iter(there))}
    for place, words in WORDS.items():
        found = [n for n, name in there.items() if any(word in name.lower() for word in words)]
        if len(found) > 1:
            raise BadRequestError(
                f"{table.file} has {len(found)} columns that may be the {place}'s.",
                try_this=f"Name one, as --column {place}={found[0]}.",
            )
        if found and found[0] not in out.values():
            out[place] = found[0]
    return out


def _unused(table: Table, places: Mapping[str, int]) -> list[str]:
    return [name for number, name in reading_columns(table).items() if number not in places.values()]


def _until(log: KilnLog, hours: float | None) -> KilnLog:
    """The log up to so many hours."""
    if hours is None:
        return log
    kept = log.times <= s_from_h(hours)
    if kept.sum() < 2:
        raise BadRequestError(f"Within {hours:g} h there is no log.", try_this="Give --until-h in hours from its first reading.")
    columns = tuple(LogColumn(name=c.name, number=c.number, readings=c.readings[kept]) for c in log.columns)
    return KilnLog(file=log.file, digest=log.digest, times=log.times[kept], columns=columns, remarks=log.remarks)


def _flask(wish: LogWish, shop: Shop, *, needed: bool) -> FlaskRow | None:
    if wish.flask:
        return parse_flask(wish.flask, shop.studio, shop.library)
    if needed:
        raise BadRequestError("Which flask was it?", why="Its size decides what its core reads.", try_this="Say --flask 76x100.")
    return None


def _firing(log: KilnLog, kiln: LogColumn, inside: Mapping[str, LogColumn], *, default: Default, placing_mm: float) -> Firing:
    """The firing as the fit takes it."""
    probes = tuple(_probe(place, log, column, default=default, placing_mm=placing_mm) for place, column in inside.items())
    begins = [p.temperatures[p.times <= p.times[0] + BEGIN_S].mean() for p in probes]
    return Firing(
        flask=default.flask,
        mould=default.mould,
        place=default.place,
        kiln=programme_of(log.times[kiln.known], k_from_c(0) + kiln.readings[kiln.known]),
        start=float(np.mean(begins)),
        probes=probes,
    )


def _probe(place: str, log: KilnLog, column: LogColumn, *, default: Default, placing_mm: float) -> Probe:
    """A column as a probe at its place. Raises BadRequestError for a depth outside the flask."""
    times, readings = means(log.times[column.known], k_from_c(0) + column.readings[column.known], count=MOST_READINGS)
    share, height, radius = {"core": 0.0, "half": 0.5}.get(place, 1.0), 0.5, default.flask.radius
    found = DEPTH.fullmatch(place)
    if found:
        depth = m_from_mm(float(found[1]))
        share = 1 - depth / radius
        height = m_from_mm(float(found[2])) / default.flask.height if found[2] else height
        if not (0 <= share <= 1 and 0 <= height <= 1):
            raise BadRequestError(
                f"{place} lies outside the flask.",
                why=f"It is {1000 * radius:g} mm from wall to axis and {1000 * default.flask.height:g} mm high.",
                try_this="Give the depth from the wall, and the height over the shelf.",
            )
    return Probe(
        name=f"{place} ({column.name})",
        times=times,
        temperatures=readings,
        radius_share=share,
        height_share=height,
        on_wall=place == "wall",
        placing=m_from_mm(placing_mm),
    )


def _fitted(firing: Firing, default: Default, tell: Telling) -> Fitted:
    """The fit, told round by round; an interrupt between two runs ends it and leaves nothing."""
    rounds = fit(firing, default=default.factors, doubt=default.doubt)
    count = 0
    while True:
        try:
            found = next(rounds)
        except StopIteration as end:
            fitted: Fitted = end.value
            return fitted
        count += 1
        seen = np.concatenate([probe.temperatures for probe in firing.probes])
        scatter = float(np.sqrt(np.mean((seen - found.given) ** 2)))
        tell(f"Fitting, round {count}: {scatter:.1f} K off")


def _about(log: KilnLog, inside: Mapping[str, LogColumn], *, row: FlaskRow | None, fitted: Fitted | None) -> str:
    """What was logged, in words."""
    span = f"{log.times.size} readings over {h_from_s(float(log.times[-1])):.1f} h"
    if not fitted or not row:
        return f"the kiln alone, {span}"
    off = ", ".join(f"{place} within {scatter:.1f} K" for place, scatter in zip(inside, fitted.scatter, strict=True))
    return f"{row.id} flask, {span}; {off}"


def _calibrations(
    values: Sequence[Value], log: KilnLog, *, now: datetime, about: str, flask: FlaskRow | None, investment: Investment
) -> list[Calibration]:
    """The files that would be kept: one for each of kiln, flask and investment of which something was measured."""
    ids = {"kiln": "", "flask": flask.id if flask else "", "investment": investment.id}
    out = []
    for kind in ids:
        found = {v.key: _measure(v) for v in values if v.kind == kind and v.measured and v.key}
        if found:
            stands_on = investment.conductivity_dry_w_per_m_k.value if kind == "investment" else None
            common = {"kind": kind, "of": ids[kind], "measured_at": now, "way": "log", "file": log.file, "digest": log.digest}
            more = {"fitted_from": about, "package_version": version("pourwell"), "stands_on_w_per_m_k": stands_on}
            out.append(Calibration.model_validate(common | more | found))
    return out


def _of_kiln(calibrations: Sequence[Calibration], studio: Studio) -> str:
    """Whose log this must be, where a studio has several kilns: what is of a kiln is kept as the first one's."""
    if len(studio.all_kilns) == 1 or all(one.kind != "kiln" for one in calibrations):
        return ""
    return f"Of the kiln “{studio.kiln.name}”, the first of your studio.toml: do not keep a log of another one."


def _measure(value: Value) -> Measure:
    return Measure(value=value.value, uncertainty=value.uncertainty or None, unit=value.unit)


def _notes(told: KilnTold, fitted: Fitted | None, firing: Firing | None, *, unused: Sequence[str]) -> list[str]:
    """What to know about the result."""
    out = []
    if unused:
        out.append(f"Columns not used: {', '.join(unused)}.")
    if told.doors_count:
        out.append(f"The door was opened {told.doors_count} times, by how fast the kiln fell; that is not read as its fall.")
    if told.fall is None:
        out.append("No fall with the door shut is in the log; its rate stays as it is.")
    if fitted and firing:
        out.append(
            f"Counted in: scatter that hangs together over {fitted.together / 60:.0f} min, thermocouples at 0.43 % of the reading, "
            f"places within {1000 * max(p.placing for p in firing.probes):g} mm."
        )
        if len(firing.probes) == 1 and not firing.probes[0].on_wall:
            out.append(
                "One probe tells film and conductivity apart by their shapes alone; a second one on the wall does it better."
            )
    return out


MOST_OFF_K: Final = 15.0
"""A model that misses a probe by more, root of the mean square, does not describe that firing; own choice."""
AT_END: Final = 0.02
"""So near to the end of what is looked for, as a share, a factor is at it."""


def _doubt(fitted: Fitted | None, firing: Firing | None) -> str:
    """Why a fit should not be kept; empty if nothing speaks against it."""
    if fitted is None or firing is None:
        return ""
    worst, probe = max(zip(fitted.scatter, firing.probes, strict=True), key=lambda pair: pair[0])
    if worst > MOST_OFF_K:
        return (
            f"The model misses {probe.name} by {worst:.0f} K: look whether the probe sat where you say, and the flask is that one."
        )
    for name, low, high in zip(NAMES, LOW, HIGH, strict=True):
        value = getattr(fitted.factors, name)
        if name in fitted.told and name != "water" and not low * (1 + AT_END) < value < high * (1 - AT_END):
            return (
                f"The {name} went to the end of what is looked for ({value:.2g}): that is no mould, look at flask, unit and places."
            )
    if not fitted.ended:
        return "The fit had not settled after its last round."
    return ""
