"""The levels of a burnout programme of the user's own as fields: each is written when it is left; levels come and go with Undo."""

from functools import partial
from typing import Any

from pourwell.app.levels import Levels
from pourwell.app.own_rows import OwnRows
from pourwell.errors import PourwellError
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.own_fields import OwnField
from pourwell.web.desk.tag import Tag


class LevelFields:
    """The section; the fields of a level stay the same elements while the number of levels does."""

    def __init__(self, page: Frame, name: str, *, after: Any) -> None:
        self.page, self.name, self.after = page, name, after
        """`after` is called when something was kept."""
        self.fields: list[list[OwnField]] = []

    def levels(self) -> Levels:
        """As the file stands now."""
        rows = OwnRows(self.page.desk.folder)
        return Levels(rows, rows.entry("programmes", self.name), self.page.units)

    def build(self) -> None:
        """The section with its list."""
        with parts.section("Levels", "ramps and holds by the flask's inside diameter"):
            Tag("p", "A plan takes them as they stand, and judges them. What the bag says wins.", "small")
            self.list = Tag("ol", classes="levels")
        self._draw()

    def look(self) -> None:
        """Show what another hand has written."""
        lines = self.levels().lines()
        if len(lines) != len(self.fields):
            self._draw()
            return
        for fields, own in zip(self.fields, lines, strict=True):
            for field, line in zip(fields, own, strict=True):
                field.look(line)

    def _draw(self) -> None:
        self.list.clear()
        self.fields = []
        with self.list:
            for place, lines in enumerate(self.levels().lines()):
                with Tag("li"):
                    Tag("h3", f"Level {place + 1}")
                    with Tag("div", classes="level"):
                        self.fields.append([self._field(place, k, line) for k, line in enumerate(lines)])
                    with Tag("div", classes="acts"):
                        add = f"Add a level after level {place + 1}"
                        parts.button("Add one after it", partial(self._add, place), "btn plain", aria_label=add)
                        out = f"Take level {place + 1} out"
                        parts.button("Take it out", partial(self._remove, place), "btn plain", aria_label=out)

    def _field(self, place: int, k: int, line: Any) -> OwnField:
        def fresh() -> Any:
            lines = self.levels().lines()
            return lines[place][k] if place < len(lines) else line

        return OwnField(
            self.page,
            line,
            save=lambda old, text: self.levels().set(old, text),
            fresh=fresh,
            after=self.after,
            of=f"Level {place + 1}",
        )

    def _add(self, place: int) -> None:
        self._change(partial(self.levels().add, place))

    def _remove(self, place: int) -> None:
        back = self._change(partial(self.levels().remove, place))
        if back is not None:
            self.page.undo(f"Level {place + 1} is out.", partial(self._change, back))

    def _change(self, deed: Any) -> Any:
        """Do it, say so, show it; or say why not."""
        try:
            done = deed()
        except PourwellError as err:
            self.page.not_saved(parts.why(err))
            return None
        self.page.saved()
        self._draw()
        self.after()
        return done
