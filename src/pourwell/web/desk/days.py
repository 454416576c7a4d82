"""The days ahead: runs in hand and trees that are not drawn yet, placed so that hands are needed in one's hours.

What stands in the fields stands in the address too, so that a page that is loaded anew has lost nothing.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.desk_days import ABOUT, Placing, Taken, Taking
from pourwell.app.desk_days_form import FREE, Read, trees_of
from pourwell.app.desk_words import DAYS_CALENDAR, DAYS_SHEET
from pourwell.app.in_hand import forbidden, forbids, worst_first
from pourwell.errors import PourwellError
from pourwell.web.desk import days_told, parts, when
from pourwell.web.desk.days_form import DaysForm
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.plans import plan_anew
from pourwell.web.desk.stopped import red_band
from pourwell.web.desk.tag import Narrow, Tag
from pourwell.web.kept import days_link

PATH: Final = "/runs/days"
LOOK_S: Final = 0.3
PLACES: Final = (("What to do when", "work"), ("Kiln", "kiln"), ("Findings", "findings"), ("What is cast", "goes-in"))
"""The ways on a narrow page, where what is worked out comes before the form."""
MOST_WORDS: Final = 240
"""Fields that an address may name: twelve trees and as many runs with all that can be said of them."""
CHANGES: Final = {
    "bag": ("bag", "1"),
    "overnight": ("overnight", "yes"),
    "late": ("work_to", ""),
    "early": ("work_from", ""),
    "hold": ("wait", ""),
}
"""What is given up: the field that says so, and what it says then; empty: the value of the offer."""
BENCH: Final = (
    "What is taken is the pour and the kiln. The hours of the bench are not: a run's own plan knows of no other run, so for the "
    "bench go by the list of these days, or its sheet."
)


def days_page(desk: Desk, given: Mapping[str, str]) -> None:
    """The page; `given` is what its address says."""
    with frame(desk, at="/runs", title="The days ahead") as page:
        DaysPage(desk, page, given).build()


class DaysPage:
    """Form and result."""

    def __init__(self, desk: Desk, page: Frame, given: Mapping[str, str]) -> None:
        self.desk, self.page = desk, page
        self.typed: dict[str, str] = {key: text for key, text in given.items() if text.strip()}
        self.is_narrow = False
        self.turns = 0
        """Grows with every change of the form."""
        self.seen: tuple[Any, ...] = ()
        self.drawn: tuple[Any, ...] = ()
        self.placing: Placing | None = None
        """What is shown."""
        self.own = ""
        """How this page asked for it last: what another window asks otherwise does not take its place."""

    def build(self) -> None:
        """Head, work in hand, form, result."""
        with Tag("div", classes="head"):
            with Tag("div"):
                self.title = Tag("h1", "The days ahead")
                self.sentence = Tag("p", "")
            with Tag("div", classes="acts"):
                parts.link("Back to the runs", "/runs", "btn plain")
                self.calendar = Tag("a", "Load the calendar", "btn", href="#", download="the-days-ahead.ics")
                self.sheet = Tag("a", "Open the sheet", "btn", target="_blank", href="#")
                self.button = parts.button("Work the days out", self.work_out, "btn main")
        self.band = Tag("div")
        self.jobs = parts.JobRows(self._mine, forget=self.desk.crew.forget)
        with Tag("div", classes="run-all") as self.whole:
            self.ways = Tag("nav", classes="ways", aria_label="On this page")
            with self.ways:
                for name, place in PLACES:
                    parts.link(name, f"#{place}")
            with Tag("div", classes="cols run over-days") as self.cols:
                self.place = Tag("div", classes="in", id="goes-in")
                self.out = Tag("div", classes="out")
        self._form()
        Narrow(self.narrow)
        self.look()
        ui.timer(LOOK_S, self.look)

    def narrow(self, narrow: bool) -> None:
        """On a narrow page what is worked out stands before the form, for eyes and for keys; until then the form does."""
        self.is_narrow = narrow
        self.out.move(self.cols, target_index=0 if narrow and self.placing is not None else 1)

    def _form(self) -> None:
        self.place.clear()
        with self.place:
            self.form = DaysForm(self.desk, self.page, self.typed, changed=self.changed)
            self.form.build()

    def _mine(self) -> list[Job]:
        return [job for job in self.desk.crew.jobs if job.about == ABOUT][-1:]

    def changed(self) -> None:
        """Something was typed: it stands in the address at once."""
        ui.navigate.history.replace(f"{PATH}?{urlencode(self.typed)}" if self.typed else PATH)
        self.turns += 1
        self.look()

    def look(self) -> None:
        """Look what has changed: work that goes on, runs in hand, the form, the minute, the files of the studio."""
        self.jobs.look()
        busy, latest = self.desk.days.being_placed() is not None, self.desk.days.latest
        minute, files = self.page.moment().minute, self.page.files.mark
        seen = (self.turns, self.desk.turn, busy, latest.number if latest else 0, minute, files)
        if seen == self.seen:
            return
        self.seen = seen
        try:
            self.form.refresh()
            read = self.desk.days.read(self.typed)
            self.form.tell(read)
            asked = self.desk.days.signature(read)
            self.placing = self.desk.days.asked_as(asked, self.own)
            if self.placing is not None and self.placing.signature == asked:
                self.own = asked
            self._show(self.placing, read, asked=asked, busy=busy)
        except PourwellError as err:  # somebody is in the middle of writing a file of the studio
            self._unread(err)

    def work_out(self) -> None:
        """Have it placed, if the form holds what that takes."""
        try:
            read = self.desk.days.read(self.typed)
            self.form.tell(read)
            if not read.faults and read.entries and self.desk.days.being_placed() is None:
                self.own = self.desk.days.signature(read)
                self.desk.days.place(read)
                self.turns += 1
                self.look()
        except PourwellError as err:
            self._unread(err)

    # ---- what came of it

    def _unread(self, fault: PourwellError) -> None:
        """Say that a file of the studio cannot be read; until it can, nobody knows whether what was worked out still holds."""
        self.sentence.set_text(parts.why(fault))
        parts.able(self.button, False)
        if self.placing is None:
            return
        self.drawn = ()
        self._clear()
        for link in (self.sheet, self.calendar):
            link.set_visibility(False)
        with self.out:
            says = "A file of the studio cannot be read, so nobody knows whether it still holds. Mend the file first."
            parts.empty("What was worked out is not shown now", says)

    def _show(self, placing: Placing | None, read: Read, *, asked: str, busy: bool) -> None:
        fits = placing is not None and placing.nothing is None
        changed = placing is not None and placing.signature != asked
        late = placing is not None and fits and self._late(placing)
        fresh = placing is not None and not changed and not late
        self.sentence.set_text(self._sentence(placing, read, changed=changed, late=bool(late)))
        self.button.set_text("Being worked out" if busy else "Work the days out" if placing is None else "Work them out again")
        self.button.set_visibility(not fresh)
        parts.able(self.button, not busy and bool(read.entries) and not read.faults)
        clashes = self.desk.days.clashes(placing) if placing is not None and fits else []
        for link, name in ((self.sheet, DAYS_SHEET), (self.calendar, DAYS_CALENDAR)):
            link.set_visibility(bool(fits) and not forbids(clashes))  # they know of no run in hand beside those placed
            if placing is not None and fits:
                link.props["href"] = days_link(placing, name)
                link.update()
        takings = self.desk.days.taking(placing) if placing is not None and fits else []
        drawn = (placing.number if placing else 0, changed, late, clashes, takings)
        if drawn != self.drawn:
            self.drawn = drawn
            self._result(placing, clashes, takings, fresh=fresh)

    def _late(self, placing: Placing) -> bool:
        """Whether the first thing to do is over."""
        first = min(datetime.fromisoformat(job["at"]) for day in placing.data["days"] for job in day["jobs"])
        return first < self.desk.clock()

    def _sentence(self, placing: Placing | None, read: Read, *, changed: bool, late: bool) -> str:
        if not read.entries:
            return "Tick what is to be cast, or add a tree; then one button says what to do when."
        if self.desk.days.being_placed() is not None:
            return "It is being worked out. Go on as you like: what is changed meanwhile is told."
        if read.faults:
            return "Something in the form is not right yet: it says so at its field."
        if placing is None:
            return "One button says when to be where, so that hands are needed in your hours."
        at = when.day_and_clock(placing.made_at.astimezone(self.page.moment().tzinfo), self.page.moment())
        since = " Its first step is over by now." if late else ""
        if changed and placing.signature == self.own:
            since = " Since then what is asked, or a file of the studio, was changed."
        elif changed:
            since = " It was asked otherwise than the form says here."
        return f"Worked out {at}.{since}"

    def _result(self, placing: Placing | None, clashes: list[Mapping[str, Any]], takings: list[Taking], *, fresh: bool) -> None:
        self._clear()
        self.narrow(self.is_narrow)
        self.ways.set_visibility(placing is not None)
        self.whole.classes(add="planned" if placing else "", remove="" if placing else "planned")
        with self.out:
            if placing is None:
                parts.empty(
                    "What to do when stands here", "once it is worked out: day by day, with kilns, pours, sheet and calendar."
                )
            elif placing.nothing is not None:
                days_told.nothing(placing.nothing, self._give_up)
            else:
                findings = worst_first(clashes, placing.data["findings"])
                self._forbid(findings)
                stopped = bool(forbids(findings))
                days_told.told(placing, self.page, findings, take=lambda: self._take(takings, fresh=fresh, stopped=stopped))

    def _clear(self) -> None:
        self.out.clear()
        self.band.clear()
        self.title.set_text("The days ahead")
        ui.page_title("The days ahead · Pourwell")

    def _forbid(self, findings: tuple[Mapping[str, Any], ...]) -> None:
        never, why = forbids(findings), forbidden(findings)
        if never:
            self.title.set_text(f"The days ahead: {parts.small(never)}")
            ui.page_title(f"{never}: the days ahead · Pourwell")
            with self.band:
                red_band(self.page.units.text(why), way="#findings")

    def _give_up(self, offer: Mapping[str, Any]) -> None:
        """Ask for what an offer says, and have it placed."""
        if offer["key"] in CHANGES:
            key, value = CHANGES[offer["key"]]
            self.typed[key] = value or offer["value"]
        else:
            self.typed = self.form.typed = {key: text for key, text in self.typed.items() if key not in ("pour_day", "pour_hour")}
            entries = self.desk.days.read(self.typed).entries
            if offer["key"] == "pour" or len(entries) == 1:  # of several, those that ask for a pour of their own keep it
                runs = [f"r{entry['run_id']}.pour" for entry in entries if "run_id" in entry]
                self.typed |= dict.fromkeys((*runs, *(f"t{tree}.pour" for tree in trees_of(self.typed))), FREE)
            if offer["key"] != "pour":
                pour_at = datetime.fromisoformat(offer["pour_at"])
                self.typed |= {"pour_day": pour_at.date().isoformat(), "pour_hour": f"{pour_at:%H:%M}"}
        self._form()
        self.changed()
        self.work_out()

    # ---- taking the hours

    def _take(self, takings: list[Taking], *, fresh: bool, stopped: bool) -> None:
        """What becomes of the runs, and the button."""
        able = [one for one in takings if not one.why_not]
        to_take = [one for one in able if not one.taken]
        with parts.section("Into the runs"):
            for one in takings:
                at = f"{when.day(one.pour_at)} {when.clock(one.pour_at)}"
                with Tag("p", classes="small"):
                    parts.link(f"Run {one.run.number}", f"/runs/{one.run.id}")
                    says = (
                        f"has its pour {at}."
                        if one.taken
                        else f"would pour {at}."
                        if not one.why_not
                        else f"is not taken: {parts.small(one.why_not)}"
                    )
                    Tag("span", f" {says}")
            with Tag("div", classes="acts after-fields"):
                if to_take and fresh and not stopped:
                    parts.button("Take these hours into the runs", self.take, "btn main")
                elif able and not to_take:
                    parts.button("Work these runs out", lambda: self._plan(able), "btn main" if fresh else "btn")
                elif to_take:
                    why = "What stops it comes first." if stopped else "Work the days out again first."
                    Tag("span", why, "small")
            if able:
                Tag("p", BENCH, "small")
            if any("shares firing" in one.why_not for one in takings):
                Tag("p", self._shared(), "small")
                with Tag("div", classes="acts after-fields"):
                    parts.button("Place them with a firing each", self._apart, "btn")

    def _shared(self) -> str:
        return (
            "Where alloy and investment are the same, put the pieces into one run: its flasks share a firing by its own plan. "
            "Else fire them by the sheet of these days, or place them with a firing each."
        )

    def _apart(self) -> None:
        self.typed["apart"] = "1"
        self._form()
        self.changed()
        self.work_out()

    def take(self) -> None:
        """Set the pours in the runs; Undo sets back what nobody has changed since."""
        placing = self.placing
        if placing is None or placing.nothing is not None:
            return
        try:
            taken = self.desk.days.take(placing)
        except PourwellError as err:
            self.page.not_saved(err.what)
            return
        self.page.saved()
        self.look()
        numbers = [str(self.desk.store.run(run_id).number) for run_id in taken]
        self.page.undo(f"Taken into run{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}.", lambda: self._back(taken))

    def _back(self, taken: Mapping[int, Taken]) -> None:
        try:
            back, left = self.desk.days.take_back(taken)
        except PourwellError as err:
            self.page.not_saved(err.what)
        else:
            if back:
                self.page.saved(left=", ".join(left))
            else:
                self.page.not_saved(f"{', '.join(left)}.")
        self.look()

    def _plan(self, takings: list[Taking]) -> None:
        """Have the runs planned at the pours that they have now."""
        for one in takings:
            plan_anew(self.page, self.desk.store.run(one.run.id))
        ui.navigate.to("/runs")
