"""Which body lies in which."""

import itertools

import pytest

from pourwell.geometry import nesting
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.nesting import nested
from pourwell.geometry.solidity import NotSolidError, inside_out
from tests.unit.files.pattern_files import cube
from tests.unit.geometry.distance_samples import icosphere


def test_the_smallest_body_around_another_is_the_one_that_it_lies_in():
    assert nested([cube(1, (4, 4, 4)), cube(10), cube(4, (3, 3, 3))]) == ((0, 2), (2, 1))


def test_bodies_that_cross_touch_or_lie_apart_are_in_none():
    assert nested([cube(10), cube(4, (8, 3, 3)), cube(2, (20, 0, 0)), cube(5, (10, 0, 0))]) == ()


def test_a_body_that_touches_the_wall_from_within_lies_within():
    assert nested([cube(10), cube(4)]) == ((1, 0),)


def test_a_body_in_a_hollow_lies_in_no_metal():
    assert nested([cube(10), inside_out(cube(6, (2, 2, 2))), cube(3, (3, 3, 3))]) == ()


def test_a_body_in_the_wall_beside_a_hollow_lies_in_the_metal():
    assert nested([cube(10), inside_out(cube(4, (5, 5, 5))), cube(2, (1, 1, 1))]) == ((2, 0),)


def test_one_body_or_none_lies_in_nothing():
    assert nested([]) == ()
    assert nested([cube(3)]) == ()


def test_two_that_are_the_same_lie_in_none():
    assert nested([cube(3), cube(3)]) in ((), ((0, 1),)), "of two alike one may be taken to hold the other, never each the other"


def test_an_open_body_around_another_is_not_judged():
    with pytest.raises(NotSolidError):
        nested([Mesh(cube(10).vertices, cube(10).faces[1:]), cube(2, (3, 3, 3))])


def test_a_body_whose_first_corners_lie_in_the_others_surface_lies_within_all_the_same():
    """Cubes that share a corner, an edge or a face of the larger one, from within."""
    for place in ((0, 0, 0), (6, 0, 0), (6, 6, 6), (0, 3, 6)):
        assert nested([cube(10), cube(4, place)]) == ((1, 0),)


def test_many_bodies_are_looked_at_without_their_volumes_being_cut(monkeypatch):
    """A stone-set ring: three hundred specks beside a body whose box holds them all. Only what may lie within is made a solid."""
    made = []
    real = nesting.to_manifold
    monkeypatch.setattr(nesting, "to_manifold", lambda mesh: made.append(1) or real(mesh))
    outer = cube(40)
    void = inside_out(cube(36, (2, 2, 2)))
    specks = [cube(0.5, (3 + 2 * (k % 15), 3 + 2 * (k // 15), 20)) for k in range(225)]
    hollow = [outer, void, *specks]
    assert nested(hollow) == ()
    assert len(made) <= len(hollow), "each solid is made once"


def test_pairs_do_not_hang_on_the_order_of_bodies():
    """In any order of four, one in two in three, and one apart, the same bodies are paired."""
    made = {"large": cube(10), "middle": cube(6, (2, 2, 2)), "small": cube(2, (4, 4, 4)), "apart": cube(3, (20, 0, 0))}
    truth = {("small", "middle"), ("middle", "large")}
    for names in itertools.permutations(made):
        assert {(names[k], names[i]) for k, i in nested([made[name] for name in names])} == truth


def test_a_body_that_fills_a_hollow_to_its_wall_lies_in_no_metal():
    """Whichever comes first in the file: body and hollow are of one size."""
    filling, void = cube(4, (3, 3, 3)), inside_out(cube(4, (3, 3, 3)))
    assert nested([cube(10), void, filling]) == ()
    assert nested([cube(10), filling, void]) == ()


def test_what_sticks_out_by_more_than_rounding_does_not_lie_within():
    assert nested([cube(10), cube(4, (6 + 1e-6, 3, 3))]) == ((1, 0),)
    assert nested([cube(10), cube(4, (6.01, 3, 3))]) == ()


def test_a_body_in_the_boxs_corner_but_outside_the_ball_lies_in_nothing():
    """Within the other's bounds, outside its surface."""
    assert nested([icosphere(5.0, halvings=3), cube(1, (3.9, 3.9, 3.9))]) == ()
    assert nested([icosphere(5.0, halvings=3), cube(1, (1, 1, 1))]) == ((1, 0),)


def test_nothing_lies_in_what_is_a_hollow_of_nothing():
    assert nested([inside_out(cube(10)), cube(2, (3, 3, 3))]) == ()


def test_open_bodies_that_lie_apart_are_not_asked():
    flap = Mesh(cube(2).vertices + 30.0, cube(2).faces[1:])
    assert nested([cube(10), flap, cube(3, (1, 1, 1))]) == ((2, 0),)
