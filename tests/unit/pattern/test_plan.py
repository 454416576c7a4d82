"""Measuring a pattern: one solid, its weights, its walls, its bore."""

import pytest

from pourwell.geometry.shapes import SHAPES, pendant_with_bail, plain_band, signet
from tests.unit.files.pattern_files import cube, loose
from tests.unit.pattern.case import hollow, library, measured


def test_a_piece_tells_what_it_is():
    pattern, found = measured(loose(plain_band()), name="wedding ring", file="w.stl", count=3, units="inch", units_from="user")
    piece = pattern.piece
    assert (piece.id, piece.name, piece.file, piece.count, piece.units) == ("A", "wedding ring", "w.stl", 3, "inch")
    assert piece.triangle_count == len(plain_band().faces)
    assert piece.volume_mm3 == pytest.approx(plain_band().volume_mm3)
    assert piece.area_mm2 == pytest.approx(plain_band().area_mm2)
    assert piece.envelope_mm == pytest.approx(plain_band().envelope_mm)
    assert not found


def test_the_pattern_is_one_closed_solid_with_a_wall_at_every_triangle():
    pattern, _ = measured(cube(4), cube(4, (2, 0, 0)))
    assert pattern.mesh.volume_mm3 == pytest.approx(96)
    assert pattern.wall_mm.shape == (len(pattern.mesh.faces),)
    assert pattern.wall_mm.max() <= 4 + 1e-9
    assert pattern.piece.overlap_mm3 == pytest.approx(32)
    with pytest.raises(ValueError, match="read-only"):
        pattern.wall_mm[0] = 9


def test_the_wish_for_a_sprue_is_passed_on():
    pattern, _ = measured(cube(4), sprue_at_mm=(1.0, 2.0, 3.0))
    assert pattern.sprue_at_mm == (1.0, 2.0, 3.0)


def test_weights_are_volume_times_density_and_bands_are_the_ends_of_their_ranges():
    piece = measured(cube(10))[0].piece
    alloy, resin = library().alloy("sterling-925").density_g_per_cm3, library().pattern("resin").density_g_per_cm3
    assert piece.pattern_g == pytest.approx(resin.value)
    assert (piece.pattern_low_g, piece.pattern_high_g) == pytest.approx((resin.low, resin.high))
    assert piece.metal_g == pytest.approx(alloy.value)
    assert piece.metal_low_g == pytest.approx(alloy.low * (1 - 0.015) ** 3)
    assert piece.metal_high_g == pytest.approx(alloy.high)
    assert piece.finished_low_g == pytest.approx(piece.metal_low_g * (1 - 0.165))
    assert piece.finished_high_g == pytest.approx(piece.metal_high_g * (1 - 0.03))


def test_a_closed_hollow_is_light_on_the_scale_and_the_charge_counts_it_full():
    solid, shell = measured(cube(10))[0].piece, measured(hollow(cube(10), cube(4, (3, 3, 3))))[0].piece
    assert shell.pattern_g == pytest.approx(0.936 * solid.pattern_g)
    assert shell.metal_g == pytest.approx(solid.metal_g)
    assert shell.metal_low_g == pytest.approx(0.936 * solid.metal_low_g), "at best it stays empty"
    assert shell.metal_high_g == pytest.approx(solid.metal_high_g)


def test_walls_are_told_in_order_with_their_places():
    wall = measured(signet())[0].piece.wall
    assert wall.thinnest_mm < wall.typical_mm < wall.thickest_mm
    assert wall.limit_mm == library().alloy("sterling-925").min_wall_mm.value
    assert wall.under_limit_fraction == 0
    assert wall.thinnest_at_mm[2] < -9, "the back of the shank"
    assert wall.thickest_at_mm[2] > 5, "the head"


@pytest.mark.parametrize("name", SHAPES)
def test_thinnest_typical_and_thickest_never_contradict_each_other(name):
    wall = measured(SHAPES[name].make())[0].piece.wall
    assert 0 < wall.thinnest_mm <= wall.typical_mm <= wall.thickest_mm * 1.001


def test_a_ring_has_a_bore_with_its_sizes():
    bore = measured(plain_band(bore_mm=17.32))[0].piece.bore
    assert bore.diameter_mm == pytest.approx(17.32, abs=0.02)
    assert bore.sizes.us == "7"
    assert bore.axis == pytest.approx((0, 1, 0), abs=1e-4)
    assert bore.wanted_mm is bore.scale_ratio is bore.scale_low_ratio is None


def test_the_bail_of_a_pendant_is_no_finger_bore():
    assert measured(pendant_with_bail())[0].piece.bore is None


def test_a_bangle_has_a_bore_of_no_finger_size():
    bore = measured(plain_band(bore_mm=62.0))[0].piece.bore
    assert bore.diameter_mm == pytest.approx(62, rel=1e-3)
    assert bore.sizes.us == "over 16"
