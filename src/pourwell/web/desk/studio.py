"""Studio: the daily question, what is next, the runs in hand, what wants attention, the kiln by plan."""

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.in_hand import Standing, soonest
from pourwell.web.desk import parts, when
from pourwell.web.desk.daily import Daily
from pourwell.web.desk.drawn import kiln_points
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.runs import run_rows
from pourwell.web.desk.tag import Drop, Tag
from pourwell.web.intake import LIMIT_BYTES

MOST_FINDINGS: Final = 6
LOOK_S: Final = 1.0


def studio_page(desk: Desk) -> None:
    """The page."""
    with frame(desk, at="/", title="Studio") as page:
        head = Tag("div", classes="head")
        Daily(desk, page).build()
        rest = Tag("div")
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
        parts.link("Add patterns", "/patterns", "btn")
        parts.button("Plan a run", lambda: ui.navigate.to(f"/runs/{page.desk.new_run().id}"))


def _sentence(standings: Sequence[Standing], now: datetime) -> str:
    """How many runs are in hand, and what comes next."""
    count = len(standings)
    if not count:
        return "No run is in hand."
    words = f"{count} run{'s' if count > 1 else ''} in hand."
    first = soonest(standings)
    if first is None or first.next is None:
        return words
    at = first.next.starts_at.astimezone(now.tzinfo)
    return f"{words} Next hands-on step {when.ahead(at, now)}." if at > now else f"{words} Run {first.run.number} wants you now."


def _body(desk: Desk, page: Frame, standings: Sequence[Standing], *, known: bool) -> None:
    if not known and not standings:
        _first_time(desk)
        return
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


def _block(first: Standing, now: datetime) -> None:
    step = first.next
    assert step is not None
    at = step.starts_at.astimezone(now.tzinfo)
    with Tag("section", classes="ahead", aria_labelledby="nx"):
        with Tag("div"):
            Tag("div", when.clock(at), "when")
            Tag("div", f"{when.day(at)}, {when.ahead(at, now)}" if at.date() != now.date() else when.ahead(at, now), "in")
        with Tag("div", classes="cross"):
            Tag("h2", f"Run {first.run.number}: {step.says[:1].lower()}{step.says[1:]}", id="nx")
            Tag("p", f"About {when.span(step.hands_on_min)} of your time.{_then(first)}")
        parts.link("Open the run", f"/runs/{first.run.id}", "btn")


def _then(first: Standing) -> str:
    later = [s for s in first.steps if first.next and s.hands_on_min and s.starts_at > first.next.starts_at]
    return f" Then: {later[0].says[:1].lower()}{later[0].says[1:]}." if later else ""


def _attention(standings: Sequence[Standing]) -> None:
    found = [(s, f) for s in standings for f in s.findings if f["severity"] != "note"]
    found.sort(key=lambda one: one[1]["severity"] != "stop")
    with parts.section("Wants attention", "" if found else "nothing now"):
        with Tag("ul"):
            for one, f in found[:MOST_FINDINGS]:
                parts.finding({**f, "says": f"Run {one.run.number}: {f['says']}"})
        more = len(found) - MOST_FINDINGS
        if more > 0:
            Tag("p", f"And {more} more, on the pages of the runs.", "small")


def _kiln(standings: Sequence[Standing], page: Frame) -> None:
    now, zone = page.moment(), page.lists.zone
    mine = [plan for s in standings for plan in s.plans if when.told(plan["burnout"]["ends_at"], zone) > now]
    if not mine:
        return
    plan = min(mine, key=lambda one: str(one["burnout"]["starts_at"]))
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
    with parts.section("Kiln, by plan"):
        parts.keys(rows)
