"""What is measured on a mesh by itself, against the plain formulas."""

import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import NotSolidError, to_manifold
from tests.unit.geometry.distance_samples import icosphere


@pytest.mark.parametrize("lot", [1, 7, 10**9])
def test_area_vectors_are_half_the_cross_products_whatever_the_lots(lot, monkeypatch):
    monkeypatch.setattr("pourwell.geometry.mesh.LOT", lot)
    mesh = Mesh(icosphere(2.0, halvings=2).vertices, icosphere(2.0, halvings=2).faces)
    for vector, (a, b, c) in zip(mesh.area_vectors, mesh.corners, strict=True):
        np.testing.assert_array_equal(vector, np.cross(b - a, c - a) / 2)
    assert np.linalg.norm(mesh.area_vectors.sum(axis=0)) < 1e-12, "a closed surface has none in all"


def test_what_is_measured_once_cannot_be_written_to():
    mesh = icosphere(2.0, halvings=2)
    for array in (mesh.vertices, mesh.faces, mesh.area_vectors, mesh.areas, mesh.normals):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_a_mesh_without_triangles_has_nothing():
    nothing = Mesh(np.zeros((4, 3)), np.zeros((0, 3), dtype=np.int64))
    assert nothing.area_vectors.shape == (0, 3)
    assert (nothing.area_mm2, nothing.volume_mm3) == (0.0, 0.0)
    with pytest.raises(NotSolidError):
        to_manifold(nothing)
