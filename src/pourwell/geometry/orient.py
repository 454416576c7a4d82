"""How a print may stand [mm]: many directions compared by cheap measures, and which faces show the steps of the layers.

A face whose normal is n, in layers of thickness t that grow along d, is a stair: each step is t high, t / tan a wide (a the face's
angle to the level) and stands t |n.d| proud of the true face. A level face lies in one layer and an upright one is as true as the
outline: neither shows a stair.

Where material begins in mid-air and where hollows hold resin is told by a rising level on the surface alone: a lowest point that
looks down begins an island, one that looks up a cup, until it joins what began lower. `layers` tells the same by sections, and
overlaps too; here it costs milliseconds.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull, QhullError

from pourwell.geometry.kernels.compiled import thread_count
from pourwell.geometry.kernels.pockets import faces_at, pockets
from pourwell.geometry.layers import Point, upright
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster

LEVEL_COS: Final = float(np.cos(np.deg2rad(1.0)))
"""A face within a degree of the level lies in one layer or two: over 3 mm a step of 0.05 mm."""

AROUND_DEG: Final = 45.0
"""Half angle of the cone of rays that feel for what is beside a face: between flats upright to each other it is exact."""

AROUND_COUNT: Final = 8
"""Rays on that cone."""

SPREAD_COUNT: Final = 15
"""Directions spread evenly over half a ball; with their opposites every direction has one within 30 degrees."""

TURNS_COUNT: Final = 12
"""Ways in which a ring may stand with its bore level: every 30 degrees."""

PLATE_TURNS: Final = 180
"""Turns on the plate that are tried, a degree apart."""

SAME_COS: Final = float(np.cos(np.deg2rad(8.0)))
"""Directions nearer than this are tried once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance:
    """What one direction means for the print, by cheap measures."""

    direction: Point
    """Unit vector away from the plate, in the frame of the mesh."""
    height_mm: float
    islands_count: int
    cups_count: int
    steps_ratio: float
    """How far steps stand proud, in layers: the weighed mean over the surface, 0 to 1."""
    under_fraction: float
    """Share of the surface that looks down so flatly that it needs supports."""
    suction_mm3: float = 0.0
    """What hollows hold that are open towards the film, which seals them."""
    bowl_mm3: float = 0.0
    """What hollows hold that hang open side up, and those that nothing opens."""
    hidden_mm2: float = 0.0
    """Of what needs supports, that from where nobody takes them out."""
    front_fraction: float = 0.0
    """Share of the surface that needs supports on the front, of a piece whose front is known."""
    wire_sags: bool = False
    """Whether a thin wire lies so flat that it needs supports all along."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """Faces that hang together."""

    area_mm2: float
    at_mm: Point
    """The face nearest to their middle."""


def free_outside(mesh: Mesh, rays: Caster) -> Floats:
    """How large a ball may touch every triangle from outside, as far as a cone of rays can tell.

    Returns
    -------
    (m,) float array [mm], inf where nothing is in the way
    """
    free = np.full(len(mesh.faces), np.inf)
    faces = np.flatnonzero(mesh.areas > 0)
    if not len(faces):
        return free
    normals, centres = mesh.normals[faces], mesh.centres[faces]
    aside = np.cross(normals, np.eye(3)[np.argmin(np.abs(normals), axis=1)])
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    beside = np.cross(normals, aside)
    ball = rays.first(centres, normals, leaving=faces)[0]
    slant = np.deg2rad(AROUND_DEG)
    for turn in np.arange(AROUND_COUNT) * (2 * np.pi / AROUND_COUNT):
        heading = np.cos(slant) * normals + np.sin(slant) * (np.cos(turn) * aside + np.sin(turn) * beside)
        ball = np.minimum(ball, rays.first(centres, heading, leaving=faces)[0] / np.cos(slant))
    free[faces] = ball
    return free


def on_bore(mesh: Mesh, centre: ArrayLike, axis: ArrayLike, *, diameter_mm: float, share: float) -> NDArray[np.bool_]:
    """(m,) bool: the triangles that look at the axis of a bore from no farther than its radius and a share of it."""
    along = np.asarray(axis, dtype=np.float64)
    out = mesh.centres - np.asarray(centre, dtype=np.float64)
    out = out - (out @ along)[:, None] * along
    far = np.linalg.norm(out, axis=1)
    looks = np.einsum("ij,ij->i", mesh.normals, out) < -0.5 * far
    bore: NDArray[np.bool_] = looks & (far <= diameter_mm / 2 * (1 + share))
    return bore


def proud(mesh: Mesh, direction: ArrayLike) -> Floats:
    """(m,) float array [-]: how far the steps stand out of every triangle, in layers; 0 for a level one."""
    up = np.asarray(direction, dtype=np.float64)
    slope = np.abs(mesh.normals @ (up / np.linalg.norm(up)))
    return np.where(slope >= LEVEL_COS, 0.0, slope)


def looks_down(mesh: Mesh, direction: ArrayLike, *, flatter_than_deg: float) -> NDArray[np.bool_]:
    """(m,) bool: triangles that look down and lie flatter than an angle to the level."""
    up = np.asarray(direction, dtype=np.float64)
    down: NDArray[np.bool_] = mesh.normals @ (up / np.linalg.norm(up)) < -np.cos(np.deg2rad(flatter_than_deg))
    return down


def hanging_together(mate: Ints, chosen: NDArray[np.bool_]) -> Ints:
    """(k,) int array: a number for each of the k chosen triangles, the same for those that share an edge.

    Parameters
    ----------
    mate : (3 m,) int array, the half edge against every half edge
    chosen : (m,) bool array
    """
    half = np.flatnonzero(np.repeat(chosen, 3) & (mate >= 0))
    half = half[chosen[mate[half] // 3]]
    count = len(chosen)
    graph = coo_matrix((np.ones(len(half), dtype=np.int8), (half // 3, mate[half] // 3)), shape=(count, count))
    label: Ints = connected_components(graph, directed=False)[1][np.flatnonzero(chosen)]
    return label


def patches(mesh: Mesh, mate: Ints, chosen: NDArray[np.bool_]) -> tuple[Patch, ...]:
    """Chosen triangles, those that share an edge put together, the largest first.

    Parameters
    ----------
    mate : (3 m,) int array, the half edge against every half edge
    chosen : (m,) bool array
    """
    rows = np.flatnonzero(chosen)
    names, which = np.unique(hanging_together(mate, chosen), return_inverse=True)
    area, centres = mesh.areas[rows], mesh.centres[rows]
    total = np.bincount(which, weights=area, minlength=len(names))
    sums = np.stack([np.bincount(which, weights=area * centres[:, c], minlength=len(names)) for c in range(3)], axis=1)
    middle = sums / np.where(total > 0, total, 1.0)[:, None]
    order = np.lexsort((np.linalg.norm(centres - middle[which], axis=1), which))
    nearest = order[np.searchsorted(which[order], np.arange(len(names)))]
    out = []
    for k in np.argsort(-total, kind="stable"):
        x, y, z = centres[nearest[k]].tolist()
        out.append(Patch(area_mm2=float(total[k]), at_mm=(x, y, z)))
    return tuple(out)


def ways_to_stand(axis: ArrayLike | None = None, head: ArrayLike | None = None) -> Floats:
    """Directions worth comparing; each opposite pair once.

    Parameters
    ----------
    axis : (3,) of a bore [-]: then it is tried upright, level and leaning, from the head round
    head : (3,) from the bore's middle to where most of the metal is [-]

    Returns
    -------
    (k, 3) float array [-], unit vectors; the natural ones first
    """
    found = []
    if axis is not None:
        frame = upright(axis)
        found.append(frame[2])
        across = np.zeros(3) if head is None else np.asarray(head, dtype=np.float64)
        across = across - (across @ frame[2]) * frame[2]
        first = across / np.linalg.norm(across) if np.linalg.norm(across) > 0 else frame[0]
        beside = np.cross(frame[2], first)
        level = [np.cos(a) * first + np.sin(a) * beside for a in np.arange(TURNS_COUNT // 2) * (2 * np.pi / TURNS_COUNT)]
        found += level
        found += [(sign * way + frame[2]) / np.sqrt(2) for way in level[:: TURNS_COUNT // 4] for sign in (1, -1)]
    found += list(np.eye(3))
    turn = np.pi * (3 - np.sqrt(5))  # the golden angle
    for k in range(SPREAD_COUNT):
        z = (k + 0.5) / SPREAD_COUNT
        found.append(np.array([np.cos(k * turn) * np.sqrt(1 - z * z), np.sin(k * turn) * np.sqrt(1 - z * z), z]))
    kept: list[Floats] = []
    for way in found:
        if all(abs(float(way @ other)) < SAME_COS for other in kept):
            kept.append(way)
    return np.array(kept)


def footprint(mesh: Mesh, direction: ArrayLike, *, width_mm: float | None, depth_mm: float | None) -> tuple[float, float]:
    """Width and depth [mm] of a piece on the plate, turned so that it fits, or misses by least; else so that the longer is least.

    Parameters
    ----------
    width_mm, depth_mm : of the plate [mm]; None: without end
    """
    flat = mesh.vertices[np.unique(mesh.faces)] @ upright(direction)[:2].T
    with suppress(QhullError, ValueError):  # all in one line: each point counts
        flat = flat[ConvexHull(flat).vertices]
    turns = np.deg2rad(np.arange(PLATE_TURNS))
    along = np.ptp(np.outer(flat[:, 0], np.cos(turns)) + np.outer(flat[:, 1], np.sin(turns)), axis=0)
    across = np.ptp(np.outer(flat[:, 1], np.cos(turns)) - np.outer(flat[:, 0], np.sin(turns)), axis=0)
    over = np.maximum(along - (width_mm or np.inf), 0.0) + np.maximum(across - (depth_mm or np.inf), 0.0)
    k = int(np.lexsort((np.maximum(along, across), over))[0])
    return float(along[k]), float(across[k])


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What counts when directions are compared."""

    layer_mm: float
    lasting_mm: float
    """An island counts if it stands by itself for so long."""
    cup_mm3: float
    """A hollow counts if it holds so much."""
    under_deg: float
    """Undersides flatter than this to the level need supports."""


def compare(
    mesh: Mesh, directions: Sequence[ArrayLike] | Floats, *, weight: Floats, wants: Wants, shut: NDArray[np.bool_] | None = None
) -> tuple[Stance, ...]:
    """Directions and their opposites by cheap measures, in the order given, each followed by its opposite.

    Parameters
    ----------
    mesh : a closed solid [mm]
    directions : (k, 3) [-], of any length but zero
    weight : (m,) float array [-]: how much a step on each triangle matters
    shut : (m,) bool array: the triangles from which nobody takes supports out; None: they do from all
    """
    shut = np.zeros(len(mesh.faces), dtype=bool) if shut is None else shut
    mesh = _in_order(mesh)
    start, listed = faces_at(mesh.faces, len(mesh.vertices))
    facing = np.stack([np.bincount(mesh.faces.reshape(-1), np.repeat(mesh.area_vectors[:, c], 3)) for c in range(3)], axis=1)
    whole = float(mesh.areas.sum())
    heavy = mesh.areas * weight
    total = float(heavy.sum())
    points, vectors, normals = mesh.vertices, mesh.area_vectors, mesh.normals
    flat = np.cos(np.deg2rad(wants.under_deg))

    def both(given: ArrayLike) -> tuple[Stance, Stance]:
        up = np.asarray(given, dtype=np.float64)
        up = up / np.linalg.norm(up)
        height, upward, looks, slope = (np.einsum("ij,j->i", each, up) for each in (points, vectors, facing, normals))
        order = np.argsort(height, kind="stable")
        rise = np.abs(slope)
        steps = float(heavy[rise < LEVEL_COS] @ rise[rise < LEVEL_COS]) / total
        rising = _parts(mesh, height, order, around=(start, listed), upward=upward, looks=looks)
        falling = _parts(mesh, -height, order[::-1], around=(start, listed), upward=-upward, looks=-looks)

        def stance(sign: int, below: _Found, above: _Found) -> Stance:
            x, y, z = (sign * up + 0.0).tolist()
            return Stance(
                direction=(x, y, z),
                height_mm=float(np.ptp(height)),
                islands_count=below.islands(wants),
                cups_count=below.cups(wants, opened=True) + above.cups(wants),
                steps_ratio=steps,
                under_fraction=float(mesh.areas[sign * slope < -flat].sum()) / whole,
                suction_mm3=below.held_mm3(wants, opened=True),
                bowl_mm3=above.held_mm3(wants),
                hidden_mm2=float(mesh.areas[(sign * slope < -flat) & shut].sum()),
            )

        return stance(1, rising, falling), stance(-1, falling, rising)

    with ThreadPoolExecutor(thread_count()) as pool:
        return tuple(stance for pair in pool.map(both, directions) for stance in pair)


def _in_order(mesh: Mesh) -> Mesh:
    """The mesh with its vertices numbered as the triangles meet them: neighbours lie near in memory, which trebles the pace."""
    corners = mesh.faces.reshape(-1)
    first = np.full(len(mesh.vertices), len(corners))
    np.minimum.at(first, corners, np.arange(len(corners)))
    order = np.argsort(first)[: np.count_nonzero(first < len(corners))]
    rank = np.empty(len(first), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return Mesh(mesh.vertices[order], rank[mesh.faces])


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Parts of the surface under a rising level: over the lowest of all, how long apart, what they hold, do they look down."""

    over: Floats
    lasts: Floats
    holds: Floats
    down: NDArray[np.bool_]

    def islands(self, wants: Wants) -> int:
        """Those that begin in mid-air."""
        return int((self.down & (self.over > wants.layer_mm) & (self.lasts >= wants.lasting_mm)).sum())

    def cups(self, wants: Wants, *, opened: bool = False) -> int:
        """Those that hold resin; `opened`: without those that nothing opens, which are found from above and from below."""
        return int(self._holding(wants, opened=opened).sum())

    def held_mm3(self, wants: Wants, *, opened: bool = False) -> float:
        """What those hold together."""
        return float(self.holds[self._holding(wants, opened=opened)].sum())

    def _holding(self, wants: Wants, *, opened: bool) -> NDArray[np.bool_]:
        holding: NDArray[np.bool_] = ~self.down & (self.holds >= wants.cup_mm3)
        return holding & np.isfinite(self.lasts) if opened else holding


def _parts(mesh: Mesh, height: Floats, order: Ints, *, around: tuple[Ints, Ints], upward: Floats, looks: Floats) -> _Found:
    rising = np.ascontiguousarray(order)
    begins, joins, holds = pockets(height, rising, mesh.faces, start=around[0], listed=around[1], upward=upward)
    low = height[begins]
    return _Found(low - low.min(), joins - low, holds, looks[begins] < 0)
