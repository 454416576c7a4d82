"""Fields over the studio's own files. A field is written when it is left or Enter is pressed: no half figure stands in a file."""

from collections.abc import Callable
from functools import partial
from typing import Any, Protocol

from pourwell.app.asked import Asked
from pourwell.app.gear import ASSUMED, NOT_SAID
from pourwell.app.own_rows import OWN
from pourwell.errors import PourwellError
from pourwell.files.own_toml import ChangedOutsideError
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag

OUTLINES = {OWN: "own", "estimate": "weak", "from memory": "weak", ASSUMED: "weak", NOT_SAID: "none"}
"""How the word of a grade is drawn: dashed where an own figure is better."""


class Told(Protocol):
    """What a field shows: one key of a file, as it stands now."""

    @property
    def asked(self) -> Asked:
        """What is asked."""

    @property
    def text(self) -> str:
        """What stands in it."""

    @property
    def grade(self) -> str:
        """Whose value it is."""


Save = Callable[[Any, str], None]
"""Writes a text for a line: raises PourwellError for what may not be, returns once it is on the disk."""


class OwnField:
    """One value: its field, and whose it is. `fresh` reads the line again as its file stands now."""

    def __init__(
        self,
        page: Frame,
        line: Any,
        *,
        save: Save,
        fresh: Callable[[], Any],
        after: Callable[[], Any],
        of: str = "",
        range_: bool = False,
    ) -> None:
        self.page, self.line, self.save, self.fresh, self.after = page, line, save, fresh, after
        self.range = range_
        asked: Asked = line.asked
        label = f"{asked.label}, from low to high" if range_ else asked.label
        more = {"aria_label": f"{of}: {label}"} if of else {}
        self.kept = self.kept_text()
        if asked.options and not range_:
            options = asked.options if any(key == self.kept for key, _ in asked.options) else (("", "not said"), *asked.options)
            self.field = parts.choice(label, self.kept, self._chosen, options=options, remark=asked.help, **more)
        else:
            numeric: dict[str, Any] = {"inputmode": "decimal"} if asked.span is not None else {}
            if asked.kind == "sentence":
                numeric = {"lines": True}
            self.field = parts.entry(
                label,
                self.kept,
                self._typed,
                unit=asked.unit,
                remark="" if range_ else asked.help,
                left=self._left,
                **numeric,
                **more,
            )

    def kept_text(self) -> str:
        """What its line says."""
        if not self.range:
            return str(self.line.text)
        return f"{self.line.low} to {self.line.high}" if self.line.low else ""

    @property
    def touched(self) -> bool:
        """Whether something stands in it that is not in the file."""
        return bool(self.field.control.value != self.kept)

    def _typed(self, _: str) -> None:
        if self.touched:
            self.page.not_yet_saved()

    def _chosen(self, _: str) -> None:
        self._left()

    def _left(self) -> None:
        """Write it, or say why not; what was typed stays."""
        if not self.touched:
            self.field.tell("")
            return
        try:
            self.save(self.line, self.field.control.value)
        except ChangedOutsideError as err:
            self.line = self.fresh()
            self._refused(parts.why(err))
            return
        except PourwellError as err:
            self._refused(parts.why(err))
            return
        self.field.tell("")
        self.page.saved()
        self.show(self.fresh())
        self.after()

    def _refused(self, fault: str) -> None:
        self.field.tell(fault)
        self.page.not_saved(f"look at {self.line.asked.label}")

    def show(self, line: Any) -> None:
        """Show the line as it stands now."""
        self.line, self.kept = line, ""
        self.kept = self.kept_text()
        self.field.control.set(self.kept)

    def look(self, line: Any) -> None:
        """Show what another hand has written; what is being typed here stays, and is held against it when it is left."""
        if not self.touched and line != self.line:
            self.show(line)


def grade_mark(box: Tag, grade: str, source: str = "", *, note: str = "") -> None:
    """Whose a value is: a word first, its outline second."""
    box.clear()
    with box:
        if grade:
            Tag("span", grade, f"grade {OUTLINES.get(grade, '')}".strip())
        if source and grade != OWN:
            Tag("span", source, "src")
        if note:
            Tag("small", note)


class Rows:
    """Fields of one table of a file under each other, each with whose value it is."""

    def __init__(
        self, page: Frame, read: Callable[[], list[Any]], *, save: Save, of: str = "", changed: Callable[[], Any] | None = None
    ) -> None:
        self.page, self.read, self.save, self.of = page, read, save, of
        self.changed = changed
        self.fields: list[tuple[OwnField, Tag]] = []

    def build(self, classes: str = "", *, grades: bool = True) -> None:
        """The fields."""
        with Tag("div", classes=f"fields {classes}".strip()):
            for place, line in enumerate(self.read()):
                with Tag("div", classes="held"):
                    field = OwnField(
                        self.page, line, save=self.save, fresh=partial(self._line, place), after=self._after, of=self.of
                    )
                    grade = Tag("p", classes="whose")
                    grade.set_visibility(grades)
                    self.fields.append((field, grade))
                    grade_mark(grade, line.grade)

    def _line(self, place: int) -> Any:
        return self.read()[place]

    def _after(self) -> None:
        self.look()
        if self.changed is not None:
            self.changed()

    def look(self) -> None:
        """Show the file as it stands now."""
        for (field, grade), line in zip(self.fields, self.read(), strict=True):
            field.look(line)
            grade_mark(grade, line.grade)
