"""Levels of a burnout programme of the user's own: told, changed, added, taken out. In its file they are the tables of `steps`."""

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from pourwell.app.asked import Asked
from pourwell.app.own_rows import OWN, Entry, Line, OwnRows
from pourwell.app.shown import Shown
from pourwell.app.typed import NotYetError, Span, number
from pourwell.errors import BadRequestError
from pourwell.files.own_toml import ABSENT, Key, add_to_list, change, put_list, table_of, value_at
from pourwell.materials.model import STUDIO_SOURCE, Curve, Grade, Programme, ProgrammeStep
from pourwell.units import unit_of

STEPS: Final = "steps"
LEVEL: Final = Span(low=20, high=1300, unit="°C")
RAMP: Final = Span(low=1, high=3000, unit="°C/h")
HOLD: Final = Span(low=0, high=2880, unit="min")
DIAMETER: Final = Span(low=10, high=400, unit="mm")
"""What these can be at all; no such value is common. Own choice."""
FLASK: Final = "flask"
FLASK_WORDS: Final = "flask temperature"
POINT: Final = re.compile(r"(?P<y>.+?)\s*(?:\bat\b|@)\s*(?P<x>.+)")
APART: Final = re.compile(r";|,\s+")
"""Between two points of a table; a comma inside a number is no such place."""
MILLIONTHS: Final = 6
HOW: Final = "one figure, or one for each flask"


class Levels:
    """The levels of one programme as its file stands when this is made; figures are read and written in the reader's units."""

    def __init__(self, rows: OwnRows, entry: Entry, shown: Shown) -> None:
        assert isinstance(entry.row, Programme)
        self.rows, self.entry, self.shown, self.row = rows, entry, shown, entry.row
        self.kept = table_of(entry.path).get(STEPS, ABSENT) if entry.path else ABSENT

    def lines(self) -> list[list[Line]]:
        """Of each level its fields: the level, ramp, hold, why."""
        return [self._level(place, step) for place, step in enumerate(self.row.steps)]

    def _level(self, place: int, step: ProgrammeStep) -> list[Line]:
        target = FLASK_WORDS if step.target_c == FLASK else f"{step.target_c:g}"
        per_h = self.shown.unit("°C/h")
        hints = (
            ("", "")
            if place
            else (f'or "{FLASK}": its temperature at the pour', f"{HOW}: {self.points([(50, 120), (102, 180)], 'min')}")
        )
        ramp, hold = self.points(step.ramp_c_per_h.table, "°C/h"), self.points(step.hold_min.table, "min")
        return [
            self._line(place, "target_c", "Up or down to", text=target, span=LEVEL, help_=hints[0]),
            self._line(place, "ramp_c_per_h", f"Ramp, {per_h}", text=ramp),
            self._line(place, "hold_min", "Hold, min", text=hold, help_=hints[1]),
            self._line(place, "why", "Why", text=step.why),
        ]

    def _line(self, place: int, key: str, label: str, *, text: str, span: Span | None = None, help_: str = "") -> Line:
        kept = value_at({STEPS: self.kept}, (STEPS, place, key)) if self.kept is not ABSENT else ABSENT
        asked = Asked(key=(STEPS, place, key), label=label, kind="words", span=span, help=help_)
        return Line(asked=asked, text=text, grade=OWN, kept=kept)

    def points(self, table: Iterable[tuple[float, float]], unit: str) -> str:
        """A table over the diameter as a field has it: "120 at 50 mm; 180 at 102 mm", a single point as its figure."""
        told = [(self.shown.figure(f"{x:g}", "mm"), self.shown.figure(f"{y:g}", unit)[0]) for x, y in table]
        if len(told) == 1:
            return told[0][1]
        return "; ".join(f"{y} at {' '.join(x)}" for x, y in told)

    # ---- changes; each returns once it is on the disk

    def set(self, line: Line, text: str) -> None:
        """Keep what was typed. Raises NotYetError for what cannot be, and as `own_toml.change`."""
        _, place, name = line.asked.key
        value = self._value(int(place), str(name), text)
        self._written()
        self._change({line.asked.key: value, **self._mine()}, was={line.asked.key: line.kept} if line.kept is not ABSENT else {})

    def add(self, after: int) -> None:
        """One more level after that of a place, like it. Raises as `set`."""
        self._written()
        step = self._steps()[after]
        add_to_list(self._path(), (STEPS,), step, place=after + 1, check=self._held(len(self.row.steps) + 1))
        change(self._path(), self._mine())

    def remove(self, place: int) -> Callable[[], None]:
        """Take a level out; what puts it back. Raises as `set`, and for the only one."""
        if len(self.row.steps) == 1:
            raise BadRequestError("A programme needs one level at least.", try_this="Change it, or remove the programme.")
        self._written()
        step, key = self._steps()[place], (STEPS, place)
        change(self._path(), {key: ABSENT, **self._mine()}, was={key: step}, check=self._held(len(self.row.steps) - 1))
        return lambda: add_to_list(self._path(), (STEPS,), step, place=place, check=self._held(len(self.row.steps)))

    def _path(self) -> Path:
        if self.entry.path is None:
            raise BadRequestError("That programme belongs to the library.", try_this="Make a copy of your own, and change that.")
        return self.entry.path

    def _steps(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = table_of(self._path())[STEPS]
        return found

    def _written(self) -> None:
        """A file that takes its levels from another row gets them, all at once, before one of them is changed."""
        if self.kept is ABSENT:
            put_list(self._path(), (STEPS,), [_table_of(step) for step in self.row.steps], check=self._held(len(self.row.steps)))

    def _mine(self) -> dict[Key, Any]:
        """Whose a programme is whose levels were changed: it is no published one any more."""
        if self.row.source == STUDIO_SOURCE:
            return {}
        return {("source",): STUDIO_SOURCE, ("grade",): Grade.SUPPLIER.value}

    def _change(self, changes: Mapping[Key, Any], *, was: Mapping[Key, Any]) -> None:
        change(self._path(), changes, was=was, check=self._held(len(self.row.steps)))

    def _held(self, count: int) -> Callable[[dict[str, Any]], None]:
        """Whether a changed table is still a programme, and of so many levels: else places are others now."""

        def check(table: dict[str, Any]) -> None:
            if len(table[STEPS]) != count:
                raise NotYetError("Levels came or went elsewhere meanwhile.", try_this="Look again, then enter it again.")
            self.rows.check(self.entry, (STEPS,), table)

        return check

    # ---- what was typed

    def _value(self, place: int, name: str, text: str) -> Any:
        said = text.strip()
        if name == "why":
            return said or ABSENT
        if not said:
            raise NotYetError("It must be said.")
        if name == "target_c":
            return FLASK if said.lower() in (FLASK, FLASK_WORDS) else round(number(said, LEVEL), MILLIONTHS)
        span = RAMP if name == "ramp_c_per_h" else HOLD
        old: Curve = getattr(self.row.steps[place], name)
        points = self._points(said, span, old)
        if isinstance(points, float):
            return points
        unit = unit_of(name)
        return {"table": points, "x_unit": "mm", "unit": unit, "source": STUDIO_SOURCE, "grade": Grade.SUPPLIER.value}

    def _points(self, text: str, span: Span, old: Curve) -> list[list[float]] | float:
        """A table from a field: rising, each diameter once; or one figure. Points that still read as before stay exactly so."""
        parts = [part.strip() for part in APART.split(text) if part.strip()]
        if len(parts) == 1 and POINT.fullmatch(parts[0]) is None:
            return self._number(parts[0], span)
        before = {self.points([point, point], span.unit).partition("; ")[0]: point for point in old.table}
        diameters = {" ".join(self.shown.figure(f"{x:g}", "mm")): x for x, _ in old.table}
        points = []
        for part in parts:
            found = POINT.fullmatch(part)
            if part in before:
                points.append(list(before[part]))
            elif found is None:
                example = self.points([(50, 120), (102, 180)], span.unit)
                raise NotYetError(f'"{part}" does not say for which flask. Enter it as {example}.')
            else:
                x = diameters.get(found["x"].strip())
                points.append([self._number(found["x"], DIAMETER) if x is None else x, self._number(found["y"], span)])
        points.sort()
        if len({x for x, _ in points}) < len(points):
            raise NotYetError("A diameter stands twice. Enter one figure for each.")
        return points

    def _number(self, text: str, span: Span) -> float:
        return round(number(self.shown.kept(text.strip(), span.unit), span), MILLIONTHS)


def _table_of(step: ProgrammeStep) -> dict[str, Any]:
    """A level as it stands in a file."""
    curves = {name: getattr(step, name).model_dump(mode="json", exclude_defaults=True) for name in ("ramp_c_per_h", "hold_min")}
    return {"target_c": step.target_c, **curves, **({"why": step.why} if step.why else {})}
