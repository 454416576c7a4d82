"""Something measured all over a piece, in colours with their scale; what is under its limit is hatched and outlined."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, partial
from typing import Final

import numpy as np
from scipy.ndimage import gaussian_filter

from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.picture import Camera, Picture, seen_by
from pourwell.geometry.rays import Caster
from pourwell.geometry.surface import Surface
from pourwell.geometry.touching import Touching
from pourwell.geometry.walls_seen import values_at, walls_at
from pourwell.sheets.colours import GROUND, INK_2, TRAY, UNKNOWN, WHITE, Scale, glow, scale_of
from pourwell.sheets.drawing import Box, Bytes, Drawing, Part, Raster, Strokes, Words, circle, fitted
from pourwell.sheets.isoline import isolines
from pourwell.sheets.scene import BEHIND, SIDES, SIZE, Scene, camera_for, fitting, walked
from pourwell.sheets.stills import (
    HATCH_OPACITY,
    HEAD,
    LINE_HIGH,
    PAD,
    SMALL,
    TEXT,
    hatching,
    laid_on,
    lines_of,
    moved,
    scale_bar,
    titled,
)
from pourwell.sheets.viewpoint import is_visible
from pourwell.steps.pattern.model import Pattern, Point

CONTOUR_PX: Final = 2.0
"""Width of the white line of the limit; a dark one shows on either side of it."""

FIELDS: Final[Mapping[str, tuple[str, str, str]]] = {
    "wall": ("Wall", "not measured", ""),
    "ball": ("Largest ball inside", "not measured", "Along an edge only a small ball fits: that alone is no fault."),
    "gap": ("Gap outside", "open", "In an inner corner only a small ball fits: that alone is no fault."),
}
"""How fields are headed, what it means where they have no value, and how they are to be read."""

LIT: Final = 0.45
"""What share of a field's colour light and shade may take."""

AS_TOLD: Final = 0.99
"""What is under its limit by less than a hundredth of it is told as the limit, and not hatched."""

SOFT_PX: Final = 1.5
"""How far values are softened before the line of the limit is drawn."""

LEGEND: Final = 176
"""Room for the scale [px]."""

BOTH_SIDES: Final = "from above right, and from below behind"
RING_PX, FLAG_PX = 7, 26
"""Radius of the ring round a named place, and how far from it its name begins."""
BAR_HIGH: Final = 300

BAR_WIDE: Final = 22

IN_THE_MIDDLE: Final = 1.5
"""The middle of the thickest metal lies no deeper than this many of its half widths, where it is looked at aslant."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """Something measured at every triangle.

    Attributes
    ----------
    name : one word, as files are called by it
    title, unit : as the scale is headed
    values : (m,) float array, one for each triangle; nan or infinite where there is none
    limit : what is under it is hatched
    unknown : what the reader is told where there is no value
    marked : places to be named, each with its words
    least : the least that is told of it elsewhere, edges that thicker metal carries left out
    remark : what else is to be known of it
    note : how to read it, under its scale
    deep_mm : how far under the surface a named place lies, by its words; those that are not there lie on it
    under : the same at every pixel of a picture, (h, w), where that is known better than by triangles
    """

    name: str
    title: str
    unit: str
    values: Floats
    limit: float | None = None
    unknown: str = "not measured"
    marked: tuple[tuple[str, Point], ...] = ()
    least: float | None = None
    remark: str = ""
    note: str = ""
    deep_mm: Mapping[str, float] = field(default_factory=dict)
    under: Callable[[Picture], Floats] | None = None

    def scale(self, surface: Surface) -> Scale:
        """A scale for it: a length begins at nothing."""
        return scale_of(self.values, weights=surface.areas, limit=self.limit, unit=self.unit, from_nothing=self.unit == "mm")

    def seen(self, picture: Picture, surface: Surface) -> Floats:
        """(h, w) float array, in its unit: its value at every pixel, blended over smooth joints; nan where there is none."""
        return self.under(picture) if self.under else picture.seen(surface.blended(self.values))


def field_named(name: str, values: Floats, *, limit: float | None = None, marked: tuple[tuple[str, Point], ...] = ()) -> Field:
    """A field of a pattern by its name, (m,) values; one that is not known by its name is called by it, in mm."""
    title, unknown, note = FIELDS.get(name, (name.capitalize(), "not measured", ""))
    known = np.asarray(values, dtype=np.float64)
    return Field(name=name, title=title, unit="mm", values=known, limit=limit, unknown=unknown, marked=marked, note=note)


def wall_field(
    pattern: Pattern, surface: Surface, caster: Caster, *, limit_mm: float | None = None, sprue_at_mm: Point | None = None
) -> Field:
    """The walls of a pattern; on large triangles they are measured at every pixel.

    Parameters
    ----------
    pattern, surface, caster : of the same mesh
    limit_mm : the least castable wall; the pattern's own by default
    sprue_at_mm : where the sprue sits, if it is to be named
    """
    wall, sprue = pattern.piece.wall, sprue_at_mm or pattern.sprue_at_mm
    least, at = (wall.thinnest_mm, wall.thinnest_at_mm) if wall.ray_mm is None else (wall.ray_mm, wall.ray_at_mm)
    even = f"{least:.2f}" == f"{wall.thickest_mm:.2f}"
    thick = () if even else ((f"thickest {wall.thickest_mm:.2f}", wall.thickest_at_mm),)
    marked = (*_thinnest(least, at), *thick, *((("sprue", sprue),) if sprue else ()))
    named = field_named("wall", pattern.wall_mm, limit=wall.limit_mm if limit_mm is None else limit_mm, marked=marked)
    deep = {words: IN_THE_MIDDLE * wall.thickest_mm / 2 for words, _ in thick}
    return replace(
        named, least=least, deep_mm=deep, under=lambda picture: walls_at(picture, surface, pattern.wall_mm, caster=caster)
    )


def more_fields(pattern: Pattern, surface: Surface) -> tuple[Field, ...]:
    """The other measures of a pattern: the balls inside with the thinnest wall that they tell, the gaps outside.

    On large triangles they are measured at every pixel.
    """
    wall, out, touching = pattern.piece.wall, [], cache(partial(Touching, pattern.mesh))

    def seen(picture: Picture, values: Floats, *, outside: bool) -> Floats:
        most = pattern.gap_open_mm if outside else float(values[np.isfinite(values)].max())

        def ball(places: Floats, face: Ints) -> Floats:
            found = touching().balls(places, face, outside=outside, most_mm=most if outside else np.inf).diameter_mm
            return found if outside else np.minimum(found, most)

        return values_at(picture, surface, values, measure=ball)

    if pattern.ball_mm is not None:
        named = field_named("ball", pattern.ball_mm, marked=_thinnest(wall.ball_mm, wall.ball_at_mm))
        out.append(replace(named, least=wall.ball_mm, under=partial(seen, values=pattern.ball_mm, outside=False)))
    if pattern.gap_mm is not None and np.isfinite(pattern.gap_mm).any():
        named = field_named("gap", pattern.gap_mm, limit=pattern.gap_limit_mm)
        out.append(replace(named, under=partial(seen, values=pattern.gap_mm, outside=True)))
    return tuple(out)


def _thinnest(least_mm: float | None, at_mm: Point | None) -> tuple[tuple[str, Point], ...]:
    return () if least_mm is None or at_mm is None else ((f"thinnest {least_mm:.2f}", at_mm),)


def coloured(picture: Picture, values: Floats, *, scale: Scale, limit: float | None) -> Bytes:
    """(h, w, 3): values (h, w) in the map's colours, lit; grey where there are none, hatched under the limit."""
    there = picture.hit
    found = values[there]
    known = np.isfinite(found)
    colour = glow(scale.share(np.where(known, found, scale.low)))
    colour[~known] = UNKNOWN
    if limit is not None:
        ink = (hatching(picture.shape)[there] * HATCH_OPACITY * (np.where(known, found, np.inf) < limit * AS_TOLD))[:, None]
        colour = colour * (1 - ink) + np.asarray(WHITE) * ink
    lit = colour * (1 - LIT * (1 - picture.light[there][:, None]))
    return laid_on(TRAY, lit, cover=picture.cover, there=there)


def halves(scene: Scene, *, size: int = SIZE) -> tuple[Camera, Camera]:
    """The two cameras that between them see a piece all round, at one scale."""
    views = [walked(scene.axes, *way) for way in (SIDES["three-quarter"], BEHIND)]
    px = fitting(scene.surface.points, views, size=size)
    first, second = (camera_for(scene.surface.points, axes, size=size, mm_per_px=px) for axes in views)
    return first, second


def field_map(
    scene: Scene, field: Field, *, scale: Scale | None = None, size: int = SIZE, both: Sequence[Picture] | None = None
) -> Drawing:
    """A field on both halves of a piece, with its scale.

    Parameters
    ----------
    scale : may be given, the same for before and after
    size : edge of either half [px]
    both : what the cameras of `halves` see, if looked at already, for another field
    """
    used = scale or field.scale(scene.surface)
    seen = both or [seen_by(camera, scene.surface) for camera in halves(scene, size=size)]
    parts: list[Part] = []
    for number, picture in enumerate(seen):
        x = number * size
        parts += moved(painted_field(picture, field.seen(picture, scene.surface), scale=used, limit=field.limit), x, HEAD)
    for number, named in enumerate(_by_side(field, seen)):
        parts += moved(flags(named, width=size), number * size, HEAD)
    width = 2 * size + LEGEND
    return Drawing(
        width=width,
        height=size + HEAD,
        title=f"{scene.called}, {field.title.lower()}",
        about=_told(scene, field),
        parts=(
            Box(x=0, y=0, width=width, height=size + HEAD, fill=GROUND),
            *parts,
            *titled(scene.called, "; ".join(filter(None, (field.remark, BOTH_SIDES))), width=width),
            *scale_bar(scene, seen[0].camera, x=PAD, y=HEAD + size - PAD),
            *moved(legend(field, used, weights=scene.surface.areas), 2 * size + PAD, HEAD),
        ),
        mm_per_px=seen[0].mm_per_px,
    )


def _told(scene: Scene, field: Field) -> str:
    limit = f" Under the limit of {field.limit:g} {field.unit} it is hatched." if field.limit is not None else ""
    figure = f" The least but for edges is {field.least:.2f} {field.unit}." if field.least is not None else ""
    return f"{field.title} of {scene.name} in {field.unit}, dark is little, bright is much.{limit}{figure}"


def painted_field(picture: Picture, values: Floats, *, scale: Scale, limit: float | None) -> tuple[Part, ...]:
    """A picture in a field's colours, (h, w) values; the limit is a white line on a dark one."""
    parts: tuple[Part, ...] = (Raster(x=0, y=0, rgb=coloured(picture, values, scale=scale, limit=limit)),)
    if limit is not None:
        edge = isolines(_softened(values), level=limit, depth_mm=picture.depth_mm, step_mm=4 * picture.mm_per_px)
        parts += (Strokes(lines=edge, width=CONTOUR_PX + 2, opacity=0.6), Strokes(lines=edge, width=CONTOUR_PX, colour=WHITE))
    return parts + lines_of(picture)


def _softened(values: Floats) -> Floats:
    """Values without the steps of pixels that were measured in pairs; nan stays nan."""
    known = np.isfinite(values)
    weight = gaussian_filter(known.astype(np.float32), SOFT_PX)
    soft = gaussian_filter(np.where(known, values, 0).astype(np.float32), SOFT_PX) / np.where(known, weight, 1)
    return np.where(known, soft.astype(np.float64), np.nan)


def _by_side(field: Field, seen: Sequence[Picture]) -> list[list[tuple[str, float, float]]]:
    """A field's named places with where they lie in the picture that shows them; one that neither shows is left out.

    A place under the surface, as the middle of the thickest metal, is shown where only that metal lies before it.
    """
    out: list[list[tuple[str, float, float]]] = [[] for _ in seen]
    for words, place in field.marked:
        deep = field.deep_mm.get(words, 0.0)
        for side, picture in enumerate(seen):
            if is_visible(picture, place, deep_mm=deep):
                x, y = picture.place(place)[0].tolist()
                out[side].append((words, x, y))
                break
    return out


def flags(named: Sequence[tuple[str, float, float]], *, width: int) -> tuple[Part, ...]:
    """Small rings at places [px], each with its name beside it where there is room; names that would meet move down."""
    lines, words, last = [], [], {1: -np.inf, -1: -np.inf}
    for says, x, y in sorted(named, key=lambda place: place[2]):
        way = 1 if x < width * 2 / 3 else -1
        at = max(y, last[way] + 1.4 * SMALL)
        last[way] = at
        lines += [circle(x, y, RING_PX), np.array([(x + way * RING_PX, y, x + way * FLAG_PX, at)])]
        words.append(
            Words(
                x=x + way * (FLAG_PX + 4), y=at, text=says, size=SMALL, bold=True, anchor="start" if way > 0 else "end", halo=WHITE
            )
        )
    if not lines:
        return ()
    strokes = np.vstack(lines)
    return (Strokes(lines=strokes, width=5.0, colour=WHITE), Strokes(lines=strokes, width=2.0), *words)


def legend(field: Field, scale: Scale, *, weights: Floats) -> tuple[Part, ...]:
    """The scale upright, much above: ticks, the limit, what is hatched, what is grey."""
    size, heads = fitted(f"{field.title}, {scale.unit}", width=LEGEND - 2 * PAD, sizes=(TEXT, SMALL), bold=True)
    top, known = PAD + (1 + len(heads)) * TEXT, np.isfinite(field.values)
    ramp = glow(np.linspace(1, 0, BAR_HIGH))[:, None].repeat(BAR_WIDE, axis=1)
    limit = field.limit if field.limit is not None and field.limit > scale.low else None

    def at(value: float) -> float:
        return top + BAR_HIGH * (1 - float(scale.share(np.array(value))))

    if limit is not None:
        under = (np.arange(BAR_HIGH) > BAR_HIGH * (1 - scale.share(np.array(limit))))[:, None]
        ink = (hatching((BAR_HIGH, BAR_WIDE)) * HATCH_OPACITY * under)[..., None]
        ramp = ramp * (1 - ink) + 255 * ink
    more = bool((field.values[known & (weights > 0)] > scale.high).any())
    parts: list[Part] = [
        *(Words(x=0, y=PAD + (k + 0.5) * TEXT, text=line, size=size, bold=True) for k, line in enumerate(heads)),
        Raster(x=0, y=top, rgb=ramp.round().astype(np.uint8)),
    ]
    for tick in scale.ticks:
        if limit is None or abs(at(tick) - at(limit)) > SMALL:
            parts.append(Strokes(lines=np.array([(BAR_WIDE, at(tick), BAR_WIDE + 5, at(tick))]), width=1.5, colour=INK_2))
            says = scale.words(tick) + (" and more" if more and tick == scale.ticks[-1] else "")
            parts.append(Words(x=BAR_WIDE + 10, y=at(tick), text=says, size=SMALL))
    if limit is not None:
        mark = np.array([(0, at(limit), BAR_WIDE + 5, at(limit))])
        parts += [Strokes(lines=mark, width=5.0), Strokes(lines=mark, width=2.0, colour=WHITE)]
        parts.append(Words(x=BAR_WIDE + 10, y=at(limit), text=f"limit {limit:g}", size=SMALL, bold=True))
    y = top + BAR_HIGH + 2 * PAD
    if limit is not None:
        some = bool((field.values[known & (weights > 0)] < limit).any())
        says = "under the limit" if some else "under it: nowhere"
        swatch = np.asarray(glow(np.zeros((BAR_WIDE, BAR_WIDE))))
        ink = (hatching((BAR_WIDE, BAR_WIDE)) * HATCH_OPACITY)[..., None]
        parts.append(Raster(x=0, y=y, rgb=(swatch * (1 - ink) + 255 * ink).round().astype(np.uint8)))
        parts.append(Words(x=BAR_WIDE + 10, y=y + BAR_WIDE / 2, text=says, size=SMALL))
        y += BAR_WIDE + PAD
    if not known[weights > 0].all():
        parts.append(Box(x=0, y=y, width=BAR_WIDE, height=BAR_WIDE, fill=UNKNOWN))
        parts.append(Words(x=BAR_WIDE + 10, y=y + BAR_WIDE / 2, text=field.unknown, size=SMALL))
        y += BAR_WIDE + PAD
    for line in fitted(field.note, width=LEGEND - 2 * PAD, sizes=(SMALL,))[1]:
        parts.append(Words(x=0, y=y + SMALL / 2, text=line, size=SMALL, colour=INK_2))
        y += round(LINE_HIGH * SMALL)
    return tuple(parts)
