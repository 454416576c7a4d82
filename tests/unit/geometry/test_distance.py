"""Signed distance: what it takes, what it refuses, and the meshes that are hard."""

import threading

import numpy as np
import pytest

from pourwell.errors import BadDataError
from pourwell.geometry.distance import CHUNK, SignedDistance
from pourwell.geometry.joints import bar
from pourwell.geometry.kernels import reference
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import from_manifold, to_manifold
from tests.unit.geometry.distance_samples import beside, box, box_distance, icosphere, shaken, soup, swept, turned_over

CUBE = box((0, 0, 0), (1, 1, 1))


def around(rng, *, count=300, low=-1.0, high=2.0):
    return rng.uniform(low, high, (count, 3))


@pytest.fixture
def rng():
    return np.random.default_rng(11)


# what comes back


def test_inside_is_negative_outside_positive_and_the_surface_nought():
    distance = SignedDistance(CUBE)([(0.5, 0.5, 0.4), (0.5, 0.5, 1.25), (0.3, 0.2, 1.0), (2.0, 2.0, 1.0)])
    np.testing.assert_allclose(distance, [-0.4, 0.25, 0.0, np.sqrt(2)], atol=1e-15)


def test_no_points_have_no_distances():
    distance, body = SignedDistance(CUBE).nearest(np.empty((0, 3)))
    assert distance.shape == body.shape == (0,)


def test_points_may_come_as_lists_single_precision_whole_numbers_or_strided():
    distance = SignedDistance(CUBE)
    points = np.array([(2, 0, 0), (0, 3, 0), (0, 0, 4), (5, 5, 5)])
    expected = distance(points.astype(float))
    for asked in (points.tolist(), points.astype(np.float32), points, np.asfortranarray(points)):
        np.testing.assert_array_equal(distance(asked), expected)
    np.testing.assert_allclose(distance(points[::2]), expected[::2], rtol=1e-14)  # sought among other neighbours


def test_points_that_may_not_be_written_to_are_read():
    points = np.ones((3, 3)) * 2
    points.setflags(write=False)
    np.testing.assert_allclose(SignedDistance(CUBE)(points), np.sqrt(3))


def test_the_order_of_points_changes_no_answer(rng):
    distance = SignedDistance(plain_band())
    points = around(rng, count=3000, low=-12.0, high=12.0)
    mixed = rng.permutation(len(points))
    np.testing.assert_allclose(distance(points[mixed]), distance(points)[mixed], rtol=0, atol=1e-13)


def test_more_points_than_a_thread_takes_at_a_time_keep_their_order(rng):
    count = 2 * CHUNK + 77
    points = around(rng, count=count)
    distance, body = SignedDistance([CUBE, box((5, 5, 5), (6, 6, 6))]).nearest(points)
    np.testing.assert_allclose(distance, box_distance(points, (0, 0, 0), (1, 1, 1)), atol=1e-14)
    assert not body.any()


def test_several_threads_may_ask_the_same_solid(rng):
    distance = SignedDistance(plain_band())
    asked = [around(rng, count=2000, low=-11.0, high=11.0) for _ in range(4)]
    answers = [None] * 4

    def ask(k):
        answers[k] = distance(asked[k])

    threads = [threading.Thread(target=ask, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for points, answer in zip(asked, answers, strict=True):
        np.testing.assert_array_equal(answer, distance(points))


def test_far_points_are_as_exact_as_near_ones():
    """Along the axis from a face the distance is the way to the face, whatever it is."""
    away = np.array([1e-9, 1e-3, 1.0, 1e3, 1e6])
    points = np.column_stack((np.full(5, 0.5), np.full(5, 0.4), 1 + away))
    np.testing.assert_allclose(SignedDistance(CUBE)(points), away, rtol=1e-6)


def test_a_solid_far_from_the_origin_is_measured_about_its_middle(rng):
    points = around(rng)
    shift = np.array([1e5, -3e5, 2e5])
    found = SignedDistance(Mesh(CUBE.vertices + shift, CUBE.faces))(points + shift)
    np.testing.assert_allclose(found, SignedDistance(CUBE)(points), atol=1e-9)


def test_vertices_that_no_triangle_uses_are_no_part_of_the_solid():
    loose = Mesh(np.vstack((CUBE.vertices, [(9, 9, 9), (np.nan, 0, 0)])), CUBE.faces)
    np.testing.assert_allclose(SignedDistance(loose)([(3.0, 0.5, 0.5)]), [2.0])


# several bodies


def test_the_body_named_is_the_one_that_is_nearest():
    distance, body = SignedDistance([CUBE, box((4, 0, 0), (5, 1, 1))]).nearest([(1.5, 0.5, 0.5), (3.4, 0.5, 0.5), (4.5, 0.5, 0.5)])
    np.testing.assert_allclose(distance, [0.5, 0.6, -0.5])
    assert body.tolist() == [0, 1, 1]


def test_the_distance_to_many_bodies_is_the_least_of_their_distances(rng):
    """Thirty boxes that overlap, touch or stand alone, each in closed form."""
    lows = rng.uniform(-10, 10, (30, 3))
    highs = lows + rng.uniform(0.2, 6, (30, 3))
    points = around(rng, count=2000, low=-13.0, high=16.0)
    each = np.array([box_distance(points, low, high) for low, high in zip(lows, highs, strict=True)])
    distance, body = SignedDistance([box(low, high) for low, high in zip(lows, highs, strict=True)]).nearest(points)
    np.testing.assert_allclose(distance, each.min(axis=0), atol=1e-13)
    np.testing.assert_allclose(each[body, np.arange(len(points))], each.min(axis=0), atol=1e-13)


def test_cubes_that_share_a_face_have_no_wall_between_them():
    """Both sheets of the common face are equally near; the solid that holds the point decides."""
    pair = [CUBE, box((1, 0, 0), (2, 1, 1))]
    points = np.column_stack((np.linspace(0.7, 1.3, 61), np.full(61, 0.5), np.full(61, 0.45)))
    for bodies in (pair, pair[::-1], beside(*pair)):
        found = SignedDistance(bodies)(points)
        assert (found <= 0).all(), "inside one or the other, at most on the face between"
        np.testing.assert_allclose(found, -np.abs(points[:, 0] - 1), atol=1e-14)


def test_a_sprue_that_runs_into_its_piece_is_one_metal_with_it(rng):
    """0.15 mm into the band: the sign is that of the boolean union everywhere, and outside so is the distance."""
    band = plain_band()
    sprue = from_manifold(bar((0, 0, -20.0), (0, 0, -10.4 + 0.15), diameter_mm=2.5))
    union = from_manifold(to_manifold(band) + to_manifold(sprue))
    points = rng.uniform((-3, -3, -14), (3, 3, -8), (600, 3))
    joined, truth = SignedDistance([band, sprue])(points), SignedDistance(union)(points)
    np.testing.assert_array_equal(joined < 0, truth < 0)
    np.testing.assert_allclose(joined[truth > 0], truth[truth > 0], atol=1e-9)
    assert (np.abs(joined) <= np.abs(truth) + 1e-9).all(), "inside it is a lower bound of the depth"
    assert (truth < 0).sum() > 50


@pytest.mark.parametrize("together", [True, False])
def test_a_shell_wound_inward_within_another_is_a_void(together):
    parts = box((0, 0, 0), (4, 4, 4)), turned_over(box((1, 1, 1), (3, 3, 3)))
    distance = SignedDistance(beside(*parts) if together else parts)
    points = [(2, 2, 2), (0.5, 2, 2), (0.9, 2, 2), (1.1, 2, 2), (5, 2, 2)]
    np.testing.assert_allclose(distance(points), [1.0, -0.5, -0.1, 0.1, 1.0], atol=1e-14)


def test_a_solid_that_stands_in_a_void_is_metal_again():
    nest = [box((0, 0, 0), (9, 9, 9)), turned_over(box((1, 1, 1), (8, 8, 8))), box((3, 3, 3), (6, 6, 6))]
    distance, body = SignedDistance(nest).nearest([(4.5, 4.5, 4.5), (2.0, 4.5, 4.5), (2.5, 4.5, 4.5), (0.4, 4.5, 4.5)])
    np.testing.assert_allclose(distance, [-1.5, 1.0, 0.5, -0.4], atol=1e-14)
    assert body[[0, 2, 3]].tolist() == [2, 2, 0]


def test_a_void_belongs_to_the_smallest_solid_round_it():
    """An outer lump overlaps: what is hollow in one is filled by the other, as two castings in one place would be."""
    hollow = beside(box((2, 2, 2), (5, 5, 5)), turned_over(box((3, 3, 3), (4, 4, 4))))
    distance = SignedDistance([box((0, 0, 0), (9, 9, 9)), hollow])
    np.testing.assert_allclose(distance([(3.5, 3.5, 3.5)]), [-3.5], atol=1e-14)


# meshes that are hard


@pytest.mark.parametrize("wall_mm", [0.3, 0.02, 1e-4, 1e-7])
def test_thin_sheets_keep_their_inside(wall_mm, rng):
    sheet = box((0, 0, 0), (20, 20, wall_mm))
    points = rng.uniform((1, 1, -3 * wall_mm), (19, 19, 4 * wall_mm), (400, 3))
    np.testing.assert_allclose(SignedDistance(sheet)(points), box_distance(points, (0, 0, 0), (20, 20, wall_mm)), atol=1e-14)


def test_many_thin_sheets_close_together_are_all_told_apart():
    """Forty sheets of 0.02 mm every 0.05 mm: across the pack the sign changes eighty times."""
    sheets = beside(*[box((0, 0, 0.05 * k), (8, 8, 0.05 * k + 0.02)) for k in range(40)])
    heights = np.arange(-0.0125, 2.0, 0.005)
    points = np.column_stack((np.full(len(heights), 3.3), np.full(len(heights), 4.1), heights))
    place = heights % 0.05
    within = (place > 0) & (place < 0.02) & (heights > 0) & (heights < 1.97)
    found = SignedDistance(sheets)(points)
    clear = np.abs(found) > 1e-9
    np.testing.assert_array_equal((found < 0)[clear], within[clear])
    assert (np.diff(np.sign(found[clear])) != 0).sum() == 80


@pytest.mark.parametrize("degrees", [60.0, 10.0, 1.0, 0.1])
def test_a_sharp_wedge_is_outside_all_round_its_edge(degrees):
    """Near the edge both faces are equally far; either normal alone would say inside for some of these places."""
    half = np.tan(np.radians(degrees / 2))
    ends = [[(0, 0, z), (10, 10 * half, z), (10, -10 * half, z)] for z in (0, 10)]
    faces = [(0, 2, 1), (3, 4, 5), (0, 1, 4), (0, 4, 3), (1, 2, 5), (1, 5, 4), (2, 0, 3), (2, 3, 5)]
    wedge = Mesh(np.array(ends).reshape(-1, 3), np.array(faces))
    turn = np.radians(np.linspace(90 + degrees / 2, 270 - degrees / 2, 51))
    points = np.column_stack((0.5 * np.cos(turn), 0.5 * np.sin(turn), np.full(51, 5.1)))
    distance = SignedDistance(wedge if wedge.volume_mm3 > 0 else turned_over(wedge))
    np.testing.assert_allclose(distance(points), 0.5, atol=1e-12)
    deep = np.column_stack((np.linspace(0.5, 9.0, 18), np.zeros(18), np.full(18, 5.1)))
    assert (distance(deep) < 0).all()


def split_edge(height):
    """A unit cube with a corner set into an edge of its lid, `height` off it: a flat triangle, or a sliver, closes the seam."""
    points = np.vstack((CUBE.vertices, [(0.5, height, 1.0)]))
    faces = [f for f in CUBE.faces.tolist() if set(f) != {4, 5, 6}]
    return Mesh(points, np.array([*faces, [4, 8, 6], [8, 5, 6], [4, 5, 8]]))


@pytest.mark.parametrize("height", [0.0, 1e-14, 1e-11, 1e-8, 1e-5])
def test_flat_triangles_and_slivers_do_not_turn_the_sign(height, rng):
    """Points round the split edge, the split corner and its neighbours, near and far; the cube in closed form is the truth."""
    near = np.array([0.5, 0.0, 1.0]) + rng.normal(scale=0.02, size=(400, 3))
    edge = np.column_stack((rng.uniform(-0.1, 1.1, 400), rng.normal(scale=1e-3, size=400), 1 + rng.normal(scale=1e-3, size=400)))
    points = np.vstack((near, edge, around(rng)))
    found = SignedDistance(split_edge(height))(points)
    np.testing.assert_allclose(found, box_distance(points, (0, 0, 0), (1, 1, 1)), atol=1e-12)


def test_a_triangle_shrunk_to_a_point_does_no_harm(rng):
    """Three corners in one place, each with a number of its own, set into a lid."""
    middle = [(0.4, 0.6, 1.0)] * 3
    faces = [f for f in CUBE.faces.tolist() if set(f) not in ({4, 5, 6}, {5, 6, 7})]
    lid = [[4, 5, 8], [5, 7, 8], [7, 9, 8], [7, 6, 9], [6, 10, 9], [6, 4, 10], [4, 8, 10], [8, 9, 10]]
    mesh = Mesh(np.vstack((CUBE.vertices, middle)), np.array([*faces, *lid]))
    points = np.vstack((around(rng), np.array([0.4, 0.6, 1.0]) + rng.normal(scale=0.01, size=(200, 3))))
    np.testing.assert_allclose(SignedDistance(mesh)(points), box_distance(points, (0, 0, 0), (1, 1, 1)), atol=1e-12)


def test_long_needles_are_measured_along_their_whole_length(rng):
    """A rod of three 100 mm triangles a side, 0.01 mm thick: boxes of slanted needles are large and nearly empty."""
    turn = 2 * np.pi * np.arange(3) / 3
    ring = 0.01 * np.column_stack((np.cos(turn), np.sin(turn)))
    axis = np.array([1.0, 2.0, 3.0]) / np.sqrt(14)
    aside = np.cross(axis, (0, 0, 1)) / np.linalg.norm(np.cross(axis, (0, 0, 1)))
    foot = ring @ np.array([aside, np.cross(axis, aside)])
    faces = [(0, 2, 1), (3, 4, 5), *[t for k in range(3) for t in ((k, (k + 1) % 3, (k + 1) % 3 + 3), (k, (k + 1) % 3 + 3, k + 3))]]
    rod = Mesh(np.vstack((foot, foot + 100 * axis)), np.array(faces))
    points = axis * rng.uniform(-10, 110, (200, 1)) + rng.normal(scale=2.0, size=(200, 3))
    found = SignedDistance(rod)(points)
    np.testing.assert_allclose(found, [reference.signed_distance(rod.corners, p) for p in points], atol=1e-11)
    assert SignedDistance(rod)([50 * axis])[0] == pytest.approx(-0.005, abs=1e-9), "half the radius from the flats of a triangle"


def test_a_pinched_corner_decides_by_the_winding_number(rng):
    """Two tetrahedra tip to tip: a normal at the tip would have to point two ways."""
    points = [(0, 0, 0), (1, 0, 1), (0, 1, 1), (-1, -1, 1), (1, 0, -1), (0, 1, -1), (-1, -1, -1)]
    faces = [(0, 2, 1), (0, 3, 2), (0, 1, 3), (1, 2, 3), (0, 4, 5), (0, 5, 6), (0, 6, 4), (4, 6, 5)]
    glass = Mesh(np.array(points), np.array(faces))
    asked = rng.normal(scale=0.1, size=(500, 3))
    found = SignedDistance(glass)(asked)
    np.testing.assert_allclose(found, [reference.signed_distance(glass.corners, p) for p in asked], atol=1e-13)


def test_a_saddle_corner_is_right_on_both_sides(rng):
    """Corners where the surface rises and falls by turns, steep and random: angles, not areas, must weigh the normals."""
    crumpled = shaken(icosphere(1.0, halvings=2), by=0.06, seed=1)
    points = np.repeat(crumpled.vertices, 8, axis=0) + rng.normal(scale=0.01, size=(8 * len(crumpled.vertices), 3))
    found = SignedDistance(crumpled)(points)
    truth = [reference.signed_distance(crumpled.corners, p) for p in points]
    np.testing.assert_allclose(found, truth, atol=1e-13)


def test_a_fan_of_many_triangles_round_one_corner_is_taken():
    """A cone of 3000 sides: everything meets at the tip and at the middle of the foot."""
    profile = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]
    cone = swept(profile[1:2], around=3000, radius=0.0)
    count = 3000
    points = np.vstack((cone.vertices, [(0, 0, 0), (0, 0, 1)]))
    k = np.arange(count)
    foot = np.column_stack(((k + 1) % count, k, np.full(count, count)))
    side = np.column_stack((k, (k + 1) % count, np.full(count, count + 1)))
    distance = SignedDistance(Mesh(points, np.vstack((foot, side))))
    np.testing.assert_allclose(distance([(0, 0, 2), (0, 0, -1), (0, 0, 0.2)]), [1.0, 1.0, -0.2], atol=1e-6)


def test_facets_with_corners_of_their_own_are_welded(rng):
    points = around(rng)
    np.testing.assert_allclose(SignedDistance(soup(CUBE))(points), SignedDistance(CUBE)(points), atol=1e-15)


# what is refused


@pytest.mark.parametrize(
    ("bodies", "said"),
    [
        ((), "nothing to measure"),
        (Mesh(np.zeros((0, 3)), np.zeros((0, 3))), "no triangles"),
        (Mesh(CUBE.vertices, CUBE.faces[1:]), "3 open edges"),
        (Mesh(CUBE.vertices, np.vstack((CUBE.faces[:1, ::-1], CUBE.faces[1:]))), "3 edges whose triangles disagree"),
        (turned_over(CUBE), "inside out"),
        (beside(CUBE, turned_over(box((5, 5, 5), (6, 6, 6)))), "inside out"),
        (Mesh(np.where(CUBE.vertices == 1, np.nan, CUBE.vertices), CUBE.faces), "7 corners that are no numbers"),
        ((CUBE, Mesh(CUBE.vertices, CUBE.faces[1:])), "Body 1 is not a closed solid"),
        (beside(CUBE, box((1, 1, 0), (2, 2, 1))), None),
    ],
)
def test_what_has_no_inside_is_refused_with_the_reason(bodies, said):
    if said is None:  # corners of two boxes in one place stay two: nothing wrong with it
        assert SignedDistance(bodies)([(1.5, 1.5, 0.5)])[0] == pytest.approx(-0.5)
        return
    with pytest.raises(BadDataError) as caught:
        SignedDistance(bodies)
    assert said in str(caught.value)


def test_solids_welded_along_an_edge_are_to_be_given_apart():
    """Four triangles at one edge: which of them belong together is not told by the mesh."""
    pair = soup(beside(CUBE, box((1, 1, 0), (2, 2, 1))))
    with pytest.raises(BadDataError) as caught:
        SignedDistance(pair)
    assert "1 edges of more than two triangles" in str(caught.value)
    assert "bodies of their own" in str(caught.value)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_point_that_is_nowhere_is_refused_by_its_number(bad):
    points = np.zeros((9, 3))
    points[4, 1] = points[7, 2] = bad
    with pytest.raises(BadDataError) as caught:
        SignedDistance(CUBE)(points)
    assert str(caught.value).startswith("Point 4 is not at a place")
    assert "2 are not" in str(caught.value)


@pytest.mark.parametrize("shape", [(3,), (2, 2), (4, 4), (1, 2, 3)])
def test_points_of_another_shape_are_refused(shape):
    with pytest.raises(BadDataError) as caught:
        SignedDistance(CUBE)(np.zeros(shape))
    assert str(shape) in str(caught.value)
