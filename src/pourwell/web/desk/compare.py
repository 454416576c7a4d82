"""Two plans side by side: figures in two columns with what is different, both trees, both programmes in one chart."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_words import DASH, HEAD, VIEW
from pourwell.app.in_hand import forbidden, worst_first
from pourwell.store.model import KeptResult
from pourwell.web.desk import compared, drawn, parts, when
from pourwell.web.desk.drawn import WIDE, Heat, TimeLine
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.plans import WORDS, file_of
from pourwell.web.desk.stopped import StopBand, red_band
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link

HIGH: Final = 280
TOP, FOOT, LABEL_Y = 16.0, 240.0, 256
NEAR: Final = timedelta(hours=36)
"""Programmes whose pours lie further apart are drawn as if poured at the same time: else both would be a stroke."""
NAMES: Final = ("A", "B")
STYLES: Final = ("c-ink", "c-acc")
UP: Final = {"c-ink": -20, "c-acc": 6}
"""How far above its line a plan's name stands [px]."""
Flasks = Sequence[Mapping[str, Any]]
Firing = tuple[str, Mapping[str, Any], list[tuple[datetime, float]], str]
"""Name, burnout, corners and style of a line."""
ALONE: Final = "Another plan is needed to compare with"


def compare_page(desk: Desk, run_id: int, *, a: int = 0, b: int = 0) -> None:
    """The page of a run: by default its last plan and the one before, or the last of another run. Raises BadRequestError."""
    run = desk.store.run(run_id)
    with frame(desk, at="/runs", title=f"Run {run.number}: two plans") as page:
        with Tag("div", classes="head"):
            with Tag("div"):
                head = Tag("h1", f"Run {run.number}: two plans side by side")
                Tag("p", "Every calculation is kept. Choose any two, of this run or of others.")
            with Tag("div", classes="acts"):
                parts.link("Back to the run", f"/runs/{run_id}", "btn")
        StopBand(page, run_id, head=head, view="two plans side by side").build()
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


def firings(both: tuple[Flasks, Flasks], shift: timedelta) -> list[Firing]:
    """The programmes of both plans as lines; flasks of a plan that go through the same one share a line. B's are shifted."""
    out: list[Firing] = []
    for name, plans, style in zip(NAMES, both, STYLES, strict=True):
        later = shift if name == NAMES[1] else timedelta()
        own: list[tuple[list[int], Mapping[str, Any], list[tuple[datetime, float]]]] = []
        for number, plan in enumerate(plans, 1):
            corners = [(at + later, c) for at, c in drawn.kiln_points(plan["burnout"]["segments"], plan["burnout"]["start_c"])]
            same = next((numbers for numbers, _, line in own if line == corners), None)
            if same is None:
                own.append(([number], plan["burnout"], corners))
            else:
                same.append(number)
        for k, (numbers, burnout, corners) in enumerate(own):
            called = name if len(own) == 1 else f"{name} {', '.join(map(str, numbers))}"
            out.append((called, burnout, corners, f"{style} dotted" if k else style))
    return out


class Compared:
    """Two plans that are there."""

    def __init__(self, desk: Desk, page: Frame, *, run_id: int, results: tuple[KeptResult, KeptResult]) -> None:
        self.desk, self.page, self.run_id, self.results = desk, page, run_id, results
        self.plans: tuple[Flasks, Flasks] = (results[0].data["plans"], results[1].data["plans"])
        """Of each the plans of all its flasks."""
        self.several = any(len(plans) > 1 for plans in self.plans)

    def flasks(self) -> list[tuple[str, KeptResult, int, Mapping[str, Any]]]:
        """Every flask of both: its name ("A", or "A 2" of several), its result, its place there, its plan."""
        return [
            (f"{name} {place + 1}" if len(plans) > 1 else name, result, place, plan)
            for name, result, plans in zip(NAMES, self.results, self.plans, strict=True)
            for place, plan in enumerate(plans)
        ]

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
        self._stops({result: run for result, run, _ in known})
        self._since()
        with Tag("div", classes="cols low"):
            with Tag("div"):
                self._table()
                if self.several:
                    self._by_flask()
            with Tag("div"):
                self._programmes()
                self._findings()
        self._trees()

    def _called(self, run_id: int, made: datetime) -> str:
        now = self.page.moment()
        number = self.desk.store.run(run_id).number
        return f"Run {number}, worked out {when.day_and_clock(made.astimezone(now.tzinfo), now)}"

    def _stops(self, runs: Mapping[int, int]) -> None:
        """Which of the two plans must not be poured, where the page's own band does not say it: an older one, another run's."""
        newest = self.desk.store.latest_of_runs()
        for name, result, plans in zip(NAMES, self.results, self.plans, strict=True):
            run_id = runs.get(result.id, self.run_id)
            last = run_id in newest and newest[run_id].id == result.id
            standing = self.desk.standing_of(run_id) if last else None
            why = standing.forbidden if standing else forbidden(worst_first(*(plan["findings"] for plan in plans)))
            if why and not (last and run_id == self.run_id):
                red_band(self.page.units.text(f"Plan {name}: {parts.small(why)}"), way=f"/runs/{run_id}#findings" if last else "")

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
            parts.section("All flasks together" if self.several else "Figures", "the tick stands at the better; pale is the same"),
            parts.wide_table("Figures of both plans", "compare"),
        ):
            parts.head_row(("", ""), ("A", "num"), ("B", "num"), ("Difference", "num"))
            with Tag("tbody"):
                for row in self._rows():
                    with Tag("tr", classes="same" if row.same else ""):
                        Tag("th", row.what, scope="row")
                        for k, text in enumerate(row.both):
                            parts.figure(
                                text if row.unit else self.page.units.text(text),
                                row.unit,
                                tag="td",
                                classes="num better" if row.better == k else "num",
                            )
                        parts.figure(row.difference or ("same" if row.same else DASH), row.apart, tag="td", classes="num")

    def _rows(self) -> list[compared.Row]:
        (a, b), zone = self.plans, self.page.lists.zone
        return compared.rows_together(a, b, zone=zone) if self.several else compared.rows(a[0], b[0], zone=zone)

    def _by_flask(self) -> None:
        """Every flask in a column of its own."""
        flasks = self.flasks()
        with parts.section("Flask by flask"), parts.wide_table("Figures of each flask", "compare"):
            parts.head_row(("", ""), *((name, "num") for name, *_ in flasks))
            with Tag("tbody"):
                for what, unit, texts in compared.by_flask([plan for *_, plan in flasks], zone=self.page.lists.zone):
                    with Tag("tr"):
                        Tag("th", what, scope="row")
                        for text in texts:
                            parts.figure(text, unit, tag="td", classes="num")

    def _findings(self) -> None:
        """What was found in one of them alone."""
        both = [{(f["code"], f["where"]): f for plan in plans for f in plan["findings"]} for plans in self.plans]
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
            for name, plans in zip(NAMES, self.plans, strict=True):
                with Tag("div"):
                    for own, result, place, plan in (flask for flask in self.flasks() if flask[0].startswith(name)):
                        self._tree(own, result, place, size=compared.flask_size(plan), many=len(plans) > 1)

    def _tree(self, name: str, result: KeptResult, place: int, *, size: str, many: bool) -> None:
        """A tree in its flask."""
        Tag("h3", f"{name}: flask {self.page.units.text(size)}")
        if file_of(VIEW, place) not in result.files:
            Tag("p", "It is known by its weight alone.", "quiet")
            return
        head = {"url": link(result, file_of(HEAD, place))}
        label = f"The tree of {'flask' if many else 'plan'} {name}"
        Viewer(src=link(result, file_of(VIEW, place)), head=head, label=label)

    def _programmes(self) -> None:
        """Both kilns over one line of time."""
        zone = self.page.lists.zone
        pours = [when.told(plans[0]["pour"]["at"], zone) for plans in self.plans]
        shift = pours[0] - pours[1] if abs(pours[0] - pours[1]) > NEAR else timedelta()
        lines = firings(self.plans, shift)
        heat = Heat.over(*(one["peak_c"] for _, one, _, _ in lines), top=TOP, foot=FOOT)
        grid = self.page.units.grid_c(heat.most_c)
        times = [moment for _, _, line, _ in lines for moment, _ in line]
        axis = TimeLine(start=min(times) - timedelta(minutes=20), end=max(times) + timedelta(minutes=40), zone=zone)
        remark = self.page.units.unit("°C") + (", B as if poured when A is" if shift else "")
        says = "; ".join(
            f"{name} takes {when.span(one['total_min'])} up to {' '.join(self.page.units.degrees(one['peak_c']))}"
            for name, one, _, _ in lines
        )
        with parts.section("Both programmes", remark), Tag("div", classes="chart timed both"):
            with drawn.svg(HIGH, f"Both programmes: {says}."):
                for a, b in axis.open_hours(self.page.lists.work_from, self.page.lists.work_to):
                    drawn.box(WIDE * a, TOP, width=WIDE * (b - a), height=FOOT - TOP, classes="c-open")
                drawn.line([(0, FOOT), (WIDE, FOOT)], "c-axis")
                for level, _ in grid:
                    drawn.line([(0, heat.y(level)), (WIDE, heat.y(level))], "c-grid")
                for _, _, line, style in lines:
                    drawn.line([(WIDE * x, heat.y(c)) for x, c in drawn.clipped(line, axis)], style)
            for level, label in grid:
                drawn.word(label, 0.0, heat.y(level) - 16, classes="axis halo", anchor="start")
            for name, _, line, style in lines:
                moment, c = line[2]
                drawn.word(name, axis.x(moment), heat.y(c) + UP[style.split()[0]], classes="strong halo")
            drawn.hour_words(axis, LABEL_Y, when.clock)
