"""Units that are offered, figures that are doubted, and what is said of stones, stand-ins and missing parts."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, plain_band
from pourwell.geometry.solidity import from_manifold
from tests.unit.files.pattern_files import cube, joined
from tests.unit.pattern.case import measured
from tests.unit.pattern.test_checks import NOTE, STOP, WARN, crossing, finding, open_cube, silent


@pytest.mark.parametrize(("factor", "unit"), [(1e-3, "m"), (0.1, "cm"), (1 / 25.4, "inch"), (1000.0, "um")])
def test_units_doubtful_offers_only_what_makes_a_ring_that_a_finger_goes_through(factor, unit):
    told = finding("units-doubtful", STOP, plain_band().scaled(factor))
    assert f"{unit} would make it {{l:20.8}} x {{l:4}} x {{l:20.8}} with a bore of {{l:17.19}}" in told.do
    for other in {"m", "cm", "um"} - {unit}:
        assert f" {other} would" not in told.do


def test_units_doubtful_says_that_no_unit_fits_where_no_finger_would_go_through():
    told = finding("units-doubtful", STOP, plain_band().scaled(0.27 / 10))
    assert told.do.startswith("No unit fits: inch would make it")
    assert "scale the piece by it" in told.do


def test_units_doubtful_does_not_ask_for_a_finger_in_what_is_no_ring():
    told = finding("units-doubtful", STOP, SHAPES["pendant"].make().scaled(1e-3))
    assert "m would make it {l:18" in told.do
    assert "bore" not in told.do.split("If mm")[0]


def test_the_option_that_says_the_unit_is_named():
    told = finding("units-doubtful", STOP, plain_band().scaled(1 / 25.4))
    assert told.do.startswith("Say the unit of the file with --units: inch would make it")


def test_the_unit_comes_before_the_faults_of_a_surface_and_of_those_one_place_a_kind():
    """Two holes and no size of jewellery: what is to be settled first is told first, and no list of coordinates follows."""
    torn = open_cube().scaled(100)
    away = Mesh(torn.vertices + np.array([900.0, 0, 0]), torn.faces)
    _, found = measured(joined(torn, away))
    assert list(found)[:2] == ["units-doubtful", "pattern-unsound"]
    assert "and 1 more" in found["pattern-unsound"].says
    assert found["pattern-unsound"].says.count("near x") == 1


@pytest.mark.parametrize("count", [2, 5])
def test_links_that_do_not_touch_are_not_asked_for_a_stone(count):
    links = [cube(60, (100 * k, 0, 0)) for k in range(count)]
    _, found = measured(*links)
    assert "stone" not in found["units-doubtful"].do


def many_faults(side=5.0):
    """A plate with a wire and with slots that are all too thin."""
    slots = [manifold3d.Manifold.cube((0.15, 3, 9)).translate((1 + 0.8 * k, 1, -1)) for k in range(4)]
    whole = manifold3d.Manifold.cube((5, 5, 0.4)) + manifold3d.Manifold.cylinder(4.0, 0.15, 0.15, 24).translate((4.5, 4.5, 0))
    for slot in slots:
        whole -= slot
    return from_manifold(whole).scaled(side / 5)


def test_units_suspect_fires():
    told = finding("units-suspect", WARN, many_faults())
    assert "kinds of warning" in told.says
    assert "cm would make it {l:50} x {l:50}" in told.do
    assert told.measure == "5 mm"


def test_a_unit_that_is_most_likely_wrong_is_told_before_all_that_hangs_on_it():
    _, found = measured(many_faults())
    assert next(iter(found)) == "units-suspect"
    assert sum(one.severity is WARN for one in found.values()) > 2


def test_a_unit_that_makes_it_far_too_large_is_not_offered():
    """5.5 inches are 139.7 mm, 16 % over the largest piece of jewellery."""
    assert "inch would" not in finding("units-suspect", WARN, many_faults(5.5)).do
    assert "commonest" not in finding("units-suspect", WARN, many_faults(5.5)).do


def test_units_suspect_stays_silent():
    silent("units-suspect", many_faults(6.5))
    silent("units-suspect", many_faults(), units_from="user")
    silent("units-suspect", many_faults(2.0))
    silent("units-suspect", cube(5))


def test_a_stone_among_bodies_is_spoken_of_once_where_nothing_else_does():
    two = finding("pattern-overlap", NOTE, cube(4), cube(4, (2, 0, 0)))
    assert "A stone or a support may be among its bodies" in two.do
    named = finding("pattern-overlap", NOTE, ("a", cube(4)), ("b", cube(4, (2, 0, 0))), ("ruby", cube(2, (1, 1, 3))))
    assert "support may" not in named.do
    assert "support may" not in finding("units-doubtful", STOP, cube(0.2)).do
    assert "support may" in finding("units-doubtful", STOP, cube(0.2), cube(0.2, (0.1, 0, 0))).do


def test_a_stand_in_has_no_note_about_what_it_has_twice():
    silent("pattern-overlap", open_cube(), cube(4, (2, 0, 0)))


def test_a_large_hole_is_called_a_missing_part_and_a_small_one_is_not():
    assert "round may well be a missing part, not a nick" in finding("pattern-unsound", STOP, open_cube()).do
    nicked = Mesh(cube(2).vertices, cube(2).faces[1:])
    assert "missing part" not in finding("pattern-unsound", STOP, nicked, cube(9, (20, 0, 0))).do


def test_no_finding_has_a_limit_that_says_nothing():
    shown = [measured(open_cube())[1], measured(joined(cube(4), cube(4, (30, 0, 0))))[1], measured(crossing(0.6))[1]]
    limits = [found.limit for told in shown for found in told.values()]
    assert limits
    assert not {"none", "1", "0"} & set(limits)


def test_figures_are_doubted_for_a_unit_or_a_hull_and_for_nothing_else():
    rng = np.random.default_rng(0)
    soup = Mesh(rng.uniform(0, 10, (60, 3)), np.arange(60).reshape(-1, 3))
    assert measured(cube(5))[0].piece.doubt == ""
    assert measured(open_cube())[0].piece.doubt == ""
    assert measured(cube(1))[0].piece.doubt == "unit"
    assert measured(cube(1), units_from="user")[0].piece.doubt == ""
    assert measured(soup)[0].piece.doubt == "hull"
    assert measured(soup.scaled(0.01))[0].piece.doubt == "unit", "that comes first"


def test_two_kinds_of_warning_on_a_small_piece_ask_for_its_unit():
    """A plate of 5 mm with a wall and a slot that are too thin: in centimetres, or in inches, neither would be."""
    slot = manifold3d.Manifold.cube((3, 0.2, 9), True).translate((2.5, 2.5, 0))
    plate = from_manifold(manifold3d.Manifold.cube((5, 5, 0.4)) - slot)
    told = finding("units-suspect", WARN, plate)
    assert "there are 2 kinds of warning" in told.says
    assert "--units: inch would make it {l:127} x {l:127}" in told.do, "5 inches are a hair larger than jewellery is, and named"
    assert "cm would make it {l:50}" in told.do
    assert "Inches are the commonest slip." in told.do
    whole = from_manifold(manifold3d.Manifold.cube((5, 5, 0.4)))
    silent("units-suspect", whole)
