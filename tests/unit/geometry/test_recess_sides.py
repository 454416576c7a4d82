"""What stands beside a recess: sides followed up and down, the sky that is seen, the ground beyond; each by a formula."""

import numpy as np
import pytest

from pourwell.geometry.rays import Caster
from pourwell.geometry.recess_sides import AS_WIDE, SKY_COUNT, STEPS, beside, open_fraction, walled
from pourwell.geometry.solidity import from_manifold
from tests.unit.geometry.feature_pieces import TOP, Solid, block, groove, line, v_groove
from tests.unit.geometry.ring_pieces import rod

ACROSS, UP = np.array([[0.0, 1.0, 0.0]]), np.array([[0.0, 0.0, 1.0]])


def stood(mesh, start, *, width, above, below):
    """How much of its depth one place is walled, looking up and measuring along y."""
    sizes = {"width_mm": np.array([width]), "above_mm": np.array([above]), "below_mm": np.array([below])}
    return float(walled(Caster(mesh), np.array([start]), out=UP, heading=ACROSS, **sizes)[0])


@pytest.mark.parametrize(("width", "depth"), [(0.4, 1.0), (1.0, 2.0), (0.2, 0.3)])
def test_the_sides_of_a_groove_stand_all_the_way(width, depth):
    told = stood(block(groove(width, depth)), (0.3, 0.0, TOP - depth / 2), width=width, above=depth / 2, below=depth / 2)
    assert told == pytest.approx(depth)


def test_the_open_air_over_a_groove_is_no_part_of_its_depth():
    """Counted as 1 deep and 3 more of air: of the ten steps upward that start half-way down, those within the block."""
    told = stood(block(groove(0.5, 1.0)), (0.0, 0.0, TOP - 0.5), width=0.5, above=3.5, below=0.5)
    assert told == pytest.approx(1.0, abs=3.5 / STEPS)


def test_slanted_sides_stand_until_they_are_a_third_wider_or_narrower():
    """At 60 degrees the width is 2 h tan 30 over the bottom; from half-way, h is between 1/1.3 and 1.3 of half the depth."""
    depth = 1.6
    half = depth / 2
    told = stood(block(v_groove(60, depth)), (0, 0, TOP - half), width=2 * half * np.tan(np.pi / 6), above=half, below=half)
    assert told == pytest.approx(half * (AS_WIDE - 1 / AS_WIDE), abs=2 * half / STEPS)


def test_sides_are_followed_from_the_start_and_not_beyond_where_they_part():
    """A neck, a chamber twice as wide, and a neck again: from the upper neck only that one counts."""
    mesh = block(groove(0.4, 3.0), Solid.cube((20, 0.8, 1.0), True))
    told = stood(mesh, (0, 0, 1.25), width=0.4, above=0.75, below=2.25)
    assert told == pytest.approx(1.5, abs=0.25), "from 2.0 down to 0.5, not on to -1.0"


def test_walled_is_reckoned_for_each_place_by_itself():
    caster = Caster(block(groove(0.4, 1.0)))
    start = np.array([[0, 0, TOP - 0.5], [0, 0, TOP + 1.0], [2, 0, TOP - 0.9]])
    sizes = {"width_mm": np.full(3, 0.4), "above_mm": np.array([0.5, 0.5, 0.9]), "below_mm": np.array([0.5, 0.5, 0.1])}
    told = walled(caster, start, out=np.repeat(UP, 3, axis=0), heading=np.repeat(ACROSS, 3, axis=0), **sizes)
    assert told == pytest.approx([1.0, 0.0, 1.0])


def test_nothing_is_seen_from_within_a_closed_hollow_and_all_from_without():
    hollow = from_manifold(Solid.sphere(4, 48) - Solid.sphere(3, 48))
    told = open_fraction(Caster(hollow), np.array([[0.0, 0.0, 0.0], [1.0, 2.0, 0.5], [500.0, 0.0, 0.0]]))
    assert told == pytest.approx([0, 0, 1], abs=1 / SKY_COUNT)


def test_half_the_sky_is_open_over_a_wide_plate():
    plate = from_manifold(Solid.cube((200, 200, 1), True))
    assert open_fraction(Caster(plate), np.array([[0, 0, 0.6]])) == pytest.approx([0.5], abs=0.02)


@pytest.mark.parametrize("half_angle", [20, 40, 60])
def test_a_mouth_opens_what_its_cone_covers(half_angle):
    """Of a hemisphere's pole to a half angle a: (1 - cos a) / 2 of the whole sphere."""
    shell = Solid.sphere(5, 96) - Solid.sphere(4, 96)
    a = np.radians(half_angle)
    cone = Solid.cylinder(12 * np.cos(a), 1e-3, 12 * np.sin(a), 96)
    told = open_fraction(Caster(from_manifold(shell - cone)), np.zeros((1, 3)))
    assert told == pytest.approx([(1 - np.cos(a)) / 2], abs=0.02)


def test_a_tube_is_open_at_both_its_ends():
    tube = from_manifold(rod(8, 3) - rod(9, 2))
    told = open_fraction(Caster(tube), np.zeros((1, 3)))
    assert told == pytest.approx([1 - np.cos(np.arctan2(2, 4))], abs=0.02)


def test_the_land_beside_a_groove_goes_on_to_the_next_one():
    """Grooves 0.3 wide at -0.9, 0 and 0.9: 0.6 of land on both sides of the middle one."""
    mesh = block(*(groove(0.3, 0.4).translate((0, k * 0.9, 0)) for k in (-1, 0, 1)))
    at = np.array([[0, 0.0, TOP - 0.2], [1, 0.05, TOP - 0.2]])
    assert beside(Caster(mesh), at, np.repeat(ACROSS, 2, axis=0)) == pytest.approx([0.6, 0.6], abs=2e-3)


def test_the_lesser_side_counts():
    mesh = block(groove(0.3, 0.4), groove(0.3, 0.4).translate((0, 0.7, 0)), groove(0.3, 0.4).translate((0, -1.2, 0)))
    assert beside(Caster(mesh), np.array([[0, 0, TOP - 0.2]]), ACROSS) == pytest.approx([0.4], abs=2e-3)


def test_beside_a_single_raised_line_there_is_nothing():
    at = np.array([[0, 0, TOP + 0.2]])
    assert np.isinf(beside(Caster(block(on=[line(0.3, 0.4)])), at, ACROSS)).all()


def test_beside_two_raised_lines_there_is_the_ground_between_them():
    mesh = block(on=[line(0.3, 0.4), line(0.3, 0.4).translate((0, 1.1, 0))])
    assert beside(Caster(mesh), np.array([[0, 0, TOP + 0.2]]), ACROSS) == pytest.approx([0.8], abs=2e-3)
