"""What goes into a run: pieces and counts, alloy, flask, the pour. Every change is kept at once."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from pourwell.app.choices import SMALLEST, USUAL
from pourwell.app.desk import Desk
from pourwell.app.desk_form import request_of_form
from pourwell.app.desk_words import MINUS, PICTURE
from pourwell.errors import PourwellError
from pourwell.store.model import KeptRun
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.parts import Field
from pourwell.web.desk.tag import Tag
from pourwell.web.kept import link

MOST: Final = 500
"""Of one kind of piece."""


class RunForm:
    """The form on the page."""

    def __init__(self, desk: Desk, page: Frame, run_id: int, *, changed: Callable[[], None]) -> None:
        self.desk, self.page, self.run_id, self.changed = desk, page, run_id, changed
        self.fields: dict[str, Field] = {}
        self.rows: dict[int, tuple[Tag, Tag]] = {}
        """Row and count of each piece. They stay the same elements while counts change, or quick presses would be lost."""

    def build(self) -> None:
        """The section."""
        form, lists = self.desk.store.run(self.run_id).form, self.page.lists
        with parts.section("What goes in"):
            self.list = Tag("ul", classes="plist")
            self.more = parts.choice("Add a piece", "", self._add, options=(), again=True)
            self.none = Tag("p", classes="quiet")
            with self.none:
                Tag("span", "No pattern is here yet. ")
                parts.link("Add patterns", "/patterns")
                Tag("span", ", or enter the weight of a tree.")
            self.weight = Tag("div")
            with self.weight:
                self._entry("weight", "Tree on the scale", form, unit="g", inputmode="decimal")
            with Tag("div", classes="fields one"):
                self._choice("alloy", "Alloy", form, options=lists.alloys)
                self._choice("pattern", "Pattern material", form, options=lists.materials)
                self._choice("investment", "Investment", form, options=(USUAL, *lists.investments))
                self._choice("flask", "Flask", form, options=(SMALLEST, *lists.flasks))
                self._entry("returns", "Returns in the charge", form, unit="%", inputmode="decimal", remark="clean, once cast")
                with Tag("div", classes="two"):
                    self._choice(
                        "pour_day", "Pour on", form, options=when.days(self.page.moment(), str(form.get("pour_day") or ""))
                    )
                    self._entry("pour_hour", "at", form, inputmode="numeric")
                self.freeze = Tag("label", classes="check")
                with self.freeze:
                    box = Tag("input", type="checkbox", checked=bool(form.get("freeze", True)))
                    Tag("span", "Work out how it freezes")
                box.on("change", lambda event: self.keep("freeze", bool(event.args)), js_handler="(e) => emit(e.target.checked)")

    def _entry(self, name: str, label: str, form: Mapping[str, Any], **how: Any) -> None:
        self.fields[name] = parts.entry(label, str(form.get(name) or ""), lambda text: self.keep(name, text), **how)

    def _choice(self, name: str, label: str, form: Mapping[str, Any], *, options: Any) -> None:
        value = str(form.get(name) or "")
        self.fields[name] = parts.choice(label, value, lambda chosen: self.keep(name, chosen), options=options)

    def keep(self, name: str, value: Any) -> None:
        """Keep one field, say so, and say what is not yet right."""
        try:
            run = self.desk.change_run(self.run_id, fields={name: value})
        except PourwellError as err:
            self.page.not_saved(err.what)
            return
        self.page.saved()
        self._faults(run)
        self.changed()

    def _faults(self, run: KeptRun) -> None:
        by_weight = not run.pieces
        _, faults = request_of_form(run.form, by_weight=by_weight, now=self.desk.clock(), zone=self.page.lists.zone)
        if not str(run.form.get("weight", "")).strip():
            faults.pop("weight", None)
        self.tell(faults)

    def tell(self, faults: Mapping[str, str]) -> None:
        """Say beside each field what is not yet right."""
        for name, field in self.fields.items():
            field.tell(faults.get(name, ""))

    def refresh(self, run: KeptRun) -> None:
        """Show what is kept: also what another window has changed."""
        for name, field in self.fields.items():
            kept = str(run.form.get(name) or "")
            if field.control.value != kept:
                field.control.set(kept)
        self._pieces(run)

    def _pieces(self, run: KeptRun) -> None:
        """Rows for what the run takes, and the rest of the library to choose from."""
        counts, patterns = dict(run.pieces), self.desk.store.patterns()
        self.weight.set_visibility(not counts)
        self.freeze.set_visibility(bool(counts))
        for pattern_id in [key for key in self.rows if key not in counts]:
            self.rows.pop(pattern_id)[0].delete()
        for pattern_id, count in run.pieces:
            if pattern_id not in self.rows:
                with self.list:
                    self.rows[pattern_id] = self._row(pattern_id)
            if self.rows[pattern_id][1].text != str(count):
                self.rows[pattern_id][1].set_text(str(count))
        options = [["", "From the library"], *([str(p.id), p.name] for p in patterns if p.id not in counts)]
        if self.more.control.props["options"] != options:
            self.more.control.props["options"] = options
            self.more.control.update()
        self.more.whole.set_visibility(len(options) > 1)
        self.none.set_visibility(not patterns and not counts)

    def _row(self, pattern_id: int) -> tuple[Tag, Tag]:
        name, result = self.desk.store.pattern(pattern_id).name, self.desk.store.latest(pattern_id=pattern_id)
        with Tag("li") as row:
            if result is not None:
                Tag("img", src=link(result, PICTURE), alt="", width="56", height="56")
            else:
                Tag("span")
            parts.link(name, f"/patterns/{pattern_id}", "name")
            with Tag("span", classes="count", role="group", aria_label=f"{name}, how many"):
                parts.button(MINUS, lambda: self._step(pattern_id, -1), "", aria_label=f"One fewer {name}")
                count = Tag("output")
                parts.button("+", lambda: self._step(pattern_id, 1), "", aria_label=f"One more {name}")
        return row, count

    def _add(self, pattern_id: str) -> None:
        if pattern_id:
            self.more.control.set("")
            self._step(int(pattern_id), 1)

    def _step(self, pattern_id: int, by: int) -> None:
        """One more or one fewer, from what is kept now."""
        count = dict(self.desk.store.run(self.run_id).pieces).get(pattern_id, 0) + by
        run = self.desk.change_run(self.run_id, pieces={pattern_id: min(count, MOST)})
        self.page.saved()
        self._faults(run)
        self.changed()
