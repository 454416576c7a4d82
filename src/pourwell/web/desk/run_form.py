"""What goes into a run: pieces and counts, alloy, flask, the pour. Every change is kept at once."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from pourwell.app.choices import SMALLEST, USUAL, USUAL_BURNOUT, kiln_fault
from pourwell.app.desk import Desk
from pourwell.app.desk_form import request_of_form
from pourwell.app.desk_runs import SIZE
from pourwell.app.desk_words import LONGEST_NAME, MINUS, PICTURE
from pourwell.errors import PourwellError
from pourwell.store.model import KeptResult, KeptRun
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.parts import Field
from pourwell.web.desk.pattern_change import has_finger_bore
from pourwell.web.desk.sprues import words_of
from pourwell.web.desk.tag import Entry, Tag, listen
from pourwell.web.kept import link

YOURS, DEFAULT = "yours", "default"
MOST: Final = 500
"""Of one kind of piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """A piece of the run in the list: its elements."""

    whole: Tag
    picture: Tag
    count: Entry
    sprue: Tag
    unit: Tag
    """Says that its file is read in another unit, or with other bodies, than in the plan."""

    @property
    def pictured(self) -> bool:
        """Is its picture there."""
        return bool(self.picture.default_slot.children)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A box to tick, with its words."""

    whole: Tag
    box: Tag

    def show(self, ticked: bool) -> None:
        """Show what is kept."""
        if self.box.props.get("checked", False) != ticked:
            self.box.props["checked"] = ticked
            self.box.update()


def tick_box(says: str, ticked: Any, keep: Callable[[bool], None]) -> Tick:
    """A box to tick; `keep` hears whether it is."""
    with Tag("label", classes="check") as whole:
        box = Tag("input", type="checkbox", checked=bool(ticked))
        Tag("span", says)
    listen(box, "change", lambda event: keep(bool(event.args)), js_handler="(e) => emit(e.target.checked)")
    return Tick(whole=whole, box=box)


class RunForm:
    """The form on the page."""

    def __init__(self, desk: Desk, page: Frame, run_id: int, *, changed: Callable[[], None]) -> None:
        self.desk, self.page, self.run_id, self.changed = desk, page, run_id, changed
        self.fields: dict[str, Field] = {}
        self.sizes: dict[int, Field] = {}
        """For the rings among its pieces: the finished size that is wanted."""
        self.rows: dict[int, PieceRow] = {}
        """They stay the same elements while counts change, or quick presses would be lost."""

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
            self.weight = Tag("div", classes="by-weight fields one")
            with self.weight:
                self._entry("weight", "Tree on the scale", form, unit="g", inputmode="decimal")
                with Tag("div", classes="two"):
                    self._entry("base_g", "Of it the base", form, unit="g", inputmode="decimal", remark="where it stands on it")
                    self._entry("wax_g", "Of it sprue wax", form, unit="g", inputmode="decimal", remark="with pieces of resin")
            with Tag("div", classes="fields one"):
                self._choice("alloy", "Alloy", form, options=lists.alloys)
                self._choice("pattern", "Pattern material", form, options=lists.materials)
                self._choice("investment", "Investment", form, options=(USUAL, *lists.investments))
                self._choice("flask", "Flask", form, options=(SMALLEST, *lists.flasks))
                self._choice("programme", "Burnout", form, options=(USUAL_BURNOUT, *lists.programmes))
                known = form.get("programme") or len(lists.programmes)
                self.fields["programme"].whole.set_visibility(bool(known))
                self._choice("kiln", "Kiln", form, options=())
                self.stones = tick_box("Stones are in place", form.get("stones"), lambda on: self.keep("stones", on or ""))
                self._entry("returns", "Returns in the charge", form, unit="%", inputmode="decimal", remark="clean, once cast")
                self.alloying = tick_box(
                    "Alloy it from fine metal and master alloy",
                    form.get("own_alloying"),
                    lambda on: self.keep("own_alloying", on or ""),
                )
                self._entry("metal_c", "Metal at the pour", form, unit="°C", inputmode="decimal")
                self._entry("flask_c", "Flask at the pour", form, unit="°C", inputmode="decimal")
                with Tag("div", classes="two"):
                    self._choice(
                        "pour_day", "Pour on", form, options=when.days(self.page.moment(), str(form.get("pour_day") or ""))
                    )
                    self._entry("pour_hour", "at", form, inputmode="numeric")
                self._entry("title", "Title on the sheet", form, maxlength=str(LONGEST_NAME))
                self.freeze = tick_box("Work out how it freezes", form.get("freeze", True), lambda on: self.keep("freeze", on))

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

    def asked(self, run: KeptRun) -> tuple[dict[str, Any], dict[str, str]]:
        """The run in the words of a request, and what is not yet right."""
        liquidus_c = self.page.lists.liquidus_c.get(str(run.form.get("alloy", "")))
        return request_of_form(
            run.form,
            by_weight=not run.pieces,
            pieces=dict(run.pieces),
            now=self.desk.clock(),
            zone=self.page.lists.zone,
            liquidus_c=liquidus_c,
            kilns=self.page.lists.kiln_names,
        )

    def _faults(self, run: KeptRun) -> None:
        _, faults = self.asked(run)
        if not str(run.form.get("weight", "")).strip():
            faults.pop("weight", None)
        self.tell(faults)

    def tell(self, faults: Mapping[str, str]) -> None:
        """Say beside each field what is not yet right."""
        for name, field in self.fields.items():
            field.tell(faults.get(name, ""))
        for pattern_id, field in self.sizes.items():
            field.tell(faults.get(f"{SIZE}{pattern_id}", ""))

    def refresh(self, run: KeptRun) -> None:
        """Show what is kept: also what another window has changed."""
        for name, field in self.fields.items():
            kept = str(run.form.get(name) or "")
            if field.control.value != kept:
                field.control.set(kept)
        self._kilns(str(run.form.get("kiln") or ""))
        self.freeze.show(bool(run.form.get("freeze", True)))
        self.stones.show(bool(run.form.get("stones")))
        self.alloying.show(bool(run.form.get("own_alloying")))
        self._pieces(run)

    def mark(
        self,
        run: KeptRun,
        plan: Mapping[str, Any] | None,
        changed: Collection[str],
        *,
        otherwise: Collection[int] = (),
        sized: Collection[int] = (),
    ) -> None:
        """Say who set each weight and temperature, and mark what was changed since the plan was worked out.

        `otherwise`: patterns whose file is read otherwise now; `sized`: those of which another size is wanted.
        """
        for pattern_id, row in self.rows.items():
            row.unit.set_visibility(pattern_id in otherwise)
            row.whole.classes(add="since" if pattern_id in otherwise else "", remove="" if pattern_id in otherwise else "since")
        for pattern_id, field in self.sizes.items():
            field.since(pattern_id in sized)
        for name, field in self.fields.items():
            field.since(name in changed or (name == "pour_hour" and "pour_day" in changed))
        self.list.classes(add="since" if "pieces" in changed else "", remove="" if "pieces" in changed else "since")
        for name, tick in (("freeze", self.freeze), ("stones", self.stones), ("own_alloying", self.alloying)):
            tick.whole.classes(add="since" if name in changed else "", remove="" if name in changed else "since")
        typed = {name: bool(str(run.form.get(name) or "").strip()) for name in ("weight", "returns", "metal_c", "flask_c")}
        self.fields["weight"].set_by(YOURS if typed["weight"] else "")
        self.fields["returns"].set_by(YOURS if typed["returns"] else DEFAULT, "0")
        for name in ("metal_c", "flask_c"):
            if typed[name]:
                self.fields[name].set_by(YOURS)
            elif plan is None or plan["pour"].get(name.replace("_c", "_from")) == "user":
                self.fields[name].set_by("computed" if run.pieces else DEFAULT)
            else:
                self.fields[name].set_by("computed" if plan.get("tree") else DEFAULT, f"{plan['pour'][name]:.0f}")

    def _kilns(self, chosen: str) -> None:
        """The kilns to choose from as the studio's files have them now; one that was chosen and is gone is told at once."""
        field, lists = self.fields["kiln"], self.page.lists
        options = [list(one) for one in lists.kilns_with(chosen)]
        if field.control.props["options"] != options:
            field.control.props["options"] = options
            field.control.update()
        field.whole.set_visibility(bool(options))
        field.tell(kiln_fault(chosen, lists.kiln_names))

    def _pieces(self, run: KeptRun) -> None:
        """Rows for what the run takes, and the rest of the library to choose from."""
        counts, patterns, results = dict(run.pieces), self.desk.store.patterns(), self.desk.store.latest_of_patterns()
        self.weight.set_visibility(not counts)
        self.freeze.whole.set_visibility(bool(counts))
        for pattern_id in [key for key in self.rows if key not in counts]:
            self.rows.pop(pattern_id).whole.delete()
            self.sizes.pop(pattern_id, None)
        for pattern_id, count in run.pieces:
            if pattern_id not in self.rows:
                with self.list:
                    self.rows[pattern_id] = self._row(pattern_id)
            row = self.rows[pattern_id]
            if row.count.value != str(count):
                row.count.set(str(count))
            row.sprue.set_text(words_of(run, pattern_id))
            result = results.get(pattern_id)
            if result is not None and not row.pictured:
                with row.picture:
                    Tag("img", src=link(result, PICTURE), alt="", width="56", height="56")
            self._size(pattern_id, str(run.form.get(f"{SIZE}{pattern_id}") or ""), result)
        options = [["", "From the library"], *([str(p.id), p.name] for p in patterns if p.id not in counts)]
        if self.more.control.props["options"] != options:
            self.more.control.props["options"] = options
            self.more.control.update()
        self.more.whole.set_visibility(len(options) > 1)
        self.none.set_visibility(not patterns and not counts)

    def _row(self, pattern_id: int) -> PieceRow:
        name = self.desk.store.pattern(pattern_id).name
        with Tag("li") as row:
            picture = Tag("span")
            with Tag("span"):
                parts.link(name, f"/patterns/{pattern_id}", "name")
                sprue = parts.link("", f"/runs/{self.run_id}/sprues?piece={pattern_id}", "sprue-way")
                unit = Tag("small", "Its unit or bodies were changed since")
                unit.set_visibility(False)
            with Tag("span", classes="count", role="group", aria_label=f"{name}, how many"):
                parts.button(MINUS, lambda: self._step(pattern_id, -1), "", aria_label=f"One fewer {name}")
                count = Entry("", typed=partial(self._count, pattern_id), inputmode="numeric", aria_label=f"How many {name}")
                parts.button("+", lambda: self._step(pattern_id, 1), "", aria_label=f"One more {name}")
        return PieceRow(whole=row, picture=picture, count=count, sprue=sprue, unit=unit)

    def _size(self, pattern_id: int, kept: str, result: KeptResult | None) -> None:
        """The finished size that is wanted of a ring; also one that is kept though no finger goes through it now: it is planned."""
        field, ring = self.sizes.get(pattern_id), result is not None and has_finger_bore(result.data)
        if not ring and not kept:
            if field is not None:
                self.sizes.pop(pattern_id).whole.delete()
            return
        if field is None:
            with self.rows[pattern_id].whole:
                field = parts.entry("Size wanted", kept, partial(self.keep, f"{SIZE}{pattern_id}"), maxlength="20")
            self.sizes[pattern_id] = field
        if field.control.value != kept:
            field.control.set(kept)
        says = f"ISO {result.data['piece']['bore']['finished_sizes']['iso']}" if result is not None and ring else ""
        if field.control.props.get("placeholder", "") != says:
            field.control.props["placeholder"] = says
            field.control.update()

    def _add(self, pattern_id: str) -> None:
        if pattern_id:
            self.more.control.set("")
            self._step(int(pattern_id), 1)

    def _count(self, pattern_id: int, text: str) -> None:
        """A count that is typed: what is no number yet is not kept, nor a nought, which the minus gives."""
        if text.strip().isdecimal() and 0 < int(text) <= MOST:
            self._set(pattern_id, int(text))

    def _step(self, pattern_id: int, by: int) -> None:
        """One more or one fewer, from what is kept now."""
        self._set(pattern_id, min(dict(self.desk.store.run(self.run_id).pieces).get(pattern_id, 0) + by, MOST))

    def _set(self, pattern_id: int, count: int) -> None:
        run = self.desk.change_run(self.run_id, pieces={pattern_id: count})
        self.page.saved()
        self._faults(run)
        self.changed()
