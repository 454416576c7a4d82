"""A finding at its place: close up, with a ring round it and its measure, and small beside it the whole piece."""

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from pourwell.findings import Severity
from pourwell.geometry.gap import nearest_point
from pourwell.geometry.mesh import Floats
from pourwell.geometry.picture import Camera, extent, seen_by, view_axes
from pourwell.geometry.rays import Caster
from pourwell.geometry.surface import Mask
from pourwell.sheets.colours import BLUE, GROUND, INK, INK_2, RED, WHITE, Colour, Scale
from pourwell.sheets.drawing import Box, Drawing, Part, Raster, Strokes, Words, circle, fitted, font_of, frame, wrapped
from pourwell.sheets.field_map import Field, legend, painted_field
from pourwell.sheets.scene import SIDES, Scene, camera_for, cut_open, fitting, section_view, walked
from pourwell.sheets.stills import (
    HEAD,
    LINE_HIGH,
    OUTLINE_PX,
    PAD,
    SMALL,
    TEXT,
    TITLE,
    for_one_ink,
    form,
    lines_of,
    moved,
    scale_bar,
)
from pourwell.steps.pattern.model import Point

SIZE: Final = 600
"""Edge of the close-up [px]."""

SPAN_SHARE, LEAST_SHARE, MOST_MM = 0.32, 0.12, 10.0
"""A close-up spans so much of the piece, but no more than a thumbnail is wide unless that is less than the second share."""

PRINTED: Final = 440
"""Edge of a close-up for the run sheet [px]: 300 an inch at the size that it is printed."""

INSET: Final = 168
"""Edge of the small picture [px]."""

HIDES_MM: Final = 0.25
"""A place is hidden by what lies farther in front of it."""

ASIDE_SHARE: Final = 0.06
"""Places round the place, so far in spans of the close-up, shall be seen, too."""

OBLIQUE: Final = 0.75
"""The best angle to see a fault at: this cosine between surface and line of sight shows its face and its depth."""

SKY_COUNT: Final = 2_000
"""Ways from which a place in a narrow hole is sought: five degrees apart."""

CUT: Final = "Cut open to show it."
CUT_SPANS: Final = 2.5
"""What is cut open is shown with so much more about it: a hollow is larger than a place on its wall. A gap or a wall is not."""

GRAZING: Final = 0.05
"""A place is not seen if it is looked at flatter than this cosine between the way out of its surface and the line of sight."""

USUAL: Final = 0.35
"""How much a view near the usual one is liked, beside one that shows the place well."""

WIRE, WIRE_MM = "wire", 2.0
"""How codes about wires begin, and what no wire is as thick as: its ring stands round its middle, not round a point of its skin."""

RING_SHARE: Final = 0.075
"""Radius of the ring round the place, in edges of the picture."""

MARK_WIDE: Final = 62
"""Room for the word of the severity [px]."""

NO_LIMIT: Final = ("", "none")
"""Limits that say nothing beside a measure: that there shall be none of it stands in the finding."""

NAME_SHARE: Final = 0.4
"""The piece's name takes no more of the line beside that, unless in several lines."""

MARKS: Final[dict[Severity, tuple[str, Colour, Colour]]] = {
    Severity.STOP: ("STOP", RED, WHITE),
    Severity.WARN: ("WARN", (240, 182, 62), INK),
    Severity.NOTE: ("note", (227, 230, 231), INK),
}
"""Each severity by its word, its ground and its ink."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """What a finding says of one place.

    Attributes
    ----------
    code : the finding's
    severity : the finding's
    at_mm : the place, in the pattern's frame
    says : one sentence
    measure, limit : with their units; empty if there is none
    """

    code: str
    severity: Severity
    at_mm: Point
    says: str
    measure: str = ""
    limit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedCloseUp:
    """A finding's picture for the run sheet: square, without words; what the page says beside it, and how much it spans."""

    svg: str
    letter: str
    severity: Severity
    measure: str
    limit: str
    span_mm: float


def view_of(scene: Scene, at_mm: Point, *, caster: Caster, span_mm: float) -> Floats:
    """(3, 3): the axes of a view in which a place can be seen, somewhat aslant, and as near to the usual one as that allows.

    Into a narrow hole it is looked from wherever it can be seen at all.
    """
    at = np.asarray(at_mm, dtype=np.float64)
    ways = _directions() @ scene.axes
    usual = walked(scene.axes, *SIDES["three-quarter"])[2]
    outward = scene.mesh.normals[nearest_point(scene.mesh, at)[1]]
    if not (_seen(scene, at, ways, caster=caster) & (ways @ outward > GRAZING)).any():
        every = _all_round()
        free = _seen(scene, at, every, caster=caster) & (every @ outward > GRAZING)
        ways = every[free] if free.any() else ways
    low, high = scene.mesh.bounds
    lift = 2 * float(np.linalg.norm(high - low))
    seen = np.zeros(len(ways))
    for number, way in enumerate(ways):
        up = scene.axes[1] if abs(way @ scene.axes[1]) < 0.99 else -scene.axes[2]
        axes = view_axes(-way, up)
        offsets = np.array([(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)]) * ASIDE_SHARE * span_mm
        distance, _ = caster.first(at + lift * way + offsets @ axes[:2], -way)
        free = distance > lift - HIDES_MM
        seen[number] = 2.0 * free[0] + 0.2 * free[1:].sum()
    facing = ways @ outward
    score = seen + np.where(facing < 0, facing, 1 - np.abs(facing - OBLIQUE)) + USUAL * (ways @ usual)
    best = ways[int(np.argmax(score))]
    return view_axes(-best, scene.axes[1] if abs(best @ scene.axes[1]) < 0.99 else -scene.axes[2])


def in_the_ring(scene: Scene, spot: Spot, caster: Caster) -> Floats:
    """(3,): what the ring stands round [mm]: the place; of a wire, the middle of its thickness there."""
    at = np.array(spot.at_mm, dtype=np.float64)
    if not spot.code.startswith(WIRE):
        return at
    on, face = nearest_point(scene.mesh, at)
    inward = -scene.mesh.normals[face]
    through = float(caster.first(on, inward, leaving=np.array([face]))[0][0])
    return at + inward * through / 2 if through < WIRE_MM else at


def _seen(scene: Scene, at: Floats, ways: Floats, *, caster: Caster) -> Mask:
    """From which of some ways, (k, 3), a place is seen past the piece, (k,) bool array."""
    low, high = scene.mesh.bounds
    lift = 2 * float(np.linalg.norm(high - low))
    distance, _ = caster.first(at + lift * ways, -ways)
    free: Mask = distance > lift - HIDES_MM
    return free


def _all_round() -> Floats:
    """(SKY, 3): ways all round, spread evenly: on a spiral by the golden angle."""
    number = np.arange(SKY_COUNT) + 0.5
    height, turn = 1 - 2 * number / SKY_COUNT, number * np.pi * (3 - np.sqrt(5))
    flat = np.sqrt(1 - height**2)
    return np.column_stack((flat * np.cos(turn), flat * np.sin(turn), height))


def _directions() -> Floats:
    """(20, 3): from the middle of a cube to its edges and corners, in right, up and towards: none flat upon a side."""
    steps = np.array(list(product((-1.0, 0.0, 1.0), repeat=3)))
    lengths = np.linalg.norm(steps, axis=1)
    aslant = lengths > 1.1
    ways: Floats = steps[aslant] / lengths[aslant, None]
    return ways


def span_of(scene: Scene) -> float:
    """How much of a piece a close-up shows [mm]."""
    low, high = extent(scene.surface.points, scene.axes)
    largest = float((high - low).max())
    return max(min(SPAN_SHARE * largest, MOST_MM), LEAST_SHARE * largest)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """How a place is shown: the piece, whole or cut open, the view (3, 3), how much of it, and in which field's colours."""

    scene: Scene
    axes: Floats
    span_mm: float
    field: Field | None

    @property
    def opened(self) -> bool:
        """Whether it is cut open."""
        return self.scene.cut is not None


def _looked_at(scene: Scene, spot: Spot, *, caster: Caster, field: Field | None) -> _Look:
    """From where the place is seen; where nothing shows it, the piece is cut open along what was measured there.

    The cut shows a gap or a wall as wide as it is: no field then.
    """
    span, at = span_of(scene), np.array(spot.at_mm, dtype=np.float64)
    axes = view_of(scene, spot.at_mm, caster=caster, span_mm=span)
    if not _seen(scene, at, axes[2:], caster=caster).all():
        outward = scene.mesh.normals[nearest_point(scene.mesh, at)[1]]
        towards, aslant = section_view(scene.axes, outward)
        opened = cut_open(scene, at, towards)
        if opened is not None:
            return _Look(scene=opened, axes=aslant, span_mm=span * (1.0 if field else CUT_SPANS), field=None)
    return _Look(scene=scene, axes=axes, span_mm=span, field=field)


def close_up(scene: Scene, spot: Spot, *, caster: Caster, field: Field | None = None, letter: str = "") -> Drawing:
    """One finding at its place; in a field's colours if one is given.

    Parameters
    ----------
    scene : the piece
    spot : what is found where
    caster : of its mesh
    field : what shows the reason
    letter : by which the picture is called
    """
    seen = _looked_at(scene, spot, caster=caster, field=field)
    span, axes, field = seen.span_mm, seen.axes, seen.field
    scale = field.scale(scene.surface) if field else None
    camera = Camera(axes=axes, middle=in_the_ring(scene, spot, caster), mm_per_px=span / SIZE, shape=(SIZE, SIZE))
    told = wrapped(f"{CUT} {spot.says}" if seen.opened else spot.says, width=SIZE - 2 * PAD, size=TEXT, most=4)
    figures = ", ".join(filter(None, (spot.measure, f"limit {spot.limit}" if spot.limit not in NO_LIMIT else "")))
    side = (PAD + 160) if field else 0
    head, top = _head(spot, f"{letter}  {figures}".strip(), scene.called, width=SIZE + side)
    foot = top + SIZE
    high = foot + PAD + len(told) * round(LINE_HIGH * TEXT) + PAD
    parts: list[Part] = [
        Box(x=0, y=0, width=SIZE + side, height=high, fill=GROUND),
        *head,
        *moved(shown(seen.scene, camera, field=field, scale=scale), 0, top),
        *moved(ringed(SIZE), 0, top),
        *moved(inset(scene, axes, spot.at_mm, span_mm=span), SIZE - INSET - PAD, foot - INSET - PAD),
        *scale_bar(scene, camera, x=PAD, y=foot - PAD),
        *(Words(x=PAD, y=foot + PAD + (k + 0.5) * LINE_HIGH * TEXT, text=line, size=TEXT) for k, line in enumerate(told)),
    ]
    if field and scale:
        parts += moved(legend(field, scale, weights=scene.surface.areas), SIZE + PAD, top)
    return Drawing(
        width=SIZE + side,
        height=high,
        title=f"{scene.called}, {spot.code}",
        about=f"{MARKS[spot.severity][0]}: {spot.says} {figures}".strip(),
        parts=tuple(parts),
        mm_per_px=camera.mm_per_px,
    )


def _head(spot: Spot, figures: str, name: str, *, width: int) -> tuple[tuple[Part, ...], int]:
    """How bad it is, its measure against its limit, and at the right the piece's name; and how high all this is [px].

    What is too long for its room is set smaller, and then in several lines: nothing is cut.
    """
    word, fill, ink = MARKS[spot.severity]
    begins = 2 * PAD + MARK_WIDE
    room = width - begins - 2 * PAD
    small, names = fitted(name, width=NAME_SHARE * room, sizes=(SMALL,))
    taken = max(font_of(small).getlength(line) for line in names)
    size, told = fitted(figures, width=room - taken, sizes=(TITLE, TEXT), bold=True)
    step, name_step = (round(LINE_HIGH * type_size) for type_size in (size, small))
    top = max(HEAD, len(told) * step + PAD, len(names) * name_step + PAD)
    middle = top / 2
    first, first_name = (middle - (len(lines) - 1) * high / 2 for lines, high in ((told, step), (names, name_step)))
    parts: tuple[Part, ...] = (
        Box(x=PAD, y=round(middle - TITLE / 2) - 3, width=MARK_WIDE, height=TITLE + 6, fill=fill),
        Words(x=PAD + MARK_WIDE / 2, y=middle, text=word, size=SMALL, bold=True, colour=ink, anchor="middle"),
        *(Words(x=begins, y=first + k * step, text=line, size=size, bold=True) for k, line in enumerate(told)),
        *(
            Words(x=width - PAD, y=first_name + k * name_step, text=line, size=small, colour=INK_2, anchor="end")
            for k, line in enumerate(names)
        ),
    )
    return parts, top


def shown(scene: Scene, camera: Camera, *, field: Field | None, scale: Scale | None) -> tuple[Part, ...]:
    """What a camera sees, in a field's colours or in light and shade."""
    picture = seen_by(camera, scene.surface)
    if field is None or scale is None:
        return (Raster(x=0, y=0, rgb=form(picture, cut=scene.cut)), *lines_of(picture))
    return painted_field(picture, field.seen(picture, scene.surface), scale=scale, limit=field.limit)


def ringed(size: int) -> tuple[Part, ...]:
    """A ring round the middle of a square picture, open to the place, with four ticks that point at it."""
    middle, radius = size / 2, RING_SHARE * size
    ticks = np.array([(dx, dy) for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))]) * radius
    lines = np.vstack([circle(middle, middle, radius), np.column_stack([middle + ticks, middle + 1.45 * ticks])])
    return Strokes(lines=lines, width=6.0, colour=WHITE), Strokes(lines=lines, width=2.5)


def inset(scene: Scene, axes: Floats, at_mm: Point, *, span_mm: float, one_ink: bool = False) -> tuple[Part, ...]:
    """The whole piece from the same side, small, with a frame round what the close-up shows."""
    camera = camera_for(scene.surface.points, axes, size=INSET, mm_per_px=fitting(scene.surface.points, [axes], size=INSET))
    picture = seen_by(camera, scene.surface)
    x, y = camera.place(at_mm)[0].tolist()
    half = span_mm / camera.mm_per_px / 2
    left, up, right, low = max(1.0, x - half), max(1.0, y - half), min(INSET - 1.0, x + half), min(INSET - 1.0, y + half)
    window = frame(left, up, width=right - left, height=low - up)
    whole = for_one_ink(picture, under=np.zeros(picture.shape, dtype=bool)) if one_ink else form(picture, ground=GROUND)
    return (
        Raster(x=0, y=0, rgb=whole),
        *lines_of(picture, fine=0.6, one_ink=one_ink),
        Strokes(lines=window, width=4.0, colour=WHITE),
        Strokes(lines=window, width=2.0, colour=INK if one_ink else BLUE),
        Strokes(lines=frame(0, 0, width=INSET, height=INSET), width=OUTLINE_PX, colour=INK_2),
    )


def printed_close_up(scene: Scene, spot: Spot, *, caster: Caster, field: Field | None, letter: str) -> PrintedCloseUp:
    """A finding at its place for the run sheet: one ink, hatched under the limit, the words left to the page."""
    look = _looked_at(scene, spot, caster=caster, field=field)
    span, axes, middle = look.span_mm, look.axes, in_the_ring(scene, spot, caster)
    picture = seen_by(Camera(axes=axes, middle=middle, mm_per_px=span / PRINTED, shape=(PRINTED, PRINTED)), look.scene.surface)
    under = np.zeros(picture.shape, dtype=bool)
    if look.field is not None and look.field.limit is not None:
        under = np.nan_to_num(look.field.seen(picture, scene.surface), nan=np.inf) < look.field.limit
    drawing = Drawing(
        width=PRINTED,
        height=PRINTED,
        title=f"{letter}, {scene.name}",
        about=f"{scene.name} at the place of a finding. {spot.says}",
        parts=(
            Raster(x=0, y=0, rgb=for_one_ink(picture, under=under, cut=look.scene.cut)),
            *lines_of(picture, one_ink=True),
            *ringed(PRINTED),
            *moved(inset(scene, axes, spot.at_mm, span_mm=span, one_ink=True), PRINTED - INSET, PRINTED - INSET),
            Strokes(lines=frame(0, 0, width=PRINTED, height=PRINTED), width=OUTLINE_PX),
        ),
        mm_per_px=span / PRINTED,
    )
    return PrintedCloseUp(
        svg=drawing.svg.decode(), letter=letter, severity=spot.severity, measure=spot.measure, limit=spot.limit, span_mm=span
    )
