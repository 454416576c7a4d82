"""What is to be placed over the days: runs with a tick each, trees that are not drawn yet, and in which hours."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, Final

from pourwell.app.choices import SMALLEST, gone
from pourwell.app.desk import MATERIAL, Desk
from pourwell.app.desk_days_form import (
    ANY,
    AT,
    BY,
    FREE,
    OFF,
    ON,
    OWN,
    TREES,
    InHand,
    Read,
    is_ticked,
    listed,
    numbers_in,
    own_kiln,
    own_pour,
    pour_of,
    trees_of,
    usual_wish,
)
from pourwell.errors import PourwellError
from pourwell.materials.studio import Studio
from pourwell.request import MOST_RUNS
from pourwell.store.model import KeptRun
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.parts import Field
from pourwell.web.desk.tag import Tag, Tick

POURS: Final = ((FREE, "As early as fits"), (AT, "At a fixed hour"), (BY, "At the latest by"))
NIGHTS: Final = (("yes", "Allowed"), ("no", "Not allowed"))
OF_DAYS: Final = ("work_from", "work_to", "days_off", "overnight")


class DaysForm:
    """The form on the page. All that is typed stands in `typed`; `changed` is told of every change."""

    def __init__(self, desk: Desk, page: Frame, typed: dict[str, str], *, changed: Callable[[], None]) -> None:
        self.desk, self.page, self.typed, self.changed = desk, page, typed, changed
        self.fields: dict[str, Field] = {}
        self.called: dict[int, Tag] = {}
        """Under which number each tree stands on the sheet."""
        self.shown: tuple[Any, ...] = ()
        """The runs in hand as the list shows them."""

    def build(self) -> None:
        """All sections."""
        studio = self.desk.days.studio()
        with parts.section("To be cast"):
            self.list = Tag("ul", classes="cast")
            self.trees = Tag("ul", classes="cast")
            parts.button("Add a tree that is not drawn yet", self._add, "btn")
            self.enough = Tag("p", "", "fault", role="status")
        self._runs(studio)
        for tree in trees_of(self.typed):
            self._tree(tree, studio)
        with parts.section("Hours", "for this placing only"):
            self._hours(studio)
        with parts.section("Limits"):
            self._limits()

    def refresh(self) -> None:
        """Look whether other runs are in hand than those that are shown."""
        if self._in_hand() != self.shown:
            self._runs(self.desk.days.studio())

    def tell(self, read: Read) -> None:
        """Say beside each field what is not yet right, and who set what counts."""
        numbers = [entry["number"] for entry in read.entries if "run_id" not in entry]
        for tree, number in zip(trees_of(self.typed), numbers, strict=True):
            self.called[tree].set_text(f"run {number} on the sheet")
        for key, field in self.fields.items():
            field.tell(read.faults.get(key, ""))
            if key in OF_DAYS:
                field.set_by("yours" if self.typed.get(key, "").strip() else "settings", field.control.props.get("placeholder", ""))

    # ---- fields

    def keep(self, key: str, value: str) -> None:
        """Note what stands in a field; what is empty stands nowhere."""
        if value.strip():
            self.typed[key] = value
        else:
            self.typed.pop(key, None)
        self.changed()

    def _entry(self, key: str, label: str, **how: Any) -> Field:
        field = parts.entry(label, self.typed.get(key, ""), lambda text: self.keep(key, text), **how)
        self.fields[key] = field
        return field

    def _choice(self, key: str, label: str, *, options: Any, usual: str = "", also: Callable[[str], Any] | None = None) -> Field:
        def chosen(value: str) -> None:
            self.keep(key, value)
            if also is not None:
                also(value)

        field = parts.choice(label, self.typed.get(key) or usual, chosen, options=options)
        self.fields[key] = field
        return field

    def _moment(self, before: str, label: str, *, remark: str = "") -> Tag:
        """A day and an hour side by side."""
        chosen = self.typed.get(f"{before}day", "")
        options = [("", "No day said"), *when.days(self.page.moment(), chosen)[1:]]
        with Tag("div", classes="two") as both:
            self._choice(f"{before}day", label, options=options)
            self._entry(f"{before}hour", "at", inputmode="numeric", maxlength="8", remark=remark)
        return both

    def _tick(self, key: str, says: str) -> None:
        with Tag("label", classes="check"):
            Tick(bool(self.typed.get(key)), ticked=lambda on: self.keep(key, "1" if on else ""))
            Tag("span", says)

    # ---- runs

    def _in_hand(self) -> tuple[Any, ...]:
        """What the list of runs comes from."""
        return tuple((one.run.id, one.begun_at, one.run.form, one.run.pieces) for one in self.desk.days.in_hand())

    def _runs(self, studio: Studio) -> None:
        self.shown = self._in_hand()
        runs, read = self.desk.days.in_hand(), self.desk.days.read(self.typed)
        self.list.clear()
        with self.list:
            for one in runs:
                self._run(one, read.unreadable.get(one.run.id, ""), studio)
        if not runs:
            with self.list, Tag("li"):
                Tag("p", "No run is in hand. Plan one from your patterns, or add a tree by its weight.", "quiet")
                parts.link("To the patterns", "/patterns")

    def _run(self, one: InHand, unreadable: str, studio: Studio) -> None:
        run, at = one.run, f"r{one.run.id}."
        with Tag("li", classes="cast-run"):
            if unreadable:
                parts.link(f"Run {run.number}", f"/runs/{run.id}", "strong")
                Tag("p", unreadable, "fault")
                return
            with Tag("label", classes="check"):
                Tick(is_ticked(one, self.typed), ticked=lambda on: self._ticked(one, on))
                Tag("span", f"Run {run.number}", "strong")
            Tag("small", run_words(run, self.page))
            if one.begun_at is not None:
                begun = when.day_and_clock(one.begun_at.astimezone(self.page.moment().tzinfo), self.page.moment())
                Tag("small", f"By its plan it began {begun}. Tick it only if nothing of it was done.")
            now, zone = self.desk.clock(), self.page.lists.zone
            own, usual = own_pour(run, now=now, zone=zone), usual_wish(run, now=now, zone=zone)
            options = list(POURS)
            if own is not None:
                options.insert(1, (OWN, f"{when.day(own)} {when.clock(own)}, as it says"))
            elif pour_of(run):
                Tag("small", f"The pour in its form, {pour_of(run)}, cannot be any more: it is placed anew.")
            self._wish(at, options, usual=usual, studio=studio, name=f"run {run.number}", kiln=own_kiln(run))

    def _ticked(self, one: InHand, on: bool) -> None:
        """Those that wait are taken out, those that have begun are taken in."""
        key = OFF if one.begun_at is None else ON
        named = set(numbers_in(self.typed.get(key, "")))
        (named.add if on == (key == ON) else named.discard)(one.run.id)
        self.keep(key, listed(named))

    def _wish(self, at: str, options: list[tuple[str, str]], *, usual: str, studio: Studio, name: str, kiln: str = "") -> None:
        """When it may or must be poured, from when its patterns are there, and in which kiln."""
        said = (
            any(self.typed.get(f"{at}{key}") for key in ("pour", "ready_hour", "ready_day", "kiln")) or usual != FREE or bool(kiln)
        )
        with Tag("details", classes="notes", open=said):
            Tag("summary", f"When and where {name} may be poured")
            with Tag("div", classes="fields one"):
                self._choice(
                    f"{at}pour", "Pour", options=options, usual=usual, also=lambda wish: fixed.set_visibility(wish in (AT, BY))
                )
                fixed = self._moment(at, "On")
                fixed.set_visibility((self.typed.get(f"{at}pour") or usual) in (AT, BY))
                self._moment(f"{at}ready_", "Patterns are there from", remark="else they are there now")
                names, chosen = [one.name for one in studio.all_kilns], self.typed.get(f"{at}kiln") or kiln or ANY
                if len(names) > 1 or chosen not in (ANY, *names):
                    kilns = [(ANY, "Any that takes it"), *((name, name) for name in names if name)]
                    kilns += [gone(chosen)] if chosen not in (ANY, *names) else []
                    self._choice(f"{at}kiln", "Kiln", options=kilns, usual=kiln or ANY)

    # ---- trees that are not drawn yet

    def _add(self) -> None:
        known = trees_of(self.typed)
        if len(known) >= MOST_RUNS:
            self.enough.set_text(f"More than {MOST_RUNS} flasks are no week's work of one pair of hands.")
            return
        tree = max(known, default=0) + 1
        self.enough.set_text("")
        self._put_back(tree, {f"t{tree}.alloy": self.desk.usual_alloy(), f"t{tree}.pattern": MATERIAL, f"t{tree}.flasks": "1"})

    def _put_back(self, tree: int, said: Mapping[str, str]) -> None:
        """A tree with what is said of it, at its place in the form."""
        try:
            studio = self.desk.days.studio()
        except PourwellError as err:  # somebody is in the middle of writing it
            self.enough.set_text(parts.why(err))
            return
        self.typed |= {**said, TREES: listed([*trees_of(self.typed), tree])}
        self._tree(tree, studio)
        self.changed()

    def _tree(self, tree: int, studio: Studio) -> None:
        at, lists = f"t{tree}.", self.page.lists
        with self.trees, Tag("li", classes="cast-tree") as row:
            with Tag("div", classes="one-head"):
                with Tag("div"):
                    Tag("h3", f"Tree {tree}, not drawn yet")
                    self.called[tree] = Tag("small", "")
                parts.button("Take away", lambda: self._away(tree, row), "btn plain", aria_label=f"Take tree {tree} away")
            with Tag("div", classes="fields"):
                self._choice(f"{at}alloy", "Alloy", options=lists.alloys)
                self._choice(f"{at}flask", "Flask", options=(("", "The usual one"), *lists.flasks))
                self._choice(f"{at}pattern", "Pattern material", options=lists.materials, usual=MATERIAL)
                self._entry(f"{at}flasks", "Flasks of the same", inputmode="numeric", maxlength="3")
                self._entry(
                    f"{at}pieces", "Pieces still to sprue", inputmode="numeric", maxlength="4", remark="none: it stands ready"
                )
                self._entry(f"{at}weight", "Tree weighs", unit="g", inputmode="decimal", maxlength="12", remark="else a usual one")
                self._entry(f"{at}name", "Name on the sheet", maxlength="60")
            self._wish(at, list(POURS), usual=FREE, studio=studio, name=f"tree {tree}")

    def _away(self, tree: int, row: Tag) -> None:
        """Take a tree away; what stood in its fields comes back with Undo."""
        was = {key: text for key, text in self.typed.items() if key.startswith(f"t{tree}.")}
        row.delete()
        for key in [key for key in self.fields if key.startswith(f"t{tree}.")]:
            del self.fields[key]
        for key in was:
            del self.typed[key]
        self.keep(TREES, listed([one for one in trees_of(self.typed) if one != tree]))
        self.page.undo(f"Tree {tree} was taken away.", lambda: self._put_back(tree, was))

    # ---- hours and limits

    def _hours(self, studio: Studio) -> None:
        night = "allowed" if studio.overnight_firing else "not allowed"
        off = ", ".join(studio.days_off)
        with Tag("div", classes="fields one"):
            with Tag("div", classes="halves-of-form"):
                self._entry(
                    "work_from", "At work from", placeholder=f"{studio.work_from:%H:%M}", maxlength="8", inputmode="numeric"
                )
                self._entry("work_to", "to", placeholder=f"{studio.work_to:%H:%M}", maxlength="8", inputmode="numeric")
            remark = "as Sunday, 2026-12-24; or none"
            self._entry("days_off", "Days off", placeholder=off or "none", maxlength="90", remark=remark)
            options = (("", f"As the settings say: {night}"), *NIGHTS)
            self._choice("overnight", "A kiln on while nobody is awake", options=options)
        parts.link("Change them for good in the settings", "/settings", "small")

    def _limits(self) -> None:
        with Tag("div", classes="fields one"):
            self._moment("start_", "Nothing before", remark="else now")
            had = self.desk.days.kiln_had_until()
            if had is not None:
                run, free_at = had
                at = when.day_and_clock(free_at.astimezone(self.page.moment().tzinfo), self.page.moment())
                Tag("p", f"Run {run.number} has begun and keeps the kiln; it is cool enough for another load {at}.", "small")
                parts.button("Nothing before then", lambda: self._not_before(free_at), "btn")
            self._moment("pour_", "The first pour")
            self._entry(
                "wait",
                "A flask is held longer, at the most",
                unit="min",
                inputmode="numeric",
                maxlength="5",
                remark="beyond its programme",
            )
            self._tick("bag", "Flasks may stand up to a day, bagged damp")
            self._tick("apart", "Each run has a firing to itself")
            self._entry("title", "Title of the sheet", maxlength="80", placeholder="The days ahead")

    def _not_before(self, moment: datetime) -> None:
        """Let nothing begin before a moment."""
        at = moment.astimezone(self.page.moment().tzinfo)
        for key, text in (("start_day", at.date().isoformat()), ("start_hour", f"{at:%H:%M}")):
            self.typed[key] = text
            self.fields[key].control.set(text)
        self.changed()


def run_words(run: KeptRun, page: Frame) -> str:
    """What goes into a run, in a line."""
    form: Mapping[str, Any] = run.form
    count = sum(count for _, count in run.pieces)
    what = f"{count} piece{'s' if count != 1 else ''}" if count else f"a tree of {page.units.text(_weight(form))}"
    flask = dict((SMALLEST, *page.lists.flasks)).get(str(form.get("flask") or ""), str(form.get("flask")))
    title = str(form.get("title") or "").strip()
    words = (title, page.lists.alloy_name(str(form.get("alloy", ""))), what, page.units.text(parts.small(flask)))
    return ", ".join(word for word in words if word)


def _weight(form: Mapping[str, Any]) -> str:
    text = str(form.get("weight", "")).strip()
    return text if any(letter.isalpha() for letter in text) else f"{text} g"
