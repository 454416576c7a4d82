"""What a bore will be when it is finished, of what parts, and what makes it a wanted size."""

import math
from dataclasses import replace
from functools import cache

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.shapes import comfort_band, pendant_with_bail, plain_band, signet
from pourwell.geometry.solidity import from_manifold
from pourwell.materials.model import Quantity
from pourwell.steps.pattern.bore_plan import finished_bore_mm, growths, offset_for, scale_for, shrinkage, wide_around
from tests.unit.pattern.case import library, measured

FINISH = 0.14
OWN = Quantity(value=0.025, low=0.02, high=0.03, unit="1", source="studio", grade="supplier")


def altered(row, **changes):
    return row.model_copy(update=changes)


def steps(material="resin", alloy="sterling-925", shelf=None):
    shelf = shelf or library()
    row = shelf.pattern(material) if isinstance(material, str) else material
    return growths(row, shelf.alloy(alloy), shelf)


@cache
def band(**words):
    return measured(plain_band(), **words)[0].piece.bore


def test_a_print_is_composed_of_printing_setting_heating_cooling_and_the_rest():
    assert [step.what for step in steps()] == [
        "printing",
        "mould setting",
        "mould heating",
        "metal cooling",
        "as castings are measured",
    ]
    assert [math.copysign(1, step.value) for step in steps()] == [-1, 1, 1, -1, -1]
    assert all(step.low <= step.value <= step.high for step in steps())
    assert all(step.source and step.grade for step in steps())


def test_a_wax_is_as_large_as_its_file():
    assert [step.what for step in steps("wax-carving")] == [step.what for step in steps()][1:]


def test_the_users_own_sheet_takes_the_place_of_all_parts():
    wax = altered(library().pattern("wax-injection"), net_shrinkage_fraction=OWN)
    (only,) = steps(wax)
    assert (only.value, only.low, only.high) == pytest.approx((-0.025, -0.03, -0.02))
    assert (only.source, only.grade) == ("studio", "supplier")
    bore = measured(plain_band(), material=wax)[0].piece.bore
    assert bore.finished_mm == pytest.approx(bore.diameter_mm * 0.975 + FINISH)
    assert bore.finished_low_mm == pytest.approx(bore.diameter_mm * 0.97 + 0.10)
    assert bore.finished_high_mm == pytest.approx(bore.diameter_mm * 0.98 + 0.19)
    assert [part.what for part in bore.parts] == ["net shrinkage of the pattern material", "finishing"]


@pytest.mark.parametrize(
    ("alloy", "rule"),
    [
        ("sterling-925", "expansion_silver_per_k"),
        ("gold-750-yellow-3n", "expansion_gold_per_k"),
        ("gold-585-white-nickel", "expansion_gold_per_k"),
        ("bronze-silicon-873", "expansion_copper_per_k"),
        ("brass-silicon-875", "expansion_copper_per_k"),
        ("platinum-950-cobalt", "expansion_platinum_per_k"),
        ("palladium-950", "expansion_platinum_per_k"),
    ],
)
def test_every_metal_contracts_by_its_own_rule_from_its_own_solidus(alloy, rule):
    (cooling,) = (step for step in steps(alloy=alloy) if step.what == "metal cooling")
    assert cooling.value == pytest.approx(-library().rule(rule) * (library().alloy(alloy).solidus_c.value - 20))


def test_every_alloy_of_the_library_has_a_rule():
    for name in library().alloys:
        assert len(steps(alloy=name)) == 5


def test_the_net_shrinkage_is_the_product_of_the_parts():
    net = shrinkage(steps())
    left = 1.0
    for step in steps():
        left *= 1 + step.value
    assert net.value == pytest.approx(1 - left)
    assert net.high < net.value < net.low, "low gives the smallest bore: the largest shrinkage"
    assert shrinkage([]) == replace(net, value=0, low=0, high=0)


def test_the_finished_bore_is_the_prediction_run_at_the_ends_of_its_inputs():
    bore, net = band(), shrinkage(steps())
    drawn = bore.diameter_mm
    assert bore.finished_mm == pytest.approx(finished_bore_mm(drawn, net.value, FINISH))
    runs = [finished_bore_mm(drawn, s, f) for s in (net.low, net.value, net.high) for f in (0.10, FINISH, 0.19)]
    assert (min(runs), max(runs)) == pytest.approx((bore.finished_low_mm, bore.finished_high_mm))


def test_the_parts_add_up_to_the_difference_between_drawn_and_finished():
    bore = band()
    assert bore.diameter_mm + sum(part.by_mm for part in bore.parts) == pytest.approx(bore.finished_mm)
    assert [part.what for part in bore.parts][-1] == "finishing"
    for part in bore.parts:
        assert part.by_low_mm <= part.by_mm <= part.by_high_mm
    assert bore.parts[-1].by_fraction is None
    assert bore.parts[0].by_mm == pytest.approx(-0.003 * bore.diameter_mm)


def test_no_size_wanted_no_scale():
    bore = band()
    assert bore.wanted_mm is bore.scale_ratio is bore.scale_low_ratio is bore.offset_mm is bore.offset_high_mm is None


def test_the_scale_hits_the_wanted_bore_and_its_ends_do_at_the_ends():
    bore, net = band(wanted_mm=18.0), shrinkage(steps())
    drawn = bore.diameter_mm
    assert finished_bore_mm(drawn * bore.scale_ratio, net.value, FINISH) == pytest.approx(18.0)
    assert finished_bore_mm(drawn * bore.scale_low_ratio, net.high, 0.19) == pytest.approx(18.0)
    assert finished_bore_mm(drawn * bore.scale_high_ratio, net.low, 0.10) == pytest.approx(18.0)
    assert bore.scale_low_ratio < bore.scale_ratio < bore.scale_high_ratio


def test_the_offset_hits_the_wanted_bore_too():
    bore, net = band(wanted_mm=18.0), shrinkage(steps())
    drawn = bore.diameter_mm
    assert finished_bore_mm(drawn + 2 * bore.offset_mm, net.value, FINISH) == pytest.approx(18.0)
    assert finished_bore_mm(drawn + 2 * bore.offset_low_mm, net.high, 0.19) == pytest.approx(18.0)
    assert finished_bore_mm(drawn + 2 * bore.offset_high_mm, net.low, 0.10) == pytest.approx(18.0)
    assert bore.offset_low_mm < bore.offset_mm < bore.offset_high_mm


def test_scale_and_offset_turn_the_prediction_round():
    scale = scale_for(17.0, 16.5, shrinkage=0.012, finishing_mm=0.1)
    assert finished_bore_mm(16.5 * scale, 0.012, 0.1) == pytest.approx(17.0)
    offset = offset_for(17.0, 16.5, shrinkage=0.012, finishing_mm=0.1)
    assert 16.5 + 2 * offset == pytest.approx(16.5 * scale)


def test_the_rules_of_the_library_are_what_is_used():
    rules = dict(library().rules)
    rules["finishing_bore_mm"] = altered(rules["finishing_bore_mm"], value=0.5, low=0.4, high=0.6)
    rules["print_shrinkage_fraction"] = altered(rules["print_shrinkage_fraction"], value=0.01, low=0.01, high=0.01)
    shelf = replace(library(), rules=rules)
    bore = measured(plain_band(), shelf=shelf)[0].piece.bore
    assert bore.parts[0].by_mm == pytest.approx(-0.01 * bore.diameter_mm)
    assert bore.parts[-1].by_mm == 0.5
    assert bore.finished_mm == pytest.approx(finished_bore_mm(bore.diameter_mm, shrinkage(steps(shelf=shelf)).value, 0.5))


# --- the band ---


def test_a_band_tells_its_width_and_what_it_is_inside():
    flat, comfort = band().inside, measured(comfort_band())[0].piece.bore.inside
    assert (flat.profile, flat.width_mm, flat.curve_mm) == ("flat", pytest.approx(4.0, abs=1e-3), None)
    assert (comfort.profile, comfort.width_mm) == ("comfort", pytest.approx(5.0, abs=1e-3))
    assert comfort.rise_mm == pytest.approx(0.4, abs=0.01)
    assert (flat.open_deg, flat.open_at_mm, flat.pierced_deg) == (0, None, 0)


def test_where_a_bore_is_widest_and_narrowest_are_places_on_it():
    oval = from_manifold(
        manifold3d.Manifold.extrude(
            manifold3d.CrossSection.circle(1, 200).scale((11, 10.5)) - manifold3d.CrossSection.circle(1, 200).scale((9, 8.5)), 4
        )
    )
    bore = measured(oval)[0].piece.bore
    assert abs(bore.inside.widest_at_mm[0]) == pytest.approx(9, abs=0.01)
    assert abs(bore.inside.narrowest_at_mm[1]) == pytest.approx(8.5, abs=0.01)
    assert bore.inside.widest_at_mm[2] == pytest.approx(2, abs=0.01)


@pytest.mark.parametrize(("width_mm", "around_mm"), [(2.0, 0.0), (4.0, 0.0), (5.5, 0.57), (7.5, 1.33), (9.0, 1.9), (14.0, 1.9)])
def test_a_wide_band_wants_more_around_up_to_a_most(width_mm, around_mm):
    value, low, high = wide_around(width_mm, library(), comfort=False)
    assert value == pytest.approx(around_mm)
    assert low <= value <= high


def test_a_comfort_curve_takes_some_of_it_back_but_never_more():
    assert wide_around(8.0, library(), comfort=True)[0] == pytest.approx(0.38 * 4 - 0.95)
    assert wide_around(5.0, library(), comfort=True)[0] == 0
    assert wide_around(3.0, library(), comfort=True) == (0, 0, 0)


def test_the_head_of_a_signet_makes_no_wide_band():
    bore = measured(signet())[0].piece.bore
    assert bore.inside.width_most_mm > 9
    assert bore.inside.width_mm < 5
    assert bore.wide_around_mm < 0.4


# --- which bores ---


def double(distance_mm=19.0, second_mm=16.0):
    """Two bands side by side in one plane."""
    solid = manifold3d.Manifold.cylinder(4, 10.4, 10.4, 160) + manifold3d.Manifold.cylinder(4, 10, 10, 160).translate(
        (distance_mm, 0, 0)
    )
    solid -= manifold3d.Manifold.cylinder(6, 8.6, 8.6, 160).translate((0, 0, -1))
    return from_manifold(solid - manifold3d.Manifold.cylinder(6, second_mm / 2, second_mm / 2, 160).translate((distance_mm, 0, -1)))


def test_both_bores_of_a_ring_for_two_fingers_are_listed_and_one_is_fitted():
    piece = measured(double(), wanted_mm=18.0)[0].piece
    (other,) = piece.other_bores
    assert piece.bore.diameter_mm == pytest.approx(17.2, abs=0.01)
    assert other.diameter_mm == pytest.approx(16, abs=0.01)
    assert np.subtract(other.centre_mm, piece.bore.centre_mm)[0] == pytest.approx(19, abs=0.01)
    assert piece.bore.wanted_mm == 18.0
    assert other.wanted_mm is other.scale_ratio is None


def test_a_second_hole_that_no_finger_goes_through_is_no_bore():
    assert measured(double(distance_mm=17.0, second_mm=11.0))[0].piece.other_bores == ()


def test_pieces_without_a_finger_bore_have_none():
    piece = measured(pendant_with_bail())[0].piece
    assert piece.bore is None
    assert piece.other_bores == ()


@pytest.mark.parametrize(("posts", "is_bore"), [(4, False), (16, True)])
def test_a_few_posts_around_a_gap_are_no_band(posts, is_bore):
    """Posts of 3 mm inside a wide hoop: the cylinder that they hold is no finger bore unless they stand close."""
    hoop = manifold3d.Manifold.cylinder(4, 16, 16, 128, True) - manifold3d.Manifold.cylinder(6, 14.5, 14.5, 128, True)
    for k in range(posts):
        hoop += manifold3d.Manifold.cube((6.5, 3, 4), True).translate((11.8, 0, 0)).rotate((0, 0, 360 * k / posts))
    bore = measured(from_manifold(hoop))[0].piece.bore
    assert (bore is not None) == is_bore
    if bore is not None:
        assert bore.diameter_mm == pytest.approx(17.1, abs=0.05)
        assert bore.inside.open_deg < 60
