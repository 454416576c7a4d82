"""A solid made anew from a surface that cannot be closed as it is: a grid of cells asks on which side it lies [mm].

Every grid point near the surface gets its distance, and its side by how often the surface winds round it: within where more than
half of all directions are blocked. Cells with both kinds of corners are cut, tetrahedron by tetrahedron.
"""

from itertools import permutations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.crossing import crossings
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.scatter import scattered
from pourwell.geometry.solidity import NotSolidError, from_manifold, to_manifold
from pourwell.geometry.soup import Soup

FINEST_MM: Final = 0.05
"""Cells are never smaller: about what a resin printer lays."""

CELLS_AROUND: Final = 300_000
"""Cells about the surface at most: a few seconds' work and a few hundred megabytes."""

CELLS_A_FACE: Final = 4.0
"""Cells about each square of surface as large as a cell's side: two layers and what lies askew."""

SIMPLER_SHARE: Final = 0.02
"""Corners that bend the new surface by less than this share of a cell are taken out again."""

HALF: Final = 0.5
"""A point is within where the surface winds round it by more than this: a closed one does by 1 within and by 0 without."""

NEAREST_END: Final = 0.02
"""A corner of the new surface keeps this share of an edge away from its ends, so that no triangle vanishes."""

MOST_STEPS: Final = 400
"""Steps that the cells grow over an opening of the surface at most."""

OFFSETS: Final = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)])
SPAN: Final = 1 << 20
"""Cells along a side are numbered below this."""


def cell_for(mesh: Mesh) -> float:
    """The side of the cells for a mesh [mm]: as fine as a print, coarser for a large surface."""
    return max(FINEST_MM, float(np.sqrt(mesh.area_mm2 * CELLS_A_FACE / CELLS_AROUND)))


def remeshed(mesh: Mesh, *, cell_mm: float) -> Mesh:
    """A solid about whatever the triangles wind round, closed over its openings.

    Parameters
    ----------
    mesh : any triangles [mm] that mostly agree which way is out
    cell_mm : side of the cells [mm]; edges are rounded by about half of it, smooth faces move by far less

    Raises
    ------
    NotSolidError if they wind round nothing.
    """
    low = np.mean(mesh.bounds, axis=0) - SPAN // 2 * cell_mm  # numbers stay positive however far the cells grow
    soup = Soup(mesh)

    def value(corners: Ints) -> Floats:
        """Signed distance of grid points, by their numbers."""
        points = low + cell_mm * _places(corners)
        signed: Floats = soup.distances(points) * np.where(soup.windings(points) > HALF, -1.0, 1.0)
        return signed

    cells = _beside(np.unique(_numbers(np.floor((scattered(mesh, cell_mm / 2)[0] - low) / cell_mm).astype(np.int64))))
    known, values, front = np.zeros(0, dtype=np.int64), np.zeros(0), cells
    for _ in range(MOST_STEPS):
        needed = np.setdiff1d(_corners(front), known)
        known, values = np.concatenate((known, needed)), np.concatenate((values, value(needed)))
        order = np.argsort(known, kind="stable")
        known, values = known[order], values[order]
        front = np.setdiff1d(_beyond(front, values[np.searchsorted(known, _corners(front))] < 0), cells)
        if not len(front):
            break
        cells = np.union1d(cells, front)
    corners = np.searchsorted(known, _corners(cells))
    new = _cut(corners[_both(values[corners] < 0)], values)
    if new is None:
        raise NotSolidError("the surface winds round nothing")
    ends, share, faces = new
    p, q = (low + cell_mm * _places(known[ends[:, k]]) for k in (0, 1))
    fine = to_manifold(Mesh(p + share[:, None] * (q - p), faces))
    simple = from_manifold(fine.simplify(SIMPLER_SHARE * cell_mm))
    return from_manifold(fine) if len(crossings(simple)) else simple


def _numbers(places: Ints) -> Ints:
    return (places[:, 0] * SPAN + places[:, 1]) * SPAN + places[:, 2]


def _places(numbers: Ints) -> Ints:
    return np.stack((numbers // SPAN // SPAN, numbers // SPAN % SPAN, numbers % SPAN), axis=1)


def _corners(cells: Ints) -> Ints:
    """(c, 8) numbers of the grid points of cells."""
    corners: Ints = cells[:, None] + _numbers(OFFSETS)
    return corners


def _beside(cells: Ints) -> Ints:
    """The cells with all that touch them."""
    around = _numbers(np.array([[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)]))
    return np.unique(cells[:, None] + around)


def _both(within: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(c,) bool: rows that hold points within and points without."""
    return np.asarray(within.any(axis=1) & ~within.all(axis=1))


def _beyond(cells: Ints, within: NDArray[np.bool_]) -> Ints:
    """The cells beside a face whose corners lie on both sides."""
    found = []
    for axis in range(3):
        step = int(_numbers(np.eye(3, dtype=np.int64)[[axis]])[0])
        for end, way in ((0, -step), (1, step)):
            face = within[:, OFFSETS[:, axis] == end]
            found.append(cells[_both(face)] + way)
    return np.concatenate(found)


def _cut(corners: Ints, values: Floats) -> tuple[Ints, Floats, Ints] | None:
    """The surface within cells: pairs of grid points it passes between, at which share, and triangles between those places."""
    pieces = []
    for path in permutations(range(3)):
        steps = np.cumsum([np.zeros(3, dtype=np.int64), *np.eye(3, dtype=np.int64)[list(path)]], axis=0)
        tetra = corners[:, steps @ np.array([4, 2, 1])]
        if np.linalg.det(steps[1:] - steps[0]) < 0:
            tetra = tetra[:, [0, 2, 1, 3]]
        pieces += _through(tetra, values)
    edges = np.concatenate(pieces) if pieces else np.zeros((0, 3, 2), dtype=np.int64)
    if not len(edges):
        return None
    pairs = np.sort(edges.reshape(-1, 2), axis=1)
    keys, which = np.unique(pairs[:, 0] * len(values) + pairs[:, 1], return_inverse=True)
    ends = np.stack((keys // len(values), keys % len(values)), axis=1)
    a, b = values[ends].T
    share = np.clip(a / (a - b), NEAREST_END, 1 - NEAREST_END)
    return ends, share, which.reshape(-1, 3)


def _through(tetra: Ints, values: Floats) -> list[Ints]:
    """Triangles that part the corners within of right-handed tetrahedra from those without, as (k, 3, 2) edges, facing outward."""
    within = values[tetra] < 0
    out = []
    for case in range(1, 15):
        inner = [k for k in range(4) if case >> k & 1]
        outer = [k for k in range(4) if k not in inner]
        chosen = tetra[(within == np.array([k in inner for k in range(4)])).all(axis=1)]
        if not len(chosen):
            continue
        even = np.linalg.det(np.eye(4)[[*inner, *outer]]) > 0
        triangles: tuple[tuple[tuple[int, int], ...], ...]
        if len(inner) == 2:
            (i, j), (k, m) = inner, outer if even else outer[::-1]
            triangles = (((i, k), (i, m), (j, m)), ((i, k), (j, m), (j, k)))
        elif len(inner) == 1:
            (i,), (j, k, m) = inner, outer if even else outer[::-1]
            triangles = (((i, j), (i, k), (i, m)),)
        else:
            (i, j, k), (m,) = (inner if even else inner[::-1]), outer
            triangles = (((i, m), (j, m), (k, m)),)
        out += [chosen[:, np.array(triangle)] for triangle in triangles]
    return out
