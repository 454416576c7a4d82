"""A picture with words and lines, as SVG and as PNG from the same parts: rasters, boxes, strokes, words."""

import base64
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files
from io import BytesIO
from math import ceil, floor
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from pourwell.geometry.kernels.raster import stroked
from pourwell.geometry.mesh import Floats
from pourwell.sheets.colours import INK, WHITE, Colour, hexed
from pourwell.sheets.png import png
from pourwell.units import m_from_mm

Bytes = NDArray[np.uint8]
Anchor = Literal["start", "middle", "end"]

FAMILY: Final = "Source Sans Pro"
CIRCLE_PARTS: Final = 48
SEAMS: Final = "-_."
"""After these a long name is broken first."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Raster:
    """Pixels, (h, w, 3), with their left upper corner at x, y."""

    x: int
    y: int
    rgb: Bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A filled rectangle; whole pixels."""

    x: int
    y: int
    width: int
    height: int
    fill: Colour


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strokes:
    """Lines with round ends, (k, 4) from right, from down, to right, to down [px]; both ends alike make a disc."""

    lines: Floats
    width: float
    colour: Colour = INK
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of text; x, y is the middle of its height at its start, middle or end; with a halo it stands on a picture."""

    x: float
    y: float
    text: str
    size: int
    bold: bool = False
    colour: Colour = INK
    anchor: Anchor = "start"
    halo: Colour | None = None


Part = Raster | Box | Strokes | Words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Parts on a sheet, the later ones above.

    Attributes
    ----------
    width, height : [px]
    title, about : what it is in a few words, and what it shows in a sentence, for who cannot see it
    parts : what is drawn
    mm_per_px : of the piece in the picture, if that is one scale: the PNG says at what density it prints at twice its size
    """

    width: int
    height: int
    title: str
    about: str
    parts: tuple[Part, ...]
    mm_per_px: float | None = None

    def part(self, x: int, y: int) -> tuple[Part, ...]:
        """Its parts moved to the right and down, to stand in a larger drawing."""
        return tuple(_moved(part, x, y) for part in self.parts)

    @property
    def svg(self) -> bytes:
        """Scalable: pixels stay pixels, lines and words are lines and words."""
        inside = "\n".join(_svg(part) for part in self.parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{self.width}" height="{self.height}" '
            f'viewBox="0 0 {self.width} {self.height}" font-family="\'{FAMILY}\', sans-serif" stroke-linecap="round" '
            f'stroke-linejoin="round">\n<title>{_text(self.title)}</title>\n<desc>{_text(self.about)}</desc>\n{inside}\n</svg>\n'
        ).encode()

    @property
    def pixels(self) -> Bytes:
        """(height, width, 3) uint8 array."""
        return np.asarray(self._image())

    def _image(self) -> Image.Image:
        image = Image.new("RGB", (self.width, self.height), (255, 255, 255))
        for part in self.parts:
            _paint(image, part)
        return image

    @property
    def png(self) -> bytes:
        """Pixels as a file."""
        return png(self.pixels, px_per_m=1 / m_from_mm(self.mm_per_px) / 2 if self.mm_per_px else None)


def circle(x: float, y: float, radius: float) -> Floats:
    """(k, 4): a circle as strokes [px]."""
    turn = np.linspace(0, 2 * np.pi, CIRCLE_PARTS + 1)
    places = np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])
    return np.column_stack([places[:-1], places[1:]])


def frame(x: float, y: float, *, width: float, height: float) -> Floats:
    """(4, 4): the edge of a rectangle as strokes [px]."""
    corners = np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], dtype=np.float64)
    return np.column_stack([corners, np.roll(corners, -1, axis=0)])


def bar(x: float, y: float, *, length_mm: float, mm_per_px: float, size: int, says: str = "") -> tuple[Part, ...]:
    """So many millimetres, with its name, or another that is given; x, y is its left end [px]."""
    end = x + length_mm / mm_per_px
    lines = np.array([(x, y, end, y), (x, y - size / 4, x, y + size / 4), (end, y - size / 4, end, y + size / 4)])
    return (
        Strokes(lines=lines, width=5.0, colour=WHITE, opacity=0.8),
        Strokes(lines=lines, width=2.0),
        Words(x=end + size / 2, y=y, text=says or f"{length_mm:g} mm", size=size, halo=WHITE),
    )


def fitted(text: str, *, width: float, sizes: Sequence[int], bold: bool = False) -> tuple[int, list[str]]:
    """The largest of some sizes, falling, at which a text is one line no wider than so many pixels; else the least, and lines.

    Nothing is cut: a word that is wider than a line, as the name of a file may be, goes on in the next.
    """
    size = next((size for size in sizes if font_of(size, bold=bold).getlength(text) <= width), sizes[-1])
    font = font_of(size, bold=bold)
    first, *words = text.split(" ")
    lines: list[str] = []
    line = first
    for word in [*words, None]:
        if word is not None and font.getlength(f"{line} {word}") > width and font.getlength(word) <= width:
            lines.append(line)
            line = word
        elif word is not None:
            line = f"{line} {word}"
        while font.getlength(line) > width and len(line) > 1:
            fits = _fitting(line, font, width=width)
            seam = max(line.rfind(mark, fits // 2, fits) for mark in SEAMS) + 1
            lines.append(line[: seam or fits])
            line = line[seam or fits :]
    return size, [*lines, line]


def _fitting(line: str, font: ImageFont.FreeTypeFont, *, width: float) -> int:
    """How many letters of a line fit, at least one."""
    return max(bisect_right(range(1, len(line)), width, key=lambda k: font.getlength(line[:k])), 1)


def wrapped(text: str, *, width: float, size: int, bold: bool = False, most: int = 3) -> list[str]:
    """Text in lines no wider than so many pixels; what goes beyond `most` lines ends in an ellipsis."""
    font, lines, words = font_of(size, bold=bold), [""], text.split()
    while words:
        longer = f"{lines[-1]} {words[0]}".strip()
        if font.getlength(longer) <= width:
            lines[-1] = longer
            words.pop(0)
        elif lines[-1] and len(lines) < most:
            lines.append("")
        else:
            lines[-1] = shortened(longer + (" " + " ".join(words[1:]) if words[1:] else ""), width=width, size=size, bold=bold)
            break
    return [line for line in lines if line]


def shortened(text: str, *, width: float, size: int, bold: bool = False) -> str:
    """One line cut to a width with an ellipsis."""
    font = font_of(size, bold=bold)
    if font.getlength(text) <= width:
        return text
    while text and font.getlength(text + "…") > width:
        text = text[:-1]
    return text.rstrip() + "…"


@cache
def font_of(size: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """The sheet's family, from its package."""
    data = (files("font_source_sans_pro") / "files" / f"SourceSansPro-{'Bold' if bold else 'Regular'}.ttf").read_bytes()
    return ImageFont.truetype(BytesIO(data), size)


def _moved(part: Part, x: int, y: int) -> Part:
    if isinstance(part, Raster):
        return Raster(x=part.x + x, y=part.y + y, rgb=part.rgb)
    if isinstance(part, Box):
        return Box(x=part.x + x, y=part.y + y, width=part.width, height=part.height, fill=part.fill)
    if isinstance(part, Strokes):
        return Strokes(lines=part.lines + np.array((x, y, x, y)), width=part.width, colour=part.colour, opacity=part.opacity)
    return Words(
        x=part.x + x,
        y=part.y + y,
        text=part.text,
        size=part.size,
        bold=part.bold,
        colour=part.colour,
        anchor=part.anchor,
        halo=part.halo,
    )


def _paint(image: Image.Image, part: Part) -> None:
    if isinstance(part, Raster):
        image.paste(Image.fromarray(part.rgb), (part.x, part.y))
    elif isinstance(part, Box):
        image.paste(part.fill, (part.x, part.y, part.x + part.width, part.y + part.height))
    elif isinstance(part, Words):
        anchor = {"start": "lm", "middle": "mm", "end": "rm"}[part.anchor]
        font, halo = font_of(part.size, bold=part.bold), 2 if part.halo else 0
        write = ImageDraw.Draw(image).text
        write((part.x, part.y), part.text, part.colour, font, anchor=anchor, stroke_width=halo, stroke_fill=part.halo)
    elif len(part.lines):
        _stroke(image, part)


def _stroke(image: Image.Image, part: Strokes) -> None:
    """Only where the lines are is looked at."""
    room = part.width / 2 + 1
    left, top = (max(0, floor(part.lines[:, [k, k + 2]].min() - room)) for k in (0, 1))
    right, low = (min(end, ceil(part.lines[:, [k, k + 2]].max() + room)) for k, end in enumerate(image.size))
    if right <= left or low <= top:
        return
    lines = part.lines - np.array((left, top, left, top))
    ink = stroked(lines, np.full(len(lines), part.width), (low - top, right - left)) * part.opacity
    pixels = np.array(image.crop((left, top, right, low)))
    touched = ink > 0
    share = ink[touched][:, None]
    pixels[touched] = (pixels[touched] * (1 - share) + np.asarray(part.colour) * share).round()
    image.paste(Image.fromarray(pixels), (left, top))


def _svg(part: Part) -> str:
    if isinstance(part, Raster):
        data = base64.b64encode(png(part.rgb)).decode("ascii")
        rows, columns = part.rgb.shape[:2]
        return f'<image x="{part.x}" y="{part.y}" width="{columns}" height="{rows}" href="data:image/png;base64,{data}"/>'
    if isinstance(part, Box):
        return f'<rect x="{part.x}" y="{part.y}" width="{part.width}" height="{part.height}" fill="{hexed(part.fill)}"/>'
    if isinstance(part, Words):
        weight = ' font-weight="700"' if part.bold else ""
        halo = f' stroke="{hexed(part.halo)}" stroke-width="4" paint-order="stroke"' if part.halo else ""
        return (
            f'<text x="{part.x:.1f}" y="{part.y:.1f}" dy="0.35em" font-size="{part.size}"{weight} fill="{hexed(part.colour)}" '
            f'text-anchor="{part.anchor}"{halo}>{_text(part.text)}</text>'
        )
    opacity = f' opacity="{part.opacity:g}"' if part.opacity < 1 else ""
    return f'<path d="{_path(part.lines)}" fill="none" stroke="{hexed(part.colour)}" stroke-width="{part.width:g}"{opacity}/>'


def _path(lines: Floats) -> str:
    """Strokes as a path; what goes on where the last one ended is one line."""
    out, at = [], None
    for x, y, to_x, to_y in lines.round(2).tolist():
        if at != (x, y):
            out.append(f"M{x:g} {y:g}")
        out.append(f"L{to_x:g} {to_y:g}")
        at = (to_x, to_y)
    return "".join(out)


def _text(words: str) -> str:
    """Words as XML; characters that XML does not know are left out."""
    return escape("".join(c for c in words if c >= " " or c in "\t\n"), quote=False)


def beside(drawings: Sequence[Drawing], *, gap: int, x: int, y: int) -> Iterable[Part]:
    """The parts of drawings side by side, the first at x, y."""
    for drawing in drawings:
        yield from drawing.part(x, y)
        x += drawing.width + gap
