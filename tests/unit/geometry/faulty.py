"""Sound pieces with one fault put in, and where."""

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold, weld
from tests.unit.files.pattern_files import joined


def fine(mesh: Mesh, side_mm: float) -> Mesh:
    """The same solid in triangles with sides no longer than this."""
    return from_manifold(to_manifold(weld(mesh)).refine_to_length(side_mm))


def without(mesh: Mesh, *faces: int) -> Mesh:
    return Mesh(mesh.vertices, np.delete(mesh.faces, faces, axis=0))


def flipped(mesh: Mesh, *faces: int) -> Mesh:
    changed = mesh.faces.copy()
    changed[list(faces)] = changed[list(faces), ::-1]
    return Mesh(mesh.vertices, changed)


def repeated(mesh: Mesh, face: int) -> Mesh:
    return Mesh(mesh.vertices, np.vstack((mesh.faces, mesh.faces[[face]])))


def pushed(mesh: Mesh, at: tuple[float, float, float], depth_mm: float) -> Mesh:
    """The corner nearest to a place pushed inward by so much."""
    points = mesh.vertices.copy()
    corner = int(np.argmin(np.linalg.norm(points - np.array(at), axis=1)))
    around = (mesh.faces == corner).any(axis=1)
    inward = -mesh.area_vectors[around].sum(axis=0)
    points[corner] += inward / np.linalg.norm(inward) * depth_mm
    return Mesh(points, mesh.faces)


def flake(at: np.ndarray, size_mm: float) -> Mesh:
    """A closed speck of four triangles."""
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]) * size_mm + at
    return Mesh(points, [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])


def with_flake(mesh: Mesh, face: int) -> Mesh:
    """With a speck of 0.05 mm that hovers 0.2 mm over a triangle."""
    return joined(mesh, flake(mesh.centres[face] + 0.2 * mesh.normals[face], 0.05))


def shuffled(mesh: Mesh, seed: int) -> Mesh:
    """The same triangles in another order, from another corner, with other numbers."""
    rng = np.random.default_rng(seed)
    faces = rng.permutation(mesh.faces)
    turn = rng.integers(0, 3, len(faces))
    faces = np.take_along_axis(faces, (np.arange(3) + turn[:, None]) % 3, axis=1)
    order = rng.permutation(len(mesh.vertices))
    return Mesh(mesh.vertices[order], np.argsort(order)[faces])


def halved(mesh: Mesh) -> Mesh:
    """Every triangle as four, through the middles of its sides."""
    from pourwell.geometry.solidity import edges_of

    edges = edges_of(mesh)
    middles = mesh.vertices[edges.ends].mean(axis=1)
    m = edges.which.reshape(-1, 3) + len(mesh.vertices)
    a, b, c = mesh.faces.T
    faces = np.vstack([np.stack(t, axis=1) for t in ((a, m[:, 0], m[:, 2]), (m[:, 0], b, m[:, 1]), (m[:, 2], m[:, 1], c), (*m.T,))])
    return Mesh(np.vstack((mesh.vertices, middles)), faces)
