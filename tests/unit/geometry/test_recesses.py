"""Grooves, holes, gaps, raised lines and inner corners: what is found, what is not, and how large it is told."""

import numpy as np
import pytest

from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from tests.unit.geometry.feature_pieces import (
    Solid,
    blind_hole,
    block,
    drilled,
    flask_shaped,
    found,
    groove,
    line,
    notch,
    refined,
    round_groove,
    slot,
    v_groove,
    with_wire,
)


def middle(values, area):
    """The median by area."""
    order = np.argsort(values)
    summed = np.cumsum(area[order])
    return float(values[order][np.searchsorted(summed, summed[-1] / 2)])


def typical(places):
    """Width, mouth and depth, each in the middle of what was found."""
    return tuple(middle(v, places.area_mm2) for v in (places.width_mm, places.mouth_mm, places.depth_mm))


@pytest.mark.parametrize(("width", "depth"), [(0.3, 0.3), (0.25, 1.0), (0.5, 0.15), (1.0, 0.08), (1.5, 1.0)])
def test_a_groove_is_as_wide_and_deep_as_it_was_cut(width, depth):
    sunk = found(block(groove(width, depth))).sunk
    assert typical(sunk) == pytest.approx((width, width, depth), rel=0.03)
    assert sunk.flush.all()
    assert not sunk.through.any()
    assert sunk.parallel.mean() > 0.9
    assert np.isinf(sunk.long_mm).mean() > 0.9, "it runs out at both ends"


@pytest.mark.parametrize(("angle", "depth"), [(90, 0.3), (60, 0.4), (40, 0.8)])
def test_a_groove_with_slanted_sides_is_told_by_its_mouth_and_its_depth(angle, depth):
    sunk = found(block(v_groove(angle, depth))).sunk
    _, mouth, deep = typical(sunk)
    assert mouth == pytest.approx(2 * depth * np.tan(np.radians(angle / 2)), rel=0.05)
    assert deep == pytest.approx(depth, rel=0.05)


def test_a_half_round_groove_is_as_deep_as_its_radius():
    sunk = found(refined(block(round_groove(0.4)), 1)).sunk
    assert typical(sunk)[2] == pytest.approx(0.4, rel=0.05)
    assert typical(sunk)[1] == pytest.approx(0.8, rel=0.15)


@pytest.mark.parametrize(("diameter", "depth"), [(1.0, 1.5), (1.0, 2.5), (2.0, 3.0)])
def test_a_blind_hole_is_as_wide_every_way_and_as_deep_as_it_was_drilled(diameter, depth):
    sunk = found(block(blind_hole(diameter, depth))).sunk
    assert typical(sunk) == pytest.approx((diameter, diameter, depth), rel=0.03)
    assert middle(sunk.long_mm, sunk.area_mm2) == pytest.approx(diameter, rel=0.03)
    assert not sunk.through.any()


@pytest.mark.parametrize("diameter", [0.5, 0.8, 1.5])
def test_a_hole_through_the_block_is_as_long_as_the_block_is_thick(diameter):
    sunk = found(block(drilled(diameter))).sunk
    assert sunk.through.mean() > 0.95
    assert middle(sunk.width_mm, sunk.area_mm2) == pytest.approx(diameter, rel=0.03)
    assert middle(sunk.depth_mm, sunk.area_mm2) == pytest.approx(4.0, rel=0.1)


def test_a_slot_through_the_block_is_a_gap():
    sunk = found(block(slot(0.3))).sunk
    assert sunk.through.mean() > 0.95
    assert middle(sunk.width_mm, sunk.area_mm2) == pytest.approx(0.3, rel=0.01)


def test_a_recess_wider_than_the_ball_that_rolls_is_none():
    assert len(found(block(groove(4.5, 1.0))).sunk) == 0
    assert len(found(block(blind_hole(4.4, 1.5))).sunk) == 0


@pytest.mark.parametrize(
    "cut",
    [
        Solid.cube((20, 4, 0.6), True).translate((0, 4, 2)),
        Solid.cube((20, 4, 2.0), True).translate((0, 4, 2)),
        Solid.cube((20, 4, 0.2), True).translate((0, 4, 2)),
    ],
    ids=["low", "high", "very low"],
)
def test_a_step_is_no_recess(cut):
    assert len(found(block(cut)).sunk) == 0


def test_a_block_has_neither_recess_nor_raised_line_nor_wire_nor_corner():
    told = found(block())
    assert len(told.sunk) == len(told.raised) == len(told.wires) == 0
    assert told.corners.sharpest() is None
    assert np.isinf(told.gap_mm).all()


def test_a_pocket_under_a_neck_has_a_mouth_narrower_than_itself():
    sunk = found(refined(block(flask_shaped()), 1)).sunk
    within = sunk.only((sunk.at_mm[:, 2] < 0.9) & ~sunk.through)
    assert typical(within)[0] > 1.2
    assert typical(within)[1] == pytest.approx(0.8, abs=0.15)
    neck = sunk.only(sunk.at_mm[:, 2] > 1.1)
    assert not neck.only(neck.parallel).through.any()
    assert typical(neck)[0] == pytest.approx(0.8, rel=0.03)


@pytest.mark.parametrize(("width", "height"), [(0.3, 0.4), (0.6, 0.2), (0.8, 0.5)])
def test_a_raised_line_is_as_wide_and_high_as_it_was_set_on(width, height):
    raised = found(block(on=[line(width, height)])).raised
    lines = raised.only(raised.flush & raised.parallel)
    assert typical(lines)[0] == pytest.approx(width, rel=0.03)
    assert typical(lines)[2] == pytest.approx(height, rel=0.05)


def test_a_recess_in_a_thin_wall_does_not_see_the_air_behind_the_wall():
    """A plate of 1.5 with a slot cut 1.2 deep: nearer to the slot's floor than its mouth is the plate's back."""
    plate = Solid.cube((14, 8, 1.5), True) - Solid.cube((20, 0.5, 2.4), True).translate((0, 0, 0.75))
    sunk = found(from_manifold(plate)).sunk
    assert typical(sunk) == pytest.approx((0.5, 0.5, 1.2), rel=0.03)


def test_the_worst_place_leaves_specks_out():
    sunk = found(block(groove(0.5, 0.3), groove(0.2, 0.3).translate((0, 3, 0)))).sunk
    narrow = sunk.worst(sunk.width_mm, 0.3)
    assert sunk.width_mm[narrow] == pytest.approx(0.2, rel=0.01)
    speck = float(sunk.area_mm2[sunk.width_mm < 0.3].sum()) * 1.01
    assert sunk.width_mm[sunk.worst(sunk.width_mm, speck)] == pytest.approx(0.5, rel=0.01)
    assert sunk.worst(sunk.width_mm, 1e6) is None


@pytest.mark.parametrize("angle", [20, 30, 40])
def test_an_inner_corner_is_as_sharp_as_it_was_cut(angle):
    corners = found(refined(block(notch(angle)), 2)).corners
    assert corners.angle_deg == pytest.approx(angle, abs=0.5)
    assert np.abs(corners.at_mm[:, 1:]).max() < 1e-3, "the corner runs along the middle of the block"
    assert corners.length_mm.sum() == pytest.approx(14, rel=0.4)


def test_a_blunt_or_a_rounded_inner_corner_is_not_sharp():
    assert found(refined(block(notch(50)), 2)).corners.sharpest() is None
    for radius, sharp in ((0.25, False), (0.01, True)):
        along = Solid.cylinder(40, radius, radius, 48, True).rotate((0, 90, 0)).translate((0, 0.3, 0.3))
        rounded = block(Solid.batch_hull([along, Solid.cube((40, 1.4, 1), True).translate((0, 0.4, 3))]))
        assert (found(refined(rounded, 2)).corners.sharpest() is not None) == sharp


def test_wires_are_told_by_the_diameter_of_a_round_one():
    for diameter in (0.5, 0.7):
        gauge, at = found(with_wire(diameter)).wires.thinnest()
        assert gauge == pytest.approx(diameter, rel=0.02)
        assert at[2] > 3
    assert found(with_wire(0.9)).wires.thinnest() is None


def test_a_strip_between_wire_and_wall_is_told_by_both_its_sides():
    """0.5 by 0.9: as much section as a square wire of 0.67; at 0.5 by 1.2 it is a wall."""
    strip = Solid.cube((6, 6, 6), True) + Solid.cube((0.5, 0.9, 16), True)
    assert found(from_manifold(strip)).wires.thinnest()[0] == pytest.approx(np.sqrt(0.45), rel=0.02)
    wall = Solid.cube((6, 6, 6), True) + Solid.cube((0.5, 1.2, 16), True)
    assert found(from_manifold(wall)).wires.thinnest() is None


def test_a_thin_plate_and_the_edge_of_a_block_are_no_wires():
    plate = from_manifold(Solid.cube((12, 10, 0.5), True))
    for mesh in (plate, refined(plate, 4), refined(block(), 3)):
        assert found(mesh).wires.thinnest() is None


def test_a_stub_shorter_than_it_is_thick_is_no_wire():
    assert found(with_wire(0.6, length=0.3)).wires.thinnest() is None


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_have_arrays_of_every_triangle(name):
    mesh = SHAPES[name].make()
    told = found(mesh)
    for array in (told.ball_mm, told.gap_mm):
        assert array.shape == (len(mesh.faces),)
        assert (array >= 0).all()
    assert np.isfinite(told.ball_mm).all()
