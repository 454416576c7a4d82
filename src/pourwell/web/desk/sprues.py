"""Sprue points of a run: where the sprue stands on each piece, others to choose from, and one of the user's own on the surface."""

import asyncio
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_runs import OTHER_SURFACE, OTHER_UNIT, fell_away, sprues_of
from pourwell.app.desk_words import PICTURE, VIEW
from pourwell.app.letters import letter
from pourwell.errors import PourwellError
from pourwell.store.model import KeptResult, KeptRun
from pourwell.web.desk import parts, units
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.stopped import StopBand
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link

ANSWER_S: Final = 120.0
LOOK_S: Final = 1.0
SAME_MM: Final = 0.05
"""A kept place so near to one of the list is that one: both were rounded."""
ONE_SPRUE: Final = (
    "A plan takes one sprue a piece. A second one is set at the bench: weigh the tree then, for its metal is not in the charge."
)
FELL_AWAY: Final = {
    OTHER_UNIT: "the unit of the pattern was changed",
    OTHER_SURFACE: "the pattern taken instead has no surface there",
}
Told = Mapping[str, Any]


def sprues_page(desk: Desk, run_id: int, *, piece: int = 0) -> None:
    """The page; `piece` is the number of a pattern, 0 the first of the run. Raises BadRequestError if there is no such run."""
    run = desk.store.run(run_id)
    with frame(desk, at="/runs", title=f"Run {run.number}: sprue points") as page:
        with Tag("div", classes="head"):
            with Tag("div"):
                head = Tag("h1", f"Run {run.number}: sprue points")
                Tag(
                    "p",
                    "A sprue feeds its piece while it freezes, and leaves a stump. Choose a place, or set your own on the piece.",
                )
            with Tag("div", classes="acts"):
                parts.link("Back to the run", f"/runs/{run_id}", "btn")
        StopBand(page, run_id, head=head, view="sprue points").build()
        if not run.pieces:
            with parts.empty("This run takes no piece yet", "Choose one first; its sprue can then be set here."):
                parts.link("Choose what goes in", f"/runs/{run_id}", "btn")
            return
        known = [pattern_id for pattern_id, _ in run.pieces]
        chosen = piece if piece in known else known[0]
        if len(known) > 1:
            with Tag("nav", classes="flasks", aria_label="Pieces of this run"):
                for k in known:
                    href = f"/runs/{run_id}/sprues?piece={k}"
                    Tag("a", desk.store.pattern(k).name, href=href, aria_current="page" if k == chosen else None)
        result = desk.store.latest(pattern_id=chosen)
        if result is None:
            parts.empty("It is not looked at yet", "Its check is waiting or could not be done; the page of the pattern says more.")
            return
        Sprues(desk, page, run_id=run_id, pattern_id=chosen).build(result)


class Sprues:
    """The parts of the page that change while a place is chosen."""

    def __init__(self, desk: Desk, page: Frame, *, run_id: int, pattern_id: int) -> None:
        self.desk, self.page, self.run_id, self.pattern_id = desk, page, run_id, pattern_id
        self.turn = 0
        self.asked: object = None
        self.found: Told | None = None
        self.rows: list[tuple[Tag, Tag]] = []

    def build(self, result: KeptResult) -> None:
        """The piece in 3-D, and beside it where its sprue stands."""
        name = self.desk.store.pattern(self.pattern_id).name
        with Tag("div", classes="cols pattern"):
            with Tag("div", classes="stays"):
                self.viewer = Viewer(
                    src=link(result, VIEW),
                    head={**result.data["view"], "fields": []},
                    label=f"{name} in 3-D with places for its sprue",
                    still=link(result, PICTURE),
                    picked=self.choose,
                    placing="Set the sprue",
                    placed=lambda place: self.keep(place.at_mm),
                )
            self.beside = Tag("div")
        with self.beside:
            Tag("p", "Places on this piece are being looked for.", "quiet")
        ui.timer(0.05, self.ask, once=True)
        ui.timer(LOOK_S, self.look)

    async def look(self) -> None:
        """Show what another window has set, in this run or of the alloy."""
        if self.asked is not None and self._asks() != self.asked:
            await self.ask()

    def _asks(self) -> object:
        """What the answer depends on: other turns of the desk do not matter here."""
        run = self.desk.store.run(self.run_id)
        return sprues_of(run).get(self.pattern_id), run.form.get("alloy"), run.form.get("pattern")

    async def ask(self) -> None:
        """Have places looked for, and the one that is set judged."""
        self.turn, self.asked = self.turn + 1, self._asks()
        turn = self.turn
        job = self.desk.sprue_places(self.desk.store.run(self.run_id), self.pattern_id)
        await asyncio.to_thread(job.over.wait, ANSWER_S)
        if turn != self.turn:
            return
        if job.outcome is None:
            self.found = None
            self.beside.clear()
            with self.beside:
                parts.empty("No place can be chosen here", parts.why(job.fault) or "No answer came. Load the page again.")
            return
        before, self.found = self.found, job.outcome
        if before is None or before["choices"] != job.outcome["choices"]:
            self.beside.clear()
            with self.beside:
                self._draw(job.outcome["choices"], job.outcome.get("no_cure", ""))
        self._mark(job.outcome)

    def _draw(self, choices: Sequence[Told], no_cure: str) -> None:
        """The section of the sprue and the list; they stay the same elements, so that keys do not lose their place."""
        with parts.section("The sprue now", classes="sprue-now"):
            self.who = Tag("p", "", "small")
            self.now = Tag("div", aria_live="polite")
            self.back = parts.button("Back to the proposed place", lambda: self.keep(None))
            Tag("p", "Drag the ring in the picture, or press arrow keys on it. Or choose “Set the sprue” above and click.", "small")
            Tag("p", ONE_SPRUE, "small")
        self.rows = []
        with parts.section("Places to choose from"):
            if no_cure:
                Tag("p", units.here().text(no_cure), "no-cure")
            with Tag("ul"):
                for k, one in enumerate(choices):
                    self.rows.append(self._row(letter(k), one))

    def _mark(self, found: Told) -> None:
        """Where the sprue stands now: on the piece, in the list, in words."""
        run = self.desk.store.run(self.run_id)
        at = sprues_of(run).get(self.pattern_id)
        choices: Sequence[Told] = found["choices"]
        here = chosen_of(choices, at)
        own = found["own"] if here is None else None
        flags = [_flag(letter(k), one) for k, one in enumerate(choices)]
        self.viewer.offer(flags, grip=at if at is not None else choices[0]["at_mm"])
        lost = fell_away(run, self.pattern_id)
        proposed = "Proposed by the shape of the piece"
        if lost:
            proposed = f"Your place fell away: {FELL_AWAY[lost]}. The proposed one is taken; set yours anew"
        self.who.set_text(proposed if at is None else "Set by you")
        parts.able(self.back, at is not None)
        for k, (row, deed) in enumerate(self.rows):
            row.classes(add="here" if k == here else "", remove="" if k == here else "here")
            deed.set_text("It stands here" if k == here else "Set it here")
            parts.able(deed, k != here)
        self.now.clear()
        with self.now:
            self._now(choices[here] if here is not None else own or choices[0], own=own)

    def _now(self, one: Told, *, own: Told | None) -> None:
        if own is not None and own["trouble"]:
            word = "is thin there" if own["used"] else "cannot be used"
            found = {
                "severity": "warn",
                "says": f"Your place {word}: {own['trouble']}.",
                "where": own["words"] if own["used"] else f"The plan takes instead: {own['words']}",
                "do": "Set it elsewhere, or go back to the proposed place.",
            }
            with Tag("ul"):
                parts.finding(found)
        else:
            Tag("p", parts.capital(one["words"]), "lead")
        parts.keys(_figures(one))
        Tag("p", self.page.units.text(one["reason"].removeprefix("Proposed. ")), "small")

    def _row(self, mine: str, one: Told) -> tuple[Tag, Tag]:
        """A place of the list, and the button that sets the sprue there."""
        units = self.page.units
        with Tag("li", classes="find place-row") as row:
            way = Tag("button", classes="btn plain place-to", type="button", aria_label=f"Show place {mine}")
            with way.pressed(partial(self.viewer.look_at, mine)):
                Tag("span", mine, "letter")
            with Tag("div"):
                Tag("h3", parts.capital(one["words"]))
                Tag("p", units.text(one["reason"]))
                figures = "; ".join(f"{what.lower()} {text} {unit}" for what, text, unit in _figures(one))
                Tag("p", units.text(parts.capital(figures)), "quiet")
                deed = parts.button("Set it here", partial(self.choose, mine), aria_label=f"Set the sprue at place {mine}")
        return row, deed

    def choose(self, mine: str) -> None:
        """Take a place of the list; the first is the proposed one."""
        choices: Sequence[Told] = self.found["choices"] if self.found else ()
        for k, one in enumerate(choices):
            if letter(k) == mine:
                self.keep(one["at_mm"] if k else None)

    def keep(self, at_mm: Sequence[float] | None) -> None:
        """Keep it, say so, and have it judged."""
        try:
            self.desk.set_sprue(self.run_id, self.pattern_id, at_mm)
        except PourwellError as err:
            self.page.not_saved(err.what)
            return
        self.page.saved()
        ui.timer(0.01, self.ask, once=True)


def chosen_of(choices: Sequence[Told], at: Sequence[float] | None) -> int | None:
    """Which of the list is set: the first where nothing is; None for a place of the user's own."""
    if at is None:
        return 0
    near = (k for k, one in enumerate(choices) if max(abs(a - b) for a, b in zip(one["at_mm"], at, strict=True)) < SAME_MM)
    return next(near, None)


def _flag(mine: str, one: Told) -> dict[str, Any]:
    return {"letter": mine, "at": one["at_mm"], "says": one["words"], "what": "Place"}


def _figures(one: Told) -> list[tuple[str, str, str]]:
    return [("Sprue", f"{one['gauge_mm']:g}", "mm"), ("Thickness there", f"{one['thickness_mm']:.1f}", "mm")]


def words_of(run: KeptRun, pattern_id: int) -> str:
    """Of the sprue of a piece, who set it."""
    lost = fell_away(run, pattern_id)
    if lost:
        return "Set its sprue anew: the unit was changed" if lost == OTHER_UNIT else f"Set its sprue anew: {FELL_AWAY[lost]}"
    return "Sprue: yours" if pattern_id in sprues_of(run) else "Sprue point"
