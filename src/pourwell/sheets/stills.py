"""Stills of a piece on a tray: its form in light and shade and outlines, before and after."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.picture import Camera, Picture, seen_by
from pourwell.geometry.surface import Mask, smooth
from pourwell.sheets.colours import BLUE, BODY, CUT, GROUND, INK, INK_2, RED, TRAY
from pourwell.sheets.drawing import Box, Bytes, Drawing, Part, Raster, Strokes, Words, bar, fitted, font_of, shortened
from pourwell.sheets.scene import SIDES, SIZE, Scene, camera_for, fitting, walked

OUTLINE_PX, CREASE_PX, CREASE_OPACITY = 1.8, 1.1, 0.75

HATCH_PX, HATCH_LINE_PX, HATCH_OPACITY = 9.0, 1.6, 0.85
"""From line to line of the hatching of what is under the limit, how wide each is, how strong."""

FAULT_PX: Final = 3.6
"""Edges that no closed solid has."""
DENSE, LEAST_WIDTH = 0.16, 0.3
"""A pixel of line to six of the piece has its full width; the width falls with more, down to this share of it."""

PAPER: Final = 0.45
"""How bright the darkest shade is on paper: lines and hatching stand out from it."""

PAD, TITLE, TEXT, SMALL = 16, 24, 18, 15
"""Free edge and three sizes of type [px]."""

HEAD: Final = 2 * PAD + TITLE

LINE_HIGH: Final = 1.35
"""From line to line, in sizes of type."""

TIGHT: Final = 1.1
"""... and in a head, where a name takes several."""

LEAST_TYPE: Final = 12

BARS_MM: Final = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)


def form(picture: Picture, *, ground: tuple[int, int, int] = TRAY, cut: Mask | None = None) -> Bytes:
    """(h, w, 3): light and shade alone; the triangles of a cut, (m,), in one even colour."""
    there = picture.cover > 0
    lit = np.asarray(BODY) * picture.light[there][:, None]
    if cut is not None:
        lit[on_cut(picture, cut)[there]] = CUT
    return laid_on(ground, lit, cover=picture.cover, there=there)


def on_cut(picture: Picture, cut: Mask) -> Mask:
    """(h, w): the pixels that show the triangles of a cut, (m,)."""
    shows: Mask = picture.hit & cut[picture.face]
    return shows


def laid_on(ground: tuple[int, int, int], colours: Floats, *, cover: Floats, there: Mask) -> Bytes:
    """(h, w, 3): colours, (k, 3), on the ground where `there`, (h, w), each for the share of its pixel that it covers."""
    painted = np.empty((*there.shape, 3), dtype=np.uint8)
    painted[:] = ground
    share, at, pixels = cover[there], np.flatnonzero(there), painted.reshape(-1, 3)
    for k in range(3):  # by colour: lines of numbers are mixed in half the time
        pixels[at, k] = (colours[:, k] * share + ground[k] * (1 - share)).round()
    return painted


def for_one_ink(picture: Picture, *, under: Mask, cut: Mask | None = None) -> Bytes:
    """(h, w, 3): light and shade on white paper, hatched in black where `under`, (h, w); a cut, (m,) triangles, is white."""
    paper = 255 * (PAPER + (1 - PAPER) * picture.light)
    if cut is not None:
        paper[on_cut(picture, cut)] = 255
    ink = hatching(picture.shape) * under
    grey = (paper * (1 - ink)) * picture.cover + 255 * (1 - picture.cover)
    painted: Bytes = np.repeat(grey[..., None], 3, axis=-1).round().astype(np.uint8)
    return painted


def hatching(shape: tuple[int, int]) -> Floats:
    """(h, w), 0 to 1: slanted lines, soft at their edges."""
    rows, columns = np.indices(shape, sparse=True)
    along = ((rows + columns) / np.sqrt(2)) % HATCH_PX
    ink: Floats = np.clip(HATCH_LINE_PX / 2 + 0.5 - np.abs(along - HATCH_PX / 2), 0, 1)
    return ink


def lines_of(picture: Picture, *, fine: float = 1.0, one_ink: bool = False) -> tuple[Part, ...]:
    """Its outlines and creases as strokes, thinner where so many lie on so little that they would be all that is seen.

    Edges that no closed solid has are thick and red; in one ink, thick.
    """
    lines = np.vstack([picture.outline, picture.crease])
    length = float(np.hypot(*(lines[:, 2:] - lines[:, :2]).T).sum())
    width = fine * min(1.0, max(DENSE * float(picture.cover.sum()) / max(length, 1.0), LEAST_WIDTH))
    return (
        Strokes(lines=picture.crease, width=CREASE_PX * width, opacity=CREASE_OPACITY),
        Strokes(lines=picture.outline, width=OUTLINE_PX * width),
        *((Strokes(lines=picture.fault, width=FAULT_PX * width, colour=INK if one_ink else RED),) if len(picture.fault) else ()),
    )


def scale_bar(scene: Scene, camera: Camera, *, x: int, y: int) -> tuple[Part, ...]:
    """A round length, no more than a quarter of the picture; in the file's own numbers where their unit is in doubt."""
    most = camera.shape[1] * camera.mm_per_px / 4
    if scene.own_mm is None:
        length = max((mm for mm in BARS_MM if mm <= most), default=BARS_MM[0])
        return bar(x, y, length_mm=length, mm_per_px=camera.mm_per_px, size=SMALL)
    tens = 10.0 ** np.floor(np.log10(most / scene.own_mm))
    own = max(share * tens for share in (1, 2, 5) if share * tens * scene.own_mm <= most)
    return bar(x, y, length_mm=own * scene.own_mm, mm_per_px=camera.mm_per_px, size=SMALL, says=f"{own:g} in the file's numbers")


def titled(title: str, remark: str, *, width: int) -> tuple[Part, ...]:
    """A head: the title at the left, a remark at the right. A long title is set smaller, then in lines, and cut only then."""
    room = width - 3 * PAD - font_of(SMALL).getlength(remark)
    size, lines = fitted(title, width=room, sizes=(TITLE, TEXT, LEAST_TYPE), bold=True)
    most = int(HEAD / (TIGHT * size))
    if len(lines) > most:
        lines[most - 1 :] = [shortened("".join(lines[most - 1 :]), width=room, size=size, bold=True)]
    first = HEAD / 2 - (len(lines) - 1) * TIGHT * size / 2
    return (
        *(Words(x=PAD, y=first + k * TIGHT * size, text=line, size=size, bold=True) for k, line in enumerate(lines)),
        Words(x=width - PAD, y=HEAD / 2, text=remark, size=SMALL, colour=INK_2, anchor="end"),
    )


def still(scene: Scene, camera: Camera, *, view: str) -> Drawing:
    """The form of a piece from one side."""
    rows, columns = camera.shape
    picture = seen_by(camera, scene.surface)
    return Drawing(
        width=columns,
        height=rows + HEAD,
        title=f"{scene.called}, {view}",
        about=f"Light and shade and outlines of {scene.name}, seen {_from(view)}.",
        parts=(
            Box(x=0, y=0, width=columns, height=HEAD, fill=GROUND),
            Raster(x=0, y=HEAD, rgb=form(picture)),
            *moved(lines_of(picture), 0, HEAD),
            *titled(scene.called, view, width=columns),
            *scale_bar(scene, camera, x=PAD, y=HEAD + rows - PAD),
        ),
        mm_per_px=camera.mm_per_px,
    )


def _from(view: str) -> str:
    return {"above": "from above", "side": "from its right side", "front": "from its front"}.get(
        view, "from the front, the right and above"
    )


def moved(parts: Sequence[Part], x: int, y: int) -> tuple[Part, ...]:
    """Parts moved to the right and down."""
    return Drawing(width=0, height=0, title="", about="", parts=tuple(parts)).part(x, y)


def before_and_after(
    scene: Scene, after: Mesh, *, says: tuple[str, str] = ("before", "after"), view: str = "three-quarter", size: int = SIZE
) -> Drawing:
    """A piece and what became of it from the same place at the same scale; what it was is outlined in blue on what it is."""
    axes = walked(scene.axes, *SIDES[view])
    now = smooth(after)
    every = np.vstack([scene.surface.points, now.points])
    camera = camera_for(every, axes, size=size, mm_per_px=fitting(every, [axes], size=size))
    was, became = seen_by(camera, scene.surface), seen_by(camera, now)
    return Drawing(
        width=2 * size,
        height=size + HEAD,
        title=f"{scene.called}, {says[0]} and {says[1]}, {view}",
        about=f"{scene.name} {says[0]} and {says[1]}, seen {_from(view)} from the same place at the same scale.",
        parts=(
            Box(x=0, y=0, width=2 * size, height=HEAD, fill=GROUND),
            *moved((Raster(x=0, y=0, rgb=form(was)), *lines_of(was)), 0, HEAD),
            *moved((Raster(x=0, y=0, rgb=form(became)), *lines_of(became)), size, HEAD),
            *moved((Strokes(lines=was.outline, width=OUTLINE_PX, colour=BLUE, opacity=0.7),), size, HEAD),
            *titled(scene.called, f"{says[0]}, and {says[1]} with the former outline in blue", width=2 * size),
            *scale_bar(scene, camera, x=PAD, y=HEAD + size - PAD),
        ),
        mm_per_px=camera.mm_per_px,
    )
