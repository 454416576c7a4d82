"""Several pieces on one sheet at one scale: each with its name, its weight, its size and the worst that was found."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from statistics import median
from typing import Final

from pourwell.findings import Severity
from pourwell.geometry.picture import seen_by
from pourwell.sheets.close_up import MARKS
from pourwell.sheets.colours import GROUND, INK_2
from pourwell.sheets.drawing import Box, Drawing, Part, Raster, Words, bar, shortened
from pourwell.sheets.scene import SIDES, Scene, camera_for, fitting, walked
from pourwell.sheets.stills import BARS_MM, PAD, SMALL, TEXT, TITLE, form, lines_of, moved

CELL: Final = 300
"""Edge of a piece's picture [px]."""

MOST_COLUMNS: Final = 5
WORDS_HIGH: Final = 3 * PAD + 2 * TEXT
MARK_WIDE: Final = 54
SMALL_SHARE: Final = 0.25
"""A piece that would be smaller than this share of the largest is drawn larger, and says by how much."""

LARGE_RATIO: Final = 2.5
"""One larger than so many usual ones is drawn smaller: a wrong unit shall not make specks of all others."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Entry:
    """A piece on the sheet.

    Attributes
    ----------
    scene : the piece
    figures : its weight and size in a few words
    worst : the severity of the worst finding, if there is any
    """

    scene: Scene
    figures: str
    worst: Severity | None = None


def contact_sheet(entries: Sequence[Entry], *, title: str) -> Drawing:
    """The pieces in rows, all at one scale; one that would be a speck or burst its cell is drawn at another, and that is told."""
    columns = min(MOST_COLUMNS, len(entries))
    rows = ceil(len(entries) / columns)
    top, high = 2 * PAD + TITLE, CELL + WORDS_HIGH
    needs = [_needs(entry.scene) for entry in entries]
    common = max(need for need in needs if need <= LARGE_RATIO * median(needs))
    width, height = columns * (CELL + PAD) + PAD, top + rows * (high + PAD) + 2 * PAD
    parts: list[Part] = [Box(x=0, y=0, width=width, height=height, fill=GROUND)]
    parts.append(
        Words(x=PAD, y=top / 2, text=shortened(title, width=width - 2 * PAD, size=TITLE, bold=True), size=TITLE, bold=True)
    )
    for number, (entry, need) in enumerate(zip(entries, needs, strict=True)):
        row, column = divmod(number, columns)
        px = max(common, need) if need >= SMALL_SHARE * common else need / SMALL_SHARE
        parts += moved(_cell(entry, px=px, common=common), PAD + column * (CELL + PAD), top + row * (high + PAD))
    length = max((mm for mm in BARS_MM if mm <= CELL * common / 2), default=BARS_MM[0])
    says = f"{length:g} mm, if the units were taken right" if any(entry.scene.own_mm is not None for entry in entries) else ""
    parts += bar(PAD, height - PAD - SMALL / 2, length_mm=length, mm_per_px=common, size=SMALL, says=says)
    names = ", ".join(entry.scene.name for entry in entries)
    return Drawing(
        width=width,
        height=height,
        title=title,
        about=f"{len(entries)} pieces at one scale: {names}.",
        parts=tuple(parts),
        mm_per_px=common,
    )


def _needs(scene: Scene) -> float:
    """The size of a pixel at which a piece fills its cell [mm]."""
    return fitting(scene.surface.points, [walked(scene.axes, *SIDES["three-quarter"])], size=CELL)


def _cell(entry: Entry, *, px: float, common: float) -> tuple[Part, ...]:
    scene = entry.scene
    axes = walked(scene.axes, *SIDES["three-quarter"])
    picture = seen_by(camera_for(scene.surface.points, axes, size=CELL, mm_per_px=px), scene.surface)
    first, second = CELL + PAD + TEXT / 2, CELL + 2 * PAD + 1.5 * TEXT
    parts: list[Part] = [Raster(x=0, y=0, rgb=form(picture)), *lines_of(picture, fine=0.8)]
    if px != common:
        way = f"{common / px:.1f} times larger" if px < common else f"{px / common:.1f} times smaller"
        parts.append(Words(x=PAD, y=PAD, text=f"drawn {way}", size=SMALL, colour=INK_2))
    if entry.worst:
        word, fill, ink = MARKS[entry.worst]
        parts.append(Box(x=CELL - MARK_WIDE, y=round(first - TEXT / 2) - 2, width=MARK_WIDE, height=TEXT + 6, fill=fill))
        parts.append(Words(x=CELL - MARK_WIDE / 2, y=first + 1, text=word, size=SMALL, bold=True, colour=ink, anchor="middle"))
    name = shortened(scene.called, width=CELL - MARK_WIDE - PAD, size=TEXT, bold=True)
    return (
        *parts,
        Words(x=0, y=first, text=name, size=TEXT, bold=True),
        Words(x=0, y=second, text=shortened(entry.figures, width=CELL, size=SMALL), size=SMALL, colour=INK_2),
    )
