"""Signed distance from points to solids [mm]: exact everywhere, negative inside, millions of points a second.

The value is that of the nearest triangle, found through a tree of boxes; the side comes from pseudo-normals at faces, edges and
corners, or, where these cannot be trusted, from the winding number. Several bodies are joined by the least of their distances:
outside and on the surface of their union that is exact; inside, where bodies overlap, it is a lower bound of the depth. Either
way it changes by no more than the point moves.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from pourwell.errors import BadDataError
from pourwell.geometry.gap import holds
from pourwell.geometry.kernels.compiled import in_parts, thread_count
from pourwell.geometry.kernels.nearest import signed_distances
from pourwell.geometry.kernels.surface import mates, shells
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.planting import planted
from pourwell.geometry.solidity import Faults, faults, weld

CHUNK: Final = 65_536
"""Points that a thread takes at a time, at most: its share of memory beside the points and the answers."""


class SignedDistance:
    """Solids made ready for many questions; safe to ask from several threads.

    Parameters
    ----------
    bodies : closed meshes [mm], manifold and wound anticlockwise seen from outside; they may touch, overlap, or lie within one
        another, and each may have several shells: one wound inward, within an outward one, is a void

    Raises
    ------
    BadDataError for a mesh that is empty, open, or not consistently wound, that has corners that are no numbers, or a shell
    that is inside out.
    """

    def __init__(self, bodies: Mesh | Sequence[Mesh]) -> None:
        meshes = (bodies,) if isinstance(bodies, Mesh) else tuple(bodies)
        if not meshes:
            raise BadDataError("There is nothing to measure the distance to.", try_this="Give one closed mesh or more.")
        with ThreadPoolExecutor(thread_count()) as pool:
            sound = list(pool.map(_solids, meshes, range(len(meshes))))
        solids = _hollowed([(part, number) for number, parts in enumerate(sound) for part in parts])
        corners = np.array([(m.vertices.min(axis=0), m.vertices.max(axis=0)) for m, _ in solids])
        self._middle: Floats = (corners[:, 0].min(axis=0) + corners[:, 1].max(axis=0)) / 2
        self._trees = planted([part for part, _ in solids], self._middle)
        self._body: Ints = np.array([number for _, number in solids])

    def __call__(self, points: ArrayLike) -> Floats:
        """Distance from every point to the nearest surface, negative inside a body.

        Parameters
        ----------
        points : (n, 3) float array [mm]; neighbours in space are best neighbours in the array

        Returns
        -------
        (n,) float array [mm]

        Raises
        ------
        BadDataError for points of another shape or that are no numbers.
        """
        return self.nearest(points)[0]

    def nearest(self, points: ArrayLike) -> tuple[Floats, Ints]:
        """Distance as above, and which body it is to.

        Returns
        -------
        distance_mm : (n,) float array [mm]
        body : (n,) int array, place in the bodies given; where bodies overlap, the one that the point lies deepest in
        """
        asked = _checked(points)
        distance, shell = np.empty(len(asked)), np.empty(len(asked), dtype=np.int64)

        def some(part: slice) -> None:
            signed_distances(self._trees, asked[part] - self._middle, (distance[part], shell[part]))

        in_parts(some, len(asked), most=CHUNK)
        return distance, self._body[shell]


def _checked(points: ArrayLike) -> Floats:
    """Points as a (n, 3) float array."""
    asked = np.ascontiguousarray(points, dtype=np.float64)
    if asked.ndim != 2 or asked.shape[1] != 3:
        raise BadDataError(f"Points are rows of x, y, z; these have the shape {asked.shape}.")
    finite = np.isfinite(asked).all(axis=1)
    if not finite.all():
        first = int(np.argmin(finite))
        raise BadDataError(f"Point {first} is not at a place: {asked[first].tolist()}.", why=f"{int((~finite).sum())} are not.")
    return asked


def _solids(mesh: Mesh, number: int) -> list[Mesh]:
    """The shells of a body, their corners welded."""
    if not len(mesh.faces) or not np.isfinite(mesh.vertices[mesh.faces]).all():
        raise _not_closed(number, faults(mesh))
    held = np.zeros(len(mesh.vertices), dtype=bool)
    held[mesh.faces] = True
    if not held.all():
        mesh = Mesh(mesh.vertices[held], (np.cumsum(held) - 1)[mesh.faces])
    mate, wrong = mates(mesh.faces, len(mesh.vertices))
    if wrong:  # corners in one place may have numbers of their own
        mesh = weld(mesh, tolerance_mm=0.0)
        mate, wrong = mates(mesh.faces, len(mesh.vertices))
    if wrong or not len(mesh.faces):
        raise _not_closed(number, faults(mesh))
    label = shells(mate)
    if not label.any():
        return [mesh]
    parts = []
    for chosen in range(int(label.max()) + 1):
        used, faces = np.unique(mesh.faces[label == chosen], return_inverse=True)
        parts.append(Mesh(mesh.vertices[used], faces.reshape(-1, 3)))
    return parts


def _hollowed(parts: Sequence[tuple[Mesh, int]]) -> list[tuple[Mesh, int]]:
    """Outward shells with the voids that lie within them, each with the number of its body."""
    volumes = [mesh.volume_mm3 for mesh, _ in parts]
    outward = [part for part, volume in zip(parts, volumes, strict=True) if volume > 0]
    if len(outward) == len(parts):
        return outward
    voids: dict[int, list[Mesh]] = {}
    for (mesh, number), volume in zip(parts, volumes, strict=True):
        if volume > 0:
            continue
        point = mesh.vertices[mesh.faces[0, 0]]
        hosts = [(host.volume_mm3, k) for k, (host, _) in enumerate(outward) if _around(host, point)]
        if not hosts:
            raise BadDataError(
                f"Body {number} is inside out, or a part of it is: its triangles are wound clockwise seen from outside.",
                try_this="Turn its triangles over.",
            )
        voids.setdefault(min(hosts)[1], []).append(mesh)
    return [(_joined([mesh, *voids.get(k, ())]), number) for k, (mesh, number) in enumerate(outward)]


def _around(mesh: Mesh, point: Floats) -> bool:
    """Does a shell lie round a point."""
    low, high = mesh.bounds
    return bool((low <= point).all() and (point <= high).all()) and holds(mesh, point)


def _joined(parts: Sequence[Mesh]) -> Mesh:
    """Several meshes as one."""
    starts = np.cumsum([0, *(len(p.vertices) for p in parts)])
    return Mesh(np.vstack([p.vertices for p in parts]), np.vstack([p.faces + s for p, s in zip(parts, starts[:-1], strict=True)]))


def _not_closed(number: int, found: Faults) -> BadDataError:
    """What is wrong with a body that encloses nothing for certain."""
    counts = {
        "open edges": found.open_edge_count,
        "edges of more than two triangles": found.nonmanifold_edge_count,
        "edges whose triangles disagree about which side is out": found.inconsistent_edge_count,
        "corners that are no numbers": found.not_finite_count,
    }
    told = ", ".join(f"{count} {what}" for what, count in counts.items() if count)
    return BadDataError(
        f"Body {number} is not a closed solid, so that nothing is inside or outside of it.",
        why=f"It has {told}." if told else "It has no triangles.",
        try_this="Mend the mesh first; solids that touch along an edge must be given as bodies of their own.",
    )
