"""Thin edges of a piece, which the metal beside them carries: feathered ones, and narrow faces [mm].

A wall that tapers to an edge is told by the metal that carries it; how thin the edge itself is tells whether it prints and fills.
Two faces that meet in a sharp angle leave nothing at the edge. A narrow face is as wide as rays find it just under it, if they
leave through sides that would meet as sharply: under the top of something round, or of a rounding of few facets, they do not.
Where the edge is rounded off, the ball that touches it is its width.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.kernels.surface import mates
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.round_rims import across, roundings

FEATHER_DEG: Final = 64.0
"""Faces that meet at less leave less than a quarter of a millimetre of metal as far as a fifth from the edge: by geometry."""

UNDER_MM: Final = 0.02
"""How far under a narrow face its width is taken."""

GROWS: Final = 1.2
"""An edge is carried by metal this many times as wide, as deep under it as it is wide; else it is the rim of a sheet."""

LOT: Final = 250_000
"""Sides looked at in one go: those of two million triangles at once would take half a gigabyte."""

MOST_BACK: Final = 0.3
"""From there it is reckoned back to the face by no more than this share: what widens faster is rounded, and so wide."""

MOST_PLACES: Final = 4_000
"""Places measured at most; of more, every so many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinEdge:
    """The thinnest edges of a piece.

    Attributes
    ----------
    width_mm : of the thinnest of them, 0 of a feather
    length_mm : of all under the width asked for, and within a tenth of the thinnest
    at_mm : on the thinnest
    """

    width_mm: float
    length_mm: float
    at_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Places where the metal beside may be an edge.

    Attributes
    ----------
    points, inward : (k, 3) float arrays [mm], [-]
    area_mm2 : (k,) float array [mm2]
    face : (k,) int array, the triangle of each
    ball_mm : (k,) float array [mm], the largest ball that touches there from inside
    """

    points: Floats
    inward: Floats
    area_mm2: Floats
    face: Ints
    ball_mm: Floats

    def only(self, chosen: Ints | slice) -> "Places":
        """Those chosen."""
        return Places(**{name: getattr(self, name)[chosen] for name in self.__dataclass_fields__})


def thin_edge(mesh: Mesh, caster: Caster, places: Places, *, below_mm: float, length_mm: float) -> ThinEdge | None:
    """The thinnest edge at least so long in all; None where there is none thinner than asked.

    Parameters
    ----------
    mesh : a closed solid, wound outward
    caster : its rays
    places : on its surface
    below_mm : width under which an edge counts [mm]
    length_mm : shorter edges, taken together, are left out [mm]
    """
    middles, lengths, run = feathers(mesh)
    runs = np.bincount(run, weights=lengths)
    if (runs >= length_mm).any():
        told = np.flatnonzero(runs[run] >= length_mm)
        return ThinEdge(width_mm=0.0, length_mm=float(lengths[told].sum()), at_mm=_point(middles[told[np.argmax(lengths[told])]]))
    spare = max(1, -(-len(places.points) // MOST_PLACES))
    some = places.only(slice(None, None, spare))
    some = replace(some, area_mm2=some.area_mm2 * spare)
    under = some.points + UNDER_MM * some.inward
    across_mm, heading = across(caster, under, some.inward, sharp_deg=FEATHER_DEG)
    rims = roundings(
        caster,
        some.points,
        some.inward,
        heading=heading,
        area_mm2=some.area_mm2,
        ball_mm=some.ball_mm,
        sharp_deg=FEATHER_DEG,
        grows=GROWS,
    )
    face_mm = np.where(rims.curved, np.inf, across_mm)
    width, long = np.where(np.isfinite(face_mm), np.inf, rims.width_mm), rims.length_mm.copy()
    flat, flat_mm = _narrow_faces(caster, some, face_mm, below_mm=below_mm, spare=spare)
    width[flat], long[flat] = flat_mm
    order = np.flatnonzero(width < below_mm)
    order = order[np.argsort(width[order], kind="stable")]
    summed = np.cumsum(long[order])
    if not len(order) or summed[-1] < length_mm:
        return None
    least = order[int(np.searchsorted(summed, length_mm / 2))]
    return ThinEdge(width_mm=float(width[least]), length_mm=float(summed[-1]), at_mm=_point(some.points[least]))


def _narrow_faces(
    caster: Caster, some: Places, face_mm: Floats, *, below_mm: float, spare: int
) -> tuple[Ints, tuple[Floats, Floats]]:
    """The places on narrow flat faces that metal carries; how wide these are there, and what length each place stands for [mm]."""
    narrow = np.flatnonzero((face_mm < below_mm) & (face_mm > 0))
    width = face_mm[narrow]
    deeper = across(caster, some.points[narrow] + some.inward[narrow] * width[:, None], some.inward[narrow])[0]
    carried = deeper >= GROWS * width
    slope = (deeper - width) / np.maximum(width - UNDER_MM, UNDER_MM)
    more = np.where(np.isfinite(slope), UNDER_MM * slope, 0.0)
    width -= np.where(more <= MOST_BACK * width, more, 0.0)  # back to the face itself
    narrow, width = narrow[carried & (width > 0)], width[carried & (width > 0)]
    corners = caster.mesh.corners[some.face[narrow]]
    side = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    # a large triangle that only ends at a sharp corner is no narrow face: it runs along an edge no farther than it is long
    return narrow, (width, np.minimum(some.area_mm2[narrow] / width, spare * side))


def feathers(mesh: Mesh) -> tuple[Floats, Floats, Ints]:
    """The outer edges in which faces meet sharply: middles, (k, 3) [mm], lengths, (k,) [mm], and which hang together, (k,)."""
    mate, normals = mates(mesh.faces, len(mesh.vertices))[0], mesh.normals
    facing = [np.empty(0, dtype=np.int64)]
    for begin in range(0, len(mate), LOT):
        one = np.arange(begin, min(begin + LOT, len(mate)))
        one = one[one < mate[one]]
        turn = np.einsum("ij,ij->i", normals[one // 3], normals[mate[one] // 3])
        facing.append(one[turn < -np.cos(np.radians(FEATHER_DEG))])
    one = np.concatenate(facing)
    other = mate[one]
    # the first of the two among all sides from first to second corner, then those to the third, then those back to the first
    later = (one % 3 > other % 3) | ((one % 3 == other % 3) & (one > other))
    one, other = np.where(later, other, one), np.where(later, one, other)
    ends = np.sort(np.column_stack((mesh.faces[one // 3, one % 3], mesh.faces[other // 3, other % 3])), axis=1)
    over = mesh.vertices[mesh.faces[other // 3, (other + 2) % 3]] - mesh.vertices[ends[:, 0]]
    out = np.einsum("ij,ij->i", normals[one // 3], over) < 0
    ends = ends[out][np.lexsort((ends[out, 1], ends[out, 0]))]
    start, end = mesh.vertices[ends[:, 0]], mesh.vertices[ends[:, 1]]
    length: Floats = np.linalg.norm(end - start, axis=1)
    size = len(mesh.vertices)
    links = coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(size, size))
    run: Ints = connected_components(links, directed=False)[1]
    return (start + end) / 2, length, run[ends[:, 0]]


def _point(at: Floats) -> tuple[float, float, float]:
    x, y, z = at.tolist()
    return x, y, z
