"""Balls that touch and nearest places: closed forms, sides, sizes, and what is asked in odd ways."""

import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.thickness import spread
from pourwell.geometry.touching import CHUNK, Touching
from tests.unit.geometry.distance_samples import beside, box, box_distance, icosphere, shaken, swept, turned
from tests.unit.pattern.case import hollow


def anywhere(count, *, seed, low=-4.0, high=6.0):
    return np.random.default_rng(seed).uniform(low, high, (count, 3))


def test_the_distance_to_a_box_is_the_closed_form_from_inside_and_outside():
    points = anywhere(500, seed=1)
    away, foot = Touching(box((0, 0, 0), (1, 2, 3))).feet(points)
    assert away == pytest.approx(np.abs(box_distance(points, (0, 0, 0), (1, 2, 3))), abs=1e-12)
    assert np.linalg.norm(points - foot, axis=1) == pytest.approx(away, abs=1e-12)
    assert box_distance(foot, (0, 0, 0), (1, 2, 3)) == pytest.approx(0, abs=1e-12)


def test_a_point_on_the_surface_is_its_own_nearest_place():
    mesh = shaken(icosphere(2.0, halvings=3), by=0.03, seed=2)
    points, _, _ = spread(mesh)
    away, foot = Touching(mesh).feet(points)
    assert away.max() < 1e-9
    assert foot == pytest.approx(points, abs=1e-9)


def test_corners_and_edges_are_nearest_where_nothing_else_is():
    touching = Touching(box((0, 0, 0), (1, 1, 1)))
    away, foot = touching.feet([(2, 2, 2), (0.5, -3, -4), (-1, 0.5, 0.5)])
    assert away == pytest.approx([np.sqrt(3), 5, 1])
    assert foot == pytest.approx(np.array([(1, 1, 1), (0.5, 0, 0), (0, 0.5, 0.5)]))


def test_nothing_is_lost_far_from_the_origin():
    """Ten metres off, as some drawings lie: the tree stands about the piece's own middle."""
    shift = np.array((10_000.0, -10_000.0, 5_000.0))
    mesh = icosphere(2.0, halvings=3)
    far = Mesh(mesh.vertices + shift, mesh.faces)
    points, face, _ = spread(mesh)
    here, there = Touching(mesh).balls(points, face), Touching(far).balls(points + shift, face)
    assert np.mean(np.abs(there.diameter_mm / here.diameter_mm - 1) < 1e-3) > 0.99
    away, _ = Touching(far).feet(anywhere(50, seed=3) + shift)
    assert away == pytest.approx(Touching(mesh).feet(anywhere(50, seed=3))[0], abs=1e-9)


def test_the_answer_to_nothing_is_nothing():
    touching = Touching(box((0, 0, 0), (1, 1, 1)))
    none = touching.balls(np.empty((0, 3)), np.empty(0, dtype=np.int64))
    assert none.diameter_mm.shape == none.stop.shape == (0,)
    assert none.way.shape == (0, 3)
    away, foot = touching.feet(np.empty((0, 3)))
    assert away.shape == (0,)
    assert foot.shape == (0, 3)


def test_one_triangle_by_itself_has_feet_and_no_ball():
    touching = Touching(Mesh(np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0)]), np.array([(0, 1, 2)])))
    for outside in (False, True):
        ball = touching.balls(np.array([(0.3, 0.3, 0.0)]), np.array([0]), outside=outside)
        assert np.isinf(ball.diameter_mm).all()
        assert ball.stop.tolist() == [-1]
        assert ball.way[0] == pytest.approx((0, 0, 1 if outside else -1))
    assert touching.feet([(0.25, 0.25, 2.0)])[0] == pytest.approx([2.0])


@pytest.mark.parametrize("gap", [0.05, 0.5, 2.0])
def test_between_two_plates_the_ball_outside_is_the_gap_and_the_plate_across_stops_it(gap):
    mesh = beside(box((0, 0, 0), (9, 9, 1)), box((0, 0, 1 + gap), (9, 9, 2 + gap)))
    points, face, _ = spread(mesh)
    top = (np.abs(points[:, 2] - 1) < 1e-9) & (np.abs(points[:, :2] - 4.5).max(axis=1) < 4.4 - gap / 2)
    ball = Touching(mesh).balls(points[top], face[top], outside=True)
    assert top.sum() > 100
    assert ball.diameter_mm == pytest.approx(gap, rel=1e-6)
    assert mesh.normals[ball.stop] == pytest.approx(np.tile((0.0, 0.0, -1.0), (len(ball.stop), 1)))


def test_in_a_closed_hollow_the_ball_outside_fills_it_and_within_the_shell_it_is_the_shell():
    mesh = hollow(icosphere(4.0, halvings=4), icosphere(3.0, halvings=4))
    points, face, _ = spread(mesh)
    inner = np.linalg.norm(points, axis=1) < 3.5
    touching = Touching(mesh)
    assert touching.balls(points[inner], face[inner], outside=True).diameter_mm == pytest.approx(6.0, rel=0.04)
    assert touching.balls(points, face).diameter_mm == pytest.approx(1.0, rel=0.02)
    assert np.isinf(touching.balls(points[~inner], face[~inner], outside=True).diameter_mm).all()


def test_the_ball_in_an_oval_rod_is_stopped_by_what_looks_away_by_more_than_50_degrees():
    """At the end of the short axis b it is b; at that of the long axis a the least circle through it and a point so far round."""
    a, b = 2.0, 1.5
    round_there = np.linspace(0, np.pi, 20_001)[1:]
    far = np.arctan2(a * np.sin(round_there), b * np.cos(round_there)) > np.radians(50)
    in_from, aside = a - a * np.cos(round_there[far]), b * np.sin(round_there[far])
    least = ((in_from**2 + aside**2) / in_from).min()
    assert least > 2 * b * b / a, "wider than the circle that hugs the end"
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    mesh = swept(np.column_stack((a * np.cos(turn), b * np.sin(turn))), around=120, radius=40.0)
    points, face, _ = spread(mesh)
    out, up = np.hypot(points[:, 0], points[:, 1]) - 40, points[:, 2]
    ball = Touching(mesh).balls(points, face).diameter_mm
    assert np.median(ball[np.abs(out) < 0.05]) == pytest.approx(2 * b, rel=0.02)
    assert np.median(ball[np.abs(up) < 0.04]) == pytest.approx(least, rel=0.02)


def test_ways_are_unit_vectors_and_the_same_when_asked_again():
    mesh = shaken(icosphere(2.0, halvings=3), by=0.02, seed=5)
    points, face, _ = spread(mesh)
    touching = Touching(mesh)
    first = touching.ways(points, face)
    assert np.linalg.norm(first, axis=1) == pytest.approx(1)
    assert (touching.ways(points, face) == first).all()
    ball = touching.balls(points, face)
    assert (ball.way == -first).all()
    assert (touching.balls(points, face, outside=True).way == first).all()


def test_more_points_than_one_thread_takes_are_answered_like_few():
    cube = box((0, 0, 0), (2, 2, 2))
    points, face, _ = spread(cube)
    times = CHUNK // len(points) + 2
    many = Touching(cube).balls(np.tile(points, (times, 1)), np.tile(face, times)).diameter_mm.reshape(times, -1)
    assert (np.abs(many / many[0] - 1) < 0.01).all()
    assert len(points) * times > CHUNK


def test_a_size_larger_than_the_piece_asks_for_no_more_than_the_piece():
    mesh = icosphere(1.0, halvings=3)
    points, face, _ = spread(mesh)
    whole, wide = (Touching(mesh).balls(points, face, most_mm=most).diameter_mm for most in (np.inf, 1e6))
    assert (whole == wide).all()


@pytest.mark.parametrize("seed", range(3))
def test_the_nearest_place_moves_with_the_piece(seed):
    rng = np.random.default_rng(seed)
    move = np.column_stack((turned(rng), rng.uniform(-50, 50, 3)))
    mesh, points = icosphere(2.0, halvings=2), anywhere(80, seed=seed)
    here, there = Touching(mesh).feet(points), Touching(mesh.moved(move)).feet(points @ move[:, :3].T + move[:, 3])
    assert there[0] == pytest.approx(here[0], abs=1e-9)


def test_triangles_without_area_change_nothing():
    mesh = box((0, 0, 0), (2, 2, 1))
    spoilt = Mesh(mesh.vertices, np.vstack((mesh.faces, [(0, 0, 1), (2, 2, 2)])))
    points, face, _ = spread(mesh)
    here, there = Touching(mesh).balls(points, face), Touching(spoilt).balls(points, face)
    assert there.diameter_mm == pytest.approx(here.diameter_mm, rel=1e-3)
