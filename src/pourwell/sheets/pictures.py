"""Pictures of a pattern: front and side at one scale, walls in five greys for one ink, and in colours for the screen."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from math import ceil, inf
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter

from pourwell.geometry.kernels.raster import stroked
from pourwell.geometry.mesh import Floats
from pourwell.geometry.picture import Picture
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

GLOW: Final = (
    "352b88 473b8f 58488d 68538a 795a87 8a6085 9b6681 ac6d7a bf7270 d17864 e48057 f08f4d f5a14a f9b652 facc69 f8e18b f3f1af"
)
"""The one map for fields: dark is thin, bright is thick; even steps in CAM02-UCS, lightness rises for every colour vision."""

GROUND, TRAY, INK, INK_2, WHITE = (241, 242, 238), (228, 230, 225), (21, 24, 26), (67, 73, 78), (255, 255, 255)
"""Grounds and inks of the screen: plaster, where a thing lies, two steps of ink."""

MOST_RATIO: Final = 10.0
"""The colours end at the thickest place, at five limits at least and at ten at most."""

LIT: Final = 0.4
"""What share of a colour light and shade may take."""

PAD, LABELS, LEGEND, BAR, TEXT, TITLE = 24, 190, 150, 300, 22, 30
"""Sizes on the screen [px]: margins, room for names of places, for the scale, its height, and two sizes of type."""


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
) -> dict[str, bytes]:
    """Front and side as files: in greys for one ink and in colours for the screen. Arguments as for `front_and_side`.

    Returns
    -------
    PNG bytes by file name; the grey one prints at twice the pattern's size
    """
    looked = seen or views(pattern, mm_per_px=mm_per_px, limit_mm=limit_mm)
    printed = front_and_side(pattern, sprue_at_mm=sprue_at_mm, seen=looked)
    name = f"pattern-{pattern.piece.id}"
    return {f"{name}-walls.png": _coloured(pattern, looked, sprue_at_mm=sprue_at_mm), f"{name}-print.png": printed.png}


def _coloured(pattern: Pattern, seen: Views, *, sprue_at_mm: Point | None) -> bytes:
    """Both views in colours on a tray, with a title, the scale, the limit drawn on the surface, a bar and named places."""
    piece, (rows, wide), deep = pattern.piece, seen.front.shape, seen.side.shape[1]
    top_mm = min(max(TONE_RATIOS[-1] * seen.limit_mm, ceil(piece.wall.thickest_mm)), MOST_RATIO * seen.limit_mm)
    front, top = PAD + LABELS, 2 * PAD + TITLE + TEXT
    side = front + wide + LABELS
    high = max(rows, BAR) + 3 * TEXT
    image = Image.new("RGB", (side + deep + 2 * PAD + LEGEND, top + high + 2 * PAD), GROUND)
    draw = ImageDraw.Draw(image)
    draw.rectangle((PAD // 2, top - PAD // 2, image.width - PAD // 2, image.height - PAD // 2), fill=TRAY)
    for picture, walls, left in ((seen.front, seen.front_mm, front), (seen.side, seen.side_mm, side)):
        image.paste(Image.fromarray(_glowing(picture, walls, top_mm=top_mm, limit_mm=seen.limit_mm)), (left, top))
    draw.text((PAD, PAD - 6), _short(f"{piece.id}  {piece.name}", image.width - 2 * PAD), INK, _font("Bold", TITLE))
    draw.text((PAD, PAD + TITLE), "Front and side, wall in mm: dark is thin", INK_2, _font("Regular", TEXT))
    _scale(draw, (image.width - PAD - LEGEND + 20, top + TEXT), top_mm=top_mm, limit_mm=seen.limit_mm)
    _bar(draw, (front, image.height - 2 * PAD), seen.front.mm_per_px)
    value = {"thinnest": f" {piece.wall.thinnest_mm:.2f}", "thickest": f" {piece.wall.thickest_mm:.2f}"}
    places = points(pattern, seen, sprue_at_mm=sprue_at_mm)
    columns = {"left": front - PAD // 2, "between": front + wide + PAD // 2, "before the side": side - PAD // 2}
    below = dict.fromkeys(columns, float(top))
    for name, (on_side, x, y) in sorted(places.items(), key=lambda place: place[1][2]):
        column = "before the side" if on_side else "left" if x < wide / 2 else "between"
        at = max(below[column], top + y)
        words, place = name + value.get(name, ""), ((side if on_side else front) + x, top + y)
        _flag(draw, (columns[column], at), place, words=words, before=column != "between")
        below[column] = at + 1.3 * TEXT
    return _png(image, mm_per_px=seen.front.mm_per_px)


def _glowing(picture: Picture, walls: Floats, *, top_mm: float, limit_mm: float) -> NDArray[np.uint8]:
    """(h, w, 3) uint8 array: walls from nothing to `top_mm` in the map's colours, lit, with lines and the limit's contour."""
    across = np.nan_to_num(walls, nan=0.0) / top_mm
    lit = 1 - LIT * (1 - picture.light[..., None])
    colour = np.where(picture.hit[..., None], _glow(across) * lit, np.asarray(TRAY, dtype=np.float64))
    under = np.where(picture.hit, walls < limit_mm, False)
    contour = np.zeros(picture.hit.shape)
    contour[:, 1:] += (under[:, 1:] != under[:, :-1]) & picture.hit[:, 1:] & picture.hit[:, :-1]
    contour[1:] += (under[1:] != under[:-1]) & picture.hit[1:] & picture.hit[:-1]
    white = np.clip(gaussian_filter(contour, 0.8) * 2, 0, 1)[..., None]
    lines = _lines(picture)[..., None]
    colour = colour * (1 - white) + 255.0 * white
    painted: NDArray[np.uint8] = (colour * (1 - lines) + np.asarray(INK) * lines).round().astype(np.uint8)
    return painted


def _glow(across: Floats) -> Floats:
    """(..., 3) float array, 0 to 255: the map's colour at 0 (thin) to 1 (thick), held at its ends."""
    stops = np.array([list(bytes.fromhex(stop)) for stop in GLOW.split()], dtype=np.float64)
    at = np.linspace(0, 1, len(stops))
    return np.stack([np.interp(across, at, channel) for channel in stops.T], axis=-1)


@cache
def _font(weight: str, size: int) -> ImageFont.FreeTypeFont:
    """The sheet's family, from its package."""
    data = (files("font_source_sans_pro") / "files" / f"SourceSansPro-{weight}.ttf").read_bytes()
    return ImageFont.truetype(BytesIO(data), size)


def _short(words: str, width: int) -> str:
    """A title cut to a width with an ellipsis."""
    font = _font("Bold", TITLE)
    if font.getlength(words) <= width:
        return words
    while words and font.getlength(words + "…") > width:
        words = words[:-1]
    return words.rstrip() + "…"


def _scale(draw: ImageDraw.ImageDraw, corner: tuple[int, int], *, top_mm: float, limit_mm: float) -> None:
    """The map upright, thick above, a tick at every millimetre, the limit named."""
    x, y = corner
    for row in range(BAR):
        colour = tuple(_glow(np.array(1 - row / BAR)).round().astype(int).tolist())
        draw.line((x, y + row, x + TEXT, y + row), fill=colour)
    font = _font("Regular", TEXT)

    def tick(wall_mm: float, words: str, *, strong: bool) -> None:
        at = y + BAR * (1 - wall_mm / top_mm)
        draw.line((x + (0 if strong else TEXT), at, x + TEXT + 8, at), fill=WHITE if strong else INK_2, width=3 if strong else 2)
        draw.text((x + TEXT + 14, at), words, INK, _font("Bold", TEXT) if strong else font, anchor="lm")

    for whole in range(1, int(top_mm) + 1):
        if abs(whole - limit_mm) / top_mm * BAR > TEXT:
            tick(float(whole), f"{whole}" + (" or more" if whole == top_mm else ""), strong=False)
    tick(limit_mm, f"limit {limit_mm:g}", strong=True)


def _bar(draw: ImageDraw.ImageDraw, corner: tuple[int, int], mm_per_px: float) -> None:
    """Ten millimetres."""
    x, y = corner
    draw.line((x, y, x + 10 / mm_per_px, y), fill=INK, width=3)
    for end in (x, x + 10 / mm_per_px):
        draw.line((end, y - 6, end, y + 6), fill=INK, width=2)
    draw.text((x + 10 / mm_per_px + 12, y), "10 mm", INK, _font("Regular", TEXT), anchor="lm")


def _flag(draw: ImageDraw.ImageDraw, at: tuple[float, float], place: tuple[float, float], *, words: str, before: bool) -> None:
    """A name that ends (`before`) or begins at a point, with a leader line to its place."""
    font = _font("Bold", TEXT)
    x, y = at
    begin = (x - PAD / 2, y) if before else (x, y)
    for colour, width in ((WHITE, 5), (INK, 2)):
        draw.line((*begin, *place), fill=colour, width=width)
    px, py = place
    draw.ellipse((px - 6, py - 6, px + 6, py + 6), fill=WHITE, outline=INK, width=2)
    draw.text((x - PAD / 2 - 6 if before else x + 6, y), words, INK, font, anchor="rm" if before else "lm")
