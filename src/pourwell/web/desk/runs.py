"""Runs: all of them, those in hand first."""

from collections.abc import Sequence

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_words import DASH, PICTURE, TIMES
from pourwell.app.in_hand import Standing
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.tag import Tag
from pourwell.web.kept import link


def runs_page(desk: Desk) -> None:
    """The page."""
    with frame(desk, at="/runs", title="Runs") as page:
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "Runs")
                Tag("p", "A run goes from the tree to the quench, in one flask or in several.")
            with Tag("div", classes="acts"):
                parts.link("Place them over the days", "/runs/days", "btn")
                parts.button("Plan a run", lambda: ui.navigate.to(f"/runs/{desk.new_run().id}"), "btn main")
        body = Tag("div")

        def draw() -> None:
            standings = desk.standings()
            body.clear()
            with body:
                _lists(desk, page, standings)

        draw()
        page.redraw = draw


def _lists(desk: Desk, page: Frame, standings: Sequence[Standing]) -> None:
    now = [s for s in standings if not s.over]
    past = [s for s in standings if s.over]
    with parts.section("In hand"):
        if now:
            run_rows(desk, page, now, removable=True)
        else:
            with parts.empty("No run is in hand", "Choose patterns and how many of each; the rest follows."):
                parts.link("Choose patterns", "/patterns", "btn")
    if past:
        with parts.section("Earlier, by plan"):
            run_rows(desk, page, past)


def run_rows(desk: Desk, page: Frame, standings: Sequence[Standing], *, removable: bool = False) -> None:
    """A row for each run: what it is, its pieces, its charge, what is next, what was found."""
    pictures = desk.store.latest_of_patterns()
    with Tag("ul", classes="rows"):
        for one in standings:
            run, now = one.run, page.moment()
            with Tag("li"):
                with Tag("div"):
                    parts.link(f"Run {run.number}", f"/runs/{run.id}", "strong")
                    Tag("small", run_words(one, page))
                with Tag("ul", classes="strip"):
                    for pattern_id, count in run.pieces:
                        with Tag("li"):
                            result = pictures.get(pattern_id)
                            name = desk.store.pattern(pattern_id).name
                            if result is not None:
                                Tag("img", src=link(result, PICTURE), alt=name, title=name, width="58", height="52")
                            else:
                                Tag("span", name)
                            Tag("span", f"{TIMES} {count}")
                charge = f"{sum(plan['charge']['total_g'] for plan in one.plans):.1f}" if one.plan else DASH
                parts.figure(charge, "g" if one.plan else "", tag="span", classes="num nowrap")
                with Tag("div", classes="next"):
                    if one.forbidden:
                        Tag("b", page.units.text(f"{one.forbidden.partition('. ')[0].rstrip('.')}."), "fault")
                    elif one.next is not None:
                        with Tag("span"):
                            Tag("b", when.day_and_clock(one.next.starts_at.astimezone(now.tzinfo), now))
                            Tag("span", f" {parts.small(one.next.says)}")
                    Tag("small", f"{one.doing}; changed since, work it out again" if one.former else one.doing)
                with Tag("div", classes="row-end"):
                    parts.tally(one.findings)
                    if removable:
                        _lay_away(desk, page, one)


def _lay_away(desk: Desk, page: Frame, one: Standing) -> None:
    def away() -> None:
        desk.remove_run(one.run.id)
        page.redraw()
        page.undo(f"Run {one.run.number} was laid away.", back)

    def back() -> None:
        desk.remove_run(one.run.id, back=True)
        page.redraw()

    parts.button("Lay away", away, "btn plain", aria_label=f"Lay run {one.run.number} away")


def run_words(one: Standing, page: Frame) -> str:
    """The alloy and the flask of a run."""
    if one.plan is None:
        return page.lists.alloy_name(str(one.run.form.get("alloy", "")))
    flasks = [plan["flask"] for plan in one.plans]
    sizes = ", ".join(f"{flask['diameter_mm']:.0f} {TIMES} {flask['height_mm']:.0f}" for flask in flasks)
    return f"{one.plan['alloy']['name']}, {sizes}"
