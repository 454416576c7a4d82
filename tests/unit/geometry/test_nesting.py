"""Which body lies in which."""

import pytest

from pourwell.geometry import nesting
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.nesting import nested
from pourwell.geometry.solidity import NotSolidError, inside_out
from tests.unit.files.pattern_files import cube


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
