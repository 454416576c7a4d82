"""Studio: the daily question, what is next, the runs in hand, what wants attention, the kiln by plan."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.in_hand import HANDS_TWICE, KILN_TAKEN, Standing, forbids, soonest
from pourwell.web.desk import parts, when
from pourwell.web.desk.daily import Daily
from pourwell.web.desk.drawn import kiln_points
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.ring_size import RingSizes
from pourwell.web.desk.runs import run_rows
from pourwell.web.desk.tag import Drop, Tag
from pourwell.web.desk.units import here
from pourwell.web.intake import LIMIT_BYTES

MOST_FINDINGS: Final = 6
LOOK_S: Final = 1.0
FORMER: Final = {
    "code": "plan-former",
    "severity": "warn",
    "where": "the run",
    "says": "Its form was changed since it was worked out: hours and weights are those of the former plan.",
    "do": "Have it worked out again.",
}


def studio_page(desk: Desk, given: Mapping[str, str] | None = None) -> None:
    """The page; `given` is what its address says of a ring size."""
    with frame(desk, at="/", title="Studio") as page:
        head = Tag("div", classes="head")
        Daily(desk, page).build()
        rest = Tag("div")
        RingSizes(page, given or {}).build()
        seen = -1

        def draw() -> None:
            nonlocal seen
            if seen == desk.turn:
                return
            first, seen = seen == -1, desk.turn
            standings = [s for s in desk.standings() if not s.over]
            known = bool(desk.store.patterns())
            head.clear()
            with head:
                _head(page, standings, first_time=not known and not standings)
            if first or known or standings:
                rest.clear()
                with rest:
                    _body(desk, page, standings, known=known)

        draw()
        ui.timer(LOOK_S, draw)


def _head(page: Frame, standings: Sequence[Standing], *, first_time: bool) -> None:
    with Tag("div"):
        Tag("h1", when.long_day(page.moment()))
        Tag("p", "Nothing is in hand yet." if first_time else _sentence(standings, page.moment()))
    with Tag("div", classes="acts"):
        parts.link("A burnout by itself", "/burnout", "btn plain")
        if len(standings) > 1:
            parts.link("Place them over the days", "/runs/days", "btn")
        parts.link("Add patterns", "/patterns", "btn")
        parts.button("Plan a run", lambda: ui.navigate.to(f"/runs/{page.desk.new_run().id}"))


def _sentence(standings: Sequence[Standing], now: datetime) -> str:
    """How many runs are in hand, and what comes next."""
    count = len(standings)
    if not count:
        return "No run is in hand."
    words = f"{count} run{'s' if count > 1 else ''} in hand."
    words += "".join(f" Run {s.run.number} is stopped: {parts.small(forbids(s.findings))}." for s in standings if s.forbidden)
    first = soonest(standings)
    if first is None or first.next is None:
        return words
    at = first.next.starts_at.astimezone(now.tzinfo)
    return f"{words} Next hands-on step {when.ahead(at, now)}." if at > now else f"{words} Run {first.run.number} wants you now."


def _body(desk: Desk, page: Frame, standings: Sequence[Standing], *, known: bool) -> None:
    if not known and not standings:
        _first_time(desk)
        return
    _stopped(standings, page.moment())
    first = soonest(standings)
    if first is not None:
        _block(first, page.moment())
    with Tag("div", classes="cols studio"):
        with Tag("div"), parts.section("Runs in hand"):
            if standings:
                run_rows(desk, page, standings)
            else:
                with parts.empty("No run is in hand", "Plan one from your patterns, or from the weight of a tree above."):
                    parts.link("Choose patterns", "/patterns", "btn")
        with Tag("div"):
            _attention(standings)
            _kiln(standings, page)


def _first_time(desk: Desk) -> None:
    """The short way to a first plan of one's own, and something to play with."""
    with parts.section("Your first run"):
        with Tag("ol", classes="first"):
            Tag("li", "Drop a pattern file below. It is checked here, and stays on this machine.")
            Tag("li", "Choose how many of it, the alloy, and when to pour.")
            Tag("li", "Press one button: the run sheet says what to weigh, what to set, and when.")
        Drop(limit_bytes=LIMIT_BYTES, over=lambda: ui.navigate.to("/patterns"))
        with Tag("p", classes="quiet acts"):
            Tag("span", "No file at hand?")
            parts.button(
                "Try it with a run of four invented pieces", lambda: ui.navigate.to(f"/runs/{desk.bring_demo().id}"), "btn"
            )
            Tag("span", "It is worked out while you look, and can be laid away.")


def _stopped(standings: Sequence[Standing], now: datetime) -> None:
    """Runs that a finding stops, before what is next: their steps are told as what must not be done."""
    held = [s for s in standings if s.forbidden]
    if not held:
        return
    with Tag("section", classes="ahead held-up", aria_label="Stopped"), Tag("ul"):
        for one in held:
            with Tag("li"):
                with Tag("div"):
                    Tag("h2", f"Run {one.run.number}: {parts.small(forbids(one.findings))}")
                    Tag("p", here().text(one.forbidden.partition(": ")[2]))
                    if one.next is not None:
                        at = when.day_and_clock(one.next.starts_at.astimezone(now.tzinfo), now)
                        Tag("p", f"By its plan {at} would be: {parts.small(one.next.says)}.", "in")
                parts.link(f"Open run {one.run.number}", f"/runs/{one.run.id}", "btn")


def _block(first: Standing, now: datetime) -> None:
    step = first.next
    assert step is not None
    at = step.starts_at.astimezone(now.tzinfo)
    with Tag("section", classes="ahead", aria_labelledby="nx"):
        with Tag("div"):
            Tag("div", when.clock(at), "when")
            Tag("div", f"{when.day(at)}, {when.ahead(at, now)}" if at.date() != now.date() else when.ahead(at, now), "in")
        with Tag("div", classes="cross"):
            Tag("h2", f"Run {first.run.number}: {parts.small(step.says)}", id="nx")
            Tag("p", f"About {when.span(step.hands_on_min)} of your time.{_then(first)}")
            if first.former:
                Tag("p", "By a former plan: its form was changed since. Work it out again before you go by this.")
        parts.link("Open the run", f"/runs/{first.run.id}", "btn")


def _then(first: Standing) -> str:
    later = [s for s in first.steps if first.next and s.hands_on_min and s.starts_at > first.next.starts_at]
    return f" Then: {parts.small(later[0].says)}." if later else ""


def _attention(standings: Sequence[Standing]) -> None:
    found: list[Mapping[str, Any]] = []
    for one in standings:
        told = [f if f["code"] == HANDS_TWICE else _of_run(one, f) for f in one.findings if f["severity"] != "note"]
        if one.former:
            told.append(_of_run(one, FORMER))
        found += [f for f in told if f not in found]
    found.sort(key=lambda f: f["severity"] != "stop")
    with parts.section("Wants attention", "" if found else "nothing now"):
        with Tag("ul"):
            for f in found[:MOST_FINDINGS]:
                parts.finding(f)
        more = len(found) - MOST_FINDINGS
        if more > 0:
            Tag("p", f"And {more} more, on the pages of the runs.", "small")


def _of_run(one: Standing, found: Mapping[str, Any]) -> dict[str, Any]:
    """A finding that says of which run it is."""
    marked: Mapping[str, Any] = found.get("marked") or {}
    mine, shown = (
        {**words, "says": f"Run {one.run.number}: {words['says']}"} if "says" in words else {} for words in (found, marked)
    )
    return {**mine, "marked": shown}


def _kiln(standings: Sequence[Standing], page: Frame) -> None:
    """What the kiln does for each run that it is still wanted for, who is in it first first."""
    now, zone = page.moment(), page.lists.zone
    mine = [s for s in standings if any(when.told(plan["burnout"]["ends_at"], zone) > now for plan in s.plans)]
    if not mine:
        return
    first = {s.run.id: min(s.plans, key=lambda one: str(one["burnout"]["starts_at"])) for s in mine}
    mine.sort(key=lambda s: when.told(first[s.run.id]["burnout"]["starts_at"], zone))
    with parts.section("Kiln, by plan"), Tag("div", classes="stack"):
        for one in mine:
            with Tag("div"):
                if len(mine) > 1:
                    taken = any(f["code"] == KILN_TAKEN for f in one.clashes)
                    Tag("h3", f"Run {one.run.number}{': the kiln is not free then' if taken else ''}", "fault" if taken else "")
                rows = _kiln_rows(first[one.run.id], page)
                parts.keys(rows if one is mine[0] else rows[1:])  # what the kiln shows now is told once


def _kiln_rows(plan: Mapping[str, Any], page: Frame) -> list[tuple[str, str, str]]:
    now, zone = page.moment(), page.lists.zone
    burnout = plan["burnout"]
    corners = kiln_points(burnout["segments"], burnout["start_c"])
    past = [c for c in pairwise(corners) if c[0][0] <= now < c[1][0]]
    rows = [("Now", "cold", "")]
    if past:
        (t0, c0), (t1, c1) = past[0]
        rows = [("Now", *page.units.degrees(c0 + (c1 - c0) * ((now - t0) / (t1 - t0))))]
    peak = max(corners, key=lambda corner: corner[1])
    rows.append(("On at", when.day_and_clock(when.told(burnout["starts_at"], zone), now), ""))
    rows.append((f"Highest, {' '.join(page.units.degrees(peak[1]))}", when.day_and_clock(peak[0].astimezone(now.tzinfo), now), ""))
    rows.append(("Pour", when.day_and_clock(when.told(plan["pour"]["at"], zone), now), ""))
    return rows
