"""Second opinions on ray hits: every triangle tried by the published test, and trimesh's own, against both our engines.

Truth: T. Moeller and B. Trumbore, "Fast, minimum storage ray/triangle intersection", Journal of Graphics Tools 2 (1997) 21 to 28.
"""

import numpy as np
import pytest
from trimesh.ray.ray_triangle import ray_triangle_id

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import weld
from tests.unit.files.pattern_files import joined
from tests.unit.geometry.faulty import flipped, without

COUNT = 400
EDGE = 1e-6
"""Rays that pass nearer to an edge than this share of a triangle may be given to either neighbour."""


def moeller_trumbore(mesh: Mesh, origins: np.ndarray, heading: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Distance of the first hit (inf for none), its triangle (-1), and how near to an edge any hit or miss was decided."""
    a, b, c = np.moveaxis(mesh.corners, 1, 0)
    e1, e2 = b - a, c - a
    distance, face, doubt = np.full(len(origins), np.inf), np.full(len(origins), -1), np.full(len(origins), np.inf)
    for k, (o, d) in enumerate(zip(origins, heading, strict=True)):
        p = np.cross(d, e2)
        det = np.einsum("ij,ij->i", e1, p)
        with np.errstate(all="ignore"):
            t_vec = o - a
            u = np.einsum("ij,ij->i", t_vec, p) / det
            q = np.cross(t_vec, e1)
            v = q @ d / det
            t = np.einsum("ij,ij->i", e2, q) / det
        least = np.nan_to_num(np.minimum(np.minimum(u, v), 1 - u - v), nan=-1.0)
        met = (least >= 0) & (t > 0)
        doubt[k] = np.abs(least[np.nan_to_num(t) > 0]).min(initial=np.inf)
        if met.any():
            face[k] = np.flatnonzero(met)[np.argmin(t[met])]
            distance[k] = t[face[k]]
    return distance, face, doubt


class Everything:
    """Stands for trimesh's tree of boxes, whose package is not here: every triangle is a candidate of every ray."""

    def __init__(self, mesh: Mesh) -> None:
        self.bounds = np.concatenate(mesh.bounds)
        self._all = list(range(len(mesh.faces)))

    def intersection(self, _: object) -> list[int]:
        return self._all


def by_trimesh(mesh: Mesh, origins: np.ndarray, heading: np.ndarray) -> np.ndarray:
    """Distance of the first hit, inf for none."""
    _, ray, places = ray_triangle_id(
        mesh.corners, origins, heading, triangles_normal=mesh.normals, tree=Everything(mesh), multiple_hits=True
    )
    distance = np.full(len(origins), np.inf)
    np.minimum.at(distance, ray, np.linalg.norm(places - origins[ray], axis=1))
    return distance


def coarse(name: str) -> Mesh:
    """Every so many triangles of a piece: rays ask nothing of a solid, and each hit is tried against all."""
    mesh = weld(SHAPES[name].make())
    return Mesh(mesh.vertices, mesh.faces[:: max(1, len(mesh.faces) // 3000)])


def rays(mesh: Mesh, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """From all round and from within, towards places all over the box, and some that miss it."""
    rng = np.random.default_rng(seed)
    low, high = mesh.bounds
    size = float((high - low).max())
    origins = rng.uniform(low - 0.6 * size, high + 0.6 * size, (COUNT, 3))
    heading = rng.uniform(low - 0.1 * size, high + 0.1 * size, (COUNT, 3)) - origins
    return origins, heading / np.linalg.norm(heading, axis=1, keepdims=True)


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_the_fast_engine_meets_what_every_triangle_tried_meets(name):
    mesh = coarse(name)
    origins, heading = rays(mesh, seed=len(name))
    distance, face, doubt = moeller_trumbore(mesh, origins, heading)
    sure = doubt > EDGE
    found, which = Caster(mesh, engine="embree").first(origins, heading)
    assert np.isfinite(distance[sure]).sum() > 30
    assert sure.mean() > 0.8
    assert np.array_equal(np.isfinite(found[sure]), np.isfinite(distance[sure]))
    met = sure & np.isfinite(distance)
    assert found[met] == pytest.approx(distance[met], rel=1e-9, abs=1e-9)
    assert (which[met] == face[met]).mean() > 0.99, "two triangles may lie at one distance"


@pytest.mark.parametrize("name", ["plain-band", "signet", "stud"])
def test_trimesh_s_own_triangle_test_says_the_same(name):
    mesh = coarse(name)
    origins, heading = rays(mesh, seed=5)
    origins, heading = origins[:60], heading[:60]
    distance, _, doubt = moeller_trumbore(mesh, origins, heading)
    theirs, ours = by_trimesh(mesh, origins, heading), Caster(mesh, engine="embree").first(origins, heading)[0]
    sure = doubt > EDGE
    assert np.isfinite(theirs[sure]).sum() > 5
    assert theirs[sure] == pytest.approx(distance[sure], rel=1e-7)
    assert ours[sure] == pytest.approx(theirs[sure], rel=1e-7)


def test_the_slow_engine_says_the_same_of_a_solid():
    mesh = weld(SHAPES["stud"].make())
    origins, heading = rays(mesh, seed=7)
    distance, _, doubt = moeller_trumbore(mesh, origins, heading)
    sure = doubt > EDGE
    found = Caster(mesh, engine="manifold").first(origins, heading)[0]
    assert np.array_equal(np.isfinite(found[sure]), np.isfinite(distance[sure]))
    met = sure & np.isfinite(distance)
    assert found[met] == pytest.approx(distance[met], rel=1e-6)


def test_faulty_triangles_are_met_as_they_lie():
    """Turned, missing and doubled triangles, far from the origin too."""
    mesh = coarse("plain-band")
    bad = joined(without(flipped(mesh, *range(0, 900, 7)), *range(100, 200)), Mesh(mesh.vertices, mesh.faces[:50]))
    for shift in (0.0, 500.0):
        moved = Mesh(bad.vertices + shift, bad.faces)
        origins, heading = rays(moved, seed=3)
        distance, _, doubt = moeller_trumbore(moved, origins, heading)
        sure = doubt > EDGE
        found = Caster(moved, engine="embree").first(origins, heading)[0]
        assert np.array_equal(np.isfinite(found[sure]), np.isfinite(distance[sure]))
        assert found[sure] == pytest.approx(distance[sure], rel=1e-7)
