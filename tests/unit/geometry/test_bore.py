"""The bore: found whatever its axis, measured between flats, and not seen where there is none."""

import manifold3d
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pourwell.geometry.bore import find_bore
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, comfort_band, pendant_with_bail, plain_band
from pourwell.geometry.solidity import from_manifold
from tests.unit.files.pattern_files import cube

RINGS = [name for name, shape in SHAPES.items() if shape.is_ring]


def turned(mesh, seed, shift=(3.0, -7.0, 11.0)):
    rotation = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    return Mesh(mesh.vertices @ rotation.T + np.array(shift), mesh.faces), rotation


def tube(outer=10.0, inner=8.5, *, height=6.0, inner_count=128):
    hole = manifold3d.Manifold.cylinder(height + 2, inner, inner, inner_count).translate((0, 0, -1))
    return manifold3d.Manifold.cylinder(height, outer, outer, 128) - hole


@pytest.mark.parametrize("name", RINGS)
def test_every_ring_of_ours_has_its_bore_along_y_about_the_origin(name):
    bore = find_bore(SHAPES[name].make())
    assert bore is not None
    assert bore.axis == pytest.approx((0, 1, 0), abs=1e-4)
    assert bore.centre == pytest.approx((0, 0, 0), abs=1e-3)
    default = next(p.default for p in SHAPES[name].parameters if p.name == "bore_mm")
    assert bore.diameter_mm == pytest.approx(default, rel=1e-3)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("name", RINGS)
def test_the_axis_is_found_however_the_ring_lies(name, seed):
    straight = find_bore(SHAPES[name].make())
    mesh, rotation = turned(SHAPES[name].make(), seed)
    bore = find_bore(mesh)
    assert bore is not None
    assert bore.diameter_mm == pytest.approx(straight.diameter_mm, rel=1e-4)
    assert abs(np.array(bore.axis) @ rotation[:, 1]) == pytest.approx(1, abs=1e-6)
    assert (np.array(bore.centre) - [3, -7, 11]) @ rotation == pytest.approx([0, 0, 0], abs=2e-3)


@pytest.mark.parametrize("bore_mm", [13.0, 17.2, 22.5])
def test_a_bore_as_drawn_is_as_measured(bore_mm):
    assert find_bore(plain_band(bore_mm=bore_mm)).diameter_mm == pytest.approx(bore_mm, rel=1e-3)
    assert find_bore(comfort_band(bore_mm=bore_mm)).diameter_mm == pytest.approx(bore_mm, rel=1e-3)


@pytest.mark.parametrize("sides", [6, 12, 24])
def test_a_bore_of_flats_is_measured_between_the_flats(sides):
    mesh, _ = turned(from_manifold(tube(inner_count=sides)), sides)
    assert find_bore(mesh).diameter_mm == pytest.approx(2 * 8.5 * np.cos(np.pi / sides), rel=1e-5)


def test_a_tapered_bore_is_as_wide_as_its_narrow_end():
    cone = manifold3d.Manifold.cylinder(6, 10, 10, 128) - manifold3d.Manifold.cylinder(6, 8.5, 8.0, 128)
    assert find_bore(from_manifold(cone)).diameter_mm == pytest.approx(16.0, rel=1e-3)


def test_a_bore_out_of_the_middle_is_found_where_it_is():
    plate = manifold3d.Manifold.cube((40, 30, 3)) - manifold3d.Manifold.cylinder(9, 7, 7, 64).translate((12, 11, -3))
    bore = find_bore(from_manifold(plate))
    assert bore.diameter_mm == pytest.approx(14, rel=2e-3)
    assert bore.centre == pytest.approx((12, 11, 1.5), abs=0.02)


def test_of_two_bores_the_larger_is_found():
    plate = manifold3d.Manifold.cube((60, 30, 3))
    for x, r in ((12, 6), (40, 8)):
        plate -= manifold3d.Manifold.cylinder(9, r, r, 64).translate((x, 15, -3))
    bore = find_bore(from_manifold(plate))
    assert bore.diameter_mm == pytest.approx(16, rel=2e-3)


def test_an_open_ended_ring_still_has_a_bore():
    split = tube() - manifold3d.Manifold.cube((6, 20, 10)).translate((-3, 0, -1))
    assert find_bore(from_manifold(split)).diameter_mm == pytest.approx(17, rel=5e-3)


def test_half_a_ring_has_none():
    half = tube() - manifold3d.Manifold.cube((40, 20, 10)).translate((-20, 0, -1))
    assert find_bore(from_manifold(half)) is None


def test_a_cup_has_none():
    cup = tube() + manifold3d.Manifold.cylinder(0.5, 10, 10, 64)
    assert find_bore(from_manifold(cup)) is None


def test_a_bar_across_the_bore_blocks_it():
    barred = tube() + manifold3d.Manifold.cube((20, 1, 1), True).translate((0, 0, 3))
    bore = find_bore(from_manifold(barred))
    assert bore is None or bore.diameter_mm < 9


@pytest.mark.parametrize("mesh", [cube(10), from_manifold(manifold3d.Manifold.sphere(5, 48)), SHAPES["stud"].make()])
def test_a_piece_without_a_hole_has_none(mesh):
    assert find_bore(mesh) is None


def test_the_bail_of_a_pendant_is_a_small_bore():
    bore = find_bore(pendant_with_bail())
    assert bore is not None
    assert bore.diameter_mm < 6
    assert bore.axis == pytest.approx((1, 0, 0), abs=1e-6)
