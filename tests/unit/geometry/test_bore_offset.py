"""A bore moved and nothing else; a piece scaled about its bore."""

import math

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.bore import find_bore
from pourwell.geometry.bore_offset import MOST_SHARE, scaled_about, wall_behind, with_bore_moved
from pourwell.geometry.bore_shape import bore_shape
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES, bezel_ring, comfort_band, plain_band, signet
from pourwell.geometry.solidity import faults, from_manifold
from tests.unit.geometry.test_bore import turned

RINGS = [name for name, shape in SHAPES.items() if shape.is_ring]


def tube(inner=8.6, outer=10.4, height=4.0):
    return from_manifold(
        manifold3d.Manifold.cylinder(height, outer, outer, 400)
        - manifold3d.Manifold.cylinder(9, inner, inner, 400).translate((0, 0, -1))
    )


def moved(mesh, by):
    bore = find_bore(mesh)
    return with_bore_moved(mesh, bore, by_mm=by, wall_mm=wall_behind(Caster(mesh), bore)), bore


def far_out(mesh, bore, beyond):
    """Which corners lie farther than that from the bore's surface."""
    away = mesh.vertices - np.array(bore.centre)
    away -= np.outer(away @ np.array(bore.axis), bore.axis)
    return np.linalg.norm(away, axis=1) > bore.diameter_mm / 2 + beyond


@pytest.mark.parametrize("by", [-0.3, -0.05, 0.0, 0.1, 0.25])
def test_the_bore_is_wider_by_twice_the_offset(by):
    mesh, bore = moved(tube(), by)
    assert find_bore(mesh).diameter_mm == pytest.approx(bore.diameter_mm + 2 * by, abs=2e-3)


@pytest.mark.parametrize("by", [-0.2, 0.2])
def test_the_volume_changes_by_the_ring_that_is_taken(by):
    """pi (r2² - r1²) h."""
    mesh, _ = moved(tube(), by)
    ring = math.pi * ((8.6 + by) ** 2 - 8.6**2) * 4.0
    assert tube().volume_mm3 - mesh.volume_mm3 == pytest.approx(ring, rel=0.001)


@pytest.mark.parametrize("by", [-0.15, 0.15])
@pytest.mark.parametrize("name", RINGS)
def test_nothing_that_is_seen_from_outside_moves(name, by):
    mesh = SHAPES[name].make()
    new, bore = moved(mesh, by)
    wall = wall_behind(Caster(mesh), bore)
    outer = far_out(mesh, bore, 0.8 * wall)
    assert outer.any()
    kept = new.vertices[: len(mesh.vertices)]
    assert (kept[outer] == mesh.vertices[outer]).all()
    assert new.envelope_mm == pytest.approx(mesh.envelope_mm, abs=1e-5)
    assert faults(new).sound


@pytest.mark.parametrize("name", RINGS)
def test_the_form_inside_is_kept(name):
    mesh = SHAPES[name].make()
    new, bore = moved(mesh, 0.12)
    fitted = find_bore(new)
    assert fitted.diameter_mm == pytest.approx(bore.diameter_mm + 0.24, abs=2e-3)
    assert fitted.centre == pytest.approx(bore.centre, abs=5e-3)
    old, after = bore_shape(Caster(mesh), bore), bore_shape(Caster(new), fitted)
    assert after.profile == old.profile
    assert after.rise_mm == pytest.approx(old.rise_mm, abs=0.01)
    assert after.width_mm == pytest.approx(old.width_mm, abs=0.01)


@pytest.mark.parametrize("seed", range(3))
def test_it_does_not_matter_how_the_ring_lies(seed):
    mesh, _ = turned(comfort_band(), seed)
    new, bore = moved(mesh, 0.2)
    assert find_bore(new).diameter_mm == pytest.approx(bore.diameter_mm + 0.4, abs=2e-3)


@pytest.mark.parametrize("thickness", [1.0, 1.8, 2.6])
def test_the_wall_behind_a_plain_band_is_its_thickness(thickness):
    mesh = plain_band(thickness_mm=thickness, edge_mm=0.0)
    assert wall_behind(Caster(mesh), find_bore(mesh)) == pytest.approx(thickness, rel=0.01)


def test_the_wall_behind_is_the_thinnest_all_round():
    mesh = signet()
    wall = wall_behind(Caster(mesh), find_bore(mesh))
    assert 1.0 < wall < 2.2, "the back of the shank, not the head"


def test_an_opening_in_the_bore_is_no_wall():
    mesh = bezel_ring()
    assert 0.8 < wall_behind(Caster(mesh), find_bore(mesh)) <= 1.4 + 1e-6


def test_more_than_the_wall_holds_is_refused():
    mesh = tube()
    bore = find_bore(mesh)
    with_bore_moved(mesh, bore, by_mm=MOST_SHARE * 1.8, wall_mm=1.8)
    with pytest.raises(ValueError, match="cannot be moved"):
        with_bore_moved(mesh, bore, by_mm=MOST_SHARE * 1.8 + 0.01, wall_mm=1.8)
    with pytest.raises(ValueError, match="cannot be moved"):
        with_bore_moved(mesh, bore, by_mm=-9.0, wall_mm=1.8)


@pytest.mark.parametrize("by", [MOST_SHARE * 1.8, -1.0])
def test_no_face_turns_over_at_the_most(by):
    mesh = plain_band()
    bore = find_bore(mesh)
    still, new = (with_bore_moved(mesh, bore, by_mm=d, wall_mm=1.8) for d in (0.0, by))
    assert (new.faces == still.faces).all()
    assert (np.einsum("ij,ij->i", new.normals, still.normals) > 0).all()
    assert still.volume_mm3 == pytest.approx(mesh.volume_mm3)
    assert faults(new).sound


def test_scaling_leaves_the_middle_of_the_bore_where_it_is():
    mesh, _ = turned(plain_band(), 1)
    bore = find_bore(mesh)
    large = find_bore(scaled_about(mesh, bore.centre, 1.05))
    assert large.centre == pytest.approx(bore.centre, abs=2e-3)
    assert large.diameter_mm == pytest.approx(1.05 * bore.diameter_mm, rel=1e-5)
    assert scaled_about(mesh, bore.centre, 1.05).volume_mm3 == pytest.approx(1.05**3 * mesh.volume_mm3)
