"""Findings about bores, each fired and each kept silent."""

import manifold3d
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.shapes import SHAPES, comfort_band, pendant_with_bail, plain_band, signet
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.pattern.bore_checks import BORE_CHECKS, BORE_CODES
from pourwell.steps.pattern.checks import CODES
from tests.unit.files.pattern_files import cube
from tests.unit.pattern.case import measured

RINGS = [name for name, shape in SHAPES.items() if shape.is_ring]


def finding(code, body, *, severity=Severity.NOTE, **words):
    """The finding with this code; it must be there, be a note if nothing else is said, and be whole."""
    found = measured(body, **words)[1]
    assert code in found, f"found {sorted(found)}"
    told = found[code]
    assert told.severity is severity
    assert told.where.startswith("piece A")
    assert spelt_out(told.says).endswith(".")
    assert spelt_out(told.do).endswith(".")
    return told


def silent(code, body, **words):
    found = measured(body, **words)[1]
    assert code not in found, found.get(code)


def oval(long=9.0, short=8.5, *, count=200):
    circle = manifold3d.CrossSection.circle(1, count)
    return from_manifold(manifold3d.Manifold.extrude(circle.scale((11, 10.6)) - circle.scale((long, short)), 4))


def double():
    solid = manifold3d.Manifold.cylinder(4, 10.4, 10.4, 160) + manifold3d.Manifold.cylinder(4, 10, 10, 160).translate((19, 0, 0))
    solid -= manifold3d.Manifold.cylinder(6, 8.6, 8.6, 160).translate((0, 0, -1))
    return from_manifold(solid - manifold3d.Manifold.cylinder(6, 8.0, 8.0, 160).translate((19, 0, -1)))


def test_bore_off_size_fires():
    told = finding("bore-off-size", plain_band(bore_mm=17.2), wanted_mm=18.0, severity=Severity.WARN)
    assert "wanted is {l:18.00} (ISO 56.5, US 7¾, UK P)" in told.says
    assert "Scale the pattern by 1.05" in told.do
    assert "widen the bore alone by {l:0.4" in told.do
    assert "US" in told.says


def test_a_bore_too_wide_is_to_be_narrowed():
    told = finding("bore-off-size", plain_band(bore_mm=19.2), wanted_mm=18.0, severity=Severity.WARN)
    assert "narrow the bore alone by {l:0.5" in told.do


def test_a_size_within_the_band_of_what_comes_out_is_a_note_alone():
    """The band runs a quarter of a millimetre either way; a size beyond its end will not come out of this pattern."""
    near = finding("bore-off-size", plain_band(bore_mm=17.2), wanted_mm=17.32)
    assert near.severity is Severity.NOTE


def test_bore_off_size_stays_silent():
    silent("bore-off-size", plain_band(bore_mm=17.2), wanted_mm=17.2)
    silent("bore-off-size", plain_band(bore_mm=17.2))


def test_bore_missing_fires():
    finding("bore-missing", pendant_with_bail(), wanted_mm=17.2)


def test_a_bangle_is_no_finger_ring():
    found = measured(plain_band(bore_mm=62.0), wanted_mm=17.2)[1]
    assert "its opening of {l:62.0} is no finger's" in found["bore-missing"].says
    assert set(found) == {"bore-missing"}, "no scale by a quarter is offered"


def test_bore_missing_stays_silent():
    silent("bore-missing", plain_band(), wanted_mm=17.2)
    silent("bore-missing", pendant_with_bail())


def test_bore_not_round_fires():
    told = finding("bore-not-round", oval())
    assert "{l:18.00} across at its widest, {l:17.00} at its narrowest" in told.says
    assert "hammered round it becomes {l:17.50}" in told.says
    assert "x 9" in told.where.replace("x -9", "x 9")
    assert told.measure == "1.00 mm out of round"


def test_coarse_facets_are_told_as_well():
    tube = manifold3d.Manifold.cylinder(4, 10.4, 10.4, 96) - manifold3d.Manifold.cylinder(6, 8.6, 8.6, 12).translate((0, 0, -1))
    assert "finer facets" in finding("bore-not-round", from_manifold(tube)).do


@pytest.mark.parametrize("name", RINGS)
def test_bore_not_round_stays_silent(name):
    silent("bore-not-round", SHAPES[name].make())


def test_a_little_out_of_round_is_round():
    silent("bore-not-round", oval(8.58, 8.5))


def test_an_oval_bangle_is_meant():
    bangle = manifold3d.CrossSection.circle(1, 200)
    solid = manifold3d.Manifold.extrude(bangle.scale((33, 28)) - bangle.scale((30, 25)), 6)
    silent("bore-not-round", from_manifold(solid))


def test_bore_band_wide_fires():
    told = finding("bore-band-wide", plain_band(width_mm=8.0), wanted_mm=17.2)
    assert "The band is {l:8.0} wide: a finger" in told.says
    assert "{l:1.5} larger around" in told.says
    assert "nothing was added" in told.says
    assert "comfort curve" in finding("bore-band-wide", comfort_band(width_mm=9.0), wanted_mm=17.2).says


def test_bore_band_wide_stays_silent():
    silent("bore-band-wide", plain_band(width_mm=8.0))
    silent("bore-band-wide", plain_band(width_mm=4.0), wanted_mm=17.2)
    silent("bore-band-wide", comfort_band(width_mm=6.0), wanted_mm=17.2)
    silent("bore-band-wide", signet(), wanted_mm=18.8)


def test_bore_several_fires():
    told = finding("bore-several", double(), wanted_mm=17.2)
    assert "besides the bore of {l:17.20} there is {l:16.00}" in told.says
    assert told.measure == "2 bores"


def test_bore_several_stays_silent():
    silent("bore-several", double())
    silent("bore-several", plain_band(), wanted_mm=17.2)


def test_as_long_as_the_unit_is_in_doubt_nothing_is_said_of_bores():
    found = measured(plain_band().scaled(0.1), wanted_mm=17.2)[1]
    assert set(found) == {"units-doubtful"}


def test_the_codes_stand_in_the_register_of_the_step():
    assert set(BORE_CODES) <= set(CODES)
    assert all(check.__doc__ for check in BORE_CHECKS)
    assert len(BORE_CHECKS) == len(BORE_CODES)


@pytest.mark.parametrize("bore_mm", [14.0, 17.2, 21.5])
@pytest.mark.parametrize("name", RINGS)
def test_our_own_rings_in_three_sizes_give_no_finding(name, bore_mm):
    assert measured(SHAPES[name].make(bore_mm=bore_mm))[1] == {}


def test_a_cube_gives_none_either():
    assert measured(cube(8))[1] == {}
