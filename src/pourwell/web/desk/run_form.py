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
        self.pieces: tuple[tuple[int, int], ...] | None = None

    def build(self) -> None:
        """The section."""
        form, lists = self.desk.store.run(self.run_id).form, self.page.lists
        with parts.section("What goes in"):
            self.list = Tag("div")
            self.weight = Tag("div")
            with self.weight:
                self._entry("weight", "Tree on the scale", form, unit="g", inputmode="decimal")
            with Tag("div", classes="fields one"):
                self._choice("alloy", "Alloy", form, lists.alloys)
                self._choice("pattern", "Pattern material", form, lists.materials)
                self._choice("investment", "Investment", form, (USUAL, *lists.investments))
                self._choice("flask", "Flask", form, (SMALLEST, *lists.flasks))
                self._entry("returns", "Returns in the charge", form, unit="%", inputmode="decimal", remark="clean, once cast")
                with Tag("div", classes="two"):
                    self._choice("pour_day", "Pour on", form, when.days(self.page.now(), str(form.get("pour_day") or "")))
                    self._entry("pour_hour", "at", form, inputmode="numeric")
                self.freeze = Tag("label", classes="check")
                with self.freeze:
                    box = Tag("input", type="checkbox", checked=bool(form.get("freeze", True)))
                    Tag("span", "Work out how it freezes")
                box.on("change", lambda event: self.keep("freeze", bool(event.args)), js_handler="(e) => emit(e.target.checked)")

    def _entry(self, name: str, label: str, form: Mapping[str, Any], **how: Any) -> None:
        self.fields[name] = parts.entry(label, str(form.get(name) or ""), lambda text: self.keep(name, text), **how)

    def _choice(self, name: str, label: str, form: Mapping[str, Any], options: Any) -> None:
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
                field.control.value = kept
                field.control.props["value"] = kept
                field.control.update()
        if run.pieces != self.pieces:
            self.pieces = run.pieces
            self._draw_pieces(run)

    def _draw_pieces(self, run: KeptRun) -> None:
        known = {pattern.id: pattern for pattern in self.desk.store.patterns()}
        results = self.desk.store.latest_of_patterns()
        chosen = dict(run.pieces)
        self.weight.set_visibility(not chosen)
        self.freeze.set_visibility(bool(chosen))
        self.list.clear()
        with self.list:
            with Tag("ul", classes="plist"):
                for pattern_id, count in run.pieces:
                    name = self.desk.store.pattern(pattern_id).name
                    with Tag("li"):
                        result = results.get(pattern_id)
                        if result is not None:
                            Tag("img", src=link(result, PICTURE), alt="", width="56", height="56")
                        else:
                            Tag("span")
                        parts.link(name, f"/patterns/{pattern_id}", "name")
                        self._count(pattern_id, name, count)
            more = [(str(p.id), p.name) for p in known.values() if p.id not in chosen]
            if more:
                word = "Add another piece" if chosen else "Choose a piece"
                parts.choice(word, "", self._add, options=[("", "From the library"), *more])
            elif not chosen:
                with Tag("p", classes="quiet"):
                    Tag("span", "No pattern is here yet. ")
                    parts.link("Add patterns", "/patterns")
                    Tag("span", ", or enter the weight of a tree.")

    def _add(self, pattern_id: str) -> None:
        if pattern_id:
            self._set(int(pattern_id), 1)

    def _count(self, pattern_id: int, name: str, count: int) -> None:
        with Tag("span", classes="count", role="group", aria_label=f"{name}, how many"):
            parts.button(MINUS, lambda: self._set(pattern_id, count - 1), "", aria_label=f"One fewer {name}")
            Tag("output", str(count))
            parts.button("+", lambda: self._set(pattern_id, min(count + 1, MOST)), "", aria_label=f"One more {name}")

    def _set(self, pattern_id: int, count: int) -> None:
        run = self.desk.change_run(self.run_id, pieces={pattern_id: count})
        self.page.saved()
        self._faults(run)
        self.changed()
