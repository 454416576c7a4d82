"""One run: what goes in, the tree in its flask, what to weigh, what was found, kiln and day. Saved as it is typed."""

from collections.abc import Mapping
from functools import partial
from typing import Any, Final

from nicegui import ui

from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.desk_runs import resized
from pourwell.app.desk_words import HEAD, TIMES, VIEW
from pourwell.app.in_hand import worst_first
from pourwell.store.model import KeptResult, KeptRun
from pourwell.web.desk import kiln_told, parts, run_tables, when
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.plans import WORDS, file_of, flask_ways, placed, way_of
from pourwell.web.desk.run_form import RunForm
from pourwell.web.desk.stopped import StopBand
from pourwell.web.desk.tag import Narrow, Tag
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link
from pourwell.web.run_sheets import sheet_link

LOOK_S: Final = 0.3
PLACES: Final = (
    ("To weigh", "to-weigh"),
    ("Findings", "findings"),
    ("Kiln", "controller"),
    ("The day", "day"),
    ("What goes in", "goes-in"),
)
"""The ways on a narrow page, where what is worked out comes before the form."""
Clashes = tuple[Mapping[str, Any], ...]


def run_page(desk: Desk, run_id: int, *, flask: int = 1) -> None:
    """The page. Raises BadRequestError if there is no such run."""
    run = desk.store.run(run_id)
    with frame(desk, at="/runs", title=f"Run {run.number}") as page:
        RunPage(desk, page, run, flask=flask).build()


class RunPage:
    """The parts of the page that change while it is looked at."""

    def __init__(self, desk: Desk, page: Frame, run: KeptRun, *, flask: int) -> None:
        self.desk, self.page, self.run_id, self.flask = desk, page, run.id, flask - 1
        self.number = run.number
        self.shown: tuple[int, Clashes] = (-1, ())
        self.state = ""
        self.low: Tag | None = None
        """Controller and day, once they are worked out."""
        self.is_narrow, self.results_first = False, False

    def build(self) -> None:
        """Head, work in hand, form, result."""
        with Tag("div", classes="head"):
            with Tag("div"):
                self.title = Tag("h1", f"Run {self.number}")
                self.sentence = Tag("p", "")
            with Tag("div", classes="acts"):
                self.compare = parts.link("Compare two plans", f"/runs/{self.run_id}/compare", "btn plain")
                self.freezing = parts.link("How it freezes", f"/runs/{self.run_id}/freezing", "btn")
                self.sheet = Tag("a", "Open the run sheet", "btn", target="_blank", href="#")
                self.button = parts.button("Work it out", self.work_out, "btn main")
        self.band = StopBand(self.page, self.run_id, head=self.title)
        self.band.build()
        self.jobs = parts.JobRows(self._mine, forget=self.desk.crew.forget)
        with Tag("div", classes="run-all") as self.whole:
            self.ways = Tag("nav", classes="ways", aria_label="On this page")
            with self.ways:
                for name, place in PLACES:
                    parts.link(name, f"#{place}")
            with Tag("div", classes="cols run") as self.cols:
                with Tag("div", classes="in", id="goes-in"):
                    self.form = RunForm(self.desk, self.page, self.run_id, changed=self.look)
                    self.form.build()
                self.middle = Tag("div", classes="middle", id="tree")
                self.out = Tag("div", classes="out", id="to-weigh")
            self.below = Tag("div", classes="below")
        Narrow(self.narrow)
        self.page.heard_of = lambda: self.form.refresh(self.desk.store.run(self.run_id))
        self.look()
        ui.timer(LOOK_S, self.look)

    def narrow(self, narrow: bool) -> None:
        """On a narrow page what is worked out stands before the form, for eyes and for keys."""
        self.is_narrow = narrow
        self._in_order()

    def _in_order(self) -> None:
        """Have the elements in the order in which they are seen: the style sheet alone would leave keys and readers behind."""
        first = self.is_narrow and self.low is not None
        if first != self.results_first:
            self.results_first = first
            self.middle.move(target_index=0 if first else 1)
            self.out.move(self.whole if first else self.cols, target_index=1 if first else 2)
            self.below.move(target_index=2)
        if self.low is not None and first:
            self.low.move(target_index=0)
        elif self.low is not None:
            self.low.move(target_index=-1)

    def _mine(self) -> list[Job]:
        """The jobs of this run: the one that goes on, or the last one if it failed."""
        return [job for job in self.desk.crew.jobs if job.about in (("run", self.run_id), ("demo", self.run_id))][-1:]

    def look(self) -> None:
        """Tell what has changed; buttons and fields stay the same elements."""
        self.jobs.look()
        busy = self.desk.being_planned(self.run_id) is not None
        state = f"{self.desk.turn} {busy} {self.page.moment():%H:%M}"  # a clash with another run passes with time
        if state == self.state:
            return
        self.state = state
        self.band.look()
        run, results = self.desk.store.run(self.run_id), self.desk.store.last_of_run(self.run_id)
        last, standing = results[0] if results else None, self.desk.standing_of(self.run_id)
        self._acts(run, last, busy=busy, stopped=standing is not None and bool(standing.forbidden))
        self.form.refresh(run)
        otherwise = self.desk.read_otherwise(run, last) if last else frozenset()
        self.form.mark(
            run, placed(last, self.flask)[0], self.desk.changed(run, last), otherwise=otherwise, sized=resized(run, last)
        )
        clashes = standing.clashes if standing else ()
        if (last.id if last else 0, clashes) != self.shown:
            self.shown = (last.id if last else 0, clashes)
            self._result(results, clashes)

    def _acts(self, run: KeptRun, result: KeptResult | None, *, busy: bool, stopped: bool) -> None:
        changed = self.desk.changed(run, result)
        fresh = result is not None and not changed
        said = "It is being worked out. Go on as you like: what is changed meanwhile is marked." if busy and not result else ""
        self.sentence.set_text(said or self._sentence(result, changed))
        self.sheet.set_visibility(result is not None)
        self.compare.set_visibility(result is not None and len(self.desk.store.planned()) > 1)
        self.freezing.set_visibility(result is not None and bool(run.pieces))
        if result is not None:
            place = placed(result, self.flask)[1]
            which = f" of flask {place + 1}" if len(result.data["plans"]) > 1 else ""
            self.sheet.set_text(("Open the run sheet" if fresh else "Open the former sheet") + which)
            self.sheet.props["href"] = sheet_link(self.run_id, place)
            main = fresh and not stopped  # its sheet is no invitation then
            self.sheet.classes(add="main" if main else "", remove="" if main else "main")
        self.button.set_visibility(not fresh)
        parts.able(self.button, not busy)
        self.button.set_text("Being worked out" if busy else "Work it out" if result is None else "Work it out again")

    def _sentence(self, result: KeptResult | None, changed: tuple[str, ...]) -> str:
        if result is None:
            return "Choose what goes in; then one button works out tree, flask, charge, kiln and day."
        at = when.day_and_clock(result.made_at.astimezone(self.page.moment().tzinfo), self.page.moment())
        since = f" Since then changed: {', '.join(WORDS[key] for key in changed)}." if changed else ""
        return f"Worked out {at}.{since}"

    def work_out(self) -> None:
        """Have the run planned, if its form holds what that takes."""
        run = self.desk.store.run(self.run_id)
        request, faults = self.form.asked(run)
        self.form.tell(faults)
        if not faults and self.desk.being_planned(self.run_id) is None:
            self.desk.plan(run, request)
            self.look()

    def _result(self, results: list[KeptResult], clashes: Clashes) -> None:
        for box in (self.middle, self.out, self.below):
            box.clear()
        self.ways.set_visibility(bool(results))
        self.whole.classes(add="planned" if results else "", remove="" if results else "planned")
        if not results:
            with self.middle:
                parts.empty("The tree stands here", "once it is worked out: in its flask, with what to weigh beside it.")
            return
        plan, place = placed(results[0], self.flask)
        assert plan is not None
        before = results[1].data["plans"] if len(results) > 1 else []
        was: Mapping[str, Any] = before[place] if place < len(before) else {}
        with self.middle:
            flask_ways(results[0], f"/runs/{self.run_id}", place)
            self._tree(results[0], plan, place)
        run = self.desk.store.run(self.run_id)
        with self.out:
            run_tables.to_weigh(plan, was)
            with Tag("div", id="findings"):
                run_tables.findings({**plan, "findings": worst_first(clashes, plan["findings"])}, partial(way_of, run, plan))
        with self.below:
            run_tables.figures(plan, was)
            run_tables.kiln_and_day(plan, self.page, way=f"/runs/{self.run_id}")
            with Tag("div", classes="cols low") as self.low:
                with Tag("div", id="controller"):
                    kiln_told.controller(plan, self.page)
                with Tag("div", id="day"):
                    run_tables.day(plan, self.page, clashes)
        self._in_order()

    def _tree(self, result: KeptResult, plan: Mapping[str, Any], place: int) -> None:
        name = file_of(VIEW, place)
        if name not in result.files:
            with parts.empty("No picture of this tree", "It is known by its weight alone."):
                pass
            return
        count = sum(piece["count"] for piece in plan["pieces"])
        flask = plan["flask"]
        size = self.page.units.text(f"{flask['diameter_mm']:.0f} {TIMES} {flask['height_mm']:.0f} mm")
        label = f"The tree of {count} pieces in its flask of {size}"
        Viewer(src=link(result, name), head={"url": link(result, file_of(HEAD, place))}, label=label)
