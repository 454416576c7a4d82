"""One pattern: what it is in 3-D, what was found on it, what it measures and will weigh; mended and made to a size beside it."""

import asyncio
from collections.abc import Mapping
from functools import partial
from typing import Final

from nicegui import ui

from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.desk_drafts import Draft
from pourwell.app.desk_runs import fell_away
from pourwell.errors import PourwellError
from pourwell.store.model import KeptPattern, KeptResult, KeptRun
from pourwell.web.desk import parts, when
from pourwell.web.desk.draft import kept_line, show_draft
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.pattern_change import UNITS
from pourwell.web.desk.pattern_parts import PatternParts
from pourwell.web.desk.sprues import words_of
from pourwell.web.desk.tag import Tag

LOOK_S: Final = 0.4
ANSWER_S: Final = 60.0


def pattern_page(desk: Desk, pattern_id: int, *, size: str = "") -> None:
    """The page; `size`: the one that is wanted of a ring. Raises BadRequestError if there is no such pattern."""
    pattern = desk.store.pattern(pattern_id)
    with frame(desk, at="/patterns", title=pattern.name) as page:
        made = PatternPage(desk, page, pattern_id, size=size)
        made.build()
        ui.timer(LOOK_S, made.look)


class PatternPage:
    """The parts of the page that change while it is looked at."""

    def __init__(self, desk: Desk, page: Frame, pattern_id: int, *, size: str) -> None:
        self.desk, self.page, self.pattern_id, self.size = desk, page, pattern_id, size
        self.draft: Draft | None = None
        """What is looked at beside the pattern; set from the work's own thread."""
        self.whole: PatternParts | None = None
        """The pattern as it is, while that is what is shown."""
        self.seen, self.state = "", ""

    def build(self) -> None:
        """Head, work in hand, body."""
        self.head = Tag("div", classes="head")
        self.jobs = parts.JobRows(self._mine, forget=self.desk.crew.forget)
        self.line = Tag("p", classes="kept-line", role="status")
        self.body = Tag("div")
        self.look()

    def _mine(self) -> list[Job]:
        return [job for job in self.desk.crew.jobs if job.about in (("pattern", self.pattern_id), ("draft", self.pattern_id))]

    def look(self) -> None:
        """Draw anew what has changed."""
        self.jobs.look()
        job = self.desk.being_checked(self.pattern_id)
        draft = self.draft.number if self.draft else 0
        seen = f"{self.desk.turn} {job is None} {draft}"
        if seen == self.seen:
            return
        self.seen = seen
        result = self.desk.store.latest(pattern_id=self.pattern_id)
        state = f"{result.id if result else 0} {job is not None and result is None} {draft}"
        if state == self.state:
            return
        self.state = state
        self.draw(self.desk.store.pattern(self.pattern_id), result, waiting=job is not None)

    def draw(self, pattern: KeptPattern, result: KeptResult | None, *, waiting: bool) -> None:
        """Head and body; of a pattern that is checked anew the fields and boxes live on."""
        _head(self.head, self.page, pattern, result=result, acts=self.draft is None)
        if self.draft is None and result is not None:
            if self.whole is None:
                self.body.clear()
                with self.body:
                    self.whole = PatternParts(self.page, pattern, mend=self.mend, fit=self.fit, size=self.size)
            self.whole.show(pattern, result)
            return
        self.whole = None
        self.body.clear()
        with self.body:
            if self.draft is not None:
                show_draft(self.draft, keep=self.keep, leave=self.leave)
            elif not waiting:
                with parts.empty("It is not checked", "Its check could not be done, was stopped, or has not begun."):
                    parts.button("Check it", lambda: self.desk.check(pattern))

    # ---- what is not kept yet

    def ready(self, draft: Draft) -> None:
        """A draft came out of the work."""
        self.draft = draft

    def mend(self) -> None:
        """Have it mended, to be looked at."""
        if self.desk.drafts.being_made(self.pattern_id) is None:
            self.desk.drafts.mend(self.desk.store.pattern(self.pattern_id), self.ready)
        self.look()

    def fit(self, size: str, offset: bool) -> None:
        """Have it made to a size, to be looked at."""
        if self.desk.drafts.being_made(self.pattern_id) is None:
            self.desk.drafts.fit(self.desk.store.pattern(self.pattern_id), self.ready, size=size, offset=offset)
        self.look()

    def leave(self) -> None:
        """Back to the pattern as it is."""
        if self.draft is not None:
            self.desk.drafts.let_go(self.draft)
        self.draft = None
        self.look()

    def keep(self) -> None:
        """Keep the draft beside the pattern."""
        if self.draft is None:
            return
        try:
            kept, new = self.desk.drafts.keep(self.draft)
        except PourwellError as err:
            self.page.not_saved(err.what)
            return
        self.page.saved()
        self.leave()
        self._say(kept_line(kept.name, f"/patterns/{kept.id}", new=new))
        self._offer_to_runs(kept)
        if new:
            self.page.undo(f"{kept.name} is in the library.", lambda: self._take_back(kept))

    def _offer_to_runs(self, kept: KeptPattern) -> None:
        """Runs in hand that take the pattern that this one was made from: each may take this one instead."""
        with self.line:
            for one in self.desk.standings():
                taken = dict(one.run.pieces)
                if not one.over and self.pattern_id in taken and kept.id not in taken:
                    says = f"Take it in run {one.run.number} instead"
                    parts.button(says, partial(self._swap, one.run, self.pattern_id, kept.id), "btn")

    async def _swap(self, run: KeptRun, old: int, new: int) -> None:
        """Have a run take one for the other, with the way back; a sprue of the user's own stays where the surface does."""
        asked = self.desk.sprue_off(self.desk.store.run(run.id), old, new)
        if asked is not None:
            await asyncio.to_thread(asked.over.wait, ANSWER_S)
        now = self.desk.take_instead(run.id, old, new, off_mm=asked.outcome if asked is not None else None)
        self._swapped(now, new)
        self.page.undo(f"Run {run.number} takes {self.desk.store.pattern(new).name}.", partial(self._swap_back, run, new, old))

    def _swap_back(self, run: KeptRun, new: int, old: int) -> None:
        """Have it take the first one again, whose sprue it still knows; a run that was changed otherwise since is left alone."""
        try:
            now = self.desk.store.run(run.id)
            if now.removed_at is not None or new not in dict(now.pieces):
                why = "was laid away since" if now.removed_at is not None else "does not take it any more"
                self.page.not_saved(f"run {now.number} {why}.")
                return
            self._swapped(self.desk.take_instead(run.id, new, old), old)
        except PourwellError as err:
            self.page.not_saved(err.what)

    def _swapped(self, run: KeptRun, new: int) -> None:
        """Say what a run takes now, and whether its sprue is to be set anew."""
        self.page.saved()
        name = self.desk.store.pattern(new).name
        self._say({"says": f"Run {run.number} takes {name} now:", "name": f"run {run.number}", "href": f"/runs/{run.id}"})
        if fell_away(run, new):
            with self.line:
                parts.link(words_of(run, new), f"/runs/{run.id}/sprues?piece={new}")

    def _take_back(self, kept: KeptPattern) -> None:
        self.desk.remove_pattern(kept.id)
        self.page.saved()
        self._say(None)

    def _say(self, said: Mapping[str, str] | None) -> None:
        self.line.clear()
        if said:
            with self.line:
                Tag("span", said["says"])
                parts.link(said["name"], said["href"])


def _head(box: Tag, page: Frame, pattern: KeptPattern, *, result: KeptResult | None, acts: bool) -> None:
    desk = page.desk
    box.clear()
    with box:
        with Tag("div"):
            Tag("h1", pattern.name)
            Tag("p", " · ".join([pattern.file, *_facts(result, page)]))
        if not acts:
            return
        with Tag("div", classes="acts"):
            parts.button("Take it out of the library", lambda: _remove(page, pattern), "btn plain")
            if result is not None:
                parts.link("In the printer", f"/patterns/{pattern.id}/printing", "btn")
                parts.button(
                    "Plan a run with it", lambda: ui.navigate.to(f"/runs/{desk.new_run(pieces=[(pattern.id, 1)]).id}"), "btn main"
                )


def _facts(result: KeptResult | None, page: Frame) -> list[str]:
    if result is None:
        return []
    piece = result.data["piece"]
    at = result.made_at.astimezone(page.moment().tzinfo)
    return [
        f"read in {dict(UNITS).get(piece['units'], piece['units']).lower()}",
        f"{piece['triangle_count']:,} triangles",
        f"checked {when.day_and_clock(at, page.moment())}",
    ]


def _remove(page: Frame, pattern: KeptPattern) -> None:
    page.desk.remove_pattern(pattern.id)
    page.saved()
    page.undo(f"{pattern.name} is out of the library.", lambda: page.desk.remove_pattern(pattern.id, back=True))
