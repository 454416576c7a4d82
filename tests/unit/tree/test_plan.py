"""A whole tree: what its parts weigh, where its pieces hang, and why there is no room."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from pourwell.geometry.joints import cap_volume_mm3
from pourwell.steps.tree.plan import Grown, NoRoom, grow, prepare, weigh
from tests.unit.tree.making import library, pattern, room, shape, shaped


def tree_of(*patterns, flask=None, **more) -> Grown | NoRoom:
    return grow(
        patterns,
        room=flask or room(),
        alloy=library().alloy("sterling-925"),
        pattern_material=library().pattern("resin"),
        library=library(),
        **more,
    )


@pytest.fixture(scope="module")
def six() -> Grown:
    """Two signets and four bands in a flask of 76 by 100."""
    return tree_of(shaped("signet", "A", count=2), shaped("plain-band", "B", count=4))


def test_every_piece_has_a_place_of_its_own_number(six):
    assert [place.number for place in six.tree.places] == [1, 2, 3, 4, 5, 6]
    assert sorted(place.piece for place in six.tree.places) == ["A", "A", "B", "B", "B", "B"]


def test_heavy_pieces_hang_near_the_button(six):
    heights = {place.piece: place.height_mm for place in six.tree.places}
    assert heights["A"] < heights["B"]


def test_a_tier_has_equal_angles(six):
    for tier in six.tree.tiers:
        azimuths = sorted(p.azimuth_deg for p in six.tree.places if p.tier == tier.number)
        steps = np.diff([*azimuths, azimuths[0] + 360])
        assert steps == pytest.approx(360 / len(azimuths), abs=1)


def test_the_first_row_is_ten_to_twenty_over_the_button(six):
    assert 10 <= six.tree.tiers[0].height_mm - room().floor_mm <= 20


def test_sprues_lean_up_at_forty_five_and_are_short(six):
    assert {place.tilt_deg for place in six.tree.places} == {45.0}
    assert max(place.sprue.length_mm for place in six.tree.places) <= 12


def test_bench_measures_are_whole_or_half(six):
    for place in six.tree.places:
        assert place.height_mm == round(place.height_mm)
        assert place.azimuth_deg == round(place.azimuth_deg)
        assert 2 * place.sprue.length_mm == round(2 * place.sprue.length_mm)


def test_the_parts_weigh_as_much_as_the_whole(six):
    tree = six.tree
    assert tree.metal_g == pytest.approx(tree.pieces_g + tree.sprues_g + tree.stem_g + tree.button_g)
    density = library().alloy("sterling-925").density_g_per_cm3.value
    assert tree.metal_g == pytest.approx(tree.volume_mm3 * density / 1000, rel=1e-3)
    assert tree.yield_fraction == pytest.approx(tree.pieces_g / tree.metal_g)


def test_the_button_is_the_dome_as_filled(six):
    assert six.tree.button.volume_mm3 == pytest.approx(cap_volume_mm3(30, 12))
    assert six.tree.button.foot_mm == 8


def test_the_stem_goes_from_the_dome_past_its_last_sprue(six):
    stem, last = six.tree.stem, six.tree.tiers[-1].height_mm
    assert stem.foot_mm == 20
    assert stem.top_mm == last + 5
    full = pi * stem.diameter_mm**2 / 4 * (stem.top_mm - stem.foot_mm)
    assert full < stem.volume_mm3 < full * 1.03


def test_a_sprue_is_a_little_shorter_in_metal_than_from_face_to_face(six):
    for place in six.tree.places:
        bar = pi * place.sprue.gauge_mm**2 / 4 * place.sprue.length_mm
        assert 0.8 * bar < place.sprue.volume_mm3 < 1.3 * bar


def test_the_scale_shows_pieces_in_resin_and_the_rest_in_wax(six):
    tree = six.tree
    pieces = sum(p.piece.volume_mm3 * p.piece.count for p in (shaped("signet", count=2), shaped("plain-band", count=4)))
    feed = tree.stem.volume_mm3 + sum(p.sprue.volume_mm3 for p in tree.places)
    resin, wax = (library().pattern(name).density_g_per_cm3.value for name in ("resin", "wax-sprue"))
    assert tree.pattern_g == pytest.approx((pieces * resin + feed * wax) / 1000)


def test_places_carry_a_piece_to_where_it_is_drawn(six):
    mesh = dict(six.bodies)["piece 1 A"]
    place = six.tree.places[0]
    placed = shape("signet").moved(np.array(place.transform))
    assert placed.vertices == pytest.approx(mesh.vertices, abs=1e-6)
    low, high = placed.bounds
    drawn = np.concatenate([np.array(p) for p in place.elevation.polygons])
    assert drawn.min(axis=0) == pytest.approx((low[0], low[2]), abs=0.15)
    assert drawn.max(axis=0) == pytest.approx((high[0], high[2]), abs=0.15)
    seen = np.concatenate([np.array(p) for p in place.plan.polygons])
    assert seen.max(axis=0) == pytest.approx((high[0], high[1]), abs=0.15)


def test_the_middle_of_a_ring_is_that_of_its_bore(six):
    place = six.tree.places[0]
    x, y, _ = place.centre_mm
    assert np.degrees(np.arctan2(x, y)) % 360 == pytest.approx(place.azimuth_deg, abs=1)
    assert place.depth_mm == pytest.approx(y)


def test_a_sprue_in_plan_starts_at_the_stem_and_ends_at_the_piece(six):
    for place in six.tree.places:
        away = np.hypot(*np.array(place.sprue_plan).T)
        assert away.min() == pytest.approx(six.tree.stem.diameter_mm / 2, abs=0.05)
        assert away.max() > 7


def test_all_bodies_have_a_name(six):
    names = [name for name, _ in six.bodies]
    assert names[-2:] == ["stem", "button"]
    assert {f"sprue {k}" for k in range(1, 7)} <= set(names)
    assert all(mesh.volume_mm3 > 0 for _, mesh in six.bodies)


def test_distances_are_exact_and_keep_their_limits(six):
    c = six.tree.clearances
    assert c.pieces_mm >= c.pieces_limit_mm == 3
    assert c.wall_mm >= c.wall_limit_mm == 6
    assert c.tip_mm >= c.tip_limit_mm == 16
    assert six.tree.clearance_mm == min(c.pieces_mm, c.wall_mm, c.tip_mm)
    assert np.hypot(*c.wall_at_mm[:2]) == pytest.approx(38 - c.wall_mm)
    nearest = dict(six.bodies)[f"piece {c.wall_place} {six.tree.places[c.wall_place - 1].piece}"]
    assert np.hypot(nearest.vertices[:, 0], nearest.vertices[:, 1]).max() == pytest.approx(38 - c.wall_mm)
    assert six.tree.top_mm == pytest.approx(100 - c.tip_mm)


def test_the_same_pieces_grow_the_same_tree(six):
    again = tree_of(shaped("signet", "A", count=2), shaped("plain-band", "B", count=4))
    assert again.tree == six.tree


def test_the_order_of_the_files_does_not_matter(six):
    other = tree_of(shaped("plain-band", "B", count=4), shaped("signet", "A", count=2))
    assert other.tree.metal_g == pytest.approx(six.tree.metal_g)
    assert [p.piece for p in other.tree.places] == [p.piece for p in six.tree.places]


def test_a_tree_from_prepared_pieces_is_the_same(six):
    patterns = (shaped("signet", "A", count=2), shaped("plain-band", "B", count=4))
    prepared = prepare([replace(p, piece=replace(p.piece, count=1)) for p in patterns], library())
    assert tree_of(*patterns, prepared=prepared).tree == six.tree


def test_pieces_that_are_not_in_this_flask_stay_away(six):
    patterns = (shaped("signet", "A", count=2), shaped("plain-band", "B", count=4))
    part = tree_of(patterns[1], prepared=prepare(patterns, library()))
    assert {p.piece for p in part.tree.places} == {"B"}


def test_a_single_ring_stands_on_the_stem_in_the_smallest_flask():
    grown = tree_of(shaped("plain-band"), flask=room(50, 75))
    (place,) = grown.tree.places
    assert place.tilt_deg == 90
    assert grown.tree.clearances.pieces_mm is None
    assert grown.tree.clearance_mm == min(grown.tree.clearances.wall_mm, grown.tree.clearances.tip_mm)
    assert place.sprue.length_mm == 5


def test_a_piece_too_large_for_the_room_is_named():
    found = tree_of(shaped("plain-band", bore_mm=65.0))
    assert isinstance(found, NoRoom)
    assert found.placed_count == 0
    assert "plain-band" in found.why
    assert "69" in found.why


def test_too_many_pieces_are_counted():
    found = tree_of(shaped("plain-band", count=60), flask=room(64, 76))
    assert isinstance(found, NoRoom)
    assert 0 < found.placed_count < 60
    assert f"{found.placed_count} of 60" in found.why


def test_what_found_place_finds_place_alone():
    found = tree_of(shaped("plain-band", count=60), flask=room(64, 76))
    assert isinstance(tree_of(shaped("plain-band", count=found.placed_count), flask=room(64, 76)), Grown)


def test_a_room_without_height_takes_nothing():
    found = tree_of(shaped("stud"), flask=room(76, 40))
    assert isinstance(found, NoRoom)
    assert found.placed_count == 0


def test_sixty_studs_find_place():
    grown = tree_of(shaped("stud", count=60, triangle_count=600), flask=room(76, 150))
    assert len(grown.tree.places) == 60
    assert grown.tree.clearances.pieces_mm >= 3


def test_a_band_lying_any_way_in_its_file_grows_the_same_tree():
    turned = shape("plain-band").moved(np.array([[0, 0, 1, 4], [1, 0, 0, 9], [0, 1, 0, -2]]))
    one, other = tree_of(shaped("plain-band", count=3)), tree_of(pattern(turned, count=3))
    assert other.tree.metal_g == pytest.approx(one.tree.metal_g, rel=1e-3)
    assert other.tree.tiers == one.tree.tiers


# ---- by weight


def by_weight(weight_g: float, *, wax_g: float | None = None, material: str = "resin", alloy: str = "sterling-925"):
    return weigh(
        weight_g,
        wax_g=wax_g,
        room=room(),
        alloy=library().alloy(alloy),
        pattern_material=library().pattern(material),
        library=library(),
    )


def test_a_weight_becomes_metal_by_the_densities():
    found = by_weight(14.3, wax_g=0)
    alloy, resin = library().alloy("sterling-925").density_g_per_cm3.value, library().pattern("resin").density_g_per_cm3.value
    assert found.body_g == pytest.approx(14.3 * alloy / resin)
    assert found.button_g == pytest.approx(cap_volume_mm3(30, 12) / 1000 * alloy)
    assert found.metal_g == pytest.approx(found.body_g + found.button_g)
    assert found.volume_mm3 == pytest.approx(found.metal_g / alloy * 1000)


def test_the_wax_that_is_told_is_counted_as_wax():
    resin, wax = (library().pattern(name).density_g_per_cm3.value for name in ("resin", "wax-sprue"))
    both = by_weight(10, wax_g=4)
    alloy = library().alloy("sterling-925").density_g_per_cm3.value
    assert both.body_g == pytest.approx((6 / resin + 4 / wax) * alloy)


def test_the_band_runs_between_the_ends_of_the_densities():
    for found in (by_weight(14.3), by_weight(14.3, wax_g=5), by_weight(20, material="wax-injection")):
        assert found.metal_low_g <= found.metal_g <= found.metal_high_g


def test_what_is_not_told_widens_the_band():
    told, untold = by_weight(14.3, wax_g=5), by_weight(14.3)
    assert untold.metal_high_g - untold.metal_low_g > told.metal_high_g - told.metal_low_g


def test_a_grown_tree_on_the_scale_gives_its_own_metal_back(six):
    tree = six.tree
    wax = (tree.stem.volume_mm3 + sum(p.sprue.volume_mm3 for p in tree.places)) / 1000
    wax_g = wax * library().pattern("wax-sprue").density_g_per_cm3.value
    assert by_weight(tree.pattern_g, wax_g=wax_g).metal_g == pytest.approx(tree.metal_g, rel=1e-3)
