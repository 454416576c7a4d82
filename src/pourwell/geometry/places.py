"""Every fault of a mesh with its place: what a person must see to mend it, grouped as a person would count it [mm]."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.crossing import crossings
from pourwell.geometry.gap import gap_mm
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.solidity import Edges, bodies, edges_of, turned_out

SLIVER_SHARE: Final = 1e-6
"""A triangle less high over its longest side than this share of the piece's largest side is a sliver: about the rounding of single
precision, so that nothing is certain about which way it faces."""

FLAKE_SHARE: Final = 0.01
"""A body by itself that is smaller than this share of the piece is a flake: 0.2 mm of a ring, a fifth of the smallest grain that
is set by hand."""

WHOLE_SHARE: Final = 0.5
"""Flakes lie about a piece: some larger body is at least this share of all; else the mesh is a heap of small bodies."""


class FaultKind(StrEnum):
    """What can be wrong with a surface."""

    OPEN = "open edges"
    WINDING = "winding"
    EDGE = "edge of several sheets"
    VERTEX = "pinched corner"
    CROSSING = "crossing"
    SLIVER = "sliver"
    FLAKE = "flake"
    INVERTED = "inside out"


GRAVE: Final = frozenset((FaultKind.OPEN, FaultKind.WINDING, FaultKind.EDGE, FaultKind.CROSSING))
"""With one of these it is not certain what the surface encloses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One place where something is wrong."""

    kind: FaultKind
    at_mm: tuple[float, float, float]
    """A point of the surface in the middle of it."""
    count: int
    """Edges for open edges, winding and edges of several sheets; pairs of triangles for crossings; else triangles, or 1."""
    measure_mm: float
    """Length of its edges; how far sheets reach through each other; the largest side of a sliver or body; 0 for a corner."""
    extent_mm: float
    """Largest side of the box about it."""
    body: int
    """Which of the mesh's bodies, in the order of their first triangles."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """Bodies side by side in one mesh, so that those that only touch share no corner."""

    mesh: Mesh
    body: Ints
    """(m,) body of every triangle."""
    sound: NDArray[np.bool_]
    """(b,) closed, consistently wound bodies."""
    parts: Sequence[Mesh]


def find_faults(mesh: Mesh) -> tuple[Fault, ...]:
    """Every fault of a mesh, kind by kind and the largest first; equal corners are welded before.

    Parameters
    ----------
    mesh : any triangles [mm]; those with a corner that is no number are left out

    Returns
    -------
    One `Fault` a place: edges and triangles that hang together over corners are one place.
    """
    finite = np.asarray(np.isfinite(mesh.vertices).all(axis=1))
    if not finite.all():
        mesh = Mesh(np.where(finite[:, None], mesh.vertices, 0.0), mesh.faces[finite[mesh.faces].all(axis=1)])
    parts = bodies(mesh)
    if not parts:
        return ()
    starts = np.cumsum([0, *(len(part.vertices) for part in parts)])
    whole = Mesh(
        np.vstack([part.vertices for part in parts]),
        np.vstack([part.faces + start for part, start in zip(parts, starts, strict=False)]),
    )
    body = np.repeat(np.arange(len(parts)), [len(part.faces) for part in parts])
    edges = edges_of(whole)
    broken = np.bincount(body, weights=(~edges.regular)[edges.which].reshape(-1, 3).any(axis=1), minlength=len(parts))
    laid = _Parts(mesh=whole, body=body, sound=broken == 0, parts=parts)
    found = (
        *_edge_faults(laid, edges),
        *_pinched(laid, edges),
        *_crossing_faults(laid),
        *_slivers(laid),
        *_flakes(laid),
        *_inverted(laid),
    )
    order = list(FaultKind)
    return tuple(sorted(found, key=lambda fault: (order.index(fault.kind), -fault.measure_mm, fault.at_mm)))


def sliver_places(mesh: Mesh) -> tuple[Fault, ...]:
    """Where a mesh, taken as one body, has triangles without height, the longest first."""
    return tuple(sorted(_slivers(_one(mesh)), key=lambda fault: (-fault.measure_mm, fault.at_mm)))


def _one(mesh: Mesh) -> _Parts:
    """A mesh as one sound body."""
    body = np.zeros(len(mesh.faces), dtype=np.int64)
    return _Parts(mesh=mesh, body=body, sound=np.ones(1, dtype=bool), parts=(mesh,))


def crossing_places(mesh: Mesh) -> tuple[Fault, ...]:
    """Where a mesh, taken as one body with its corners welded, crosses itself, the deepest first."""
    return tuple(sorted(_crossing_faults(_one(mesh)), key=lambda fault: (-fault.measure_mm, fault.at_mm)))


def _grouped(vertex_count: int, links: Ints, members: Ints) -> Ints:
    """The group of every member, one corner of each given: groups hang together over links between corners."""
    graph = coo_matrix((np.ones(len(links)), tuple(links.T)), shape=(vertex_count,) * 2)
    label = connected_components(graph, directed=False)[1]
    return np.asarray(np.unique(label[members], return_inverse=True)[1], dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spots:
    """Members of places: a point, a size and the box about each."""

    at: Floats
    measure: Floats
    low: Floats
    high: Floats
    body: Ints


def _told(kind: FaultKind, group: Ints, spots: _Spots, *, total: bool) -> list[Fault]:
    """One fault a group; its measure is the sum of its members' or the largest."""
    if not len(group):
        return []
    order = np.argsort(group, kind="stable")
    first = np.flatnonzero(np.r_[True, np.diff(group[order]) > 0])
    count = np.diff(np.r_[first, len(group)])
    weigh = np.add if total else np.maximum
    measure = weigh.reduceat(spots.measure[order], first)
    low, high = np.minimum.reduceat(spots.low[order], first), np.maximum.reduceat(spots.high[order], first)
    middle = np.add.reduceat(spots.at[order], first) / count[:, None]
    away = np.linalg.norm(spots.at - middle[group], axis=1)
    nearest = np.lexsort((away, group))[first]
    out = []
    for k, spot in enumerate(nearest.tolist()):
        x, y, z = spots.at[spot].tolist()
        extent = float((high[k] - low[k]).max())
        out.append(
            Fault(
                kind=kind,
                at_mm=(x, y, z),
                count=int(count[k]),
                measure_mm=float(measure[k]),
                extent_mm=extent,
                body=int(spots.body[spot]),
            )
        )
    return out


def _edge_faults(laid: _Parts, edges: Edges) -> list[Fault]:
    """Open edges, edges whose triangles disagree, edges of more than two triangles."""
    kinds = (
        (FaultKind.OPEN, edges.count == 1),
        (FaultKind.WINDING, (edges.count == 2) & (edges.balance != 0)),
        (FaultKind.EDGE, edges.count > 2),
    )
    triangle = np.empty(len(edges.count), dtype=np.int64)
    triangle[edges.which] = np.arange(len(edges.which)) // 3
    out = []
    for kind, wrong in kinds:
        chosen = np.flatnonzero(wrong)
        if not len(chosen):
            continue
        ends = edges.ends[chosen]
        p, q = laid.mesh.vertices[ends[:, 0]], laid.mesh.vertices[ends[:, 1]]
        spots = _Spots(
            at=(p + q) / 2,
            measure=np.linalg.norm(p - q, axis=1),
            low=np.minimum(p, q),
            high=np.maximum(p, q),
            body=laid.body[triangle[chosen]],
        )
        out += _told(kind, _grouped(len(laid.mesh.vertices), ends, ends[:, 0]), spots, total=True)
    return out


def _pinched(laid: _Parts, edges: Edges) -> list[Fault]:
    """Corners where sheets of one body touch in a point only: its triangles there form more than one fan."""
    faces = laid.mesh.faces
    half = np.flatnonzero((edges.count == 2)[edges.which])
    one, two = half[np.argsort(edges.which[half], kind="stable")].reshape(-1, 2).T

    def corner_of(halves: NDArray[np.integer], vertex: NDArray[np.integer]) -> NDArray[np.integer]:
        """Which corner of the half edge's triangle lies at a vertex, as 3 t + k."""
        there = faces.reshape(-1)[halves] == vertex
        return np.where(there, halves, halves // 3 * 3 + (halves % 3 + 1) % 3)

    links = [
        np.stack((corner_of(one, ends), corner_of(two, ends)), axis=1)
        for ends in (edges.ends[edges.which[one], 0], edges.ends[edges.which[one], 1])
    ]
    joined = np.vstack(links)
    graph = coo_matrix((np.ones(len(joined)), tuple(joined.T)), shape=(faces.size,) * 2)
    fan_count, fan = connected_components(graph, directed=False)
    at = np.full(fan_count, -1)
    at[fan] = faces.reshape(-1)
    fans = np.bincount(at, minlength=len(laid.mesh.vertices))
    clean = np.ones(len(laid.mesh.vertices), dtype=bool)
    clean[edges.ends[edges.count != 2].reshape(-1)] = False  # a rim ends in half a fan
    chosen = np.flatnonzero((fans > 1) & clean)
    where = laid.mesh.vertices[chosen]
    owner = np.zeros(len(laid.mesh.vertices), dtype=np.int64)
    owner[faces] = laid.body[:, None]
    spots = _Spots(at=where, measure=np.zeros(len(chosen)), low=where, high=where, body=owner[chosen])
    return _told(FaultKind.VERTEX, np.arange(len(chosen)), spots, total=False)


def _crossing_faults(laid: _Parts) -> list[Fault]:
    """Triangles of one body that pass through each other."""
    met = crossings(laid.mesh)
    own = laid.body[met.pairs[:, 0]] == laid.body[met.pairs[:, 1]]
    pairs, at = met.pairs[own], met.at_mm[own]
    if not len(pairs):
        return []
    corners = laid.mesh.faces[pairs].reshape(-1, 6)
    links = np.stack((np.repeat(corners[:, :1], 5, axis=1), corners[:, 1:]), axis=2).reshape(-1, 2)
    spots = _Spots(at=at, measure=met.depth_mm[own], low=at, high=at, body=laid.body[pairs[:, 0]])
    return _told(FaultKind.CROSSING, _grouped(len(laid.mesh.vertices), links, corners[:, 0]), spots, total=False)


def _slivers(laid: _Parts) -> list[Fault]:
    """Triangles without height."""
    corners = laid.mesh.corners
    longest = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).max(axis=1)
    size = max(laid.mesh.envelope_mm)
    chosen = np.flatnonzero(2 * laid.mesh.areas <= longest * SLIVER_SHARE * size)
    faces = laid.mesh.faces[chosen]
    links = np.vstack((faces[:, :2], faces[:, 1:]))
    picked = corners[chosen]
    spots = _Spots(
        at=picked.mean(axis=1),
        measure=longest[chosen],
        low=picked.min(axis=1),
        high=picked.max(axis=1),
        body=laid.body[chosen],
    )
    return _told(FaultKind.SLIVER, _grouped(len(laid.mesh.vertices), links, faces[:, 0]), spots, total=False)


def flakes(parts: Sequence[Mesh]) -> tuple[int, ...]:
    """Which of some bodies are flakes: far smaller than the whole, and touching none of the others.

    Parameters
    ----------
    parts : bodies [mm], closed or not
    """
    if len(parts) < 2:
        return ()
    boxes = [part.bounds for part in parts]
    size = float((np.max([b[1] for b in boxes], axis=0) - np.min([b[0] for b in boxes], axis=0)).max())
    sides = np.array([(high - low).max() for low, high in boxes])
    small = np.flatnonzero(sides < FLAKE_SHARE * size).tolist()
    if not small or sides.max() < WHOLE_SHARE * size:
        return ()
    low, high = (np.array([box[k] for box in boxes]) for k in (0, 1))
    large = np.setdiff1d(np.arange(len(parts)), small)
    out = []
    for k in small:
        near = large[((low[large] <= high[k]) & (high[large] >= low[k])).all(axis=1)]  # boxes apart: the bodies are, too
        if all(gap_mm(parts[k], parts[other], search_mm=sides[k]) > 0 for other in near.tolist()):
            out.append(k)
    return tuple(out)


def _flakes(laid: _Parts) -> list[Fault]:
    return [_whole_body(FaultKind.FLAKE, laid, k) for k in flakes(laid.parts)]


def _inverted(laid: _Parts) -> list[Fault]:
    """Closed bodies wound inward that lie within no other."""
    closed = np.flatnonzero(laid.sound).tolist()
    if all(laid.parts[k].volume_mm3 > 0 for k in closed):
        return []
    _, turned = turned_out([laid.parts[k] for k in closed])
    return [_whole_body(FaultKind.INVERTED, laid, closed[k]) for k in turned]


def _whole_body(kind: FaultKind, laid: _Parts, number: int) -> Fault:
    """A fault of a body as a whole."""
    part = laid.parts[number]
    side = float(max(part.envelope_mm))
    return Fault(kind=kind, at_mm=place_on(part), count=1, measure_mm=side, extent_mm=side, body=number)


def place_on(part: Mesh) -> tuple[float, float, float]:
    """A place of a surface that stands for all of it: the middle of the triangle nearest to its own middle."""
    away = part.centres - np.mean(part.bounds, axis=0)
    x, y, z = part.centres[int(np.argmin(np.linalg.norm(away, axis=1)))].tolist()
    return x, y, z
