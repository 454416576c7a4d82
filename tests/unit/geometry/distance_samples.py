"""Meshes that the tests of the signed distance share."""

import numpy as np

from pourwell.geometry.mesh import Mesh

CUBE_FACES = [
    [0, 2, 1], [1, 2, 3], [4, 5, 6], [5, 7, 6], [0, 1, 4], [1, 5, 4], [2, 6, 3], [3, 6, 7], [0, 4, 2], [2, 4, 6],
    [1, 3, 5], [3, 7, 5],
]  # fmt: skip


def box(low, high):
    """A box between two corners, twelve triangles."""
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    unit = np.array([[x, y, z] for z in (0, 1) for y in (0, 1) for x in (0, 1)])
    return Mesh(low + unit * (high - low), np.array(CUBE_FACES))


def box_distance(points, low, high):
    """Signed distance to a box in closed form."""
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    off = np.abs(points - (low + high) / 2) - (high - low) / 2
    return np.linalg.norm(np.maximum(off, 0), axis=1) + np.minimum(off.max(axis=1), 0)


def beside(*meshes):
    """Several meshes as one, their corners kept apart."""
    starts = np.cumsum([0, *(len(m.vertices) for m in meshes)])
    return Mesh(np.vstack([m.vertices for m in meshes]), np.vstack([m.faces + s for m, s in zip(meshes, starts, strict=False)]))


def turned_over(mesh):
    """The mesh inside out."""
    return Mesh(mesh.vertices, mesh.faces[:, ::-1])


def soup(mesh):
    """The mesh with three corners of its own for every triangle, as a file of single facets has it."""
    return Mesh(mesh.corners.reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3))


def icosphere(radius, *, halvings):
    """A sphere about the origin from an octahedron, every triangle quartered again and again; corners on the sphere."""
    points = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
    triangles = np.array(points, dtype=float)[
        [(0, 2, 4), (2, 1, 4), (1, 3, 4), (3, 0, 4), (2, 0, 5), (1, 2, 5), (3, 1, 5), (0, 3, 5)]
    ]
    for _ in range(halvings):
        a, b, c = np.moveaxis(triangles, 1, 0)
        ab, bc, ca = a + b, b + c, c + a
        triangles = np.concatenate([np.stack(t, axis=1) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
        triangles /= np.linalg.norm(triangles, axis=2, keepdims=True)
    rounded = np.round(triangles.reshape(-1, 3), 9)
    _, first, which = np.unique(rounded, axis=0, return_index=True, return_inverse=True)
    return Mesh(radius * triangles.reshape(-1, 3)[first], which.reshape(-1, 3))


def shaken(mesh, *, by, seed):
    """The mesh with every corner moved at random."""
    return Mesh(mesh.vertices + np.random.default_rng(seed).normal(scale=by, size=mesh.vertices.shape), mesh.faces)


def swept(profile, *, around, radius):
    """A ring: a closed (k, 2) outline (out, up), anticlockwise, carried round the z axis at a radius; corners on the surface."""
    turn = 2 * np.pi * np.arange(around) / around
    out = radius + np.asarray(profile)[:, 0]
    up = np.asarray(profile)[:, 1]
    points = np.stack([np.outer(np.cos(turn), out), np.outer(np.sin(turn), out), np.tile(up, (around, 1))], axis=-1)
    k = len(out)
    i, j = np.meshgrid(np.arange(around), np.arange(k), indexing="ij")
    a, b = i * k + j, (i + 1) % around * k + j
    c, d = (i + 1) % around * k + (j + 1) % k, i * k + (j + 1) % k
    faces = np.concatenate([np.stack((a, b, c), axis=-1).reshape(-1, 3), np.stack((a, c, d), axis=-1).reshape(-1, 3)])
    return Mesh(points.reshape(-1, 3), faces)


def turned(rng):
    """A rotation at random, (3, 3)."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else -q
