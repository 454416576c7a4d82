"""Pictures of a pattern: front and side at one scale, walls in five greys for one ink, and in colours for the screen."""

from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from math import inf
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

from pourwell.geometry.kernels.raster import stroked
from pourwell.geometry.mesh import Floats
from pourwell.geometry.picture import Picture
from pourwell.sheets.field_map import field_map, wall_field
from pourwell.sheets.scene import Scene
from pourwell.sheets.viewpoint import MM_PER_PX, Views, points, views
from pourwell.steps.pattern.model import Pattern, Point
from pourwell.units import MM_PER_INCH

TONE_RATIOS: Final = (1.0, 2.0, 3.0, 5.0)
"""Where one tone ends and the next begins, in limits: for a limit of 0.8 mm at 0.8, 1.6, 2.4 and 4."""

TONES: Final = (0, 122, 172, 215, 255)
"""Greys from the thinnest walls to the thickest: black under the limit, and steps that a laser printer keeps apart."""

FORM: Final = 14
"""By how much of 255 light and shade may move a grey, a third of the least step: the form shows, the tone stays."""

LINE_MM: Final = 0.07
"""Half the width of an outline at full size."""

FINE: Final = 0.7
"""How dark a crease is beside an outline."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintedPictures:
    """Front and side of a pattern in one raster, for one ink, with what a page needs to set it to size.

    Attributes
    ----------
    png : greyscale, front at the left, the side as seen from the right
    width_mm, height_mm : what the raster spans of the pattern
    points : where "thinnest", "thickest" and "sprue" lie in it, from its upper left corner [mm]
    tones : the grey (0 to 255) of walls below a limit [mm], limits ascending, the last one infinite
    """

    png: bytes
    width_mm: float
    height_mm: float
    mm_per_px: float
    points: Mapping[str, tuple[float, float]]
    tones: tuple[tuple[float, int], ...]


def tones(limit_mm: float) -> tuple[tuple[float, int], ...]:
    """The five greys, each with the wall [mm] that it ends at."""
    ends = [round(limit_mm * ratio, 6) for ratio in TONE_RATIOS]
    return tuple(zip([*ends, inf], TONES, strict=True))


def front_and_side(
    pattern: Pattern,
    *,
    mm_per_px: float = MM_PER_PX,
    limit_mm: float | None = None,
    sprue_at_mm: Point | None = None,
    seen: Views | None = None,
) -> PrintedPictures:
    """Front and side for the run sheet: walls in five greys, black under the limit, black lines, one ink.

    Parameters
    ----------
    pattern : with its mesh and wall thickness
    mm_per_px : size of a pixel
    limit_mm : the least castable wall; the pattern's own by default
    sprue_at_mm : where the sprue sits, in the pattern's frame; where the user wants it by default
    seen : its views, if looked at already; they know their pixels and their limit
    """
    looked = seen or views(pattern, mm_per_px=mm_per_px, limit_mm=limit_mm)
    px = looked.front.mm_per_px
    grey = looked.joined(
        _grey(looked.front, looked.front_mm, looked.limit_mm), _grey(looked.side, looked.side_mm, looked.limit_mm), nothing=255.0
    )
    rows, columns = grey.shape
    left = looked.left_px
    places = points(pattern, looked, sprue_at_mm=sprue_at_mm)
    return PrintedPictures(
        png=_png(Image.fromarray(grey.round().astype(np.uint8)), mm_per_px=px),
        width_mm=columns * px,
        height_mm=rows * px,
        mm_per_px=px,
        points={name: ((x + (left if on_side else 0)) * px, y * px) for name, (on_side, x, y) in places.items()},
        tones=tones(looked.limit_mm),
    )


def _grey(picture: Picture, walls: Floats, limit_mm: float) -> Floats:
    """(h, w) float array, 0 to 255: a tone for every wall, a little light and shade, lines; lines on black are white."""
    ends = [end for end, _ in tones(limit_mm)[:-1]]
    step = np.digitize(np.nan_to_num(walls, nan=inf), ends)
    tone = np.asarray(TONES, dtype=np.float64)[step]
    form = np.where((step > 0) & (step < len(ends)), (_form(picture) - 0.5) * 2 * FORM, np.minimum(_form(picture) - 1, 0) * FORM)
    form[step == 0] = 0
    painted = np.where(picture.hit, np.clip(tone + form, 0, 255), 255.0)
    lines = _lines(picture)
    inside = (step == 0) & picture.hit & ~_near_edge(picture)
    return painted * (1 - lines) + np.where(inside, 255.0, 0.0) * lines


def _form(picture: Picture) -> Floats:
    """(h, w) float array, 0 to 1: how light falls, without lines, half where nothing is seen."""
    shade: Floats = np.where(picture.hit, picture.light, 0.5)
    return shade


def _near_edge(picture: Picture) -> NDArray[np.bool_]:
    """Pixels so near to the outline against the paper that its line covers them."""
    width = 2 * LINE_MM / picture.mm_per_px
    near: NDArray[np.bool_] = gaussian_filter(picture.hit.astype(np.float64), width) < 0.9
    return near


def _lines(picture: Picture) -> Floats:
    """(h, w) float array, 0 to 1: how much of every pixel is line; outlines and steps strong, edges fine, all softened."""
    width = LINE_MM / picture.mm_per_px
    strong = stroked(picture.outline, np.full(len(picture.outline), 2 * width), picture.shape)
    fine = stroked(picture.crease, np.full(len(picture.crease), width), picture.shape)
    lines: Floats = np.maximum(strong, FINE * fine)
    return lines


def _png(image: Image.Image, *, mm_per_px: float, times: float = 1.0) -> bytes:
    """The image as PNG that prints at so many times the pattern's size."""
    out = BytesIO()
    dots = MM_PER_INCH / mm_per_px / times
    image.save(out, "PNG", dpi=(dots, dots), optimize=False, compress_level=6)
    return out.getvalue()


def write_pictures(
    pattern: Pattern,
    *,
    mm_per_px: float = MM_PER_PX,
    limit_mm: float | None = None,
    sprue_at_mm: Point | None = None,
    seen: Views | None = None,
    printed: PrintedPictures | None = None,
) -> dict[str, bytes]:
    """Walls as files: front and side in greys for one ink, both halves in colours for the screen.

    Arguments as for `front_and_side`; `printed` is what that gives, if drawn already.

    Returns
    -------
    PNG bytes by file name; the grey one prints at twice the pattern's size
    """
    looked = seen or views(pattern, mm_per_px=mm_per_px, limit_mm=limit_mm)
    grey = printed or front_and_side(pattern, sprue_at_mm=sprue_at_mm, seen=looked)
    name = f"pattern-{pattern.piece.id}"
    scene = Scene(id=pattern.piece.id, name=pattern.piece.name, surface=looked.surface, axes=looked.axes)
    field = wall_field(pattern, scene.surface, looked.rays, limit_mm=looked.limit_mm, sprue_at_mm=sprue_at_mm)
    return {f"{name}-walls.png": field_map(scene, field).png, f"{name}-print.png": grey.png}
