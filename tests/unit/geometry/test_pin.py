"""Pins: thin straight wires that are half of a piece's length or more."""

import numpy as np
import pytest

from pourwell.geometry.pin import pin_of
from pourwell.geometry.shapes import SHAPES
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import cylinder, mesh, placed, turn_by


def nail(*, thick=0.8, head=6.0, length=10.0):
    """A pin along z with its head uppermost."""
    return mesh(cylinder(thick / 2, low=0, high=length + 0.5) + cylinder(head / 2, low=length, high=length + 2))


def test_the_pin_of_a_nail_points_to_its_head():
    np.testing.assert_allclose(pin_of(nail(), most_mm=1.6), (0, 0, 1), atol=1e-3)


@pytest.mark.parametrize("axis", [(1, 0, 0), (0, 1, 0), (1, 1, 1)])
@pytest.mark.parametrize("angle", [0.3, 1.2, np.pi])
def test_the_pin_turns_with_the_piece(axis, angle):
    turn = turn_by(np.array(axis) / np.linalg.norm(axis), angle)
    found = pin_of(placed(nail(), turn, (5, -3, 70)), most_mm=1.6)
    np.testing.assert_allclose(found, turn @ (0, 0, 1), atol=1e-3)


@pytest.mark.parametrize(
    "made",
    [
        lambda: nail(thick=2.0),
        lambda: nail(length=1.0),
        lambda: nail(head=1.2),
        lambda: box((0, 0, 0), (0.8, 0.8, 12)),
        lambda: mesh(cylinder(3, low=0, high=12, tip=0.0)),
        lambda: box((0, 0, 0), (4, 5, 6)),
    ],
    ids=["too thick", "too short", "no head", "a bar", "a cone", "a block"],
)
def test_what_is_no_pin_has_none(made):
    assert pin_of(made(), most_mm=1.6) is None


@pytest.mark.parametrize("name", SHAPES)
def test_of_our_own_shapes_only_the_stud_has_one(name):
    assert (pin_of(SHAPES[name].make(), most_mm=1.6) is not None) == (name == "stud")
