"""Where the largest ceiling of a print lies: on solids whose undersides are known beforehand."""

import numpy as np
import pytest

from pourwell.geometry.ceiling import ceiling_place
from pourwell.geometry.layers import closed_halves, layers
from tests.unit.geometry.printed_samples import block, cylinder, mesh, placed, table, turn_by


def place(what, direction=(0, 0, 1), *, layer_mm=0.05):
    """The ceiling that the layers tell, and a place on it."""
    closed, mate = closed_halves(what)
    cut = layers(closed, direction, layer_mm=layer_mm)
    return cut, ceiling_place(closed, mate, direction, height_mm=cut.ceiling_height_mm, layer_mm=layer_mm)


def test_under_a_table_it_is_at_its_top_s_underside():
    """Two legs of 1 mm² under a top of 60: the other 58 have nothing beneath them, 5 mm up."""
    cut, at = place(table(legs=[(0, 0, 0), (9, 5, 0)]))
    assert cut.ceiling_mm2 == pytest.approx(58)
    assert at[2] == pytest.approx(5.0)
    assert 0 < at[0] < 10
    assert 0 < at[1] < 6


def test_of_two_at_one_height_it_is_the_larger():
    """A post with an arm on either side, at one height: one of 3 mm, one of 5."""
    what = mesh(block((0, 0, 0), (2, 2, 8)) + block((-3, 0, 4), (0.1, 2, 6)) + block((1.9, 0, 4), (7, 2, 6)))
    _, at = place(what)
    assert at[0] > 2
    assert at[2] == pytest.approx(4.0)


def test_on_a_slope_it_lies_on_the_surface_at_its_layer():
    """A plate that leans by 20 degrees from the level on a post: its underside is one plane, reached layer by layer."""
    lean = np.deg2rad(20)
    what = placed(mesh(block((-6, -2, 0), (6, 2, 1))), turn_by((0, 1, 0), lean))
    cut, at = place(what)
    normal = turn_by((0, 1, 0), lean) @ np.array([0, 0, 1.0])
    assert np.array(at) @ normal == pytest.approx(0, abs=1e-9)
    low = float(what.vertices[:, 2].min())
    assert at[2] - low == pytest.approx(cut.ceiling_height_mm, abs=0.026)


def test_a_motion_of_the_piece_moves_it_along():
    what = mesh(cylinder(1, low=0, high=5) + block((-4, -1, 5), (4, 3, 6)))
    turn, shift = turn_by((1, 2, -1), 0.7), (3.0, -1.0, 4.0)
    _, at = place(what)
    _, moved = place(placed(what, turn, shift), turn @ np.array([0, 0, 1.0]))
    assert moved == pytest.approx(turn @ np.array(at) + shift, abs=1e-6)


def test_what_only_widens_downwards_has_none():
    closed, mate = closed_halves(mesh(cylinder(3, low=0, high=4, tip=1)))
    assert ceiling_place(closed, mate, (0, 0, 1), height_mm=2.0, layer_mm=0.05) is None
