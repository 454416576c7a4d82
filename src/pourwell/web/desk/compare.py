"""Two plans side by side: figures in two columns with what is different, both trees, both programmes in one chart."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_words import HEAD, TIMES, VIEW
from pourwell.store.model import KeptResult
from pourwell.web.desk import compared, drawn, parts, when
from pourwell.web.desk.drawn import WIDE, Heat, TimeLine
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.plans import WORDS, file_of, placed
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link

HIGH: Final = 280
TOP, FOOT, LABEL_Y = 16.0, 240.0, 256
NEAR: Final = timedelta(hours=36)
"""Programmes whose pours lie further apart are drawn as if poured at the same time: else both would be a stroke."""
NAMES: Final = ("A", "B")
ALONE: Final = "Another plan is needed to compare with"


def compare_page(desk: Desk, run_id: int, *, a: int = 0, b: int = 0) -> None:
    """The page of a run: by default its last plan and the one before, or the last of another run. Raises BadRequestError."""
    run = desk.store.run(run_id)
    with frame(desk, at="/runs", title=f"Run {run.number}: two plans") as page:
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "Two plans side by side")
                Tag("p", "Every calculation is kept. Choose any two, of this run or of others.")
            with Tag("div", classes="acts"):
                parts.link("Back to the run", f"/runs/{run_id}", "btn")
        known = desk.store.planned()
        two = chosen(known, run_id, (a, b))
        if two is None:
            with parts.empty(ALONE, "Work the run out, change something, and work it out again: both plans stay kept."):
                parts.link("To the run", f"/runs/{run_id}", "btn main")
            return
        results = (desk.store.result(two[0]), desk.store.result(two[1]))
        Compared(desk, page, run_id=run_id, results=results).build(known)


def chosen(known: list[tuple[int, int, datetime]], run_id: int, wanted: tuple[int, int]) -> tuple[int, int] | None:
    """Which two results: those that are wanted as far as there are such, else the one before and the last of the run."""
    all_ids = [result for result, _, _ in known]
    mine = [result for result, run, _ in known if run == run_id]
    order = mine + [result for result in all_ids if result not in mine]
    if len(order) < 2:
        return None
    b = wanted[1] if wanted[1] in all_ids else next(one for one in order if one != wanted[0])
    a = wanted[0] if wanted[0] in all_ids else next(one for one in order if one != b)
    return a, b


class Compared:
    """Two plans that are there."""

    def __init__(self, desk: Desk, page: Frame, *, run_id: int, results: tuple[KeptResult, KeptResult]) -> None:
        self.desk, self.page, self.run_id, self.results = desk, page, run_id, results
        plans = [placed(result, 0)[0] for result in results]
        assert plans[0] is not None
        assert plans[1] is not None
        self.plans: tuple[Mapping[str, Any], Mapping[str, Any]] = (plans[0], plans[1])

    def build(self, known: list[tuple[int, int, datetime]]) -> None:
        """Two lists to choose from, the table, the trees, the chart."""
        options = [(str(result), self._called(run, made)) for result, run, made in known]
        ids = [result.id for result in self.results]
        with Tag("div", classes="cols halves choose-two"):
            for k, name in enumerate(NAMES):

                def take(text: str, k: int = k) -> None:
                    new = [int(text) if place == k else one for place, one in enumerate(ids)]
                    ui.navigate.to(f"/runs/{self.run_id}/compare?a={new[0]}&b={new[1]}")

                parts.choice(f"Plan {name}", str(ids[k]), take, options=options)
        self._since()
        with Tag("div", classes="cols low"):
            with Tag("div"):
                self._table()
            with Tag("div"):
                self._programmes()
                self._findings()
        self._trees()

    def _called(self, run_id: int, made: datetime) -> str:
        now = self.page.moment()
        number = self.desk.store.run(run_id).number
        return f"Run {number}, worked out {when.day_and_clock(made.astimezone(now.tzinfo), now)}"

    def _since(self) -> None:
        """Which fields differ."""
        a, b = (result.asked for result in self.results)
        other = [WORDS[key] for key in WORDS if a.get(key, "") != b.get(key, "")]
        said = (
            f"Chosen otherwise: {', '.join(other)}."
            if other
            else "Nothing was chosen otherwise; the hour of the calculation may be another."
        )
        Tag("p", said, "lead")

    def _table(self) -> None:
        with (
            parts.section("Figures", "the tick stands at the better; pale is the same"),
            parts.wide_table("Figures of both plans", "compare"),
        ):
            parts.head_row(("", ""), ("A", "num"), ("B", "num"), ("Difference", "num"))
            with Tag("tbody"):
                for row in compared.rows(*self.plans, zone=self.page.lists.zone):
                    with Tag("tr", classes="same" if row.same else ""):
                        Tag("th", row.what, scope="row")
                        for k, text in enumerate(row.both):
                            parts.figure(
                                text if row.unit else self.page.units.text(text),
                                row.unit,
                                tag="td",
                                classes="num better" if row.better == k else "num",
                            )
                        parts.figure(row.difference or "same", row.apart, tag="td", classes="num")

    def _findings(self) -> None:
        """What was found in one of them alone."""
        both = [{(f["code"], f["where"]): f for f in plan["findings"]} for plan in self.plans]
        with parts.section("Found in one of them alone"):
            if both[0].keys() == both[1].keys():
                Tag("p", "Both have the same findings.", "quiet")
            for name, mine, others in zip(NAMES, both, both[::-1], strict=True):
                only = [found for key, found in mine.items() if key not in others]
                if only:
                    Tag("h3", f"In {name}")
                    with Tag("ul"):
                        for found in only:
                            parts.finding(found)

    def _trees(self) -> None:
        with parts.section("Both trees"), Tag("div", classes="cols halves"):
            for name, result, plan in zip(NAMES, self.results, self.plans, strict=True):
                with Tag("div"):
                    flask = plan["flask"]
                    size = self.page.units.text(f"{flask['diameter_mm']:.0f} {TIMES} {flask['height_mm']:.0f} mm")
                    Tag("h3", f"{name}: flask {size}")
                    if VIEW in result.files:
                        Viewer(
                            src=link(result, VIEW), head={"url": link(result, file_of(HEAD, 0))}, label=f"The tree of plan {name}"
                        )
                    else:
                        Tag("p", "It is known by its weight alone.", "quiet")

    def _programmes(self) -> None:
        """Both kilns over one line of time."""
        zone = self.page.lists.zone
        burnouts = [plan["burnout"] for plan in self.plans]
        pours = [when.told(plan["pour"]["at"], zone) for plan in self.plans]
        shift = pours[0] - pours[1] if abs(pours[0] - pours[1]) > NEAR else timedelta()
        corners = [drawn.kiln_points(one["segments"], one["start_c"]) for one in burnouts]
        corners[1] = [(moment + shift, c) for moment, c in corners[1]]
        heat = Heat.over(*(one["peak_c"] for one in burnouts), top=TOP, foot=FOOT)
        grid = self.page.units.grid_c(heat.most_c)
        times = [moment for line in corners for moment, _ in line]
        axis = TimeLine(start=min(times) - timedelta(minutes=20), end=max(times) + timedelta(minutes=40), zone=zone)
        remark = self.page.units.unit("°C") + (", B as if poured when A is" if shift else "")
        says = "; ".join(
            f"{name} takes {when.span(one['total_min'])} up to {' '.join(self.page.units.degrees(one['peak_c']))}"
            for name, one in zip(NAMES, burnouts, strict=True)
        )
        with parts.section("Both programmes", remark), Tag("div", classes="chart timed both"):
            with drawn.svg(HIGH, f"Both programmes: {says}."):
                for a, b in axis.open_hours(self.page.lists.work_from, self.page.lists.work_to):
                    drawn.box(WIDE * a, TOP, width=WIDE * (b - a), height=FOOT - TOP, classes="c-open")
                drawn.line([(0, FOOT), (WIDE, FOOT)], "c-axis")
                for level, _ in grid:
                    drawn.line([(0, heat.y(level)), (WIDE, heat.y(level))], "c-grid")
                for line, style in zip(corners, ("c-ink", "c-acc"), strict=True):
                    drawn.line([(WIDE * x, heat.y(c)) for x, c in drawn.clipped(line, axis)], style)
            for level, label in grid:
                drawn.word(label, 0.0, heat.y(level) - 16, classes="axis", anchor="start")
            for name, line, up in zip(NAMES, corners, (-20, 6), strict=True):
                moment, c = line[2]
                drawn.word(name, axis.x(moment), heat.y(c) + up, classes="strong halo")
            for hour in axis.hours(3):
                drawn.word(when.clock(hour), axis.x(hour), LABEL_Y)
