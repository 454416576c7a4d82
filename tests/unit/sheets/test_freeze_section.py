"""The section of the freezing page: where it is cut, its greys, its hatching and its marks."""

import base64
import io
import re
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from PIL import Image

from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.sheets.freeze_section import (
    AIR_MM,
    HATCH_PX,
    LINE,
    PX_MM,
    SHADES,
    bands,
    cells_of,
    fold,
    legend,
    numbers,
    shaded,
    shades,
    spread,
    svg,
    through,
    ways,
)
from tests.unit.freeze.made import clock, freezing, pool
from tests.unit.sheets.frozen import HIGH, SOLID, WIDE, block

EAST, WEST, NORTH = (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0)


def cut_of(fields=None, right=EAST, left=WEST):
    found = fields or block()
    return fold(found, found.end_s.astype(float), SOLID, right=right, left=left)


def test_the_section_is_as_large_as_the_solid():
    cut = cut_of()
    metal = np.isfinite(cut.times_s)
    assert metal.sum() * PX_MM**2 == pytest.approx(WIDE * HIGH, rel=0.03)
    assert cut.times_s.shape == pytest.approx(((HIGH + 2 * AIR_MM) / PX_MM, (WIDE + 2 * AIR_MM) / PX_MM), abs=1)
    assert not metal[:, 0].any()


def test_times_are_those_of_the_cells():
    cut = cut_of()
    rows, columns = cut.times_s.shape
    z = cut.top_mm - PX_MM * (np.arange(rows) + 0.5)
    middle = cut.times_s[:, columns // 2]
    inner = np.isfinite(middle) & (z > 11) & (z < 20)
    assert middle[inner] == pytest.approx(5 + z[inner], abs=0.4)


def test_each_half_shows_its_own_side():
    """Times rise along x; a fold of east and north shows them rise to the right only."""
    fields = block(time=lambda p: 10 + p[:, 0])
    row = cut_of(fields, EAST, NORTH).times_s
    seen = row[row.shape[0] // 2]
    seen = seen[np.isfinite(seen)]
    assert seen[-1] > 11.5
    assert seen[0] == pytest.approx(10.0, abs=0.3)
    straight = cut_of(fields).times_s
    assert np.nanmin(straight) < 8.5


def test_a_place_is_found_in_the_half_through_which_it_lies():
    cut = cut_of(right=EAST, left=NORTH)
    middle = WIDE / 2 + AIR_MM
    assert cut.place((2.0, 0.5, 12.0)) == pytest.approx((middle + 2.0, cut.top_mm - 12.0))
    assert cut.place((0.5, 2.4, 15.0)) == pytest.approx((middle - 2.4, cut.top_mm - 15.0))


def test_how_near_a_place_must_lie_can_be_said():
    cut = cut_of(right=EAST, left=WEST)
    assert cut.place((2.0, 1.5, 12.0)) is not None
    assert cut.place((2.0, 1.5, 12.0), near_mm=1.0) is None


def test_a_place_beside_both_halves_is_not_marked():
    assert cut_of().place((1.0, 5.0, 12.0)) is None
    assert cut_of(right=EAST, left=NORTH).place((-5.0, -5.0, 12.0)) is None


BESIDE = pool(1, 1, at_mm=(2.0, 2.0, 20.0), neck_at_mm=(2.0, 2.0, 13.0))
"""Upright over each other at the edge of piece 1."""


def own(fields=None, worst=BESIDE):
    found = fields or block(body=lambda p: np.select([p[:, 0] > 0.6, p[:, 1] < -0.6], [0, 1], 4).astype(np.int32))
    return through(found, found.end_s.astype(float), SOLID, place=worst.place, two=(worst.at_mm, worst.neck_at_mm))


def test_a_plane_of_its_own_holds_the_pool_its_neck_and_the_sprue():
    cut = own()
    pit, neck = cut.place(BESIDE.at_mm), cut.place(BESIDE.neck_at_mm)
    (sprue,) = (p.origin for p in cut.planes)
    middle = cut.place(tuple(sprue))
    assert None not in (pit, neck, middle)
    assert middle[0] < neck[0], "the sprue is on the left"
    assert middle[0] < pit[0]
    assert np.hypot(pit[0] - neck[0], pit[1] - neck[1]) == pytest.approx(7.0, abs=1e-6), "lengths are true"
    assert pit[1] < neck[1], "what is higher on the tree is higher in the picture"


def test_times_of_a_plane_of_its_own_are_those_of_the_cells():
    cut = own()
    (plane,) = cut.planes
    row, column = np.nonzero(np.isfinite(cut.times_s))
    r, s = cut.left_mm + PX_MM * (column + 0.5), cut.top_mm - PX_MM * (row + 0.5)
    z = plane.origin[2] + r * plane.right[2] + s * plane.up[2]
    inner = (z > 11) & (z < 20)
    assert cut.times_s[row, column][inner] == pytest.approx(5 + z[inner], abs=0.6)


def test_pool_neck_and_sprue_in_a_line_span_no_plane():
    fields = block(body=lambda p: np.select([p[:, 0] > 0.6, p[:, 0] < -0.6], [0, 1], 4).astype(np.int32))
    line = pool(1, 1, at_mm=(2.0, 0.0, 15.5), neck_at_mm=(1.0, 0.0, 15.5))
    assert own(fields, line) is None


def test_a_piece_without_a_known_sprue_has_no_plane_of_its_own():
    assert own(block(body=lambda p: np.zeros(len(p), dtype=np.int32))) is None


def test_other_metal_that_the_plane_meets_is_left_out():
    more = from_manifold(to_manifold(SOLID) + manifold3d.Manifold.cube((4, 4, 4)).translate((20, 20, 16)))
    fields = block(body=lambda p: np.select([p[:, 0] > 0.6, p[:, 1] < -0.6], [0, 1], 4).astype(np.int32))
    two = (BESIDE.at_mm, BESIDE.neck_at_mm)
    assert len(through(fields, fields.end_s.astype(float), more, place=1, two=two).loops) == 1


def test_a_piece_is_spread_across_the_way_from_its_sprue():
    """Piece 1 is the slab at +x, five wide and twelve high; its sprue lies at -y: across that it is widest upward."""
    fields = block(body=lambda p: np.select([p[:, 0] > 0.6, p[:, 1] < -0.6], [0, 1], 4).astype(np.int32))
    middle, beside = spread(fields, 1)
    assert middle == pytest.approx((1.5, 0.0, 15.5))
    assert abs(beside[2] - middle[2]) == pytest.approx(5.5, abs=0.1)
    assert np.hypot(beside[0] - middle[0], beside[1] - middle[1]) < 0.5
    assert spread(block(body=lambda p: np.zeros(len(p), dtype=np.int32)), 1) is None


def test_cells_of_a_body_are_told_by_its_number_not_by_its_beginning():
    fields = block()
    assert cells_of(fields, "piece", 1).sum() == np.sum(fields.body == 0)
    assert not cells_of(fields, "piece", 11).any()


def test_a_mark_in_the_air_is_told_from_one_on_metal():
    cut = cut_of()
    assert cut.holds((3.5, 7.0), within_mm=0.2)
    assert cut.holds((0.5, 7.0), within_mm=1.0), "half a millimetre beside it"
    assert not cut.holds((0.2, 7.0), within_mm=0.5)
    assert not cut.holds((30.0, 7.0), within_mm=1.0)
    assert not cut.holds((-5.0, -5.0), within_mm=1.0)


def test_halves_look_through_the_middle_of_the_piece_of_the_worst_pool_and_of_the_next():
    fields = block()
    right, left = ways(freezing(pools=(pool(1, 2, at_mm=(-2.0, 0.4, 12.0)), pool(2, 1, at_mm=(2.0, 0.0, 15.0)))), fields)
    assert right == pytest.approx(WEST, abs=1e-9)
    assert left == pytest.approx(EAST, abs=1e-9)


def test_a_pool_far_aside_of_its_piece_turns_the_half_to_itself():
    right, _ = ways(freezing(pools=(pool(1, 2, at_mm=(-3.0, 4.0, 12.0)),)), block())
    assert right == pytest.approx((-0.6, 0.8))


def test_without_pools_the_first_piece_and_the_one_across_are_cut():
    right, left = ways(freezing(clock(1), clock(2, "B")), block())
    assert (right, left) == (pytest.approx(EAST, abs=1e-9), pytest.approx(WEST, abs=1e-9))


def test_a_lonely_piece_is_cut_with_what_is_opposite():
    right, left = ways(freezing(clock(1)), block())
    assert left == pytest.approx((-right[0], -right[1]))


def test_a_piece_of_which_no_cell_is_known_is_cut_toward_its_pool():
    right, _ = ways(freezing(pools=(pool(1, 7, at_mm=(0.0, 3.0, 12.0)),)), block())
    assert right == pytest.approx(NORTH)


def test_bands_end_at_whole_seconds_then_at_half_minutes():
    edges = bands(np.array([[np.nan, 2.0], [2000.0, 7.0]]))
    assert len(edges) == len(SHADES) - 1
    assert all(edge == round(edge) if edge < 120 else edge % 30 == 0 for edge in edges)
    assert (np.diff(np.log(edges)) > 0.5).all(), "about one ratio"


def test_a_narrow_range_gives_fewer_bands_and_no_two_of_one_name():
    edges = bands(np.array([4.0, 6.2]))
    said = legend(edges)
    assert len(set(said)) == len(said) == len(edges) + 1 < len(SHADES)
    assert len(shades(edges)) == len(said)


def test_metal_that_all_feeds_to_one_moment_still_makes_a_legend():
    assert legend(bands(np.array([0.2, 0.3]))) == ["up to 1 s", "over 1 s"]


def test_the_legend_names_every_band():
    said = legend(np.array([4.0, 8.0, 16.0, 32.0, 64.0, 210.0]))
    assert said == ["up to 4 s", "4 to 8 s", "8 to 16 s", "16 to 32 s", "32 to 64 s", "64 s to 3.5 min", "over 3.5 min"]


def test_later_bands_are_darker_and_lines_part_them():
    """It is printed in one ink: lightness falls from band to band."""
    assert list(SHADES) == sorted(SHADES, reverse=True)
    cut = cut_of()
    image = np.asarray(shaded(cut, bands(cut.times_s)))
    column = image[:, image.shape[1] // 2]
    inside = [grey for grey in column[np.isfinite(cut.times_s[:, image.shape[1] // 2])] if grey != LINE]
    assert inside == sorted(inside), "tip up: what is higher freezes later here"
    assert (column == LINE).sum() >= len(SHADES) - 2
    assert image[0, 0] == 255


def test_a_pool_is_hatched_and_nothing_else_is():
    cut = cut_of(block(time=lambda p: 20 + 0 * p[:, 0], pool=lambda p: (p[:, 2] > 15).astype(np.int32)))
    image = np.asarray(shaded(cut, np.array([30.0])))
    lost = cut.pool > 0
    assert 0.4 < lost.sum() / np.isfinite(cut.times_s).sum() < 0.6
    inked = (image[lost] == LINE).mean()
    assert inked == pytest.approx(HATCH_PX[1] / HATCH_PX[0], abs=0.05)
    assert (image[lost] == 255).mean() == pytest.approx(1 - inked)
    fed = np.isfinite(cut.times_s) & ~lost
    assert (image[fed] == LINE).mean() < 0.03, "but for the line between them"


def test_outlines_are_those_of_the_solid_in_the_pictures_own_corner():
    (loop,) = cut_of().loops
    assert loop.min(axis=0) == pytest.approx([AIR_MM, AIR_MM], abs=1e-6)
    assert loop.max(axis=0) == pytest.approx([AIR_MM + WIDE, AIR_MM + HIGH], abs=1e-6)


def test_the_number_of_a_ring_stands_in_its_bore():
    """A ring of 14 mm bore stands round (12, 0, 20): its number is read in the white, not on the metal."""
    tube = manifold3d.Manifold.cylinder(3, 9, 9, 64, center=True) - manifold3d.Manifold.cylinder(4, 7, 7, 64, center=True)
    ring = from_manifold(tube.rotate((90, 0, 0)).translate((12, 0, 20)))
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    centre = np.column_stack((12 + 8 * np.cos(turn), 0 * turn, 20 + 8 * np.sin(turn)))
    some = block()
    fields = replace(
        some,
        centre_mm=centre,
        size_mm=np.full(60, 2.0, dtype=np.float32),
        body=np.zeros(60, dtype=np.int32),
        pool=np.zeros(60, dtype=np.int32),
    )
    cut = fold(fields, 5.0 + turn, ring, right=EAST, left=WEST)
    found = numbers(cut, fields)
    assert set(found) == {1}
    x, y = found[1]
    assert (x + cut.left_mm, cut.top_mm - y) == pytest.approx((12, 20), abs=0.3)


def test_without_white_near_a_number_stands_on_its_piece():
    cut = cut_of()
    found = numbers(cut, block())
    assert set(found) == {1, 2}
    assert found[2][0] < (WIDE / 2 + AIR_MM) < found[1][0]
    assert all(y == pytest.approx(AIR_MM + HIGH / 2, abs=0.2) for _, y in found.values())


def test_a_piece_that_is_hardly_cut_has_no_number():
    fields = block(body=lambda p: np.where((p[:, 0] > 1.6) & (p[:, 2] > 20.6), 0, 4).astype(np.int32))
    assert 0 < (cut_of(fields).body == 0).sum() < 130
    bare = block(body=lambda p: np.full(len(p), 4, dtype=np.int32))
    assert numbers(cut_of(bare), bare) == {}


def test_the_raster_travels_within_svg():
    cut = cut_of()
    data = base64.b64decode(re.search(r"base64,([^\"]+)", svg(shaded(cut, bands(cut.times_s))))[1])
    image = Image.open(io.BytesIO(data))
    assert (image.height, image.width) == cut.times_s.shape
    assert image.mode == "L"
