"""Stills of a piece on a tray: its form from useful sides, fields in colours with their scale, before and after."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import Final

import numpy as np
from scipy.ndimage import gaussian_filter

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.picture import Camera, Picture, extent, seen_by
from pourwell.geometry.rays import Caster
from pourwell.geometry.surface import Surface, smooth
from pourwell.geometry.walls_seen import walls_at
from pourwell.sheets.colours import BLUE, BODY, GROUND, INK_2, TRAY, UNKNOWN, WHITE, Scale, glow, scale_of
from pourwell.sheets.drawing import Box, Bytes, Drawing, Part, Raster, Strokes, Words, bar, circle, shortened
from pourwell.sheets.isoline import isolines
from pourwell.sheets.viewpoint import front_axes, is_visible
from pourwell.steps.pattern.model import Pattern, Point

SIDES: Final[Mapping[str, tuple[float, float]]] = {
    "three-quarter": (32.0, 26.0),
    "front": (0.0, 0.0),
    "side": (90.0, 0.0),
    "above": (0.0, 90.0),
}
"""Useful sides: how far the viewer walks round to the right and how far up [degrees]."""

FIELDS: Final[Mapping[str, tuple[str, str]]] = {
    "wall": ("Wall", "not measured"),
    "ball": ("Largest ball inside", "not measured"),
    "gap": ("Gap outside", "open"),
}
"""How fields are headed, and what it means where they have no value."""

BEHIND: Final = (-148.0, -26.0)
"""The other half of a piece: what the three-quarter view does not show."""

SIZE: Final = 600
"""Edge of a still [px]."""

MARGIN_SHARE: Final = 0.05
"""Of its edge, left free all round."""

LIT: Final = 0.45
"""What share of a field's colour light and shade may take."""

OUTLINE_PX, CREASE_PX, CREASE_OPACITY, CONTOUR_PX = 1.8, 1.1, 0.75, 2.0
HATCH_PX, HATCH_LINE_PX, HATCH_OPACITY = 9.0, 1.6, 0.85
"""From line to line of the hatching of what is under the limit, how wide each is, how strong."""

SOFT_PX: Final = 1.5
"""How far values are softened before the line of the limit is drawn."""

PAD, TITLE, TEXT, SMALL = 16, 24, 18, 15
"""Free edge and three sizes of type [px]."""

HEAD: Final = 2 * PAD + TITLE
LEGEND: Final = 176
"""Room for the scale [px]."""
BAR_HIGH: Final = 300
BAR_WIDE: Final = 22
BARS_MM: Final = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """A piece made ready to be drawn: its mesh [mm], its surface, and its front: right, up and towards the viewer (3, 3)."""

    id: str
    name: str
    surface: Surface
    axes: Floats

    @property
    def mesh(self) -> Mesh:
        """The piece."""
        return self.surface.mesh

    @property
    def called(self) -> str:
        """How a title names it."""
        return f"{self.id}  {self.name}".strip()


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
    under : the same at every pixel of a picture, (h, w), where that is known better than by triangles
    """

    name: str
    title: str
    unit: str
    values: Floats
    limit: float | None = None
    unknown: str = "not measured"
    marked: tuple[tuple[str, Point], ...] = ()
    under: Callable[[Picture], Floats] | None = None

    def seen(self, picture: Picture, surface: Surface) -> Floats:
        """(h, w) float array, in its unit: its value at every pixel, blended over smooth joints; nan where there is none."""
        return self.under(picture) if self.under else picture.seen(surface.blended(self.values))


def scene_of(pattern: Pattern) -> Scene:
    """A pattern's scene; its front as on the run sheet."""
    piece = pattern.piece
    return Scene(id=piece.id, name=piece.name, surface=smooth(pattern.mesh), axes=front_axes(pattern))


def field_named(name: str, values: Floats, *, limit: float | None = None, marked: tuple[tuple[str, Point], ...] = ()) -> Field:
    """A field of a pattern by its name, (m,) values; one that is not known by its name is called by it, in mm."""
    title, unknown = FIELDS.get(name, (name.capitalize(), "not measured"))
    return Field(name=name, title=title, unit="mm", values=np.asarray(values, dtype=np.float64), limit=limit, unknown=unknown, marked=marked)


def wall_field(pattern: Pattern, surface: Surface, caster: Caster) -> Field:
    """The walls of a pattern; on large triangles they are measured at every pixel."""
    wall = pattern.piece.wall
    even = f"{wall.thinnest_mm:.2f}" == f"{wall.thickest_mm:.2f}"
    thick = () if even else ((f"thickest {wall.thickest_mm:.2f}", wall.thickest_at_mm),)
    named = field_named(
        "wall", pattern.wall_mm, limit=wall.limit_mm, marked=((f"thinnest {wall.thinnest_mm:.2f}", wall.thinnest_at_mm), *thick)
    )
    return replace(named, under=lambda picture: walls_at(picture, surface, pattern.wall_mm, caster=caster))


def walked(axes: Floats, right_deg: float, up_deg: float) -> Floats:
    """(3, 3): the axes of a viewer who has walked round to the right and up."""
    right, up = radians(right_deg), radians(up_deg)
    level = sin(right) * axes[0] + cos(right) * axes[2]
    towards = cos(up) * level + sin(up) * axes[1]
    across = cos(right) * axes[0] - sin(right) * axes[2]
    return np.array([across, np.cross(towards, across), towards])


def camera_for(points: Floats, axes: Floats, *, size: int, mm_per_px: float) -> Camera:
    """A square picture of size^2 pixels with the middle of points, (k, 3) [mm], in its middle."""
    low, high = extent(points, axes)
    return Camera(axes=axes, middle=axes.T @ ((low + high) / 2), mm_per_px=mm_per_px, shape=(size, size))


def fitting(points: Floats, axes: Sequence[Floats], *, size: int) -> float:
    """The size of a pixel [mm] at which points, (k, 3) [mm], fit a square picture from each of several views."""
    spans = [float((high - low)[:2].max()) for low, high in (extent(points, view) for view in axes)]
    return max(max(spans), 1e-6) / (size * (1 - 2 * MARGIN_SHARE))


def cameras(scene: Scene, *, size: int = SIZE) -> dict[str, Camera]:
    """A camera for each useful side, all at one scale."""
    views = {name: walked(scene.axes, *way) for name, way in SIDES.items()}
    px = fitting(scene.surface.points, list(views.values()), size=size)
    return {name: camera_for(scene.surface.points, axes, size=size, mm_per_px=px) for name, axes in views.items()}


def form(picture: Picture, *, ground: tuple[int, int, int] = TRAY) -> Bytes:
    """(h, w, 3): light and shade alone."""
    cover = picture.cover[..., None]
    lit = np.asarray(BODY) * picture.light[..., None]
    painted: Bytes = (lit * cover + np.asarray(ground) * (1 - cover)).round().astype(np.uint8)
    return painted


def coloured(picture: Picture, values: Floats, *, scale: Scale, limit: float | None) -> Bytes:
    """(h, w, 3): values (h, w) in the map's colours, lit; grey where there are none, hatched under the limit."""
    known = np.isfinite(values)
    colour = glow(scale.share(np.where(known, values, scale.low)))
    colour[~known] = UNKNOWN
    if limit is not None:
        ink = (_hatching(picture.shape) * HATCH_OPACITY * (np.where(known, values, np.inf) < limit))[..., None]
        colour = colour * (1 - ink) + np.asarray(WHITE) * ink
    lit = colour * (1 - LIT * (1 - picture.light[..., None]))
    cover = (picture.cover * picture.hit)[..., None]
    painted: Bytes = (lit * cover + np.asarray(TRAY) * (1 - cover)).round().astype(np.uint8)
    return painted


def _hatching(shape: tuple[int, int]) -> Floats:
    """(h, w), 0 to 1: slanted lines, soft at their edges."""
    rows, columns = np.indices(shape, sparse=True)
    along = ((rows + columns) / np.sqrt(2)) % HATCH_PX
    return np.clip(HATCH_LINE_PX / 2 + 0.5 - np.abs(along - HATCH_PX / 2), 0, 1)


def lines_of(picture: Picture, *, fine: float = 1.0) -> tuple[Part, ...]:
    """Its outlines and creases as strokes."""
    return (
        Strokes(lines=picture.crease, width=CREASE_PX * fine, opacity=CREASE_OPACITY),
        Strokes(lines=picture.outline, width=OUTLINE_PX * fine),
    )


def scale_bar(camera: Camera, *, x: int, y: int) -> tuple[Part, ...]:
    """A round length, no more than a quarter of the picture."""
    most = camera.shape[1] * camera.mm_per_px / 4
    length = max((mm for mm in BARS_MM if mm <= most), default=BARS_MM[0])
    return bar(x, y, length_mm=length, mm_per_px=camera.mm_per_px, size=SMALL)


def titled(title: str, remark: str, *, width: int) -> tuple[Part, ...]:
    """A head: the title at the left, a remark at the right."""
    room = width - 3 * PAD - len(remark) * SMALL * 0.55
    return (
        Words(x=PAD, y=HEAD / 2, text=shortened(title, width=room, size=TITLE, bold=True), size=TITLE, bold=True),
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
            *scale_bar(camera, x=PAD, y=HEAD + rows - PAD),
        ),
        mm_per_px=camera.mm_per_px,
    )


def _from(view: str) -> str:
    return {"above": "from above", "side": "from its right side", "front": "from its front"}.get(view, "from the front, the right and above")


def moved(parts: Sequence[Part], x: int, y: int) -> tuple[Part, ...]:
    """Parts moved to the right and down."""
    return Drawing(width=0, height=0, title="", about="", parts=tuple(parts)).part(x, y)


def field_map(scene: Scene, field: Field, *, scale: Scale | None = None, size: int = SIZE) -> Drawing:
    """A field on both halves of a piece, with its scale; the same `scale` may be given for before and after."""
    used = scale or scale_of(field.values, weights=scene.surface.areas, limit=field.limit)
    views = [walked(scene.axes, *way) for way in (SIDES["three-quarter"], BEHIND)]
    px = fitting(scene.surface.points, views, size=size)
    seen = [seen_by(camera_for(scene.surface.points, axes, size=size, mm_per_px=px), scene.surface) for axes in views]
    parts: list[Part] = []
    for number, picture in enumerate(seen):
        x = number * size
        parts += moved(painted_field(picture, field.seen(picture, scene.surface), scale=used, limit=field.limit), x, HEAD)
    for words, place in field.marked:
        side = 0 if is_visible(seen[0], place) or not is_visible(seen[1], place) else 1
        column, row = seen[side].place(place)[0].tolist()
        parts += moved(flag(column, row, words, width=size), side * size, HEAD)
    width = 2 * size + LEGEND
    least = np.nanmin(np.where(np.isfinite(field.values), field.values, np.nan)) if np.isfinite(field.values).any() else None
    return Drawing(
        width=width,
        height=size + HEAD,
        title=f"{scene.called}, {field.title.lower()}",
        about=_told(scene, field, least),
        parts=(
            Box(x=0, y=0, width=width, height=size + HEAD, fill=GROUND),
            *parts,
            *titled(scene.called, "from above right, and from below behind", width=width),
            *scale_bar(seen[0].camera, x=PAD, y=HEAD + size - PAD),
            *moved(legend(field, used, weights=scene.surface.areas), 2 * size + PAD, HEAD),
        ),
        mm_per_px=px,
    )


def _told(scene: Scene, field: Field, least: float | None) -> str:
    limit = f" Under the limit of {field.limit:g} {field.unit} it is hatched." if field.limit is not None else ""
    figure = f" The least is {least:.2f} {field.unit}." if least is not None else ""
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


def flag(x: float, y: float, words: str, *, width: int) -> tuple[Part, ...]:
    """A small ring with a name beside it, at the side where there is room."""
    way = 1 if x < width * 2 / 3 else -1
    lines = np.array([(x + way * 8, y, x + way * 26, y)])
    return (
        Strokes(lines=np.vstack([lines, circle(x, y, 7)]), width=5.0, colour=WHITE),
        Strokes(lines=np.vstack([lines, circle(x, y, 7)]), width=2.0),
        Words(x=x + way * 30, y=y, text=words, size=SMALL, bold=True, anchor="start" if way > 0 else "end", halo=WHITE),
    )


def legend(field: Field, scale: Scale, *, weights: Floats) -> tuple[Part, ...]:
    """The scale upright, much above: ticks, the limit, what is hatched, what is grey."""
    top, known = PAD + 2 * TEXT, np.isfinite(field.values)
    ramp = glow(np.linspace(1, 0, BAR_HIGH))[:, None].repeat(BAR_WIDE, axis=1)
    limit = field.limit if field.limit is not None and field.limit > scale.low else None

    def at(value: float) -> float:
        return top + BAR_HIGH * (1 - float(scale.share(np.array(value))))

    if limit is not None:
        under = (np.arange(BAR_HIGH) > BAR_HIGH * (1 - scale.share(np.array(limit))))[:, None]
        ink = (_hatching((BAR_HIGH, BAR_WIDE)) * HATCH_OPACITY * under)[..., None]
        ramp = ramp * (1 - ink) + 255 * ink
    more = bool((field.values[known & (weights > 0)] > scale.high).any())
    parts: list[Part] = [
        Words(x=0, y=PAD + TEXT / 2, text=f"{field.title}, {field.unit}", size=TEXT, bold=True),
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
        ink = (_hatching((BAR_WIDE, BAR_WIDE)) * HATCH_OPACITY)[..., None]
        parts.append(Raster(x=0, y=y, rgb=(swatch * (1 - ink) + 255 * ink).round().astype(np.uint8)))
        parts.append(Words(x=BAR_WIDE + 10, y=y + BAR_WIDE / 2, text=says, size=SMALL))
        y += BAR_WIDE + PAD
    if not known[weights > 0].all():
        parts.append(Box(x=0, y=y, width=BAR_WIDE, height=BAR_WIDE, fill=UNKNOWN))
        parts.append(Words(x=BAR_WIDE + 10, y=y + BAR_WIDE / 2, text=field.unknown, size=SMALL))
    return tuple(parts)


def before_and_after(scene: Scene, after: Mesh, *, says: tuple[str, str] = ("before", "after"), size: int = SIZE) -> Drawing:
    """A piece and what became of it from the same place at the same scale; what it was is outlined in blue on what it is."""
    axes = walked(scene.axes, *SIDES["three-quarter"])
    now = smooth(after)
    every = np.vstack([scene.surface.points, now.points])
    camera = camera_for(every, axes, size=size, mm_per_px=fitting(every, [axes], size=size))
    was, became = seen_by(camera, scene.surface), seen_by(camera, now)
    return Drawing(
        width=2 * size,
        height=size + HEAD,
        title=f"{scene.called}, {says[0]} and {says[1]}",
        about=f"{scene.name} {says[0]} and {says[1]}, from the same place at the same scale.",
        parts=(
            Box(x=0, y=0, width=2 * size, height=HEAD, fill=GROUND),
            *moved((Raster(x=0, y=0, rgb=form(was)), *lines_of(was)), 0, HEAD),
            *moved((Raster(x=0, y=0, rgb=form(became)), *lines_of(became)), size, HEAD),
            *moved((Strokes(lines=was.outline, width=OUTLINE_PX, colour=BLUE, opacity=0.7),), size, HEAD),
            *titled(scene.called, f"{says[0]}, and {says[1]} with the former outline in blue", width=2 * size),
            *scale_bar(camera, x=PAD, y=HEAD + size - PAD),
        ),
        mm_per_px=camera.mm_per_px,
    )
