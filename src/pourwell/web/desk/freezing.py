"""How a run freezes: the tree coloured by time with a slider, what loses its feed, what helps, sprues against pieces, cooling."""

from collections.abc import Mapping
from functools import partial
from math import dist
from typing import Any, Final

from nicegui import ui

from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.desk_words import FREEZING_HEAD, FREEZING_VIEW, for_desk
from pourwell.app.letters import letter
from pourwell.store.model import KeptResult, KeptRun
from pourwell.web.desk import parts, when
from pourwell.web.desk.cooling import cooling
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.plans import NOT_YET, WORDS, file_of, flask_ways, piece_names, placed, plan_anew
from pourwell.web.desk.stopped import StopBand
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link

LOOK_S: Final = 0.5
FED: Final = {"fed": "yes", "uncertain": "only just", "CUT OFF": "no"}
NEAR_MM: Final = 4.0
"""So near to each other two places of a tree are one to the eye."""
GRAVE: Final = {"uncertain": "note", "CUT OFF": "warn"}


def freezing_page(desk: Desk, run_id: int, *, flask: int = 1) -> None:
    """The page. Raises BadRequestError if there is no such run."""
    run = desk.store.run(run_id)
    with frame(desk, at="/runs", title=f"Run {run.number}: how it freezes") as page:
        Freezes(desk, page, run, flask=flask).build()


class Freezes:
    """The parts of the page that change when a plan is there."""

    def __init__(self, desk: Desk, page: Frame, run: KeptRun, *, flask: int) -> None:
        self.desk, self.page, self.run_id, self.flask, self.number = desk, page, run.id, flask - 1, run.number
        self.state = ""

    def build(self) -> None:
        """Head, work in hand, body."""
        with Tag("div", classes="head"):
            with Tag("div"):
                head = Tag("h1", f"Run {self.number}: how it freezes")
                self.sentence = Tag("p", "")
            self.acts = Tag("div", classes="acts")
        StopBand(self.page, self.run_id, head=head, view="how it freezes").build()
        self.jobs = parts.JobRows(self._mine, forget=self.desk.crew.forget)
        self.body = Tag("div")
        self.look()
        ui.timer(LOOK_S, self.look)

    def _mine(self) -> list[Job]:
        return [job for job in self.desk.crew.jobs if job.about == ("run", self.run_id)][-1:]

    def look(self) -> None:
        """Draw it anew when there is another plan."""
        self.jobs.look()
        run, result = self.desk.store.run(self.run_id), self.desk.store.latest(run_id=self.run_id)
        busy = self.desk.being_planned(self.run_id) is not None
        changed = self.desk.changed(run, result)
        state = f"{result.id if result else 0} {busy} {changed}"
        if state == self.state:
            return
        fresh, self.state = self.state.split(" ")[0] != state.split(" ")[0], state
        plan, place = placed(result, self.flask)
        frozen = plan.get("frozen") if plan and result and file_of(FREEZING_VIEW, place) in result.files else None
        self.sentence.set_text(self.page.units.text(self._sentence(run, result, frozen=frozen, changed=changed)))
        self._acts(frozen, busy=busy)
        if fresh or not frozen:
            self.body.clear()
            with self.body:
                if result is not None and frozen:
                    flask_ways(result, f"/runs/{self.run_id}/freezing", place)
                    Frozen(result, frozen, place, names=piece_names(plan)).build()
                else:
                    self._not_there(run, plan, busy=busy)

    def _sentence(self, run: KeptRun, result: KeptResult | None, *, frozen: Any, changed: tuple[str, ...]) -> str:
        if result is None or not frozen:
            return "Computed are cooling and freezing of the metal in its mould, and whether each piece stays fed."
        plan, _ = placed(result, self.flask)
        assert plan is not None
        pour = plan["pour"]
        at = when.day_and_clock(result.made_at.astimezone(self.page.moment().tzinfo), self.page.moment())
        since = f" Since then changed: {', '.join(WORDS[key] for key in changed)}." if changed else ""
        poured = f"{parts.capital(plan['alloy']['name'])} at {pour['metal_c']:.0f} °C into a flask at {pour['flask_c']:.0f} °C"
        return f"{self.page.units.text(poured)}. Worked out {at}.{since}"

    def _acts(self, frozen: Any, *, busy: bool) -> None:
        self.acts.clear()
        with self.acts:
            parts.link("Back to the run", f"/runs/{self.run_id}", "btn")
            if frozen and not busy and not frozen["fine"]:
                parts.button("Work it out finer", partial(self.work_out, "fine"))

    def _not_there(self, run: KeptRun, plan: Mapping[str, Any] | None, *, busy: bool) -> None:
        """Why there is nothing to see yet, and the way to it."""
        if not run.pieces:
            parts.empty("A tree known by its weight alone has no shape", "Choose pieces in the run; then it can be worked out.")
        elif busy:
            parts.empty("It is being worked out", "The plan is made first, then its freezing. It takes a minute or several.")
        else:
            title, why = _why_not(run, plan)
            says = "One press works out the plan again, with how its tree freezes. It takes a minute or several."
            with parts.empty(title, f"{why} {says}".strip()):
                parts.button("Work out how it freezes", partial(self.work_out, True), "btn main")

    def work_out(self, how: object) -> None:
        """Have the run planned anew with its freezing."""
        run = self.desk.change_run(self.run_id, fields={"freeze": how})
        self.page.saved()
        if not plan_anew(self.page, run):
            self.sentence.set_text(NOT_YET)
        self.look()


def _why_not(run: KeptRun, plan: Mapping[str, Any] | None) -> tuple[str, str]:
    """Why a plan has no freezing to look at, as a title and what else is to be said."""
    told = next((f for f in (plan or {}).get("findings", ()) if f["code"] == "freeze-not-computed"), None)
    if told is not None:
        return "It could not be computed", here().text(f"{parts.capital(told['says'])}. {told['do']}".replace("..", "."))
    if plan and (plan.get("freezing") or plan.get("frozen")):
        return "It was worked out, but not kept to be looked at", "This plan is older than this page."
    return ("It was not asked for" if plan and not run.form.get("freeze", True) else "It is not worked out yet"), ""


class Frozen:
    """A freezing that is there."""

    def __init__(self, result: KeptResult, frozen: Mapping[str, Any], place: int, *, names: Mapping[str, str]) -> None:
        self.names = names
        self.result, self.frozen, self.place = result, frozen, place
        self.rows: dict[str, Tag] = {}
        self.letters: dict[int, str] = {}
        self.hot: list[Mapping[str, Any]] = []
        """Hot spots of pieces that no warning stands at already: those share its letter."""
        for one in frozen["pools"]:
            self.letters[id(one)] = letter(len(self.letters))
        for one in frozen["rows"]:
            there = (pool for pool in frozen["pools"] if dist(pool["at_mm"], one["at_mm"]) < NEAR_MM)
            pool = next(there, None)
            self.letters[id(one)] = self.letters[id(pool)] if pool else letter(len(frozen["pools"]) + len(self.hot))
            self.hot += [] if pool else [one]

    def build(self) -> None:
        """The tree and beside it the verdict; below what helps, and the cooling curves."""
        with Tag("div", classes="cols freezing"):
            with Tag("div", classes="stays"):
                self.viewer = Viewer(
                    src=link(self.result, file_of(FREEZING_VIEW, self.place)),
                    head={"url": link(self.result, file_of(FREEZING_HEAD, self.place))},
                    label="The tree by the time at which it is solid",
                    flags=self._flags(),
                    picked=self.here,
                )
            with Tag("div"):
                self._verdict()
                self._sprues()
                self._facts()
        with Tag("div", classes="cols low"):
            with Tag("div"):
                self._changes()
            with Tag("div"):
                cooling(self.frozen["curves"])
        with parts.section("What is computed, and what is not"):
            Tag("p", here().text(self.frozen["source"]), "small")
            Tag("p", here().text(self.frozen["grid"]), "small")

    def _flags(self) -> list[dict[str, Any]]:
        lost = [
            {"at": one["at_mm"], "says": one["lead"], "what": "Warning", "letter": self.letters[id(one)]}
            for one in self.frozen["pools"]
        ]
        hot = [
            {
                "at": one["at_mm"],
                "says": f"last of piece {one['number']}, {one['section']}",
                "what": "Hot spot",
                "letter": self.letters[id(one)],
            }
            for one in self.hot
        ]
        return lost + hot

    def here(self, which: str) -> None:
        """Wash the row of a flag."""
        for name, row in self.rows.items():
            row.classes(add="here" if name == which else "", remove="" if name == which else "here")

    def _look(self, which: str) -> None:
        self.viewer.look_at(which)
        self.here(which)

    def _verdict(self) -> None:
        with parts.section("Verdict"):
            Tag("p", here().text(self.frozen["verdict"]), "lead")
            with Tag("ul"):
                for one in self.frozen["pools"]:
                    mine = self.letters[id(one)]
                    found = {
                        "severity": "warn" if "likely" in one["lead"] else "note",
                        "says": one["lead"],
                        "where": "where it stays liquid",
                        "do": "See what helps, below.",
                    }
                    self.rows[mine] = parts.finding(found, letter=mine, look=partial(self._look, mine))
                    with self.rows[mine], Tag("details", classes="notes beside"):
                        Tag("summary", "What happens there")
                        Tag("p", here().text(one["says"]), "small")
            if self.frozen["more_pools"]:
                Tag("p", f"And {self.frozen['more_pools']} more of the same kinds.", "small")

    def _sprues(self) -> None:
        with parts.section("Sprue against piece", "times from the pour"), parts.wide_table("Sprues and pieces"):
            parts.head_row(
                ("Hot spot", ""), ("Piece", ""), ("Sprue solid", "num"), ("Needs feed until", "num"), ("Fed to the end", "")
            )
            with Tag("tbody"):
                for one in self.frozen["rows"]:
                    mine = self.letters[id(one)]
                    with Tag("tr") as row:
                        self.rows.setdefault(mine, row)
                        with Tag("td"):
                            label = f"Show the hot spot of piece {one['number']}"
                            with Tag("button", classes="btn plain place-to", type="button", aria_label=label).pressed(
                                partial(self._look, mine)
                            ):
                                Tag("span", mine, "letter")
                        Tag("th", f"{one['number']} · {self.names.get(one['piece'], one['piece'])}", scope="row")
                        for key in ("sprue", "section"):
                            with Tag("td", one[key], "num nowrap"):
                                Tag("small", one[f"{key}_band"], "band")
                        with Tag("td"):
                            if one["verdict"] in GRAVE:
                                parts.mark(GRAVE[one["verdict"]])
                            Tag("span", f" {FED[one['verdict']]}")
                            Tag("small", here().text(one["missed"]), "band")

    def _facts(self) -> None:
        with parts.section("At the pour", "bands from the uncertain mould"), Tag("table", classes="measures"), Tag("tbody"):
            for what, value, band, do in self.frozen["facts"]:
                with Tag("tr"):
                    with Tag("th", scope="row"):
                        Tag("span", parts.capital(what))
                        Tag("small", here().text(do))
                    with Tag("td", here().text(value), "num nowrap strong"):
                        Tag("small", here().text(band), "band")

    def _changes(self) -> None:
        with parts.section("What to change", "each one worked out, not guessed"):
            if not self.frozen["tried"]:
                Tag("p", "Nothing needs a change.", "quiet")
            with Tag("ul"):
                for one in self.frozen["tried"]:
                    with Tag("li", classes="find change"):
                        Tag("b", "Helps" if one["lead"].startswith("Change") else "Tried")
                        with Tag("div"):
                            Tag("h3", here().text(for_desk(one["does"])))
                            Tag("p", here().text(one["gave"]))
