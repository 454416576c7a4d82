"""Patterns: drop files, see them checked, and the library with every piece at one scale."""

from collections.abc import Callable, Sequence
from statistics import median
from typing import Any, Final

from nicegui import ui

from pourwell.app.crew import OVER, Job
from pourwell.app.desk import Desk
from pourwell.app.desk_words import DASH, PICTURE, TIMES
from pourwell.store.model import KeptPattern, KeptResult
from pourwell.web.desk import parts
from pourwell.web.desk.frame import frame
from pourwell.web.desk.tag import Drop, Tag
from pourwell.web.desk.units import here
from pourwell.web.intake import LIMIT_BYTES
from pourwell.web.kept import link

LOOK_S: Final = 0.4
PICTURE_PX: Final = 480
"""Edge of a kept picture."""
CELL_PX: Final = 190.0
LARGE_RATIO: Final = 2.5
"""A piece so many times larger than the usual one is drawn smaller than the others, and says so."""
BAR_MM: Final = 10.0
IN_DOUBT: Final = "unit in doubt"
UNIT_SUSPECT: Final = "units-suspect"
"""The code of a finding that the unit of a file is most likely wrong, though a piece may have that size."""
FIND: Final = "find-here"
"""Where in the head of the page the library puts its search."""


class Library(ui.element, component="library.js"):
    """The grid of pieces. It is one element: a page of two hundred of several elements each would hold up everybody else."""

    def show(self, pieces: list[dict[str, Any]], *, bar_px: float) -> None:
        """Show these, if they are not what is shown."""
        if self.props.get("pieces") != pieces or self.props.get("bar") != bar_px:
            self.props["pieces"], self.props["bar"], self.props["place"] = pieces, bar_px, FIND
            self.update()


def patterns_page(desk: Desk) -> None:
    """The page."""
    with frame(desk, at="/patterns", title="Patterns") as page:
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "Patterns")
                sentence = Tag("p", "")
            with Tag("div", classes="acts"):
                Tag("div", id=FIND)
                parts.link("Make one from a shape", "/patterns/new", "btn")
        Drop(limit_bytes=LIMIT_BYTES, sent=lambda: jobs.look())
        with Tag("section", aria_label="Being checked"):
            jobs = parts.JobRows(lambda: [job for job in desk.crew.jobs if not _failed_run(job)], forget=desk.crew.forget)
        first = Tag("div")
        library = Library()

        def draw() -> None:
            patterns, results = desk.store.patterns(), desk.store.latest_of_patterns()
            sentence.set_text(_sentence(desk, patterns))
            first.clear()
            if not patterns and not desk.crew.jobs:
                with first:
                    _nothing_yet(desk, look_now)
            library.set_visibility(bool(patterns))
            scale = px_per_mm([r.data["mm_per_px"] for p in patterns if (r := results.get(p.id))])
            waiting = {job.about[1] for job in desk.crew.jobs if job.about and job.about[0] == "pattern" and job.state not in OVER}
            pieces = [shown(p, results.get(p.id), scale=scale, waiting=p.id in waiting) for p in patterns]
            library.show(pieces, bar_px=round(BAR_MM * scale) if results else 0)

        seen = desk.turn

        def look_now() -> None:
            draw()
            jobs.look()

        def look() -> None:
            nonlocal seen
            jobs.look()
            if seen != desk.turn:
                seen = desk.turn
                draw()

        page.redraw = draw
        draw()
        jobs.look()
        ui.timer(LOOK_S, look)


def _sentence(desk: Desk, patterns: Sequence[KeptPattern]) -> str:
    if not patterns:
        return "None yet."
    count = f"{len(patterns)} pattern{'s' if len(patterns) > 1 else ''}, drawn to one scale."
    return f"{count} Weights in {desk.choices().alloy_name(desk.usual_alloy())}."


def _nothing_yet(desk: Desk, then: Callable[[], None]) -> None:
    def bring() -> None:
        desk.bring_examples()
        then()

    with parts.empty(
        "Drop your first pattern above", "It is measured and weighed here. No file at hand? Four invented pieces show how it goes."
    ):
        parts.button("Try it with four invented pieces", bring)


def px_per_mm(pictures: Sequence[float]) -> float:
    """Pixels for a millimetre at which every usual piece fills its cell at most, from the pixel sizes [mm] of kept pictures."""
    if not pictures:
        return CELL_PX / (2 * BAR_MM)
    usual = max(mm for mm in pictures if mm <= LARGE_RATIO * median(pictures))
    return CELL_PX / (PICTURE_PX * usual)


def shown(pattern: KeptPattern, result: KeptResult | None, *, scale: float, waiting: bool) -> dict[str, Any]:
    """A piece as the library shows it."""
    piece: dict[str, Any] = {"id": pattern.id, "name": pattern.name, "file": pattern.file, "size": _size(result)}
    if result is None:
        return piece | {"note": "Being checked" if waiting else "Not checked"}
    side = PICTURE_PX * result.data["mm_per_px"] * scale
    piece |= {"src": link(result, PICTURE), "px": round(min(side, CELL_PX)), "weight": _weight(result), "unit": here().unit("g")}
    if side > CELL_PX + 1:
        piece["note"] = f"drawn {side / CELL_PX:.1f} times smaller"
    if result.data["findings"]:
        worst = result.data["findings"][0]["severity"]
        count = sum(found["severity"] == worst for found in result.data["findings"])
        piece |= {"mark": worst, "word": parts.MARKS[worst], "count": count}
    return piece


def _weight(result: KeptResult) -> str:
    """What a piece weighs as cast; a dash where its figures are not to be worked by."""
    return DASH if result.data["doubtful"] else here().figure(f"{result.data['piece']['metal_g']:.2f}", "g")[0]


def _size(result: KeptResult | None) -> str:
    """The finished ring size, else the sides; that the unit is in doubt, where it is."""
    if result is None:
        return ""
    if result.data["piece"].get("doubt") == "unit":
        return IN_DOUBT
    suspect = any(found.get("code") == UNIT_SUSPECT for found in result.data["findings"])
    return f"{IN_DOUBT}: {_measured(result)}" if suspect else _measured(result)


def _measured(result: KeptResult) -> str:
    piece = result.data["piece"]
    bore = piece.get("bore")
    if bore:
        return f"ring ISO {bore['finished_sizes']['iso']}"
    x, y, z = sorted(piece["envelope_mm"], reverse=True)
    return here().text(f"{x:.1f} {TIMES} {y:.1f} {TIMES} {z:.1f} mm")


def _failed_run(job: Job) -> bool:
    """A run that could not be planned says so on its own page; while it goes on, checks wait for it."""
    return job.state == "failed" and job.about is not None and job.about[0] == "run"
