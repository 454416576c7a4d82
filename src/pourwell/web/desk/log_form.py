"""What has to be said of a log: flask, investment, what sat where, units, how far it is read. Fields become words of a wish."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from pourwell.app.desk_form import Faults
from pourwell.app.desk_words import for_desk
from pourwell.app.typed import FLASK as FALL
from pourwell.app.typed import NotYetError, Span, number
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag

INVESTMENT: Final = "gypsum-resin"
"""Until another is chosen; as the command line has it."""
OTHER: Final = "other"
"""The choice of a flask that is in no list."""
DEPTH: Final = "depth"
PLACES: Final = (
    ("", "Not used"),
    ("kiln", "In the kiln"),
    ("core", "Core of the flask"),
    ("half", "Half the radius"),
    ("wall", "On the steel wall"),
    (DEPTH, "So deep inside"),
)
UNITS: Final = (("", "As the log says"), ("C", "°C"), ("F", "°F"))
TIMES: Final = (("", "As the log says"), ("s", "Seconds"), ("min", "Minutes"), ("h", "Hours"))
PLACING_MM: Final = Span(low=0, high=50, unit="mm")
UNTIL_H: Final = Span(low=0, high=2000, unit="h")
DEEP_MM: Final = Span(low=0, high=250, unit="mm")
DEFAULTS: Final[Mapping[str, str]] = {"placing": "2", "fall": "500"}
"""What counts where a field is empty, in its unit; as the command line has it."""
UNITS_OF: Final[Mapping[str, str]] = {"placing": "mm", "fall": "°C"}
NAMED: Final = (
    ("--flask", "flask"),
    ("is no flask", "size"),
    ("--unit", "unit"),
    ("--time", "time"),
    ("--until-h", "until"),
    ("--resolution-g", "step"),
)
"""Words of a refusal, and the field that they are of."""
WHICH: Final = "Which flask was it? Its size decides what its core reads."


def flask_fields(page: Frame, typed: Mapping[str, str], changed: Callable[[str], Any]) -> dict[str, parts.Field]:
    """Flask, its size where it is in no list, and investment; for a log and for a weighing."""
    lists = page.lists
    flasks = [("", "Choose one"), *lists.flasks, (OTHER, "Another size")]
    made = {"flask": parts.choice("Flask", typed.get("flask", ""), changed("flask"), options=flasks)}
    made["size"] = parts.entry(
        "Inside, diameter x height", typed.get("size", ""), changed("size"), remark="in mm, as 50x60, or 2x2.5in", maxlength="20"
    )
    made["size"].whole.set_visibility(typed.get("flask") == OTHER)
    chosen = typed.get("investment", INVESTMENT)
    made["investment"] = parts.choice("Filled with", chosen, changed("investment"), options=lists.investments)
    made["investment"].whole.classes("wide")
    return made


def is_place(name: str) -> bool:
    """Whether a field says where a column sat."""
    return name[:1] == "p" and name[1:].isdigit()


def is_of_column(name: str) -> bool:
    """Whether a field is of one column: where it sat, how deep, how high."""
    return name[:1] in "pdh" and name[1:].isdigit()


def flask_of(typed: Mapping[str, str]) -> str:
    """The flask that is chosen, or its size; empty for none."""
    flask = typed.get("flask", "")
    return typed.get("size", "").strip() if flask == OTHER else flask


def by_default(field: parts.Field, text: str, default: str, *, unit: str) -> None:
    """Say in a field what counts where it is empty."""
    if default:
        field.set_by("" if text.strip() else "default", field.units.figure(default, unit)[0])


def field_of(refused: str) -> str:
    """The field that a refusal is of, in words of the command line; empty for none."""
    return next((name for words, name in NAMED if words in refused), "")


class LogForm:
    """The fields of a log; `typed` holds what stands in them, by name, and outlives them."""

    def __init__(self, page: Frame, typed: dict[str, str], changed: Callable[[str], Any]) -> None:
        self.page, self.typed, self.changed = page, typed, changed
        """`changed` is told which field was changed."""
        self.fields: dict[str, parts.Field] = {}
        self.places: dict[int, str] = {}
        """What the headings say, until one chooses."""
        self.deep: dict[int, Tag] = {}
        """Of each column the fields for its depth."""
        self.refused: Faults = {}
        """What was refused of a field when the log was read or worked out."""

    def build(self, read: Mapping[str, Any]) -> None:
        """All fields, for the columns of a log as it was read."""
        self.places = {int(n): place for n, place in read["places"].items()}
        self.fields, self.deep = {}, {}
        with parts.section("What it is of"), Tag("div", classes="fields"):
            self.fields |= flask_fields(self.page, self.typed, self._typed)
        remark = f"{len(read['columns'])} columns of readings"
        with parts.section("What sat where", remark):
            if not self.places:
                Tag("p", "The headings do not say it. Choose at least the column of the kiln.", "small")
            with Tag("ul", classes="log-columns"):
                for column in read["columns"]:
                    self._column(column)
        with parts.section("How it is read"), Tag("div", classes="fields"):
            self.fields["unit"] = self._choice("Readings in", "unit", UNITS)
            self.fields["time"] = self._choice("Times in", "time", TIMES)
            self._entry("until", "Read only so far", unit="h", remark="from the first reading; empty: all of it")
            self._entry(
                "fall", "The fall is wanted about", unit="°C", remark="where you pour: how fast the kiln falls there, door shut"
            )
            self._entry("placing", "A probe may sit off by", unit="mm", remark="measure where the tip sits")

    def _choice(self, label: str, name: str, options: Sequence[tuple[str, str]]) -> parts.Field:
        return parts.choice(label, self.typed.get(name, ""), self._typed(name), options=options)

    def _entry(self, name: str, label: str, *, unit: str, remark: str = "") -> None:
        self.fields[name] = parts.entry(
            label, self.typed.get(name, ""), self._typed(name), unit=unit, remark=remark, inputmode="decimal", maxlength="12"
        )
        by_default(self.fields[name], self.typed.get(name, ""), DEFAULTS.get(name, ""), unit=unit)

    def _column(self, column: Mapping[str, Any]) -> None:
        n = column["number"]
        with Tag("li"):
            with Tag("div"):
                Tag("h3", f"{n}: {column['name']}")
                Tag("p", "; ".join(column["first"]) + " …", "small")
            self.fields[f"p{n}"] = parts.choice(f"Column {n} sat", self.place(n), self._typed(f"p{n}"), options=PLACES)
            with Tag("div", classes="fields") as self.deep[n]:
                self._entry(f"d{n}", f"Column {n}: from the wall", unit="mm")
                self._entry(f"h{n}", f"Column {n}: over the shelf", unit="mm", remark="empty: half the height")
            self.deep[n].set_visibility(self.place(n) == DEPTH)

    def _typed(self, name: str) -> Callable[[str], Any]:
        async def keep(text: str) -> None:
            self.typed[name] = text
            self.refused.pop(name, None)
            if name in DEFAULTS:
                by_default(self.fields[name], text, DEFAULTS[name], unit=UNITS_OF[name])
            if name == "flask":
                self.fields["size"].whole.set_visibility(text == OTHER)
            if is_place(name):
                self.deep[int(name[1:])].set_visibility(text == DEPTH)
            await self.changed(name)

        return keep

    # ---- as a wish

    def place(self, n: int) -> str:
        """Where a column sat, as chosen, else as its heading says."""
        return self.typed.get(f"p{n}", self.places.get(n, ""))

    def tell(self, faults: Faults, *, but: Sequence[str] = ()) -> None:
        """Tell at each field what is not right yet, or nothing."""
        for name, one in self.fields.items():
            if name not in but:
                one.tell(faults.get(name, "") or self.refused.get(name, ""))

    def said(self, faults: Faults) -> str:
        """What is not right yet, field by field, in words."""
        named = faults | self.refused
        return " ".join(f"{one.label}: {named[name]}" for name, one in self.fields.items() if name in named)

    def refuse(self, refused: str) -> bool:
        """Tell what was refused at the field that it is of; False where it is of none."""
        name = field_of(refused)
        if name not in self.fields:
            return False
        self.refused[name] = for_desk(refused)
        self.fields[name].tell(self.refused[name])
        return True

    def reading(self) -> tuple[dict[str, Any], Faults]:
        """What a reading of the log is asked for, and what is not right yet."""
        faults: Faults = {}
        columns = []
        for n in sorted(self.deep):
            place = self.place(n)
            if place == DEPTH:
                deep, up = (self._number(name, DEEP_MM, faults) for name in (f"d{n}", f"h{n}"))
                if deep is None:
                    faults.setdefault(f"d{n}", "How deep does its tip sit, from the wall?")
                place = f"{deep or 0:g}mm" + (f"@{up:g}mm" if up is not None else "")
            if place:
                columns.append(f"{place}={n}")
        units = {"unit": self.typed.get("unit") or None, "time_unit": self.typed.get("time") or None}
        return {"columns": tuple(columns), **units}, faults

    def drawing(self) -> tuple[float | None, float, Faults]:
        """How far it is read [h], where the fall is wanted [degC], and what of both is not right yet."""
        faults: Faults = {}
        until, fall = self._number("until", UNTIL_H, faults), self._number("fall", FALL, faults)
        return until, float(DEFAULTS["fall"]) if fall is None else fall, faults

    def wish(self) -> tuple[dict[str, Any], Faults]:
        """The words of a LogWish, and what is not right yet; they are only to be used without any fault."""
        said, faults = self.reading()
        until, fall, more = self.drawing()
        faults |= more
        placing = self._number("placing", PLACING_MM, faults)
        flask = flask_of(self.typed)
        if not flask and any(not one.startswith("kiln=") for one in said["columns"]):
            faults["size" if self.typed.get("flask") == OTHER else "flask"] = WHICH
        said |= {"until_h": until, "flask_c": fall, "flask": flask, "investment": self.typed.get("investment", INVESTMENT)}
        return said | {"placing_mm": float(DEFAULTS["placing"]) if placing is None else placing}, faults

    def _number(self, name: str, span: Span, faults: Faults) -> float | None:
        """The number in a field, None for an empty one and for one that is not right yet."""
        text = self.typed.get(name, "").strip()
        try:
            return number(text, span) if text else None
        except NotYetError as err:
            faults[name] = err.what
            return None
