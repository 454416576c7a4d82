"""What decides a crossing, by symmetry and by counting: sides of planes, boxes over triangles, ends of a search, volume twice."""

from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.geometry.crossing import ROUNDING_SHARE, crossings, doubled_mm3
from pourwell.geometry.kernels.crossings import LEAST_ROOM, crossing_pairs, levels
from pourwell.geometry.kernels.signs import rough_side_of, side_of
from pourwell.geometry.kernels.tree import FAN, WIDTH, tree_order
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.places import FaultKind, crossing_places, find_faults
from tests.unit.files.pattern_files import cube, joined
from tests.unit.geometry.faulty import fine

NUMBERS = st.floats(-100, 100, allow_subnormal=False)
POINTS = st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=4, max_size=4)


def side(corners) -> int:
    a, b, c, d = (tuple(float(x) for x in corner) for corner in corners)
    return side_of(a, b, (c, d))


def blades(count: int) -> Mesh:
    """Upright triangles along x, and as many along y: each of the first goes through each of the second."""
    along = np.array([[[-1, k, -1], [2 * count, k, -1], [count / 2, k, 3 * count]] for k in range(count)], dtype=float)
    across = along[:, :, [1, 0, 2]] + [0.25, 0, 0.1]
    return Mesh(np.concatenate((along, across)).reshape(-1, 3), np.arange(6 * count).reshape(-1, 3))


# --- sides ---


@given(POINTS)
def test_two_corners_changed_about_change_the_side(corners):
    first = side(corners)
    for order in permutations(range(4)):
        parity = round(np.linalg.det(np.eye(4)[list(order)]))
        assert side([corners[k] for k in order]) == parity * first


@given(POINTS, st.integers(-40, 40))
def test_a_piece_a_power_of_two_larger_has_the_same_sides(corners, power):
    fair = [[float(Fraction(x).limit_denominator(1024)) for x in corner] for corner in corners]
    assert side(np.array(fair) * 2.0**power) == side(fair)


@given(POINTS)
def test_the_plain_sum_is_right_where_it_is_sure(corners):
    a, b, c, d = corners
    rough = rough_side_of(a, b, (c, d))
    assert rough in (-1, 0, 1, 2)
    assert rough in (2, side(corners))


@given(POINTS, st.integers(0, 2))
def test_a_point_among_three_corners_lies_in_their_plane(corners, which):
    assert side([*corners[:3], corners[which]]) == 0
    assert side([corners[0], corners[0], corners[1], corners[2]]) == 0


@pytest.mark.parametrize("off", [2.0**-40, 2.0**-49, -(2.0**-49)])
def test_the_least_step_off_a_slanted_plane_is_seen(off):
    """x + y + z = 3 through whole numbers; the point (1, 1, 1 + off) is off it by nothing else."""
    plane = [(3.0, 0.0, 0.0), (0.0, 3.0, 0.0), (0.0, 0.0, 3.0)]
    assert side([*plane, (1.0, 1.0, 1.0)]) == 0
    assert side([*plane, (1.0, 1.0, 1.0 + off)]) == -np.sign(off)


# --- the search ---


@pytest.mark.parametrize("count", [1, WIDTH, WIDTH + 1, WIDTH * FAN, WIDTH * FAN + 1])
def test_every_triangle_lies_in_its_boxes_up_to_the_root(count):
    rng = np.random.default_rng(count)
    mesh = Mesh(rng.uniform(-5, 5, (3 * count, 3)), np.arange(3 * count).reshape(-1, 3))
    order = tree_order(mesh.centres)
    tree = levels(mesh.vertices, mesh.faces, order)
    assert tree.boxes[-1] == pytest.approx(np.concatenate(mesh.bounds))
    assert len(tree.boxes) == tree.starts[-1]
    for slot, face in enumerate(order.tolist()):
        low, high = mesh.corners[face].min(axis=0), mesh.corners[face].max(axis=0)
        box = slot // WIDTH
        for level in range(len(tree.starts) - 1):
            held = tree.boxes[tree.starts[level] + box]
            assert (held[:3] <= low).all()
            assert (held[3:] >= high).all()
            box //= FAN


def test_more_pairs_than_the_first_list_holds_are_all_found_once():
    mesh = blades(40)
    found = crossings(mesh, least_mm=0.0)
    assert len(found) == 40 * 40 > LEAST_ROOM
    assert len({tuple(pair) for pair in found.pairs.tolist()}) == 40 * 40
    assert (found.pairs[:, 0] < 40).all()
    assert (found.pairs[:, 1] >= 40).all()


def test_a_search_ends_soon_after_the_pairs_that_were_asked_for():
    mesh = blades(40)
    pairs, places = crossing_pairs(mesh.vertices, mesh.faces, (tree_order(mesh.centres), 10))
    assert 10 <= len(pairs) <= 10 + WIDTH * WIDTH
    assert len(places) == len(pairs)


def test_two_blades_cross_along_the_line_that_both_hold():
    found = crossings(blades(1), least_mm=0.0)
    (at,) = found.at_mm.tolist()
    assert at[0] == pytest.approx(0.25)
    assert at[1] == pytest.approx(0)
    assert -1 <= at[2] <= 3


def test_no_corner_need_be_shared_and_no_order_matters():
    mesh = blades(6)
    turned = Mesh(mesh.vertices, np.roll(mesh.faces[::-1], 1, axis=1))
    first, second = crossings(mesh, least_mm=0.0), crossings(turned, least_mm=0.0)
    assert {tuple(p) for p in first.pairs.tolist()} == {tuple(sorted(11 - f for f in p)) for p in second.pairs.tolist()}
    assert np.sort(first.depth_mm) == pytest.approx(np.sort(second.depth_mm))


@pytest.mark.parametrize("share", [0.5, 2.0])
def test_what_reaches_through_by_less_than_rounding_does_not_count(share):
    """A post whose broad foot comes through a plate of 10 mm by that share of what files round."""
    plate = Mesh([[0, 0, 0], [10, 0, 0], [0, 10, 0]], [[0, 1, 2]])
    tip = share * ROUNDING_SHARE * 10
    post = Mesh([[2, 2, -tip], [4, 2, -tip], [3, 2.5, 3]], [[0, 1, 2]])
    assert len(crossings(joined(plate, post))) == (0 if share < 1 else 1)
    assert len(crossings(joined(plate, post), least_mm=0.0)) == 1


def test_the_places_of_crossings_are_one_for_each_that_hangs_together():
    apart = joined(cube(4), cube(2, (3, 1, 1)), cube(4, (20, 0, 0)), cube(2, (19, 1, 1)))
    places = crossing_places(apart)
    assert len(places) == 2
    assert {fault.kind for fault in places} == {FaultKind.CROSSING}
    assert sorted(round(fault.at_mm[0]) for fault in places) == [4, 20]
    assert not [fault for fault in find_faults(apart) if fault.kind is FaultKind.CROSSING], "bodies may cross one another"


# --- volume counted twice ---


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_a_place_within_several_bodies_is_counted_as_often_as_it_is_too_many(count):
    """n boxes of 6 x 6 x 2 mm, each within all others but for a little: n - 1 times too many."""
    plates = [Mesh(cube(6, (0.001 * k,) * 3).vertices * [1, 1, 1 / 3], cube(6).faces) for k in range(count)]
    assert doubled_mm3(joined(*plates)) == pytest.approx((count - 1) * 72, rel=0.01, abs=1e-9)


def test_it_does_not_matter_for_what_is_counted_twice_how_the_surface_is_divided_or_where_it_lies():
    two = joined(cube(4), cube(4, (2, 0.3, 0.4)))
    finer = joined(fine(cube(4), 1.0), fine(cube(4, (2, 0.3, 0.4)), 1.0))
    moved = Mesh(two.vertices + np.array([500, -300, 7]), two.faces)
    assert doubled_mm3(finer) == pytest.approx(doubled_mm3(two), rel=1e-3)
    assert doubled_mm3(moved) == pytest.approx(doubled_mm3(two), rel=1e-2)
