"""The mesh of a tree in its flask: cells of the octree, cut by the metal's surface, and the faces between them. SI.

A cell is metal or mould by its middle; the heat that crosses the surface does so over its true area and distance, and the slivers
that lie on the wrong side of it go to the neighbour of their own kind, so that metal keeps its volume. Across a face between a
large cell and four small ones the four take a fourth each of one flux, which is exact where temperature falls straight.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.domain import FACES, Domain, lattice
from pourwell.physics.kernels.tree import NOTHING, Array, cut_fraction, neighbours
from pourwell.physics.mesh import METAL, MOULD, Mesh
from pourwell.physics.octree import OCTANTS, Cells, Grading, grow
from pourwell.physics.thin import ThinWalls, thin_walls

Floats = NDArray[np.float64]
Distance = Callable[[Floats], Floats]
LEAST = 0.05
"""Least distance of a cell's middle from the surface, in edges, so that no conductance grows beyond bounds."""

SMEAR = 1.0
"""Half width of the band in which the surface's area is counted, in spacings of the eight points."""
EDGE = 2 * (2 - math.pi / 2) / (2 + math.pi / 2)
"""How much more the outer half of that band counts. Along a square edge surfaces outside are rounded, by pi/2 of their distance,
and those inside lose twice it; with this tilt the two make up for each other. On a plane the tilt has no effect."""
BLOCK = 3
"""Doublings of a block of cells over which the area of the stairs is made that of the surface."""
HALVINGS = 2
"""How often cells are halved near thin walls."""
MOST_PLACES = 1e8
"""Most places in the mask of a level, a byte each."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """A mesh with what is to be known of it: edge of its cells at the metal [m], and walls that are still too thin for it."""

    mesh: Mesh
    cells: Cells
    spacing: float
    thin: ThinWalls


def build(
    domain: Domain,
    metal: Distance,
    spacing: float,
    *,
    body: Callable[[Floats], Array] | None = None,
    grading: Grading | None = None,
) -> Grid:
    """A mesh over a domain with cells of about `spacing` [m] at the metal's surface.

    Parameters
    ----------
    metal : (n, 3) points [m] to (n,) distance from the surface [m], below zero in metal.
    body : (n, 3) points [m] in metal to (n,) whole numbers, which body each belongs to.

    Raises
    ------
    BadRequestError
        If the spacing does not fit the domain, or no cell is metal.
    """
    rule = grading or Grading()
    found: list[Floats] = []
    grid = lattice(domain, spacing, finer=0)
    cells = grow(domain, metal, grid, grading=rule, base=0, thin=())
    across = neighbours(cells.code, cells.index, cells.level)
    thin = thin_walls(metal, cells, across)
    for finer in range(1, HALVINGS + 1):
        if not len(thin.middle) or np.prod(lattice(domain, spacing, finer=finer).shape(1)) > MOST_PLACES:
            break
        grid = lattice(domain, spacing, finer=finer)
        found.append(thin.middle)
        cells = grow(domain, metal, grid, grading=rule, base=finer, thin=tuple(found))
        across = neighbours(cells.code, cells.index, cells.level)
        thin = thin_walls(metal, cells, across)
    if not np.any(cells.distance < 0):
        raise BadRequestError(
            f"With cells of {spacing * 1e3:g} mm no metal is left.",
            why="No cell has its middle in metal.",
            try_this="Choose smaller cells, or look whether the pieces lie in the flask.",
        )
    made = _mesh(domain, cells, across, metal=metal, body=body)
    return Grid(mesh=made, cells=cells, spacing=lattice(domain, spacing, finer=0).step, thin=thin)


def _mesh(domain: Domain, cells: Cells, across: Array, *, metal: Distance, body: Callable[[Floats], Array] | None) -> Mesh:
    """Volumes, faces and boundary of the cells."""
    size, centre = cells.size, cells.centre
    kind = np.where(cells.distance < 0, METAL, MOULD).astype(np.int8)
    first, side = np.nonzero((across >= 0) & ~_seen_from_below(cells, across))
    second = across[first, side]
    ids = np.full(across.shape, -1, dtype=np.int64)
    ids[first, side] = np.arange(first.size)
    edge, other = size[first], size[second]
    area, near, far = edge**2, 0.5 * edge, 0.5 * other
    _even_out(cells, kind, ids=ids, faces=(first, second, side), area=area)
    crossing = np.flatnonzero(kind[first] != kind[second])
    a, b = first[crossing], second[crossing]
    surface = _surface(cells, metal)
    area[crossing] = _true_areas(cells, surface, pairs=(a, b), side=side[crossing])
    near[crossing] = np.maximum(np.abs(cells.distance[a]), LEAST * size[a])
    far[crossing] = np.maximum(np.abs(cells.distance[b]), LEAST * size[b])
    volume = size**3
    _meet_half_way(cells, kind, faces=(first, second), volume=volume)
    _trim_rim(domain, cells, volume)
    _hand_over(volume, kind, surface.fraction, pairs=(a, b), away=np.abs(cells.distance))
    ids_of_bodies = np.full(size.size, -1, dtype=np.int32)
    inside = np.flatnonzero(kind == METAL)
    ids_of_bodies[inside] = body(centre[inside]) if body else 0
    outer = _outside(domain, cells, across)
    return Mesh(
        volume=volume,
        kind=kind,
        centre=centre,
        level=cells.level,
        index=cells.index,
        body=ids_of_bodies,
        first=first.astype(np.int32),
        second=second.astype(np.int32),
        area=area,
        near=near,
        far=far,
        outer_cell=outer[0],
        outer_area=outer[1],
        outer_depth=outer[2],
        outer_face=outer[3],
    )


def _seen_from_below(cells: Cells, across: Array) -> NDArray[np.bool_]:
    """(n, 6) sides towards a cell of the same size on the lower side: that face is told by the other cell."""
    same = cells.level[np.maximum(across, 0)] == cells.level[:, None]
    lower: NDArray[np.bool_] = same & (np.arange(6) % 2 == 0)
    return lower


def _even_out(cells: Cells, kind: Array, *, ids: Array, faces: tuple[Array, Array, Array], area: Floats) -> None:
    """Make the fluxes between large and small cells exact for a straight fall of temperature, in place.

    Let G be the conductance of the whole face, c the large cell and 1 to 4 the small ones. G/2 (c - mean of the four)^2 is the heat
    of one common flux; written out over pairs it is the plain fluxes G/4 (c - i)^2 / 2 less G/8 (i - j)^2 / 2 on each of the four
    faces among the small cells, where a straight fall makes both diagonals of the square worth its four sides. A third is taken
    from these faces, and two thirds at most, so that all weights stay above zero and the matrix symmetric.
    """
    first, second, side = faces
    small = np.flatnonzero(cells.level[second] > cells.level[first])
    group = second[small].astype(np.int64) * 6 + (side[small] ^ 1)
    same = kind[first[small]] == kind[second[small]]
    order = np.argsort(group, kind="stable")
    small, group, same = small[order], group[order], same[order]
    begin = np.flatnonzero(np.concatenate([[True], group[1:] != group[:-1]])) if group.size else np.empty(0, dtype=np.int64)
    count = np.diff(np.append(begin, group.size))
    whole = begin[count == 4]
    whole = whole[same[whole[:, None] + np.arange(4)].all(axis=1)] if whole.size else whole
    members = small[(whole[:, None] + np.arange(4)).ravel()] if whole.size else small[:0]
    cell, axis = first[members], side[members] // 2
    share = np.ones(area.size)
    for turn in (1, 2):
        cross = (axis + turn) % 3
        lower = cells.index[cell, cross] % 2 == 0
        between = ids[cell[lower], 2 * cross[lower] + 1]
        np.subtract.at(share, between, 1.0 / 3.0)
    area *= share


def _meet_half_way(cells: Cells, kind: Array, *, faces: tuple[Array, Array], volume: Floats) -> None:
    """Let large and small cells store heat up to half way between their middles, in place.

    A difference of two middles is the flux half way between them, which lies an eighth of the large edge inside the large cell.
    What is stored on this side of it belongs to the small cells, as in a lumped finite element; otherwise every doubling of the
    cells holds heat back, by 2 to 4 % of a ring's freezing time.
    """
    first, second = faces
    pair = np.flatnonzero((cells.level[first] < cells.level[second]) & (kind[first] == kind[second]))
    part = 0.25 * cells.size[first[pair]] ** 3
    np.add.at(volume, first[pair], part)
    np.subtract.at(volume, second[pair], part)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Surface:
    """The metal's surface in the cells: share of metal (n,), area in each (n,) [m2], distances at the eight points."""

    fraction: Floats
    area: Floats
    row: NDArray[np.int64]
    eight: Floats


def _surface(cells: Cells, metal: Distance) -> _Surface:
    """Eight planes in each cell that the surface may cut; its area is the volume of a thin band round it over the band's width.

    Source: coarea formula; the band's weight is a hat, whose sum over a lattice is level if it is one or two points wide.
    """
    fraction = (cells.distance < 0).astype(np.float64)
    area, row, size = np.zeros(fraction.size), np.full(fraction.size, -1, dtype=np.int64), cells.size
    cut = np.flatnonzero(np.abs(cells.distance) < 1.1 * size)
    row[cut] = np.arange(cut.size)
    quarter = 0.25 * size[cut]
    points = cells.centre[cut][:, None] + (2 * OCTANTS - 1)[None] * quarter[:, None, None]
    away = metal(points.reshape(-1, 3)).reshape(-1, 2, 2, 2) if cut.size else np.empty((0, 2, 2, 2))
    slope = np.empty((*away.shape, 3))
    for axis in range(3):
        slope[..., axis] = np.diff(away, axis=axis + 1)
    half = (2 * quarter)[:, None, None, None]
    share = np.empty(away.size)
    cut_fraction((away / half).ravel(), (slope / half[..., None]).reshape(-1, 3), share)
    fraction[cut] = share.reshape(-1, 8).mean(axis=1)
    band = SMEAR * half
    hat = np.maximum(1 - np.abs(away) / band, 0) * (1 + EDGE * away / band) / band
    area[cut] = (half**3 * hat).reshape(-1, 8).sum(axis=1)
    return _Surface(fraction=fraction, area=area, row=row, eight=away)


def _true_areas(cells: Cells, surface: _Surface, *, pairs: tuple[Array, Array], side: Array) -> Floats:
    """Area of the surface that each face of the stairs stands for [m2].

    The face's area times the share of the surface's normal along it; then scaled block by block, so that all the faces of a block
    have the area that the surface has there.
    """
    a, b = pairs
    size, axis = cells.size, side // 2
    lean = np.abs(cells.distance[b] - cells.distance[a]) / (0.5 * (size[a] + size[b]))
    fine = np.flatnonzero((surface.row[a] >= 0) & (surface.row[b] >= 0) & (size[a] == size[b]))
    for way in range(3):
        mine = fine[axis[fine] == way]
        here, there = (np.moveaxis(surface.eight[surface.row[end[mine]]], way + 1, 1) for end in (a, b))
        up = (side[mine] % 2)[:, None, None]
        step = np.where(up, there[:, 0] - here[:, 1], there[:, 1] - here[:, 0]) / (0.5 * size[a[mine]])[:, None, None]
        lean[mine] = np.abs(step).mean(axis=(1, 2))
    area = np.minimum(size[a], size[b]) ** 2 * np.clip(lean, 0.05, 1.0)
    block = cells.code >> (3 * (cells.level.astype(np.int64) + BLOCK))
    _, place = np.unique(block, return_inverse=True)
    count = int(place.max(initial=0)) + 1
    stairs = 0.5 * (np.bincount(place[a], area, minlength=count) + np.bincount(place[b], area, minlength=count))
    true = np.bincount(place, surface.area, minlength=count)
    factor = np.clip(true / np.maximum(stairs, 1e-30), 0.7, 1.5)
    area *= 0.5 * (factor[place[a]] + factor[place[b]])
    scaled: Floats = area * (surface.area.sum() / max(area.sum(), 1e-30))
    return scaled


def _hand_over(volume: Floats, kind: Array, fraction: Floats, *, pairs: tuple[Array, Array], away: Floats) -> None:
    """Give the slivers of the other kind in each cell to its neighbour of that kind whose middle lies deepest, in place."""
    a, b = pairs
    mine, other = np.concatenate([a, b]), np.concatenate([b, a])
    order = np.argsort(away[other], kind="stable")
    best = np.full(volume.size, -1, dtype=np.int64)
    best[mine[order]] = other[order]
    giver = np.flatnonzero(best >= 0)
    sliver = volume[giver] * np.where(kind[giver] == METAL, 1 - fraction[giver], fraction[giver])
    volume[giver] -= sliver
    np.add.at(volume, best[giver], sliver)


def _trim_rim(domain: Domain, cells: Cells, volume: Floats) -> None:
    """Scale the cells that the domain's round side may cut, so that all together fill it, in place."""
    rim = np.flatnonzero(domain.depths(cells.centre)[:, 0] < 0.87 * cells.size)
    inner = volume.sum() - volume[rim].sum()
    if rim.size:
        volume[rim] *= (domain.volume - inner) / volume[rim].sum()


def _outside(domain: Domain, cells: Cells, across: Array) -> tuple[Array, Array, Array, Array]:
    """Cells with a face to the outside: cell, area [m2], depth [m] and which face of the flask."""
    cell, side = np.nonzero(across == NOTHING)
    axis = side // 2
    middle = cells.centre[cell].copy()
    face = np.array(FACES)[np.where(axis < 2, 0, np.where(side == 4, 1, 2))]
    depth = domain.depths(cells.centre[cell])[np.arange(cell.size), face]
    area = cells.size[cell] ** 2 * domain.lean(middle, axis)
    open_to = area > 0
    depth = np.maximum(depth, LEAST * cells.size[cell])
    return cell[open_to].astype(np.int32), area[open_to], depth[open_to], face[open_to].astype(np.int8)
