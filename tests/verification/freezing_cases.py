"""Meshes and materials that the tests of the freezing solver share: lines, cross-sections of rings, shapes as formulas."""

import math

import numpy as np

from pourwell.physics.boundary import Film, Surroundings
from pourwell.physics.conduction import Setting
from pourwell.physics.mesh import ABOVE, BELOW, METAL, MOULD, SIDE, Mesh
from pourwell.physics.properties import Melt, inert, pure, ranged
from pourwell.units import k_from_c

STERLING = Melt(
    density=9700, solid_heat_capacity=300, liquid_heat_capacity=300, latent=105e3, solid_conductivity=300, liquid_conductivity=170
)
RANGED = ranged(STERLING, solidus=k_from_c(802), liquidus=k_from_c(893))
PLASTER = inert(density=1150, heat_capacity=1050, conductivity=0.5)
"""The materials of the study whose ring reference is used here."""
ALONE = Surroundings()


def graph(*, volume, kind, centre, faces, outer=None, index=None):
    """A mesh from cells and faces: faces (first, second, area, near, far); outer (cell, area, depth, face)."""
    n = volume.size
    first, second, area, near, far = faces
    cell, outer_area, depth, face = outer or (np.empty(0, int), np.empty(0), np.empty(0), np.empty(0, int))
    return Mesh(
        volume=np.array(volume, float),
        kind=np.array(kind, np.int8),
        centre=np.array(centre, float),
        level=np.zeros(n, np.int8),
        index=np.array(index, np.int32),
        body=np.where(np.array(kind) == METAL, 0, -1).astype(np.int32),
        first=np.array(first, np.int32),
        second=np.array(second, np.int32),
        area=np.array(area, float),
        near=np.array(near, float),
        far=np.array(far, float),
        outer_cell=np.array(cell, np.int32),
        outer_area=np.array(outer_area, float),
        outer_depth=np.array(depth, float),
        outer_face=np.array(face, np.int8),
    )


def line(edges, metal):
    """A row of cells of one square metre between edges (n + 1,) [m]; from BELOW to ABOVE; metal(x) tells which."""
    edges = np.asarray(edges, float)
    x, wide = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    n = x.size
    one, zero = np.ones(n - 1), np.zeros(n)
    return graph(
        volume=wide,
        kind=np.where(metal(x), METAL, MOULD),
        centre=np.stack([x, zero, zero], axis=1),
        faces=(np.arange(n - 1), np.arange(1, n), one, 0.5 * wide[:-1], 0.5 * wide[1:]),
        outer=([0, n - 1], [1.0, 1.0], [0.5 * wide[0], 0.5 * wide[-1]], [BELOW, ABOVE]),
        index=np.stack([np.arange(n), 0 * np.arange(n), 0 * np.arange(n)], axis=1),
    )


def growing(inner, low, high, *, step, factor):
    """Edges evenly `step` apart over `inner` (from, to), wider and wider outside, to low and high [m]."""
    count = round((inner[1] - inner[0]) / step)
    edges = list(np.linspace(*inner, count + 1))
    for towards, end in ((1, high), (-1, low)):
        wide = step
        while abs(end - edges[-1 if towards > 0 else 0]) > 1.5 * wide:
            wide *= factor
            place = edges[-1] + wide if towards > 0 else edges[0] - wide
            edges.insert(len(edges) if towards > 0 else 0, place)
        if abs(end - edges[-1 if towards > 0 else 0]) > 1e-12:
            edges.insert(len(edges) if towards > 0 else 0, end)
    return np.array(edges)


def turned(radii, heights, metal):
    """Cross-section of a body of revolution: radii (r + 1,), heights (z + 1,) [m] of the edges; metal(r, z) tells which."""
    r, z = 0.5 * (radii[1:] + radii[:-1]), 0.5 * (heights[1:] + heights[:-1])
    nr, nz = r.size, z.size
    number = np.arange(nr * nz).reshape(nr, nz)
    ring, tall = math.pi * np.diff(radii**2), np.diff(heights)
    around = 2 * math.pi * radii[1:-1, None] * tall[None]
    across = np.broadcast_to(ring[:, None], (nr, nz - 1))
    half_r = np.broadcast_to(0.5 * np.diff(radii)[:, None], (nr, nz))
    half_z = np.broadcast_to(0.5 * tall[None], (nr, nz))
    parts = [
        (number[:-1], number[1:], around, half_r[:-1], half_r[1:]),
        (number[:, :-1], number[:, 1:], across, half_z[:, :-1], half_z[:, 1:]),
    ]
    zero = np.zeros(nr * nz)
    place = np.stack([np.repeat(np.arange(nr), nz), np.tile(np.arange(nz), nr), zero], axis=1)
    return graph(
        volume=(ring[:, None] * tall[None]).ravel(),
        kind=np.where(metal(r[:, None], z[None, :]), METAL, MOULD).ravel(),
        centre=np.stack([np.repeat(r, nz), zero, np.tile(z, nr)], axis=1),
        faces=tuple(np.concatenate([p[i].ravel() for p in parts]) for i in range(5)),
        index=place,
    )


def shells(edges, metal, *, power):
    """Shells between radii (n + 1,) [m] of a ball (power 2), of a metre of a cylinder (1); inner face BELOW, outer face ABOVE."""
    edges = np.asarray(edges, float)
    r, wide, n = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges), edges.size - 1
    around = {1: 2 * math.pi, 2: 4 * math.pi}[power]
    area, zero = around * edges**power, np.zeros(n)
    ends = ([0, n - 1], area[[0, -1]], 0.5 * wide[[0, -1]], [BELOW, ABOVE])
    return graph(
        volume=around * np.diff(edges ** (power + 1)) / (power + 1),
        kind=np.where(metal(r), METAL, MOULD),
        centre=np.stack([r, zero, zero], axis=1),
        faces=(np.arange(n - 1), np.arange(1, n), area[1:-1], 0.5 * wide[:-1], 0.5 * wide[1:]),
        outer=ends,
        index=np.stack([np.arange(n), zero, zero], axis=1),
    )


def flat(x, y, metal):
    """A section between edges x (i + 1,), y (j + 1,) [m], a metre deep: y = least is BELOW, greatest ABOVE, x = greatest SIDE."""
    wide, tall = np.diff(x), np.diff(y)
    i, j = wide.size, tall.size
    number, zero = np.arange(i * j).reshape(i, j), np.zeros(i * j)
    half_x, half_y = (np.broadcast_to(0.5 * a, (i, j)) for a in (wide[:, None], tall[None]))
    parts = [
        (number[:-1], number[1:], np.broadcast_to(tall[None], (i - 1, j)), half_x[:-1], half_x[1:]),
        (number[:, :-1], number[:, 1:], np.broadcast_to(wide[:, None], (i, j - 1)), half_y[:, :-1], half_y[:, 1:]),
    ]
    ends = [
        (number[:, 0], wide, half_y[:, 0], BELOW),
        (number[:, -1], wide, half_y[:, -1], ABOVE),
        (number[-1], tall, half_x[-1], SIDE),
    ]
    a, b = np.meshgrid(0.5 * (x[1:] + x[:-1]), 0.5 * (y[1:] + y[:-1]), indexing="ij")
    return graph(
        volume=np.outer(wide, tall).ravel(),
        kind=np.where(metal(a, b), METAL, MOULD).ravel(),
        centre=np.stack([a.ravel(), b.ravel(), zero], axis=1),
        faces=tuple(np.concatenate([p[k].ravel() for p in parts]) for k in range(5)),
        outer=tuple(np.concatenate([np.broadcast_to(e[k], e[0].shape) for e in ends]) for k in range(4)),
        index=np.stack([np.repeat(np.arange(i), j), np.tile(np.arange(j), i), zero], axis=1),
    )


def ring(points, *, axis=(0, 0, 1), middle=(0, 0, 0.02), inner=8.5e-3, outer=10.5e-3, wide=3e-3):
    """Distance from a plain band [m]."""
    q, a = points - np.array(middle), np.array(axis) / np.linalg.norm(axis)
    along = q @ a
    r = np.sqrt(np.maximum((q**2).sum(axis=1) - along**2, 0))
    u, v = np.abs(r - 0.5 * (inner + outer)) - 0.5 * (outer - inner), np.abs(along) - 0.5 * wide
    return np.minimum(np.maximum(u, v), 0) + np.hypot(np.maximum(u, 0), np.maximum(v, 0))


def ball(points, *, radius, middle=(0, 0, 0)):
    """Distance from a ball [m]."""
    return np.linalg.norm(points - np.array(middle), axis=1) - radius


def setting(metal=RANGED, mould=PLASTER, *, around=ALONE, contact=None):
    """Mould and metal in their surroundings."""
    return Setting(substances=(mould, metal), surroundings=around, contact=contact)


def poured(mesh, metal=1000.0, mould=500.0):
    """Temperatures [K] at the pour, given in degC."""
    return np.where(mesh.kind == METAL, k_from_c(metal), k_from_c(mould))


def held(celsius, *, coefficient=1e9):
    """A face held at a temperature."""
    return Film(coefficient=coefficient, outside=k_from_c(celsius))


def melted_at(celsius, melt=STERLING):
    """A metal that freezes at one temperature."""
    return pure(melt, at=k_from_c(celsius))
