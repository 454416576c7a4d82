"""Holes through a piece and the metal beside them, on shapes drilled where a drawing says."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.touching import Touching
from pourwell.geometry.tunnels import along_tunnels, webs

Solid = manifold3d.Manifold


def drill(diameter, at=(0.0, 0.0, 0.0), *, long=40.0):
    """A drill along y."""
    return Solid.cylinder(long, diameter / 2, diameter / 2, 64, True).rotate((90, 0, 0)).translate(at)


def rod(diameter=3.0):
    return Solid.cylinder(20, diameter / 2, diameter / 2, 128, True)


def asked(solid, place, out, *, ball):
    """The way of a tunnel at one place of a solid."""
    mesh = from_manifold(solid)
    return along_tunnels(Caster(mesh), np.array([place], float), np.array([out], float), ball_mm=np.array([ball], float))[0]


@pytest.mark.parametrize("far", [0.0, 0.5, 0.8])
def test_a_hole_through_a_rod_runs_as_it_was_drilled(far):
    way = asked(rod() - drill(1.0, (far, 0, 0)), (far, 0.1, 0.5), (0, 0, -1), ball=1.0)
    assert np.abs(way) == pytest.approx([0, 1, 0], abs=1e-6)


def test_a_hole_from_the_side_of_a_tube_into_its_bore_is_one():
    tube = rod(8.0) - Solid.cylinder(30, 3.0, 3.0, 128, True)
    way = asked(tube - drill(1.0, (0, -20, 9)), (0.5, -3.5, 9.0), (-1, 0, 0), ball=1.0)
    assert np.abs(way) == pytest.approx([0, 1, 0], abs=1e-6)


@pytest.mark.parametrize(
    ("solid", "ball"),
    [
        (Solid.cube((10, 10, 10), True) - drill(1.0, (0, 20 + 3.5, 0)), 1.0),
        (Solid.cube((10, 10, 10), True) - Solid.cube((1.0, 20, 5.5)).translate((-0.5, -10, -0.5)), 1.0),
        (rod() - drill(1.0), np.inf),
    ],
    ids=["a blind hole", "a groove", "no ball"],
)
def test_what_is_shut_at_one_end_or_open_above_is_no_hole(solid, ball):
    assert not asked(solid, (0.5, 4.2, 0.0), (-1, 0, 0), ball=ball).any()


@pytest.mark.parametrize("web", [0.2, 0.5])
@pytest.mark.parametrize("out", [-0.55, 0.0, 0.4])
def test_the_web_is_measured_where_it_is_thickest_along_the_hole(web, out):
    """A rod of 3 mm, a hole of 1 mm square to it: between them lies 1.5 - 0.5 - aside at the middle, and nothing at the mouths."""
    aside = 1.5 - 0.5 - web
    mesh = from_manifold(rod() - drill(1.0, (aside, 0, 0)))
    caster, touching = Caster(mesh), Touching(mesh)
    sides = np.array([(aside + 0.5 * np.cos(np.pi / 64), out, 0.02)]), np.array([(-1.0, 0.0, 0.0)])
    at, rays, balls, behind = webs(caster, touching, sides, ways=np.array([(0.0, 1.0, 0.0)]), ball_mm=np.array([1.0]))
    assert rays[0] == pytest.approx(web, abs=0.02)
    assert balls[0] == pytest.approx(web, abs=0.02)
    assert abs(at[0, 1]) < 0.15
    assert mesh.centres[behind[0], 0] == pytest.approx(1.5, abs=0.02), "it leaves through the outside of the rod"


def test_no_places_have_no_webs():
    mesh = from_manifold(rod())
    none = np.empty((0, 3))
    at, rays, balls, behind = webs(Caster(mesh), Touching(mesh), (none, none), ways=none, ball_mm=np.empty(0))
    assert at.shape == (0, 3)
    assert len(rays) == len(balls) == len(behind) == 0
