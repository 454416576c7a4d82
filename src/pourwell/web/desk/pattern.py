"""One pattern: what it is in 3-D, what was found on it, what it measures and will weigh."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from nicegui import ui

from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.desk_words import PICTURE, TIMES, VIEW
from pourwell.app.letters import letter
from pourwell.store.model import KeptPattern, KeptResult
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link

LOOK_S: Final = 0.4
UNITS: Final = (
    ("", "As the file says"),
    ("mm", "Millimetres"),
    ("cm", "Centimetres"),
    ("m", "Metres"),
    ("um", "Micrometres"),
    ("inch", "Inches"),
    ("foot", "Feet"),
)


def pattern_page(desk: Desk, pattern_id: int) -> None:
    """The page. Raises BadRequestError if there is no such pattern."""
    pattern = desk.store.pattern(pattern_id)
    with frame(desk, at="/patterns", title=pattern.name) as page:
        head = Tag("div", classes="head")
        jobs = parts.JobRows(lambda: _mine(desk, pattern_id), forget=desk.crew.forget)
        body = Tag("div")
        seen, state_seen = "", ""

        def look() -> None:
            nonlocal seen, state_seen
            jobs.look()
            turn = f"{desk.turn} {desk.being_checked(pattern_id) is None}"
            if turn == seen:
                return
            seen = turn
            result, job = desk.store.latest(pattern_id=pattern_id), desk.being_checked(pattern_id)
            state = f"{result.id if result else 0} {job is not None and result is None}"
            if state == state_seen:
                return
            state_seen = state
            kept = desk.store.pattern(pattern_id)
            _head(head, page, kept, result=result)
            body.clear()
            with body:
                if result is not None:
                    _body(page, kept, result)
                elif job is None:
                    _unchecked(desk, kept)

        look()
        ui.timer(LOOK_S, look)


def _mine(desk: Desk, pattern_id: int) -> list[Job]:
    return [job for job in desk.crew.jobs if job.about == ("pattern", pattern_id)]


def _unchecked(desk: Desk, pattern: KeptPattern) -> None:
    with parts.empty("It is not checked", "Its check could not be done, was stopped, or has not begun."):
        parts.button("Check it", lambda: desk.check(pattern))


def _head(box: Tag, page: Frame, pattern: KeptPattern, *, result: KeptResult | None) -> None:
    desk = page.desk
    box.clear()
    with box:
        with Tag("div"):
            Tag("h1", pattern.name)
            Tag("p", " · ".join([pattern.file, *_facts(result, page)]))
        with Tag("div", classes="acts"):
            parts.button("Take it out of the library", lambda: _remove(page, pattern), "btn plain")
            if result is not None:
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


def _body(page: Frame, pattern: KeptPattern, result: KeptResult) -> None:
    data = result.data
    placed = [f for f in data["findings"] if f.get("at_mm")]
    letters = {id(f): letter(k) for k, f in enumerate(placed)}
    flags = [{"letter": letters[id(f)], "at": f["at_mm"], "severity": f["severity"], "says": f["says"]} for f in placed]
    with Tag("div", classes="cols pattern"):
        with Tag("div", classes="stays"):
            rows: dict[str, Tag] = {}

            def here(which: str) -> None:
                for name, row in rows.items():
                    row.classes(add="here" if name == which else "", remove="" if name == which else "here")

            viewer = Viewer(
                src=link(result, VIEW),
                head=data["view"],
                label=f"{pattern.name} in 3-D",
                still=link(result, PICTURE),
                flags=flags,
                picked=here,
            )
        with Tag("div"):
            _figures(data)
            with parts.section("Findings", parts.counted(data["findings"])):
                with Tag("ul"):
                    for found in data["findings"]:
                        mine = letters.get(id(found), "")

                        def look(which: str = mine) -> None:
                            viewer.look_at(which)
                            here(which)

                        row = parts.finding(found, letter=mine, look=look if mine else None)
                        if mine:
                            rows[mine] = row
                if not data["findings"]:
                    Tag("p", "Nothing was found that needs care.", "quiet")
            _measures(data["rows"])
            _change(page, pattern)


def _figures(data: Mapping[str, Any]) -> None:
    """What one asks first."""
    piece = data["piece"]
    if data["doubtful"]:
        Tag("p", f"Its weight is {data['doubtful']}.", "quiet")
        return
    rows = [(f"In {data['alloy_name']}", f"{piece['metal_g']:.2f}", "g"), ("Pattern", f"{piece['pattern_g']:.2f}", "g")]
    bore = piece.get("bore")
    if bore:
        rows.append(("Finger bore, finished", f"{bore['finished_mm']:.2f}", "mm"))
        rows.append(("Size", f"ISO {bore['finished_sizes']['iso']}", ""))
    rows.append(("Thinnest wall", f"{piece['wall']['thinnest_mm']:.2f}", "mm"))
    with Tag("div", classes="figures"):
        parts.keys(rows)


def _measures(rows: Sequence[Sequence[str]]) -> None:
    with parts.section("Measures"), Tag("table", classes="measures"), Tag("tbody"):
        for name, figure, remark in rows:
            with Tag("tr"):
                with Tag("th", scope="row"):
                    Tag("span", parts.capital(name))
                    Tag("small", remark)
                Tag("td", figure.replace(" x ", f" {TIMES} "), "num")


def _change(page: Frame, pattern: KeptPattern) -> None:
    desk = page.desk
    with parts.section("Name and unit"), Tag("div", classes="fields"):

        def name(text: str) -> None:
            if text.strip():
                desk.rename_pattern(pattern.id, text)
                page.saved()
                called.tell("")
            else:
                called.tell("A pattern needs a name.")

        def units(unit: str) -> None:
            desk.set_units(pattern.id, unit)
            page.saved()

        called = parts.entry("Name", pattern.name, name, maxlength="100")
        parts.choice("Unit of the file's numbers", pattern.units, units, options=UNITS, remark="it is checked anew")
