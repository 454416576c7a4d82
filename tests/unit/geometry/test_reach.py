"""From where nothing gets out: the inside of a ball with a small hole, and no face of a piece that is open."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.rays import Caster
from pourwell.geometry.reach import shut_in
from pourwell.geometry.shapes import SHAPES
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import block, cup, cylinder, mesh, placed, turn_by


def bead(hole_mm):
    """A ball of 12 mm with a wall of 1 mm and a hole from below."""
    shell = manifold3d.Manifold.sphere(6, 48) - manifold3d.Manifold.sphere(5, 48)
    return mesh(shell - cylinder(hole_mm / 2, low=-9, high=0))


def shut(what):
    return shut_in(what, Caster(what))


def inside(what, radius=5.2):
    return np.linalg.norm(what.centres, axis=1) < radius


def test_of_a_ball_with_a_small_hole_all_but_the_hole_is_shut_in_and_nothing_outside():
    what = bead(1.5)
    found, within = shut(what), inside(what)
    assert what.areas[within & ~found].sum() < 0.06 * what.areas[within].sum()
    assert not found[np.linalg.norm(what.centres, axis=1) > 5.8].any()


def test_a_ball_that_is_wide_open_is_got_at():
    what = bead(8.0)
    assert what.areas[shut(what)].sum() < 0.02 * what.area_mm2


@pytest.mark.parametrize("name", ["plain-band", "bezel-ring", "pendant", "stud"])
def test_no_face_of_our_own_shapes_is_shut_in(name):
    what = SHAPES[name].make()
    assert what.areas[shut(what)].sum() < 0.5


@pytest.mark.parametrize("what", [box((0, 0, 0), (4, 5, 6)), cup()], ids=["box", "cup"])
def test_a_solid_and_an_open_cup_are_open_all_over(what):
    assert not shut(what).any()


def test_a_closed_room_is_shut_in_whichever_way_it_is_turned():
    room = mesh(block((0, 0, 0), (8, 8, 8)) - block((1, 1, 1), (7, 7, 7)))
    turned = placed(room, turn_by((1, 2, 3), 0.8), (4, 5, 6))
    for what in (room, turned):
        assert what.areas[shut(what)].sum() == pytest.approx(6 * 36)
