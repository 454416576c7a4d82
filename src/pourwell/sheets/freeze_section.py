"""The section of the freezing page: two half planes from the stem's axis, in greys by the time up to which metal feeds."""

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.section import cut, folded
from pourwell.steps.freeze.model import Fields, Freezing
from pourwell.steps.freeze.words import bench_time
from pourwell.steps.pattern.model import Point

Way = tuple[float, float]
PX_MM: Final = 0.1
"""Edge of a pixel: finer than the printer's thinnest line, and than any cell."""
AIR_MM: Final = 1.0
"""White round the metal."""
ROUND_MM: Final = 2.5
"""What is shown round a piece that has a picture of its own."""
NEIGHBOURS: Final = 24
"""Cells whose times are weighed for a pixel, by how near they are in edges of their own."""
SECONDS_UP_TO: Final = 120.0
"""Bands end at whole seconds up to here, then at half minutes."""
HALF_MINUTE_S: Final = 30.0
SHADES: Final = (255, 235, 212, 186, 158, 126, 92)
"""Greys of the bands, from what freezes first to what freezes last."""
LINE: Final = 20
"""Grey of the lines between bands and of the hatching."""
HATCH_PX: Final = (12, 3)
"""From line to line of the hatching, and how thick each is."""
APART_DEG: Final = 20.0
"""Halves nearer than this would show the same piece twice."""
NEAR_MM: Final = 2.0
"""So far from its half plane a place may lie and still be marked in it."""
ROOM_MM: Final = 2.4
"""Half the edge of the square that a number needs."""
SEEN_PX: Final = 100
"""A piece of which less is cut gets no number."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """Part of a plane in the tree's frame [mm]: its origin, its two axes (3,), and how far it goes along the first."""

    origin: Floats
    right: Floats
    up: Floats
    begins_mm: float = -np.inf
    ends_mm: float = np.inf

    def flat(self, points: Floats) -> Floats:
        """(n, 3) to (n, 3) [mm]: along both axes, and how far off the plane."""
        away = np.asarray(points) - self.origin
        return np.stack([away @ self.right, away @ self.up, away @ np.cross(self.right, self.up)], axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A picture of planes laid side by side: times (rows, columns) [s], NaN beside the metal; pool and body, -1 beside it."""

    times_s: NDArray[np.float64]
    pool: NDArray[np.int64]
    body: NDArray[np.int64]
    loops: tuple[Floats, ...]
    """Outlines (k, 2) [mm] from the left top corner, y down; they may go beyond the picture."""
    left_mm: float
    top_mm: float
    planes: tuple[Plane, ...]

    def place(self, at_mm: Point, *, near_mm: float = NEAR_MM) -> tuple[float, float] | None:
        """Where a place of the tree lies in the picture [mm from its left top corner]; None: too far from its planes."""
        for plane in self.planes:
            r, s, off = plane.flat(np.array([at_mm]))[0].tolist()
            if abs(off) <= near_mm and plane.begins_mm - NEAR_MM <= r <= plane.ends_mm + NEAR_MM:
                return r - self.left_mm, self.top_mm - s
        return None

    def holds(self, at: tuple[float, float], *, within_mm: float) -> bool:
        """Is there metal in the picture within a square round a place of it [mm]."""
        low, high = (np.maximum((np.array(at[::-1]) + way * within_mm) / PX_MM, 0).astype(int) for way in (-1, 1))
        return bool(np.isfinite(self.times_s[low[0] : high[0] + 1, low[1] : high[1] + 1]).any())


def fold(fields: Fields, times_s: Floats, solid: Mesh, *, right: Way, left: Way) -> Section:
    """Two half planes from the stem's axis outward; times (q,) go with the cells of the fields."""
    loops = folded(solid, right, left)
    up = np.array([0.0, 0.0, 1.0])
    planes = (
        Plane(origin=np.zeros(3), right=np.array([*right, 0.0]), up=up, begins_mm=0.0),
        Plane(origin=np.zeros(3), right=-np.array([*left, 0.0]), up=up, ends_mm=0.0),
    )
    every = np.concatenate(loops)
    return _section(fields, times_s, loops, planes=planes, window=(every.min(axis=0) - AIR_MM, every.max(axis=0) + AIR_MM))


def cells_of(fields: Fields, what: str, place: int) -> NDArray[np.bool_]:
    """(q,) cells of a piece or a sprue by its number; what: "piece" or "sprue"."""
    mine = [i for i, name in enumerate(fields.bodies) if f"{name} ".startswith(f"{what} {place} ")]
    return np.isin(fields.body, mine)


def spread(fields: Fields, place: int) -> tuple[Point, Point] | None:
    """The middle of a piece and a place beside it where it is widest across the way from its sprue; None: it has no sprue."""
    piece, sprue = fields.centre_mm[cells_of(fields, "piece", place)], fields.centre_mm[cells_of(fields, "sprue", place)]
    if not piece.size or not sprue.size:
        return None
    middle = piece.mean(axis=0)
    way = middle - sprue.mean(axis=0)
    way /= max(float(np.linalg.norm(way)), 1e-9)
    across = (piece - middle) - ((piece - middle) @ way)[:, None] * way
    widest = np.linalg.eigh(across.T @ across)[1][:, -1]
    here, beside = middle.tolist(), (middle + float(np.abs(across @ widest).max()) * widest).tolist()
    return (here[0], here[1], here[2]), (beside[0], beside[1], beside[2])


def through(fields: Fields, times_s: Floats, solid: Mesh, *, place: int, two: tuple[Point, Point]) -> Section | None:
    """The plane through two places of a piece and the middle of its sprue, the sprue on the left; None: they lie in a line."""
    own = cells_of(fields, "sprue", place)
    near, sprue = fields.centre_mm[own | cells_of(fields, "piece", place)], fields.centre_mm[own]
    if not sprue.size:
        return None
    origin, at, neck = sprue.mean(axis=0), np.array(two[0]), np.array(two[1])
    normal = np.cross(at - origin, neck - origin)
    length, size = float(np.linalg.norm(at - origin)), float(np.linalg.norm(normal))
    if size < NEAR_MM * length:
        return None
    right = (at - origin) / length
    plane = Plane(origin=origin, right=right, up=np.cross(normal / size, right))
    if plane.up[2] < 0:
        plane = Plane(origin=origin, right=right, up=-plane.up)
    marks, seen = plane.flat(np.stack([origin, neck, at]))[:, :2], plane.flat(near)[:, :2]
    parts = ([plane.flat(loop)[:, :2] for loop in part.in_space] for part in cut(solid, origin, normal))
    loops = [loop for part in parts if _holds(np.concatenate(part), marks) for loop in part]
    return _section(fields, times_s, loops, planes=(plane,), window=(seen.min(axis=0) - ROUND_MM, seen.max(axis=0) + ROUND_MM))


def _holds(outline: Floats, points: Floats) -> bool:
    """Does the box round an outline (k, 2) hold one of some points (n, 2), or nearly so."""
    within = (points > outline.min(axis=0) - NEAR_MM) & (points < outline.max(axis=0) + NEAR_MM)
    return bool(within.all(axis=1).any())


def _section(
    fields: Fields, times_s: Floats, loops: Sequence[Floats], *, planes: tuple[Plane, ...], window: tuple[Floats, Floats]
) -> Section:
    """What loops hold within a window, each pixel from the cells round it."""
    low, high = window
    columns, rows = (int(np.ceil(length / PX_MM)) for length in high - low)
    placed = tuple(np.column_stack((loop[:, 0] - low[0], high[1] - loop[:, 1])) for loop in loops)
    metal = _filled(placed, (columns, rows))
    row, column = np.nonzero(metal)
    r, s = low[0] + PX_MM * (column + 0.5), high[1] - PX_MM * (row + 0.5)
    points = np.zeros((row.size, 3))
    for plane in planes:
        part = (r >= plane.begins_mm) & (r <= plane.ends_mm)
        points[part] = plane.origin + r[part, None] * plane.right + s[part, None] * plane.up
    away, near = cKDTree(fields.centre_mm).query(points, k=min(NEIGHBOURS, len(fields.centre_mm)))
    weight = 1 / (away**2 + fields.size_mm[near].astype(np.float64) ** 2) ** 2
    times, pool, body = np.full(metal.shape, np.nan), np.full(metal.shape, -1), np.full(metal.shape, -1)
    times[row, column] = (weight * times_s[near]).sum(axis=1) / weight.sum(axis=1)
    pool[row, column], body[row, column] = fields.pool[near[:, 0]], fields.body[near[:, 0]]
    corner = float(low[0]), float(high[1])
    return Section(times_s=times, pool=pool, body=body, loops=placed, left_mm=corner[0], top_mm=corner[1], planes=planes)


def _filled(loops: Sequence[Floats], size: tuple[int, int]) -> NDArray[np.bool_]:
    """(rows, columns) pixels within an odd number of loops [mm]."""
    inside = np.zeros(size[::-1], dtype=np.bool_)
    for loop in loops:
        image = Image.new("1", size)
        ImageDraw.Draw(image).polygon([(float(x), float(y)) for x, y in loop / PX_MM - 0.5], fill=1)
        inside ^= np.asarray(image)
    return inside


def ways(freezing: Freezing, fields: Fields) -> tuple[Way, Way]:
    """In which ways the halves look: to the worst pool and to the next in another place, else through the piece across."""
    wanted = [_through(fields, pool.place, pool.at_mm) for pool in freezing.pools]
    pieces = [_through(fields, clock.place, None) for clock in freezing.clocks]
    right = wanted[0] if wanted else pieces[0]
    others = [way for way in wanted[1:] if _apart(right, way) >= APART_DEG]
    if others:
        return right, others[0]
    opposite = (-right[0], -right[1])
    across = min(pieces, key=lambda way: _apart(opposite, way))
    return right, across if _apart(right, across) >= APART_DEG else opposite


def _through(fields: Fields, place: int, at_mm: Point | None) -> Way:
    """The way from the stem through the middle of a piece; to a place in it where that lies too far aside."""
    mine = np.isin(fields.body, [i for i, name in enumerate(fields.bodies) if f"{name} ".startswith(f"piece {place} ")])
    if not mine.any():
        return _way(*at_mm[:2]) if at_mm else (1.0, 0.0)
    x, y = np.average(fields.centre_mm[mine, :2], axis=0, weights=fields.size_mm[mine].astype(np.float64) ** 3)
    middle = _way(float(x), float(y))
    aside = abs(at_mm[0] * middle[1] - at_mm[1] * middle[0]) if at_mm else 0.0
    return middle if at_mm is None or aside <= NEAR_MM else _way(*at_mm[:2])


def _way(x: float, y: float) -> Way:
    length = float(np.hypot(x, y))
    return (x / length, y / length) if length > 0 else (1.0, 0.0)


def _apart(a: Way, b: Way) -> float:
    """Angle between two ways [deg]."""
    return float(np.degrees(np.arccos(np.clip(a[0] * b[0] + a[1] * b[1], -1, 1))))


def bands(times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Edges between the bands [s], as the bench reads times; each about so many times the one before."""
    seen = times_s[np.isfinite(times_s)]
    edges = np.geomspace(max(float(seen.min()), 1.0), max(float(seen.max()), 1.0), len(SHADES) + 1)[1:-1]
    step = np.where(edges < SECONDS_UP_TO, 1.0, HALF_MINUTE_S)
    told: NDArray[np.float64] = np.unique(np.round(edges / step) * step)
    return told


def shades(edges: NDArray[np.float64]) -> list[int]:
    """A grey for each band, the first white, the last the darkest."""
    places = np.linspace(0, len(SHADES) - 1, len(edges) + 1)
    return [round(float(shade)) for shade in np.interp(places, np.arange(len(SHADES)), SHADES)]


def legend(edges: NDArray[np.float64]) -> list[str]:
    """What each band stands for."""
    said = [f"{edge:.0f} s" if edge < SECONDS_UP_TO else bench_time(float(edge)) for edge in edges]
    return [
        f"up to {said[0]}",
        *(f"{a.removesuffix(' s') if b[-1] == 's' else a} to {b}" for a, b in pairwise(said)),
        f"over {said[-1]}",
    ]


def shaded(seen: Section, edges: NDArray[np.float64]) -> Image.Image:
    """The section in greys with lines between its bands; pools white and hatched."""
    metal = np.isfinite(seen.times_s)
    band = np.where(metal, np.searchsorted(edges, np.nan_to_num(seen.times_s)), -1)
    grey = np.where(metal, np.array(shades(edges))[np.maximum(band, 0)], 255)
    lost = seen.pool > 0
    band = np.where(lost, len(edges) + seen.pool, band)
    row, column = np.indices(band.shape)
    grey = np.where(lost, np.where((row + column) % HATCH_PX[0] < HATCH_PX[1], LINE, 255), grey)
    rim = np.zeros_like(metal)
    rim[:, 1:] |= (band[:, 1:] != band[:, :-1]) & metal[:, 1:] & metal[:, :-1]
    rim[1:] |= (band[1:] != band[:-1]) & metal[1:] & metal[:-1]
    return Image.fromarray(np.where(rim, LINE, grey).astype(np.uint8))


def svg(image: Image.Image) -> str:
    """The raster inside an SVG, because a template takes text alone."""
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    data = base64.b64encode(out.getvalue()).decode("ascii")
    size = f'width="{image.width}" height="{image.height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><image {size} href="data:image/png;base64,{data}"/></svg>'


def numbers(seen: Section, fields: Fields) -> dict[int, tuple[float, float]]:
    """Where the numbers of the pieces stand that are cut, by number: at the middle of the cut or the nearest white there [mm]."""
    free = ~_grown(np.isfinite(seen.times_s), round(ROOM_MM / PX_MM))
    rows, columns = np.nonzero(free)
    found = {}
    for index, name in enumerate(fields.bodies):
        row, column = np.nonzero(seen.body == index)
        if not name.startswith("piece ") or row.size < SEEN_PX:
            continue
        middle = row.mean(), column.mean()
        best = int(np.argmin((rows - middle[0]) ** 2 + (columns - middle[1]) ** 2)) if rows.size else None
        at = middle if best is None else (rows[best], columns[best])
        found[int(name.split()[1])] = (PX_MM * float(at[1]), PX_MM * float(at[0]))
    return found


def _grown(mask: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    """The mask grown by so many pixels to each side."""
    for axis in (0, 1):
        some = np.cumsum(np.pad(mask, [(by + 1, by) if a == axis else (0, 0) for a in (0, 1)]), axis=axis)
        count = mask.shape[axis]
        ahead, behind = (np.take(some, np.arange(count) + shift, axis=axis) for shift in (2 * by + 1, 0))
        mask = ahead > behind
    return mask
