"""Inner balls and necks: plates, rods and balls have their own thickness, and the way between two places its neck."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.balls import Ways, inner_balls, spread, thinned
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import from_manifold

M = manifold3d.Manifold


def solid(body: M) -> Mesh:
    return from_manifold(body)


def rod(length: float, radius: float) -> M:
    return M.cylinder(length, radius, radius, 64, True).rotate((0, 90, 0))


def dumbbell(radius: float, neck_radius: float, apart: float) -> Mesh:
    ball = M.sphere(radius, 96)
    return solid(ball + ball.translate((apart, 0, 0)) + rod(apart, neck_radius).translate((apart / 2, 0, 0)))


def neck_between(mesh: Mesh, start, end, end_radius: float):
    ways = Ways(inner_balls(mesh), [(np.array(end, dtype=float), end_radius)])
    return ways.neck(ways.near(np.array(start, dtype=float), 0.5), 0)


def test_the_balls_of_a_ball_are_the_ball():
    balls = inner_balls(solid(M.sphere(4, 96)))
    assert np.median(balls.radii) == pytest.approx(4, rel=0.03)
    assert balls.radii.max() <= 4
    assert np.median(np.linalg.norm(balls.centres, axis=1)) < 0.15


def test_the_largest_balls_of_a_plate_are_as_thick_as_it_is():
    balls = inner_balls(solid(M.cube((20, 20, 1.5), True)))
    assert 2 * balls.radii.max() == pytest.approx(1.5, rel=0.03)


def test_at_the_rim_of_a_plate_the_ball_is_the_plates_and_not_the_way_across():
    balls = inner_balls(solid(M.cube((20, 20, 1.5), True)))
    rim = (balls.normals[:, 0] > 0.9) & (np.abs(balls.points[:, 2]) < 0.1)
    assert rim.any()
    assert 2 * balls.radii[rim].max() < 1.6


def test_a_ball_touches_where_it_was_started():
    balls = inner_balls(plain_band())
    assert np.linalg.norm(balls.points - balls.normals * balls.radii[:, None] - balls.centres, axis=1).max() < 1e-9


def test_a_known_largest_ball_bounds_the_others():
    assert inner_balls(solid(M.sphere(4, 48)), largest_mm=3).radii.max() <= 1.5


def test_points_are_spread_by_area():
    surface = spread(solid(M.cube((10, 10, 0.1), True)), 4000)
    assert (np.abs(surface.normals[:, 2]) > 0.9).mean() == pytest.approx(200 / 204, abs=0.01)
    quarters = (surface.points[:, :2] > 0) @ (1, 2)
    assert np.bincount(quarters) == pytest.approx(1000, rel=0.03)


def test_the_same_mesh_gives_the_same_balls():
    one, other = inner_balls(plain_band()), inner_balls(plain_band())
    assert np.array_equal(one.centres, other.centres)


@pytest.mark.parametrize(("radius", "neck", "apart"), [(3, 0.7, 12), (3, 1.5, 12), (2, 0.4, 10), (3, 2.0, 9)])
def test_two_balls_joined_by_a_rod_have_the_rod_as_their_neck(radius, neck, apart):
    found = neck_between(dumbbell(radius, neck, apart), (apart, 0, 0), (0, 0, 0), radius)
    assert found.diameter_mm == pytest.approx(2 * neck, rel=0.07)
    assert radius * 0.5 < found.at_mm[0] < apart - radius * 0.5
    assert np.hypot(*found.at_mm[1:]) < 0.2 * neck


def test_a_thicker_rod_makes_a_thicker_neck():
    necks = [neck_between(dumbbell(3, r, 12), (12, 0, 0), (0, 0, 0), 3).diameter_mm for r in (0.5, 1.0, 1.5, 2.0)]
    assert necks == sorted(necks)


def test_a_bar_into_a_block_has_the_bar_as_its_neck():
    step = solid(M.cube((10, 2, 2), True) + M.cube((6, 5, 5), True).translate((8, 0, 0)))
    assert neck_between(step, (-4, 0, 0), (8, 0, 0), 2.5).diameter_mm == pytest.approx(2, rel=0.15)


def test_of_two_ways_the_thicker_one_counts():
    frame = M.cube((20, 14, 2), True) - M.cube((14, 8, 4), True)
    thin_side = solid(frame - M.cube((10, 2, 4), True).translate((0, 7, 0)))
    found = neck_between(thin_side, (-8.5, 0, 0), (8.5, 0, 0), 1.0)
    assert found.diameter_mm == pytest.approx(2, rel=0.05)


def test_a_band_has_no_neck():
    found = neck_between(plain_band(), (0, 0, -9.5), (0, 0, 9.5), 0.9)
    assert found.diameter_mm == pytest.approx(1.8, rel=0.05)


def test_two_bodies_that_do_not_touch_have_no_way_between_them():
    apart = solid(M.sphere(2, 48) + M.sphere(2, 48).translate((9, 0, 0)))
    assert neck_between(apart, (9, 0, 0), (0, 0, 0), 2.0).diameter_mm == 0


def test_the_balls_that_stand_for_all_keep_the_first_and_the_largest():
    centres = np.zeros((5, 3))
    radii = np.array([0.1, 1.0, 1.5, 1.2, 0.05])
    kept = thinned(centres, radii, first=1).tolist()
    assert kept[0] == 0
    assert 2 in kept
    assert len(kept) == 2
