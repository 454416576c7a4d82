"""Findings about hollows: which are told, how gravely, and what they add to the charge."""

from functools import cache, partial

import manifold3d
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.hollows import Hollow, Opening
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.pattern.checks import CODES
from pourwell.steps.pattern.hollow_checks import HOLLOW_CHECKS, HOLLOW_CODES, filled_mm3, necked, sealed
from tests.unit.files.pattern_files import cube
from tests.unit.pattern.case import hollow, library, measured

STOP, WARN = Severity.STOP, Severity.WARN
Solid = manifold3d.Manifold


def ball(*widths, outer=5.0, inner=4.0):
    """A hollow bead with holes along z: the first below, the second above."""
    solid = Solid.sphere(outer, 48) - Solid.sphere(inner, 48)
    for width, z in zip(widths, (-20, 0), strict=False):
        solid -= Solid.cylinder(20, width / 2, width / 2, 48).translate((0, 0, z))
    return from_manifold(solid)


@cache
def looked(*widths, material="resin", alloy="sterling-925"):
    """The piece and its findings; patterns are never changed, so they are kept."""
    return measured(ball(*widths), material=material, alloy=alloy)


def told(found, code, severity):
    assert code in found, sorted(found)
    finding = found[code]
    assert finding.severity is severity
    assert severity in next(c.severities for c in CODES if c.code == code)
    for sentence in (finding.says, finding.do):
        assert sentence.endswith(".")
        assert "{" not in spelt_out(sentence)
    assert finding.source
    assert finding.limit
    return finding


def behind(*widths, volume=100.0):
    """A hollow as the geometry would tell it."""
    places = zip(sorted(widths, reverse=True), (-3, 3, 2), strict=False)
    openings = tuple(Opening(width_mm=width, at_mm=(0, 0, z)) for width, z in places)
    return Hollow(
        volume_mm3=volume, at_mm=(0, 0, 0), width_mm=6.0, openings=openings, least_mm=0.4, length_mm=6.0, middle_mm=(0, 0, 0)
    )


def test_pattern_void_fires():
    finding = told(measured(hollow(cube(10), cube(4, (3, 3, 3))))[1], "pattern-void", STOP)
    assert finding.measure == "64.0 mm³"
    assert "{g:0.66} more a piece, which the charge counts" in finding.says, "64 mm3 of sterling"
    assert "cracks the mould" in finding.says
    assert "{l:1.5}" in finding.do


def test_a_closed_hollow_of_wax_only_weighs_more():
    finding = told(measured(hollow(cube(10), cube(4, (3, 3, 3))), material="wax-injection")[1], "pattern-void", WARN)
    assert "resin" not in finding.says
    assert "{g:0.66} more" in finding.says


def test_pattern_void_stays_silent():
    for solid in (cube(10), hollow(cube(10), cube(1, (3, 3, 3)))):
        assert "pattern-void" not in measured(solid)[1]
    assert "pattern-void" not in looked(0.5)[1], "it is open, if only by a pinhole: another finding tells of it"


def test_pattern_hollow_sealed_fires():
    finding = told(looked(0.5)[1], "pattern-hollow-sealed", STOP)
    assert "with one opening of {l:0.5}" in finding.says
    assert "cannot get out" in finding.says
    assert "slurry does not get in" in finding.says
    assert "Two holes of {l:1.5} or more at opposite ends" in finding.do
    assert finding.measure == "0.50 mm"
    assert finding.limit == "1 mm"
    x, y, z = finding.at_mm
    assert (x, y) == pytest.approx((0, 0), abs=0.1)
    assert -5.2 < z < -3.8, "it stands at the hole, where the jeweller looks"
    assert finding.where.startswith("piece A, near x ")


def test_two_pinholes_do_not_open_a_hollow():
    finding = told(looked(0.5, 0.8)[1], "pattern-hollow-sealed", STOP)
    assert "the widest {l:0.8}" in finding.says


def test_in_wax_nothing_liquid_stays_but_the_metal_fills_it_all_the_same():
    finding = told(looked(0.5, material="wax-injection")[1], "pattern-hollow-sealed", WARN)
    assert "resin" not in finding.says
    assert "The metal fills it" in finding.says


def test_pattern_hollow_sealed_stays_silent():
    for widths in ((1.2,), (1.5, 1.5), (2.4,)):
        assert "pattern-hollow-sealed" not in looked(*widths)[1], widths
    assert "pattern-hollow-sealed" not in measured(cube(10))[1]


def test_pattern_hollow_neck_fires():
    finding = told(looked(1.2)[1], "pattern-hollow-neck", WARN)
    assert "hangs by a neck of {l:1.2} and breaks off" in finding.says
    assert finding.limit == "2 mm"
    assert finding.at_mm[2] < -3.8


def test_one_drain_is_not_enough():
    told(looked(1.5)[1], "pattern-hollow-neck", WARN)


def test_pattern_hollow_neck_stays_silent():
    for widths in ((0.5,), (1.5, 1.5), (2.4,)):
        assert "pattern-hollow-neck" not in looked(*widths)[1], widths


def test_the_cure_that_is_told_cures():
    """Two holes as wide as the sentence asks for, cut of 48 sides, bring neither finding."""
    _, found = looked(1.5, 1.5)
    assert not {code.code for code in HOLLOW_CODES} & set(found)


def test_a_piece_whose_unit_is_in_doubt_is_not_looked_at_but_that_is_told():
    small = ball(0.5).scaled(0.1)
    _, found = measured(small)
    assert "pattern-hollow-sealed" not in found
    assert "Walls and bore are not" in found["units-doubtful"].says


def test_the_charge_counts_a_sealed_hollow_full_and_its_low_end_empty():
    """Second way of reckoning: the same bead drawn solid weighs as much in metal, and the empty one as much in resin."""
    shut, solid = looked(0.5)[0].piece, measured(from_manifold(Solid.sphere(5.0, 48)))[0].piece
    silver, resin = (library().alloy("sterling-925").density_g_per_cm3, library().pattern("resin").density_g_per_cm3)
    assert shut.metal_g == pytest.approx(solid.metal_g, rel=0.01), "cells are counted"
    assert shut.metal_high_g == pytest.approx(solid.metal_high_g, rel=0.01)
    assert shut.pattern_g == pytest.approx(shut.volume_mm3 / 1000 * resin.value)
    assert shut.metal_low_g < shut.volume_mm3 / 1000 * silver.value < 0.6 * shut.metal_g
    assert shut.metal_low_g <= shut.metal_g <= shut.metal_high_g


def test_a_hanging_hollow_counts_at_the_high_end_only():
    hung, solid = looked(1.2)[0].piece, measured(from_manifold(Solid.sphere(5.0, 48)))[0].piece
    silver = library().alloy("sterling-925").density_g_per_cm3
    assert hung.metal_g == pytest.approx(hung.volume_mm3 / 1000 * silver.value)
    assert hung.metal_high_g == pytest.approx(solid.metal_high_g, rel=0.01)


def test_a_well_drained_hollow_weighs_what_it_is():
    piece = looked(1.5, 1.5)[0].piece
    alloy = library().alloy("sterling-925").density_g_per_cm3
    assert piece.metal_g == pytest.approx(piece.volume_mm3 / 1000 * alloy.value)
    assert piece.metal_high_g == pytest.approx(piece.volume_mm3 / 1000 * alloy.high)


@pytest.mark.parametrize(
    ("widths", "kind"),
    [
        ((), "sealed"),
        ((0.4,), "sealed"),
        ((0.9, 0.9, 0.9), "sealed"),
        ((0.99,), "necked"),  # a hole drawn 1.0 wide, of few sides
        ((1.4, 1.4), "necked"),
        ((1.6, 0.5), "necked"),
        ((1.49, 1.48), "drained"),
        ((1.9, 1.6, 0.3), "drained"),
    ],
)
def test_a_hollow_is_sealed_or_necked_or_drained_and_never_two_of_these(widths, kind):
    found = (behind(*widths),)
    assert bool(sealed(found, library())) is (kind == "sealed")
    assert bool(necked(found, library())) is (kind == "necked")


def with_openings(*openings, volume=268.0):
    """A hollow of 8 mm about the origin, its openings as (width, place)."""
    told = tuple(Opening(width_mm=width, at_mm=at) for width, at in openings)
    return Hollow(volume_mm3=volume, at_mm=(0, 0, 0), width_mm=8.0, openings=told, least_mm=0.4, length_mm=8.0, middle_mm=(0, 0, 0))


@pytest.mark.parametrize(
    ("volume", "width", "hangs"),
    [(100, 2.0, False), (268, 2.0, False), (268, 1.9, True), (2140, 2.2, True), (2140, 3.8, True), (2140, 4.0, False)],
)
def test_a_single_neck_holds_a_core_four_times_as_wide_and_no_more(volume, width, hangs):
    """A ball of 8 mm has 268 mm3, one of 16 mm 2145."""
    hollow = with_openings((width, (0, 0, -4)), volume=volume)
    assert bool(necked((hollow,), library())) is hangs


@pytest.mark.parametrize(
    ("at", "drained"),
    [
        ((0, 0, 4), True),
        ((4, 0, 0), True),  # a quarter round: more than half its length away
        ((0, 3.5, 2), True),
        ((2, 0, -3.5), False),
        ((3.4, 0, -2), False),
    ],
)
def test_two_drains_side_by_side_are_one_neck(at, drained):
    hollow = with_openings((1.5, (0, 0, -4)), (1.5, at), volume=500)
    assert bool(necked((hollow,), library())) is not drained


def test_a_large_bead_on_one_hole_of_two_millimetres_is_told_with_the_cure_that_cures_it():
    """A core of 11.4 mm wants 2.85 mm; with a hole of that width the same bead is silent."""
    large = partial(ball, outer=6.5, inner=5.7)
    _, found = measured(large(2.2))
    finding = told(found, "pattern-hollow-neck", WARN)
    assert "as much as a ball of {l:11}" in finding.says
    assert "one {l:2.9} wide or wider" in finding.do
    assert finding.limit == "2.9 mm"
    assert "pattern-hollow-neck" not in measured(large(2.9))[1]


def test_two_holes_side_by_side_are_told_as_such_and_the_heavier_weight_stays():
    solid = Solid.sphere(5.0, 48) - Solid.sphere(4.0, 48)
    for x in (-1.1, 1.1):
        solid -= Solid.cylinder(20, 0.78, 0.78, 48).translate((x, 0, -20))
    pattern, found = measured(from_manifold(solid))
    finding = told(found, "pattern-hollow-neck", WARN)
    assert "by necks on one side only, the widest of {l:1.5}" in finding.says or "of {l:1.6}" in finding.says
    assert "not side by side" in finding.do
    full = measured(from_manifold(Solid.sphere(5.0, 48)))[0].piece
    assert pattern.piece.metal_high_g == pytest.approx(full.metal_high_g, rel=0.02)


def test_a_hollow_told_by_its_neck_is_no_undercut_recess_besides():
    """A pocket of 5 mm behind a mouth of 1.2 mm in a ball of 8 mm: one hole, one finding, one cure."""
    solid = Solid.sphere(4.0, 64) - Solid.sphere(2.5, 64) - Solid.cylinder(20, 0.6, 0.6, 32)
    _, found = measured(from_manifold(solid))
    assert set(found) - {"pattern-holds-resin"} == {"pattern-hollow-neck"}, "what it holds is told of the print"


def test_what_metal_fills_adds_up():
    found = (behind(0.4, volume=50), behind(1.2, volume=30), behind(1.8, 1.7, volume=20))
    assert filled_mm3(7.0, found, library()) == (57.0, 87.0)
    assert filled_mm3(0.0, (), library()) == (0.0, 0.0)


def test_every_check_is_registered_with_its_codes():
    assert len(HOLLOW_CHECKS) == len(HOLLOW_CODES) == len({code.code for code in HOLLOW_CODES})
    assert set(HOLLOW_CODES) <= set(CODES)
