"""Plane sections: analytic bars, the smallest one about an axis, and the part that holds the point."""

from math import cos, pi, radians, sin, sqrt

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.section import cut, folded, smallest_section
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import NotSolidError, from_manifold

CUBE = manifold3d.Manifold.cube


def rod(radius_mm: float, height_mm: float, sides: int = 256) -> manifold3d.Manifold:
    return manifold3d.Manifold.cylinder(height_mm, radius_mm, radius_mm, sides, True)


def test_a_square_bar_cut_across_shows_its_square():
    (part,) = cut(CUBE((3, 3, 20), True), (0, 0, 1), (0, 0, 1))
    assert part.area_mm2 == pytest.approx(9)
    assert part.perimeter_mm == pytest.approx(12)
    assert part.modulus_mm == pytest.approx(0.75)


@pytest.mark.parametrize("lean_deg", [0, 20, 45, 60])
def test_a_bar_cut_aslant_shows_its_section_over_the_cosine(lean_deg):
    normal = (sin(radians(lean_deg)), 0, cos(radians(lean_deg)))
    (part,) = cut(CUBE((2, 4, 40), True), (0, 0, 0), normal)
    assert part.area_mm2 == pytest.approx(8 / cos(radians(lean_deg)))


def test_a_rod_cut_aslant_shows_an_ellipse():
    (part,) = cut(rod(2, 30), (0, 0, 0), (1, 0, 1))
    assert part.area_mm2 == pytest.approx(pi * 4 * sqrt(2), rel=1e-3)


def test_a_tube_has_a_hole_that_counts_in_the_perimeter_and_not_in_the_area():
    (part,) = cut(rod(5, 10) - rod(3, 12), (0, 0, 0), (0, 0, 1))
    assert len(part.loops) == 2
    assert part.area_mm2 == pytest.approx(pi * 16, rel=1e-3)
    assert part.perimeter_mm == pytest.approx(2 * pi * 8, rel=1e-3)


def test_the_outline_comes_before_the_hole_and_runs_the_other_way():
    (part,) = cut(rod(5, 10) - rod(3, 12), (0, 0, 0), (0, 0, 1))
    areas = [float(loop[:, 0] @ np.roll(loop[:, 1], -1) - loop[:, 1] @ np.roll(loop[:, 0], -1)) / 2 for loop in part.loops]
    assert areas[0] > 0 > areas[1]
    assert areas[0] > -areas[1]


def test_parts_come_largest_first():
    two = CUBE((1, 1, 4), True) + CUBE((3, 3, 4), True).translate((6, 0, 0))
    assert [part.area_mm2 for part in cut(two, (0, 0, 0), (0, 0, 1))] == pytest.approx([9, 1])


def test_loops_in_space_lie_in_the_plane_and_on_the_solid():
    normal = np.array([1, 2, 2]) / 3
    (part,) = cut(CUBE((4, 4, 4), True), (0.5, 0.2, 0.1), normal)
    (loop,) = part.in_space
    assert (loop - (0.5, 0.2, 0.1)) @ normal == pytest.approx(0, abs=1e-9)
    assert np.abs(loop).max(axis=1) == pytest.approx(2)


def test_a_plane_beside_the_solid_cuts_nothing():
    assert cut(CUBE((2, 2, 2), True), (0, 0, 5), (0, 0, 1)) == ()


def test_an_open_mesh_is_refused():
    mesh = from_manifold(CUBE((2, 2, 2), True))
    with pytest.raises(NotSolidError):
        cut(type(mesh)(mesh.vertices, mesh.faces[:-1]), (0, 0, 0), (0, 0, 1))


@pytest.mark.parametrize("turn_deg", [0, 13, 45, 77])
def test_the_smallest_section_of_a_bar_lies_straight_across_it_whichever_way_it_lies(turn_deg):
    bar = CUBE((40, 2, 4), True).rotate((0, 0, turn_deg))
    at = np.array([-sin(radians(turn_deg)), cos(radians(turn_deg)), 0.0])
    part = smallest_section(bar, at, at)
    assert part.area_mm2 == pytest.approx(8, rel=1e-4)
    assert part.perimeter_mm == pytest.approx(12, rel=1e-3)


def test_the_smallest_section_of_a_band_is_its_own_section_not_the_one_across_the_finger():
    band = plain_band(bore_mm=17.2, width_mm=4, thickness_mm=2, edge_mm=0)
    part = smallest_section(band, (0, 0, -10.6), (0, 0, -1))
    assert part.area_mm2 == pytest.approx(8, rel=1e-3)
    assert part.modulus_mm == pytest.approx(8 / 12, rel=1e-3)


def test_the_first_axis_of_the_smallest_section_is_the_given_one():
    part = smallest_section(CUBE((2, 4, 40), True), (1, 0, 0), (1, 0, 0))
    assert part.axes[0] == pytest.approx((1, 0, 0))
    assert part.loops[0][:, 0].max() == pytest.approx(0, abs=1e-9)
    assert part.loops[0][:, 0].min() == pytest.approx(-2)


def test_only_the_part_under_the_point_counts():
    two = CUBE((2, 2, 10), True) + CUBE((1, 1, 10), True).translate((-6, 0, 0))
    assert smallest_section(two, (1, 0, 0), (1, 0, 0)).area_mm2 == pytest.approx(4, rel=1e-3)


def test_a_point_beside_the_solid_has_no_section():
    with pytest.raises(ValueError, match="no plane"):
        smallest_section(CUBE((2, 2, 2), True), (9, 0, 0), (0, 1, 0))


def test_fewer_turns_find_a_section_at_most_a_little_larger():
    bar = CUBE((40, 2, 4), True).rotate((0, 0, 31))
    at = np.array([-sin(radians(31)), cos(radians(31)), 0.0])
    assert 8 * (1 - 1e-9) <= smallest_section(bar, at, at, turns_count=6).area_mm2 <= 8 * 1.01


def test_two_half_planes_make_one_section_of_different_sides():
    """A bar from -2 to 8 along x and from -3 to 3 along y: 8 mm to the east, 3 mm to the north, 10 high."""
    bar = CUBE((10, 6, 10)).translate((-2, -3, 0))
    (loop,) = folded(bar, (1, 0), (0, 2))
    assert loop.min(axis=0) == pytest.approx([-3, 0])
    assert loop.max(axis=0) == pytest.approx([8, 10])
    area = 0.5 * np.sum(loop[:, 0] * np.roll(loop[:, 1], -1) - np.roll(loop[:, 0], -1) * loop[:, 1])
    assert area == pytest.approx(110), "anticlockwise"


def test_a_fold_straight_across_is_the_plane_section():
    tube = (rod(5, 10) - rod(3, 12)).translate((9, 0, 0))
    loops = sorted(folded(tube, (1, 0), (-1, 0)), key=lambda loop: loop[:, 0].min())
    assert len(loops) == 2, "both walls, east of the axis"
    ends = [(loop[:, 0].min(), loop[:, 0].max()) for loop in loops]
    assert ends == [pytest.approx((4, 6), abs=0.01), pytest.approx((12, 14), abs=0.01)]


def test_a_fold_looks_the_way_it_is_told():
    """A wedge that lies south-west only is seen to the left when the left half looks there, with its own handedness."""
    bar = CUBE((1, 1, 4)).translate((-5, -5, 7))
    assert folded(bar, (1, 0), (0, 1)) == ()
    (loop,) = folded(bar, (1, 0), (-1, -1))
    assert loop.min(axis=0) == pytest.approx([-5 * sqrt(2), 7], abs=1e-6)
    assert loop.max(axis=0) == pytest.approx([-4 * sqrt(2), 11], abs=1e-6)
