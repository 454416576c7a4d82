"""Is a mesh a solid, what is wrong with it if not, and the union of several solids [mm]."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pourwell.geometry.kernels.surface import mates, shells
from pourwell.geometry.mesh import Floats, Ints, Mesh

WELD_SHARE: Final = 1e-5
"""Corners nearer than this share of the largest side may be one corner: files that store single precision or six digits
round no coarser, and it is a hundredth of the finest print layer."""

SLIVER_SHARE: Final = 1e-14
"""A triangle with less area than this share of the largest side squared is degenerate: below the rounding of its corners."""

SAME_SHARE: Final = 1e-6
"""Two bodies whose volume, area and middle agree to this share are copies of one another."""

WITHIN_SHARE: Final = 0.5
"""A shell lies within a body if more than this share of it does; a true void lies within wholly."""


SAME_ANGLE: Final = 1e-6
"""Triangles about an edge within this angle [rad] lie in one plane: the rounding of single precision."""

MOST_SHARED_EDGES: Final = 20_000
"""Above so many edges of more than two triangles a mesh is a tangle, and its bodies are not told apart."""


class NotSolidError(ValueError):
    """A mesh that does not enclose a volume without doubt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What keeps a mesh from being a solid. Counts are of edges and triangles after equal corners were welded."""

    triangle_count: int
    open_edge_count: int
    """Edges with one triangle: a hole's rim."""
    nonmanifold_edge_count: int
    """Edges with more than two triangles."""
    inconsistent_edge_count: int
    """Edges whose two triangles disagree about which side is out."""
    degenerate_count: int
    """Triangles without area; they do no harm by themselves."""
    not_finite_count: int
    """Corners that are no numbers."""
    at_mm: tuple[float, float, float] | None
    """The middle of the first faulty edge; None if there is none."""

    @property
    def sound(self) -> bool:
        """Does the mesh enclose a volume without doubt."""
        return self.triangle_count > 0 and not (
            self.open_edge_count or self.nonmanifold_edge_count or self.inconsistent_edge_count or self.not_finite_count
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """The undirected edges of a mesh: `which` gives every half edge (three a triangle, in order) its edge."""

    which: Ints
    count: Ints
    balance: Ints
    """Half edges going up minus those going down: 0 where two triangles agree."""
    ends: Ints
    """(e, 2) vertices."""

    @property
    def regular(self) -> NDArray[np.bool_]:
        """(e,) bool: two triangles that agree."""
        agree: NDArray[np.bool_] = (self.count == 2) & (self.balance == 0)
        return agree


def edges_of(mesh: Mesh) -> Edges:
    """The edges of a mesh as it is numbered; weld it first."""
    start, end = mesh.faces.reshape(-1), np.roll(mesh.faces, -1, axis=1).reshape(-1)
    size = len(mesh.vertices) + 1
    keys, which = np.unique(np.minimum(start, end) * size + np.maximum(start, end), return_inverse=True)
    count = np.bincount(which, minlength=len(keys))
    balance = np.rint(np.bincount(which, weights=np.sign(end - start), minlength=len(keys))).astype(np.int64)
    return Edges(which=which, count=count, balance=balance, ends=np.stack((keys // size, keys % size), axis=1))


def _equal_rows(points: Floats) -> Ints:
    """(n,) int: the number of every row among the distinct rows, by exact equality, through a hash of the bits."""
    bits = np.ascontiguousarray(points + 0.0).view(np.uint64)  # + 0.0: minus zero equals zero
    odd = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], dtype=np.uint64)
    mixed = (bits ^ (bits >> np.uint64(29))) * odd
    mixed = (mixed ^ (mixed >> np.uint64(32))) * odd[::-1]
    marks = mixed[:, 0] ^ (mixed[:, 1] << np.uint64(1)) ^ (mixed[:, 2] << np.uint64(2))
    _, first, which = np.unique(marks, return_index=True, return_inverse=True)
    some = len(first) < len(points)
    if some and not np.array_equal(points[first[which]] + 0.0, points + 0.0, equal_nan=True):  # two rows share a hash
        _, which = np.unique(points + 0.0, axis=0, return_inverse=True)
    return np.asarray(which, dtype=np.int64).reshape(-1)


def _renumbered(mesh: Mesh, which: Ints) -> Mesh:
    """The mesh with vertices of one number made one; triangles that lose a corner by it are dropped."""
    faces = which[mesh.faces]
    kept = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    points = np.empty((int(which.max(initial=-1)) + 1, 3))
    points[which] = mesh.vertices
    used = np.zeros(len(points), dtype=bool)
    used[kept] = True
    return Mesh(points[used], (np.cumsum(used) - 1)[kept])


def weld(mesh: Mesh, *, tolerance_mm: float | None = None) -> Mesh:
    """The mesh with equal corners made one.

    Corners are welded where they are exactly equal. If that leaves a rim open and welding within a tolerance closes some
    of it, without making an edge of three triangles, that is taken.

    Parameters
    ----------
    tolerance_mm : [mm]; by default 1e-5 of the largest side; 0 for exact equality only
    """
    if not len(mesh.faces):
        return mesh
    exact = _renumbered(mesh, _equal_rows(mesh.vertices))
    if not len(exact.faces) or not np.isfinite(exact.vertices).all():
        return exact
    reach = WELD_SHARE * max(exact.envelope_mm) if tolerance_mm is None else tolerance_mm
    if reach <= 0 or _closed(exact):
        return exact
    before = edges_of(exact)
    if not (before.count == 1).any():
        return exact
    near = cKDTree(exact.vertices).query_pairs(reach, output_type="ndarray")
    graph = coo_matrix((np.ones(len(near)), (near[:, 0], near[:, 1])), shape=(len(exact.vertices),) * 2)
    loose = _renumbered(exact, connected_components(graph, directed=False)[1].astype(np.int64))
    if not len(loose.faces):
        return exact
    after = edges_of(loose)
    better = (after.count == 1).sum() < (before.count == 1).sum() and (after.count > 2).sum() <= (before.count > 2).sum()
    return loose if better else exact


def _closed(mesh: Mesh) -> bool:
    """Is every edge of a mesh, as it is numbered, one of two triangles that agree: told at once, where `edges_of` sorts."""
    return mates(mesh.faces, len(mesh.vertices))[1] == 0


def faults(mesh: Mesh) -> Faults:
    """What keeps a mesh from being a solid; equal corners are welded first."""
    finite = np.asarray(np.isfinite(mesh.vertices).all(axis=1))
    if not finite.all():
        mesh = Mesh(np.where(finite[:, None], mesh.vertices, 0.0), mesh.faces[finite[mesh.faces].all(axis=1)])
    welded = weld(mesh)
    lost = len(mesh.faces) - len(welded.faces)
    edges = edges_of(welded if not _closed(welded) else Mesh(welded.vertices, welded.faces[:0]))
    doubtful = np.flatnonzero(~edges.regular)
    at = welded.vertices[edges.ends[doubtful[0]]].mean(axis=0).tolist() if len(doubtful) else None
    least = SLIVER_SHARE * max(welded.envelope_mm) ** 2 if len(welded.faces) else 0.0
    return Faults(
        triangle_count=len(welded.faces),
        open_edge_count=int((edges.count == 1).sum()),
        nonmanifold_edge_count=int((edges.count > 2).sum()),
        inconsistent_edge_count=int(((edges.count == 2) & (edges.balance != 0)).sum()),
        degenerate_count=lost + int((welded.areas <= least).sum()),
        not_finite_count=int((~finite).sum()),
        at_mm=None if at is None else (at[0], at[1], at[2]),
    )


def _neighbours(edges: Edges, joining: NDArray[np.bool_]) -> Ints:
    """(p, 2) int: triangles next to each other over `joining` edges."""
    half = np.flatnonzero(joining[edges.which])
    half = half[np.argsort(edges.which[half], kind="stable")]
    same = np.flatnonzero(edges.which[half][1:] == edges.which[half][:-1])
    return np.stack((half[same] // 3, half[same + 1] // 3), axis=1)


def _split(mesh: Mesh, pairs: Ints) -> tuple[Mesh, ...]:
    """The parts of a mesh that hang together over pairs of triangles."""
    graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), tuple(pairs.T)), shape=(len(mesh.faces),) * 2)
    return _parted(mesh, connected_components(graph, directed=False)[1])


def _parted(mesh: Mesh, labels: NDArray[np.integer]) -> tuple[Mesh, ...]:
    """The parts of a mesh whose vertices are all used, by the labels of their triangles."""
    if not labels.any():
        return (mesh,)
    order = np.argsort(labels, kind="stable")
    cuts = np.flatnonzero(np.diff(labels[order])) + 1
    out = []
    for chosen in np.split(order, cuts):
        used, faces = np.unique(mesh.faces[chosen], return_inverse=True)
        out.append(Mesh(mesh.vertices[used], faces.reshape(-1, 3)))
    return tuple(out)


def _wedges(mesh: Mesh, half: Ints, ends: Ints) -> list[tuple[int, int]]:
    """The triangles of these half edges, which all lie along one edge, paired so that each pair has material between them.

    Going round the edge, a triangle with its inner side ahead opens a wedge of material and the next one with its inner
    side behind closes it; of two in one plane, the closing one comes first.
    """
    low, high = ends
    triangle, opening = half // 3, mesh.faces.reshape(-1)[half] != low
    across = mesh.faces[triangle].sum(axis=1) - low - high
    axis = mesh.vertices[high] - mesh.vertices[low]
    spokes = mesh.vertices[across] - mesh.vertices[low]
    u = np.cross(axis, spokes[0])
    v = np.cross(axis, u)  # as long as u times the axis, so the angle is in true proportion after that is divided out
    angle = np.arctan2(spokes @ v, (spokes @ u) * np.linalg.norm(axis))
    step = np.rint(angle / SAME_ANGLE) % round(2 * np.pi / SAME_ANGLE)
    order = np.lexsort((opening, step)).tolist()
    pairs: list[tuple[int, int]] = []
    waiting: list[int] = []
    closed: set[int] = set()
    for k in order * 2:
        if opening[k]:
            if k not in closed and k not in waiting:
                waiting.append(k)
        elif waiting and k not in closed:
            mate = waiting.pop()
            closed |= {k, mate}
            pairs.append((int(triangle[mate]), int(triangle[k])))
    return pairs


def bodies(mesh: Mesh) -> tuple[Mesh, ...]:
    """The connected bodies of a mesh, welded, in the order of their first triangles.

    Triangles connect over shared edges. Solids that only touch along edges or faces are told apart: where an edge has
    more than two triangles, those with material between them belong together, if every part is then closed.
    """
    welded = weld(mesh)
    if not len(welded.faces):
        return ()
    mate, wrong = mates(welded.faces, len(welded.vertices))
    if not wrong:
        return _parted(welded, shells(mate))
    edges = edges_of(welded)
    parts = _split(welded, _neighbours(edges, np.ones(len(edges.count), dtype=bool)))
    if not (edges.count > 2).any():
        return parts
    return tuple(body for part in parts for body in _touching(part, edges_of(part)))


def _touching(part: Mesh, edges: Edges) -> tuple[Mesh, ...]:
    """The solids of a part that only touch one another; the part itself where it cannot be told."""
    many = np.flatnonzero(edges.count > 2)
    if not len(many) or len(many) > MOST_SHARED_EDGES or edges.balance.any() or (edges.count % 2).any():
        return (part,)
    order = np.argsort(edges.which, kind="stable")
    first = np.searchsorted(edges.which[order], many)
    wedges = [
        pair
        for edge, start in zip(many.tolist(), first.tolist(), strict=True)
        for pair in _wedges(part, order[start : start + edges.count[edge]], edges.ends[edge])
    ]
    finer = _split(part, np.vstack((_neighbours(edges, edges.regular), np.array(wedges, dtype=np.int64).reshape(-1, 2))))
    return finer if all(edges_of(f).regular.all() for f in finer) else (part,)


def to_manifold(mesh: Mesh) -> manifold3d.Manifold:
    """The mesh in the boolean engine. Raises NotSolidError with its verdict if the mesh is not a solid."""
    solid = manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64)))
    if solid.status() != manifold3d.Error.NoError:
        raise NotSolidError(f"the mesh is not a closed solid ({solid.status().name})")
    if solid.is_empty():
        raise NotSolidError("the mesh encloses nothing")
    return solid


def from_manifold(solid: manifold3d.Manifold) -> Mesh:
    """The mesh of a solid, with corners that the engine keeps apart for their normals welded."""
    got = solid.to_mesh64()
    points = np.asarray(got.vert_properties, dtype=np.float64)[:, :3]
    faces = np.asarray(got.tri_verts, dtype=np.int64)
    which = np.arange(len(points))
    which[np.asarray(got.merge_from_vert, dtype=np.int64)] = np.asarray(got.merge_to_vert, dtype=np.int64)
    used, inverse = np.unique(which[faces], return_inverse=True)
    return Mesh(points[used], inverse.reshape(-1, 3))


def inside_out(mesh: Mesh) -> Mesh:
    """The mesh with every triangle turned over."""
    return Mesh(mesh.vertices, mesh.faces[:, ::-1])


def repeats(meshes: Sequence[Mesh]) -> tuple[int, ...]:
    """Which of these bodies are copies, in the same place, of an earlier one."""
    if not meshes:
        return ()
    size = max(max(m.envelope_mm) for m in meshes)
    marks = np.array([[m.volume_mm3 / size**3, m.area_mm2 / size**2, *(np.concatenate(m.bounds) / size)] for m in meshes])
    out = []
    for k in range(1, len(meshes)):
        close = np.abs(marks[:k] - marks[k]).max(axis=1) <= SAME_SHARE
        if any(close[i] and _same_points(meshes[i], meshes[k], size) for i in range(k)):
            out.append(k)
    return tuple(out)


def _same_points(a: Mesh, b: Mesh, size: float) -> bool:
    if len(a.vertices) != len(b.vertices):
        return False
    return bool(cKDTree(a.vertices).query(b.vertices)[0].max() <= SAME_SHARE * size)


def turned_out(meshes: Sequence[Mesh]) -> tuple[tuple[Mesh, ...], tuple[int, ...]]:
    """Closed bodies with those turned over that are inside out: wound inward, but within no other body.

    Returns
    -------
    the bodies, and the numbers of those that were turned
    """
    inner = hosts(meshes)
    turned = tuple(k for k, mesh in enumerate(meshes) if mesh.volume_mm3 < 0 and k not in inner)
    return tuple(inside_out(mesh) if k in turned else mesh for k, mesh in enumerate(meshes)), turned


def hosts(meshes: Sequence[Mesh]) -> dict[int, int]:
    """Of closed bodies those that are hollows in another, wound inward, by number: which outward one each lies within."""
    if all(m.volume_mm3 > 0 for m in meshes):
        return {}
    solids = [to_manifold(m if m.volume_mm3 > 0 else inside_out(m)) for m in meshes]
    found = {k: _host(k, meshes, solids) for k, mesh in enumerate(meshes) if mesh.volume_mm3 < 0}
    return {k: host for k, host in found.items() if host is not None}


def _host(k: int, meshes: Sequence[Mesh], solids: Sequence[manifold3d.Manifold]) -> int | None:
    """The smallest outward body that an inward shell lies within, or None."""
    low, high = meshes[k].bounds
    hosts = []
    for i, mesh in enumerate(meshes):
        if mesh.volume_mm3 <= 0 or mesh.volume_mm3 < abs(meshes[k].volume_mm3):
            continue
        other_low, other_high = mesh.bounds
        if (other_low < high).all() and (low < other_high).all():
            common = (solids[i] ^ solids[k]).volume()
            if common > WITHIN_SHARE * solids[k].volume():
                hosts.append((mesh.volume_mm3, i))
    return min(hosts)[1] if hosts else None


def unite(meshes: Sequence[Mesh]) -> tuple[Mesh, float]:
    """One solid of several closed bodies, which may overlap.

    A shell wound inward within another body is a void and is taken out of that body; one within no other is inside out
    and is turned over. A single outward body comes back as it is.

    Returns
    -------
    solid : Mesh [mm]
    overlap_mm3 : [mm3], what the bodies counted twice: the sum of their volumes less the volume of the union

    Raises
    ------
    NotSolidError if a body is not closed.
    """
    bodies_in, _ = turned_out(meshes)
    if len(bodies_in) == 1:
        if not faults(bodies_in[0]).sound:
            raise NotSolidError("the mesh is not a closed solid")
        return weld(bodies_in[0]), 0.0
    solids = [to_manifold(m if m.volume_mm3 > 0 else inside_out(m)) for m in bodies_in]
    voids: dict[int, list[manifold3d.Manifold]] = {}
    for k, mesh in enumerate(bodies_in):
        if mesh.volume_mm3 < 0:
            host = _host(k, bodies_in, solids)
            if host is not None:  # turned_out left only shells that have one
                voids.setdefault(host, []).append(solids[k])
    filled = [
        manifold3d.Manifold.batch_boolean([solids[k], *voids[k]], manifold3d.OpType.Subtract) if k in voids else solids[k]
        for k, mesh in enumerate(bodies_in)
        if mesh.volume_mm3 > 0
    ]
    union = manifold3d.Manifold.batch_boolean(filled, manifold3d.OpType.Add)
    overlap = sum(f.volume() for f in filled) - union.volume()
    return from_manifold(union), max(overlap, 0.0)
