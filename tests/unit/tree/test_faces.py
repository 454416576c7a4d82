"""Which way a piece shows itself, and places in words."""

import manifold3d
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.tree.faces import centroid, look_at, words
from tests.unit.tree.making import bore_of, shape

M = manifold3d.Manifold


def solid(body: M) -> Mesh:
    return from_manifold(body)


def seen(mesh: Mesh):
    return look_at(mesh, bore_of(mesh))


def said(name: str, at, normal) -> str:
    return words(seen(shape(name)), np.array(at, dtype=float), np.array(normal, dtype=float))


def test_a_signet_shows_its_head():
    faces = seen(shape("signet"))
    assert faces.head == pytest.approx((0, 0, 1), abs=1e-3)
    assert faces.show == pytest.approx((0, 0, 1), abs=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_a_turned_ring_turns_its_head(seed):
    turn = Rotation.random(random_state=seed).as_matrix()
    mesh = shape("signet").moved(np.column_stack((turn, (5, -3, 2))))
    assert seen(mesh).head == pytest.approx(turn[:, 2], abs=0.01)


def test_a_band_has_no_head_and_a_fixed_way_up():
    faces = seen(shape("plain-band"))
    assert faces.head is None
    assert faces.show == pytest.approx((0, 0, 1), abs=1e-6)


def test_the_middle_of_a_solid_is_that_of_its_volume():
    lump = solid(M.cube((2, 2, 2), True).translate((1, 0, 0)) + M.cube((1, 1, 1), True).translate((9, 0, 0)))
    assert centroid(lump) == pytest.approx(((8 + 9) / 9, 0, 0))


def test_a_flat_piece_shows_its_large_face_up_where_it_lies():
    faces = seen(solid(M.cube((20, 14, 2), True)))
    assert faces.flat
    assert faces.show == pytest.approx((0, 0, 1))
    assert faces.up == pytest.approx((0, 1, 0))


def test_a_flat_piece_that_stands_shows_its_front():
    faces = seen(shape("pendant"))
    assert faces.flat
    assert faces.show == pytest.approx((0, -1, 0))
    assert faces.up == pytest.approx((0, 0, 1))


def test_a_flat_back_is_the_back_whichever_way_it_looks():
    relief = M.cube((20, 14, 1.5), True)
    for x in range(-8, 9, 2):
        for y in range(-5, 6, 2):
            relief = relief + M.sphere(0.9, 16).translate((x, y, -0.75))
    assert seen(solid(relief)).show == pytest.approx((0, 0, -1))


def test_a_long_piece_shows_its_heavy_end():
    assert seen(shape("stud")).show == pytest.approx((0, -1, 0))


def test_a_lump_shows_itself_up():
    faces = seen(solid(M.sphere(4, 32)))
    assert not faces.flat
    assert faces.show == pytest.approx((0, 0, 1))


@pytest.mark.parametrize(
    ("name", "at", "normal", "expected"),
    [
        ("plain-band", (0, 0, -10.4), (0, 0, -1), "outside of the band, at mid width"),
        ("plain-band", (0, 1.2, -10.4), (0, 0, -1), "outside of the band"),
        ("plain-band", (9.5, 2, 0), (0, 1, 0), "side of the band"),
        ("plain-band", (0, 0, 8.6), (0, 0, -1), "inside of the bore"),
        ("signet", (0, 0, -11.1), (0, 0, -1), "back of the shank, opposite the head"),
        ("signet", (-11, 0, 0), (-1, 0, 0), "outside of the shank, 90° round from the head"),
        ("signet", (0, 5, 10.5), (0, 1, 0), "side of the head"),
        ("signet", (0, 0, 11.8), (0, 0, 1), "top of the head"),
        ("signet", (-9, 0, 7), (-0.9, 0, 0.4), "shoulder, beside the head"),
        ("signet", (-9, 4, 7), (0, 1, 0), "side of the shoulder, beside the head"),
        ("pendant", (0, 0, -9), (0, 0, -1), "rim, at the bottom"),
        ("pendant", (9, 0, 1), (1, 0, 0), "rim, on the right"),
        ("pendant", (0, 1.2, 2.7), (0, 1, 0), "back, in the middle"),
        ("pendant", (0, -1.2, 2.7), (0, -1, 0), "front, in the middle"),
        ("stud", (0, 0, -3), (0, 0, -1), "side, at the bottom"),
    ],
)
def test_a_place_is_said_as_a_jeweller_says_it(name, at, normal, expected):
    assert said(name, at, normal) == expected
