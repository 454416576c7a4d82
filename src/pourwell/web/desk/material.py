"""One row: every value with unit, grade and source. A shipped one is read and copied, an own one is changed in place."""

from typing import Any
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.own_rows import Entry, Line, OwnRows, told_source
from pourwell.errors import BadRequestError, PourwellError
from pourwell.files.own_toml import bring_back
from pourwell.materials.library import Library
from pourwell.materials.model import Caution, Programme, Words
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.level_fields import LevelFields
from pourwell.web.desk.materials import called, tabs, to_entry
from pourwell.web.desk.own_fields import OwnField, grade_mark
from pourwell.web.desk.tag import Tag


def material_page(desk: Desk, shelf: str, name: str) -> None:
    """The page. Raises BadRequestError if there is no such row."""
    entry = OwnRows(desk.folder).entry(shelf, name)
    with frame(desk, at="/materials", title=called(entry)) as page:
        MaterialPage(page, entry).build()


class MaterialPage:
    """The parts of the page that change while it is looked at."""

    def __init__(self, page: Frame, entry: Entry) -> None:
        self.page, self.shelf, self.name = page, entry.shelf, entry.id
        self.entry = entry
        self.fields: dict[str, tuple[OwnField, OwnField | None, Tag]] = {}
        self.levels: LevelFields | None = None

    def build(self) -> None:
        """Head, ways to other rows, values."""
        self.head = Tag("div", classes="head")
        tabs(f"/materials/{self.shelf}")
        self.doubts = Tag("div")
        self.body = Tag("div")
        self._draw()
        self.page.heard_of = self.look

    def _rows(self) -> OwnRows:
        return OwnRows(self.page.desk.folder)

    def _draw(self) -> None:
        rows = self._rows()
        self.entry = rows.entry(self.shelf, self.name)
        self._head()
        self._doubts(rows)
        self.fields = {}
        self.body.clear()
        with self.body:
            heads = "value, range, whose it is"
            for title, lines in rows.lines(self.entry):
                figures = any(line.asked.kind == "figure" for line in lines)
                with parts.section(title, heads if figures else ""), Tag("ul", classes="values"):
                    heads = "" if figures else heads
                    for line in lines:
                        if self.entry.own:
                            self._field(line)
                        elif line.text:
                            self._told(line)
            self.levels = None
            if isinstance(self.entry.row, Programme) and self.entry.own:
                self.levels = LevelFields(self.page, self.name, after=self.look)
                self.levels.build()
            elif isinstance(self.entry.row, Programme):
                _steps(self.page, self.entry.row, rows.library)
            _sentences(self.entry.row)

    def look(self) -> None:
        """Show what another hand has written."""
        try:
            rows = self._rows()
            fresh = rows.entry(self.shelf, self.name)
        except BadRequestError:
            self._gone()
            return
        if fresh.own != self.entry.own or not self.fields:
            self._draw()
            return
        self.entry = fresh
        self._head()
        self._doubts(rows)
        for line in (line for _, lines in rows.lines(fresh) for line in lines):
            field, ends, grade = self.fields[_id(line)]
            field.look(line)
            if ends is not None:
                ends.look(line)
            grade_mark(grade, line.grade, line.source, note=self.page.units.text(line.note))
        if self.levels is not None:
            self.levels.look()

    def _gone(self) -> None:
        for box in (self.head, self.doubts, self.body):
            box.clear()
        with self.body, parts.empty("It is not here any more", "Its file was taken away by another window or another program."):
            parts.link("To the list", f"/materials/{self.shelf}", "btn")

    def _head(self) -> None:
        entry = self.entry
        self.head.clear()
        with self.head:
            with Tag("div"):
                Tag("h1", self.page.units.text(called(entry)))
                Tag("p", _whose(entry))
            with Tag("div", classes="acts"):
                if isinstance(entry.row, Programme):
                    parts.link("See what it does in a flask", f"/burnout?{urlencode({'own': entry.id})}", "btn")
                if entry.own:
                    parts.button("Remove it", self._remove, "btn plain")
                if not entry.own or not entry.over_shipped:
                    parts.button("Make a copy of my own", self._copy, "btn" if entry.own else "btn main")

    def _doubts(self, rows: OwnRows) -> None:
        doubts = rows.doubts(self.entry) if self.entry.own else ()
        self.doubts.clear()
        if doubts:
            with self.doubts, parts.section("Doubtful", "a plan warns of it"), Tag("ul", classes="doubts"):
                for doubt in doubts:
                    Tag("li", self.page.units.text(doubt))

    def _told(self, line: Line) -> None:
        asked = line.asked
        with Tag("li"):
            Tag("span", asked.label, "what")
            if asked.unit:
                parts.figure(line.text, asked.unit, tag="span", classes="fig")
            else:
                Tag("span", dict(asked.options).get(line.text, line.text), "fig words")
            ends = self.page.units.figure(f"{line.low} to {line.high}", asked.unit)[0] if line.low else ""
            Tag("span", ends, "ends")
            grade_mark(Tag("div", classes="whose"), line.grade, line.source, note=self.page.units.text(line.note))

    def _field(self, line: Line) -> None:
        def fresh() -> Line:
            rows = self._rows()
            lines = [one for _, lines in rows.lines(rows.entry(self.shelf, self.name)) for one in lines]
            return next(one for one in lines if _id(one) == _id(line))

        def save(old: Line, text: str) -> None:
            self._rows().set(self.entry, old, text)

        def save_ends(old: Line, text: str) -> None:
            self._rows().set_range(self.entry, old, text)

        figure = line.asked.kind == "figure" and not _id(line).startswith("price")
        wide = line.asked.kind in ("sentence", "recipe") or line.asked.key in (("name",), ("advisory",))
        with Tag("li", classes="held wide" if wide else "held"):
            field = OwnField(self.page, line, save=save, fresh=fresh, after=self.look)
            ends = OwnField(self.page, line, save=save_ends, fresh=fresh, after=self.look, range_=True) if figure else None
            grade = Tag("div", classes="whose")
            grade_mark(grade, line.grade, line.source, note=self.page.units.text(line.note))
        self.fields[_id(line)] = field, ends, grade

    def _copy(self) -> None:
        try:
            new = self._rows().copy(self.entry, self.page.moment().date())
        except PourwellError as err:
            self.page.not_saved(err.what)
            return
        self.page.saved()
        to_entry(self.shelf, new)

    def _remove(self) -> None:
        there, place = self._rows().remove(self.entry)
        self.page.saved()
        self.page.heard_of = lambda: None
        for box in (self.head, self.doubts, self.body):
            box.clear()

        def back() -> None:
            try:
                bring_back(there, place)
            except PourwellError as err:
                self.page.not_saved(parts.why(err))
                return
            self.page.saved()
            ui.navigate.to(f"/materials/{self.shelf}/{self.name}")

        says = f"Its file lies in {there.parent} now. What was planned with it stays as it is."
        with self.body, parts.empty(f"{called(self.entry)} is removed", says):
            parts.button("Undo", back)
            parts.link("To the list", f"/materials/{self.shelf}", "btn plain")


def _id(line: Line) -> str:
    return ".".join(str(part) for part in line.asked.key)


def _whose(entry: Entry) -> str:
    """Whose a row is, and what can be done with it."""
    row = entry.row
    advice = f" {row.advisory}" if getattr(row, "advisory", "") else ""
    file = f"{entry.shelf}/{entry.path.name}" if entry.path else ""
    if entry.over_shipped and entry.own:
        return f"Your figures over those of the library, in {file}.{advice}"
    if isinstance(row, Programme):
        return (
            f"Your own, in {file}. A run takes it where you choose it as its burnout."
            if entry.own
            else "Of the library: it is not changed here. Make a copy of your own, and change that."
        )
    if entry.own:
        return f"Your own, in {file}. An empty field falls back to what is known.{advice}"
    if entry.shelf == "flasks" and row.source == "studio":
        return "Your own, listed in studio.toml: it is changed among the equipment."
    return f"Of the library: it is not changed here. Make a copy of your own, and change that.{advice}"


def _steps(page: Frame, row: Programme, library: Library) -> None:
    with (
        parts.section("Levels", "ramps and holds by the flask's inside diameter"),
        Tag("div", classes="scroll", tabindex="0", role="region", aria_label="Levels"),
        Tag("table", classes="stock"),
    ):
        with Tag("thead"), Tag("tr"):
            for word in ("Up or down to", "Ramp", "Hold", "Why", "From"):
                Tag("th", word, scope="col")
        with Tag("tbody"):
            for step in row.steps:
                level = "flask temperature" if isinstance(step.target_c, str) else " ".join(page.units.degrees(step.target_c))
                with Tag("tr"):
                    Tag("th", level, scope="row")
                    Tag("td", _curve(step.ramp_c_per_h.table, page, "°C/h"), "nowrap")
                    Tag("td", _curve(step.hold_min.table, page, "min"))
                    Tag("td", step.why)
                    Tag("td", told_source(step.hold_min.source, library), "quiet")


def _curve(table: Any, page: Frame, unit: str) -> str:
    """A table over the diameter in words: "60 min at 50 mm, 120 min at 64 mm"."""
    if len(table) == 1:
        return page.units.text(f"{table[0][1]:g} {unit}")
    return page.units.text(", ".join(f"{y:g} {unit} at {x:g} mm" for x, y in table))


def _sentences(row: Any) -> None:
    """What the sheet tells with it: cautions and what to do before. They are kept in its file."""
    found: list[tuple[str, tuple[Words, ...]]] = [
        ("Before sprueing", getattr(row, "preparation", ())),
        ("Cautions", getattr(row, "cautions", ())),
    ]
    for title, sentences in found:
        if sentences:
            with parts.section(title, "on the check list of each run; kept in the file of the row"), Tag("ul", classes="sayings"):
                for one in sentences:
                    with Tag("li"):
                        Tag("p", one.text)
                        when = f", at the step {one.when}" if isinstance(one, Caution) and one.when else ""
                        Tag("small", f"{one.source}{when}")
