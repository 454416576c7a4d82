"""A mesh as it is seen along a direction from far away [mm]: what is hit, how it is lit, where lines run."""

from dataclasses import dataclass
from functools import cache
from math import cos, pi, sin
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from pourwell.geometry.kernels.raster import Flat, Lamp, Ring, hemmed, lit, visible
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.surface import Mask, Surface, smooth

LIGHT: Final = (-0.5, 0.72, 0.48)
"""Where the soft key light stands: right, up, towards the viewer. Upper left, as drawings are lit."""

AMBIENT: Final = 0.36
"""Brightness of what the key light does not reach at all."""

GRAZING: Final = 0.72
"""What is left of it where the surface turns away: roundness shows in one ink, too."""

SHADED: Final = 1.1
"""How strongly what stands round a place darkens it; 1 for what follows from the angles alone."""

RING_SHARES: Final = (0.012, 0.025, 0.05)
"""How far round a place is looked for what stands over it, in heights of the picture."""

RING_COUNT: Final = 12
"""Directions on each of these rings."""

BIAS_PX, REACH_SHARE = 0.6, 0.25
"""What stands no higher is level, and what stands in front by more, in heights of the picture, throws no shade."""

STEEP: Final = 0.02
"""Slopes are trusted up to this cosine between face and line of sight."""

SAMPLES: Final = 3
"""Along an edge of a pixel; odd, so that one lies in its middle."""

HIDDEN_PX: Final = 1.0
"""A line is hidden where all round it something is nearer by more than this."""

STEP_PX: Final = 4.0
"""... and where the surface folds out of sight, what is seen beyond must be so much farther: else a fold ends in a stray dash."""

EDGES_LOT: Final = 250_000
"""Edges looked at in one go: those of two million triangles at once would take half a gigabyte a picture."""

EDGE_ON_PX: Final = 1e-4
"""A triangle no higher than this over its edge is seen edge-on."""

DARKEST: Final = 0.15
"""Light never falls below: lines must still be seen."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Camera:
    """From where and how large a mesh is seen; the same for before and after.

    Attributes
    ----------
    axes : (3, 3) float array [-]: right, up, and towards the viewer
    middle : (3,) float array [mm], what lies in the picture's middle
    mm_per_px : size of a pixel
    shape : rows and columns
    """

    axes: Floats
    middle: Floats
    mm_per_px: float
    shape: tuple[int, int]

    def __post_init__(self) -> None:
        for array in (self.axes, self.middle):
            array.setflags(write=False)

    def place(self, points: ArrayLike) -> Floats:
        """(k, 2) float array [px]: column and row of points, (k, 3) [mm]; a pixel's middle is at its number and a half."""
        across = (np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.middle) @ self.axes[:2].T / self.mm_per_px
        rows, columns = self.shape
        return np.column_stack([columns / 2 + across[:, 0], rows / 2 - across[:, 1]])

    def towards(self, points: ArrayLike) -> Floats:
        """(k,) float array [mm]: how far points, (k, 3) [mm], stand out of the plane through the middle towards the viewer."""
        out: Floats = (np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.middle) @ self.axes[2]
        return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """What a camera sees of a mesh; row 0 is the upper edge. A pixel is what lies at its middle, but for cover and light.

    Attributes
    ----------
    camera : that saw it
    half_depth_mm : from the camera's middle to the plane that depths are measured from, the mesh's nearest
    hit : (h, w) bool array
    cover : (h, w) float array [-], the share of every pixel that the mesh covers
    depth_mm : (h, w) float array, away from the viewer; inf where nothing is hit
    face : (h, w) int array, -1 where nothing is hit
    weights : (k, 3) float array [-], of the face's three corners, for the k pixels that are hit, row by row
    light : (h, w) float array [-], 0 to 1: how the soft key light falls, less where things stand round; 1 where nothing is hit
    outline : (l, 4) float array [px], from right and down to right and down: where the surface folds out of sight
    crease : (l, 4) float array [px]: edges of the visible surface
    fault : (l, 4) float array [px]: edges that no closed solid has, rims, and lines along which the surface crosses itself
    """

    camera: Camera
    half_depth_mm: float
    hit: Mask
    cover: Floats
    depth_mm: Floats
    face: Ints
    weights: Floats
    light: Floats
    outline: Floats
    crease: Floats
    fault: Floats

    def __post_init__(self) -> None:
        for name in ("hit", "cover", "depth_mm", "face", "weights", "light", "outline", "crease", "fault"):
            getattr(self, name).setflags(write=False)

    @property
    def axes(self) -> Floats:
        """The camera's."""
        return self.camera.axes

    @property
    def mm_per_px(self) -> float:
        """The camera's."""
        return self.camera.mm_per_px

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.camera.shape

    def place(self, points: ArrayLike) -> Floats:
        """(k, 2) float array [px]: column and row of points, (k, 3) [mm]; a pixel's middle is at its number and a half."""
        return self.camera.place(points)

    def depths(self, points: ArrayLike) -> Floats:
        """(k,) float array [mm]: depth of points, (k, 3) [mm], whether they are seen or not."""
        return self.half_depth_mm - self.camera.towards(points)

    @property
    def places(self) -> Floats:
        """(k, 3) float array [mm]: where the k pixels that are hit see the mesh, row by row."""
        rows, columns = np.nonzero(self.hit)
        right = (columns + 0.5 - self.shape[1] / 2) * self.mm_per_px
        upward = (self.shape[0] / 2 - rows - 0.5) * self.mm_per_px
        towards = self.half_depth_mm - self.depth_mm[self.hit]
        places: Floats = self.camera.middle + np.column_stack([right, upward, towards]) @ self.axes
        return places

    def seen(self, corner_values: Floats) -> Floats:
        """(h, w) or (h, w, k) float array: values of corners, (m, 3) or (m, 3, k), at every pixel; nan where nothing is hit."""
        out = np.full((*self.shape, *corner_values.shape[2:]), np.nan)
        out[self.hit] = np.einsum("ij,ij...->i...", self.weights, corner_values[self.face[self.hit]])
        return out


def look(
    mesh: Mesh,
    direction: ArrayLike,
    up: ArrayLike,
    *,
    width_px: int,
    height_px: int | None = None,
    mm_per_px: float,
    surface: Surface | None = None,
) -> Picture:
    """Look at a mesh from far away; the middle of its extent lies in the picture's middle.

    Parameters
    ----------
    mesh : triangles [mm]
    direction : (3,) float array [-], from the viewer to the mesh, of any length but zero
    up : (3,) float array [-], what shall point up; need not be upright to `direction`, but not along it
    width_px, height_px : size of the picture; square if only the width is given
    mm_per_px : size of a pixel
    surface : of the same mesh, if made already

    Raises
    ------
    ValueError if `up` lies along `direction`.
    """
    axes = view_axes(direction, up)
    skin = surface or smooth(mesh)
    low, high = extent(skin.points, axes)
    shape = (height_px or width_px, width_px)
    return seen_by(Camera(axes=axes, middle=axes.T @ ((low + high) / 2), mm_per_px=mm_per_px, shape=shape), skin)


def extent(points: Floats, axes: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest of points, (k, 3) [mm], along three axes, (3,) each."""
    across = axes @ points.T
    return across.min(axis=1), across.max(axis=1)


def seen_by(camera: Camera, surface: Surface, *, samples: int = SAMPLES) -> Picture:
    """What a camera sees of a surface. `samples` along an edge of a pixel: odd."""
    mesh = surface.mesh
    rows, columns = camera.shape
    nearest = float((surface.points @ camera.axes[2]).max() - camera.middle @ camera.axes[2])
    flat = np.column_stack([camera.place(mesh.vertices) * samples, nearest - camera.towards(mesh.vertices)])
    depth, face = visible(flat, mesh.faces, (rows * samples, columns * samples))
    key = camera.axes.T @ np.asarray(LIGHT) / np.linalg.norm(LIGHT)
    lamp = Lamp(key=key, axes=camera.axes, ambient=AMBIENT, grazing=GRAZING, steep=STEEP)
    cover, light, slope, weights = lit(Flat(flat, mesh.faces, face), surface.leaning, lamp, samples=samples)
    middles = (slice(samples // 2, None, samples),) * 2
    depth, faces = np.ascontiguousarray(depth[middles]), face[middles].astype(np.int64)
    hit = faces >= 0
    flat[:, :2] /= samples
    shade = hemmed(depth, slope * camera.mm_per_px, _ring(rows, camera.mm_per_px))
    light = np.where(cover > 0, np.maximum(light * (1 - SHADED * shade), DARKEST), 1.0)
    outline, crease, fault = _lines(surface, flat, depth, px_mm=camera.mm_per_px)
    if len(surface.crossing_mm):
        ends = surface.crossing_mm.reshape(-1, 3)
        across = np.column_stack([camera.place(ends), nearest - camera.towards(ends)])
        fault = np.vstack([fault, _unhidden(depth, across[::2], across[1::2], px_mm=camera.mm_per_px)])
    return Picture(
        camera=camera,
        half_depth_mm=nearest,
        hit=hit,
        cover=cover,
        depth_mm=depth,
        face=faces,
        weights=weights,
        light=light,
        outline=outline,
        crease=crease,
        fault=fault,
    )


@cache
def _ring(rows: int, px_mm: float) -> Ring:
    """Where a place looks for what stands round it."""
    turns = [
        (share * rows, 2 * pi * (k + step / len(RING_SHARES)) / RING_COUNT)
        for step, share in enumerate(RING_SHARES)
        for k in range(RING_COUNT)
    ]
    across, down = (np.array([round(far * way(turn)) for far, turn in turns], dtype=np.int64) for way in (cos, sin))
    far = np.array([far for far, _ in turns]) * px_mm
    return Ring(across=across, down=down, far=far, bias_mm=BIAS_PX * px_mm, reach_mm=REACH_SHARE * rows * px_mm)


def _lines(surface: Surface, flat: Floats, depth: Floats, *, px_mm: float) -> tuple[Floats, Floats, Floats]:
    """Outlines, creases and faults that are seen, (l, 4) [px] each; `flat` is (n, 3) [px, px, mm]."""
    edges = surface.edges
    lots = [slice(begin, begin + EDGES_LOT) for begin in range(0, len(edges.ends), EDGES_LOT)]
    fold = np.concatenate([np.zeros(0, dtype=bool), *(_folds(edges.ends[lot], edges.opposite[lot], flat) for lot in lots)])
    seen = []
    crease = edges.sharp & ~fold & ~edges.faulty
    for which, step_px in ((fold & ~edges.hollow, STEP_PX), (crease, -HIDDEN_PX), (edges.faulty, -HIDDEN_PX)):
        ends = flat[edges.ends[which]]
        seen.append(_unhidden(depth, ends[:, 0], ends[:, 1], px_mm=px_mm, step_px=step_px))
    return seen[0], seen[1], seen[2]


def _folds(ends: Ints, opposite: Ints, flat: Floats) -> Mask:
    """(e,): edges of two triangles that lie on one side of them as they are seen."""
    right, down = np.ascontiguousarray(flat[:, 0]), np.ascontiguousarray(flat[:, 1])  # rows of three are slow to pick from
    x, y = right[ends[:, 0]], down[ends[:, 0]]
    way_x, way_y = right[ends[:, 1]] - x, down[ends[:, 1]] - y
    length = np.maximum(np.hypot(way_x, way_y), EDGE_ON_PX)
    high = []
    for k in (0, 1):
        aside = (way_x * (down[opposite[:, k]] - y) - way_y * (right[opposite[:, k]] - x)) / length
        high.append((aside >= EDGE_ON_PX).astype(np.int8) - (aside <= -EDGE_ON_PX))
    fold: Mask = (opposite[:, 0] >= 0) & (high[0] * high[1] >= 0) & (high[0] != -high[1])
    return fold


def _unhidden(depth: Floats, begin: Floats, end: Floats, *, px_mm: float, step_px: float = -HIDDEN_PX) -> Floats:
    """(l, 4) [px]: the parts of lines, from and to (k, 3) [px, px, mm], before which nothing lies; parts of about a pixel.

    Beside a line something must be farther away than it by `step_px`, or, if that is negative, at most so much nearer.
    """
    rows, columns = depth.shape
    parts = np.maximum(np.ceil(np.hypot(*(end - begin)[:, :2].T)), 1).astype(np.int64)
    line = np.repeat(np.arange(len(parts)), parts)
    step = np.arange(len(line)) - np.repeat(np.cumsum(parts) - parts, parts)
    at = begin[line] + (end - begin)[line] * ((step + 0.5) / parts[line])[:, None]
    j, i = np.floor(at[:, 0]).astype(np.int64), np.floor(at[:, 1]).astype(np.int64)
    inside = (i >= 0) & (i < rows) & (j >= 0) & (j < columns)
    far = np.full(len(at), -np.inf)
    for di in (-1, 0, 1):
        for dj in (-1, 0, 1):
            far = np.maximum(far, depth[np.clip(i + di, 0, rows - 1), np.clip(j + dj, 0, columns - 1)])
    shown = inside & (far - at[:, 2] >= step_px * px_mm)
    starts = shown & np.append(True, ~shown[:-1] | (line[1:] != line[:-1]))[: len(shown)]
    stops = shown & np.append(~shown[1:] | (line[1:] != line[:-1]), True)[: len(shown)]
    first, last = np.flatnonzero(starts), np.flatnonzero(stops)
    which = line[first]
    from_share, to_share = step[first] / parts[which], (step[last] + 1) / parts[which]
    base, way = begin[which, :2], (end - begin)[which, :2]
    return np.column_stack([base + way * from_share[:, None], base + way * to_share[:, None]])


def view_axes(direction: ArrayLike, up: ArrayLike) -> Floats:
    """(3, 3) float array [-]: right, up and towards the viewer, for a look along `direction`."""
    towards = -np.asarray(direction, dtype=np.float64)
    towards = towards / np.linalg.norm(towards)
    right = np.cross(np.asarray(up, dtype=np.float64), towards)
    length = np.linalg.norm(right)
    if not length > 1e-9:
        raise ValueError("A picture needs an upward direction that does not lie along the line of sight.")
    right = right / length
    return np.array([right, np.cross(towards, right), towards])


def barycentric(mesh: Mesh, face: Ints, points: Floats) -> Floats:
    """(k, 3) float array [-]: weights of a face's corners at points on it, (k, 3) [mm]; even for a face without area."""
    a, b, c = np.moveaxis(mesh.vertices[mesh.faces[face]], 1, 0)
    ab, ac, ap = b - a, c - a, points - a
    bb, bc, cc = (np.einsum("ij,ij->i", p, q) for p, q in ((ab, ab), (ab, ac), (ac, ac)))
    pb, pc = np.einsum("ij,ij->i", ap, ab), np.einsum("ij,ij->i", ap, ac)
    size = bb * cc - bc * bc
    safe = np.where(size > 0, size, 1.0)
    v, w = (cc * pb - bc * pc) / safe, (bb * pc - bc * pb) / safe
    weights = np.clip(np.column_stack([1 - v - w, v, w]), 0, 1)
    weights[size <= 0] = 1 / 3
    whole: Floats = weights / weights.sum(axis=1, keepdims=True)
    return whole
