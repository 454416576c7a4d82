"""Patterns: drop files, see them checked, and the library with every piece at one scale."""

from collections.abc import Callable, Mapping, Sequence
from statistics import median
from typing import Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_words import DASH, PICTURE, TIMES
from pourwell.store.model import KeptPattern, KeptResult
from pourwell.web.desk import parts
from pourwell.web.desk.frame import frame
from pourwell.web.desk.tag import Drop, Tag
from pourwell.web.intake import LIMIT_BYTES
from pourwell.web.kept import link

LOOK_S: Final = 0.4
PICTURE_PX: Final = 480
"""Edge of a kept picture."""
CELL_PX: Final = 190.0
LARGE_RATIO: Final = 2.5
"""A piece so many times larger than the usual one is drawn smaller than the others, and says so."""
BAR_MM: Final = 10.0


def patterns_page(desk: Desk) -> None:
    """The page."""
    with frame(desk, at="/patterns", title="Patterns") as page:
        wanted = {"text": ""}
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "Patterns")
                sentence = Tag("p", "")
            with Tag("div", classes="acts"):
                search = parts.entry("Find a pattern", "", lambda text: find(text), type="search")
                search.whole.classes("search")
                parts.link("Make one from a shape", "/patterns/new", "btn")
        Drop(limit_bytes=LIMIT_BYTES, sent=lambda: jobs.look())
        with Tag("section", aria_label="Being checked"):
            jobs = parts.JobRows(lambda: desk.crew.jobs, forget=desk.crew.forget)
        body = Tag("div")

        def find(text: str) -> None:
            wanted["text"] = text.strip().lower()
            draw()

        def draw() -> None:
            patterns, results = desk.store.patterns(), desk.store.latest_of_patterns()
            shown = [p for p in patterns if wanted["text"] in f"{p.name} {p.file} {_size(results.get(p.id))}".lower()]
            sentence.set_text(_sentence(desk, patterns))
            body.clear()
            with body:
                if not patterns and not desk.crew.jobs:
                    _nothing_yet(desk, look_now)
                elif patterns and not shown:
                    Tag("p", f"No pattern is called so. {len(patterns)} are here.", "quiet")
                elif shown:
                    library(desk, shown, results)

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


def library(desk: Desk, patterns: Sequence[KeptPattern], results: Mapping[int, KeptResult]) -> None:
    """The grid, and the bar that is as long on every picture."""
    scale = px_per_mm([r.data["mm_per_px"] for p in patterns if (r := results.get(p.id))])
    with Tag("ul", classes="pieces"):
        for pattern in patterns:
            _piece(desk, pattern, results.get(pattern.id), scale=scale)
    with Tag("p", classes="small bar-line"):
        Tag("span", classes="bar10").style(f"width: {BAR_MM * scale:.0f}px")
        Tag("span", "10 mm on every picture above")


def px_per_mm(pictures: Sequence[float]) -> float:
    """Pixels for a millimetre at which every usual piece fills its cell at most, from the pixel sizes [mm] of kept pictures."""
    if not pictures:
        return CELL_PX / (2 * BAR_MM)
    usual = max(mm for mm in pictures if mm <= LARGE_RATIO * median(pictures))
    return CELL_PX / (PICTURE_PX * usual)


def _piece(desk: Desk, pattern: KeptPattern, result: KeptResult | None, *, scale: float) -> None:
    with Tag("li", classes="piece"):
        with Tag("div", classes="pic"):
            if result is not None:
                side = PICTURE_PX * result.data["mm_per_px"] * scale
                shown = min(side, CELL_PX)
                picture = Tag("img", src=link(result, PICTURE), alt="", loading="lazy")
                picture.style(f"width: {shown:.0f}px; height: {shown:.0f}px")
                if side > CELL_PX + 1:
                    Tag("span", f"drawn {side / CELL_PX:.1f} times smaller", "small")
            else:
                Tag("span", "Being checked" if desk.being_checked(pattern.id) else "Not checked", "quiet")
        with Tag("div", classes="meta"):
            with Tag("h3"):
                parts.link(pattern.name, f"/patterns/{pattern.id}")
            if result is not None:
                parts.figure(_weight(result), "g", tag="span", classes="nowrap")
        with Tag("div", classes="meta"):
            Tag("span", _size(result))
            if result is not None:
                parts.tally(result.data["findings"])


def _weight(result: KeptResult) -> str:
    """What a piece weighs as cast; a dash where its figures are not to be worked by."""
    return DASH if result.data["doubtful"] else f"{result.data['piece']['metal_g']:.2f}"


def _size(result: KeptResult | None) -> str:
    """The finished ring size, else the sides."""
    if result is None:
        return ""
    piece = result.data["piece"]
    if piece.get("doubt") == "unit":
        return "unit in doubt"
    bore = piece.get("bore")
    if bore:
        return f"ring ISO {bore['finished_sizes']['iso']}"
    x, y, z = sorted(piece["envelope_mm"], reverse=True)
    return f"{x:.1f} {TIMES} {y:.1f} {TIMES} {z:.1f} mm"
