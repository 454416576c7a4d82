"""Sound work is passed in silence, faults are told with their own sizes, and each place once, by its cause."""

import re

import numpy as np
import pytest

from pourwell.findings import Severity
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold
from tests.unit.geometry import ring_pieces as pieces
from tests.unit.geometry.feature_pieces import Solid, block, groove, line, notch, slot
from tests.unit.pattern.case import measured

FEATURES = {
    *("wire-thin", "gap-narrow", "engraving-narrow", "engraving-shallow", "recess-deep", "recess-undercut", "relief-fine"),
    *("relief-low", "inner-corner-sharp", "wall-thin"),
}


def told(mesh, **more):
    """The findings about features and walls, by code."""
    _, found = measured(mesh, **more)
    return {code: finding for code, finding in found.items() if code in FEATURES}


def size(finding):
    """The number that a measure begins with."""
    return float(finding.measure.split()[0].rstrip("%"))


# --- engraving ---


@pytest.mark.parametrize(("width", "depth"), [(0.5, 0.4), (0.8, 0.3), (0.4, 0.3)])
@pytest.mark.parametrize("edge", [None, 0.6], ids=["as drawn", "finer"])
def test_good_engraving_is_passed_in_silence_whatever_the_triangles(width, depth, edge):
    assert told(pieces.engraved(width, depth, edge=edge)) == {}


@pytest.mark.parametrize(("width", "depth"), [(0.2, 0.27), (0.25, 0.3)])
@pytest.mark.parametrize("edge", [None, 0.6], ids=["as drawn", "finer"])
def test_narrow_engraving_is_told_once_and_as_wide_as_it_was_drawn(width, depth, edge):
    found = told(pieces.engraved(width, depth, edge=edge))
    assert set(found) == {"engraving-narrow"}
    assert size(found["engraving-narrow"]) == pytest.approx(width, abs=0.011)


def test_engraving_is_shown_away_from_the_ends_of_a_stroke():
    """Strokes run from y = -1.5 to 1.5: by half the width of the wider ones, 0.5, at least."""
    for code, mesh in (("engraving-narrow", pieces.engraved(0.2, 0.28)), ("engraving-shallow", pieces.engraved(0.5, 0.1))):
        _, y, _ = told(mesh)[code].at_mm
        assert abs(y) < pieces.STROKE / 2 - 0.25


@pytest.mark.parametrize("depth", [0.10, 0.15, 0.2])
def test_shallow_engraving_is_told_for_its_depth_alone(depth):
    found = told(pieces.engraved(0.5, depth))
    assert set(found) == {"engraving-shallow"}
    assert size(found["engraving-shallow"]) == pytest.approx(depth, abs=0.01)


def test_deep_engraving_is_told_for_its_depth_and_the_wall_that_it_leaves():
    """0.4 wide and 1.5 deep in a band of 1.8: 3.75 times as deep as wide, and 0.3 left."""
    found = told(pieces.engraved(0.4, 1.5))
    assert set(found) == {"recess-deep", "wall-thin"}
    assert size(found["recess-deep"]) == pytest.approx(3.75, abs=0.06)
    assert size(found["wall-thin"]) == pytest.approx(0.3, abs=0.02)


def test_a_deep_groove_beside_a_narrow_one_is_told_besides():
    """Each recess has its own cause: 0.2 by 0.4, and 3 away 0.5 by 1.5."""
    found = told(block(groove(0.2, 0.4), groove(0.5, 1.5).translate((0, 3, 0))))
    assert set(found) == {"engraving-narrow", "recess-deep"}
    assert found["engraving-narrow"].at_mm[1] == pytest.approx(0, abs=0.2)
    assert found["recess-deep"].at_mm[1] == pytest.approx(3, abs=0.3)
    assert size(found["recess-deep"]) == pytest.approx(3.0, rel=0.02)


def test_turning_a_piece_changes_no_verdict():
    whole = pieces.engraved(0.2, 0.28)
    first = told(whole)
    for angles in ((30, 50, 10), (90, 0, 45)):
        turn = np.asarray(Solid.cube((1, 1, 1)).rotate(angles).to_mesh().vert_properties[:, :3], dtype=float)
        corner = turn[np.argmin(np.linalg.norm(turn, axis=1))]
        axes = [turn[np.argmin(np.abs(np.linalg.norm(turn - corner, axis=1) - 1))] - corner]
        axes.append(
            next(p - corner for p in turn if abs((p - corner) @ axes[0]) < 1e-5 and abs(np.linalg.norm(p - corner) - 1) < 1e-5)
        )
        axes.append(np.cross(*axes))
        again = told(Mesh(whole.vertices @ np.linalg.qr(np.array(axes).T)[0] @ np.diag([1, 1, _hand(axes)]), whole.faces))
        assert set(again) == set(first)
        assert size(again["engraving-narrow"]) == pytest.approx(size(first["engraving-narrow"]), abs=0.011)


def _hand(axes):
    """1 or -1, so that the turn is no mirror."""
    return float(np.sign(np.linalg.det(np.linalg.qr(np.array(axes).T)[0])))


# --- between prongs, and between two shanks ---


@pytest.mark.parametrize(("prong", "height"), [(0.5, 3.0), (0.6, 2.0)])
def test_an_ordinary_solitaire_is_passed_in_silence(prong, height):
    assert told(pieces.solitaire(prong, height)) == {}


def test_thin_prongs_are_told_once_as_wires():
    """0.5 thick: under the 0.6 of a wall as well, but that is the same fault."""
    found = told(pieces.solitaire(0.25))
    assert set(found) == {"wire-thin"}
    assert size(found["wire-thin"]) == pytest.approx(0.5, abs=0.011)


def test_a_thin_wall_besides_thin_wires_is_still_told():
    """A plate of 0.4 and, away from it, a wire of 0.5: two faults."""
    body = Solid.cube((12, 12, 4), True) + Solid.cube((0.4, 10, 8), True).translate((4, 0, 5))
    body += Solid.cylinder(8, 0.25, 0.25, 32).translate((-4, 0, 1))
    found = told(from_manifold(body))
    assert set(found) == {"wire-thin", "wall-thin"}
    assert found["wire-thin"].at_mm[0] == pytest.approx(-4, abs=0.3)
    assert found["wall-thin"].at_mm[0] == pytest.approx(4, abs=0.3)
    assert size(found["wall-thin"]) == pytest.approx(0.4, abs=0.01)


def test_a_piece_that_is_nothing_but_thin_wire_is_told_as_wire():
    found = told(pieces.hoop(0.5))
    assert set(found) == {"wire-thin"}
    assert size(found["wire-thin"]) == pytest.approx(0.5, rel=0.03)


@pytest.mark.parametrize("gap", [0.2, 0.3])
def test_of_two_round_shanks_only_the_gap_is_told(gap):
    """Between them it is as wide as their nearest at z = 0, and a wedge that opens above and below, which is no groove."""
    found = told(pieces.two_finger(gap))
    assert set(found) - {"inner-corner-sharp"} == {"gap-narrow"}
    assert size(found["gap-narrow"]) == pytest.approx(gap, abs=0.05)
    assert found["gap-narrow"].at_mm[2] == pytest.approx(0, abs=1.0)
    if "inner-corner-sharp" in found:
        assert abs(found["inner-corner-sharp"].at_mm[2]) > 5, "where the bar joins the shanks, not in the gap"


def test_two_round_shanks_that_stand_well_apart_have_no_gap():
    assert set(told(pieces.two_finger(1.5))) <= {"inner-corner-sharp"}


@pytest.mark.parametrize("gap", [0.02, 0.05, 0.2])
def test_where_two_solids_nearly_touch_no_inner_corner_is_told(gap):
    _, found = measured(pieces.floating_head(gap))
    assert found["pattern-apart"].severity is Severity.STOP
    assert "inner-corner-sharp" not in found


def test_an_inner_corner_of_one_solid_is_told_though_another_lies_beside_it():
    cut, far = block(notch(30)), from_manifold(Solid.sphere(2, 32).translate((30, 0, 0)))
    both = Mesh(np.vstack((cut.vertices, far.vertices)), np.vstack((cut.faces, far.faces + len(cut.vertices))))
    assert size(told(both)["inner-corner-sharp"]) == 30


# --- pockets and holes ---


def test_a_slot_under_a_narrow_mouth_is_told_once_for_its_mouth():
    """1 wide over 3: 33 %."""
    found = told(pieces.t_slot())
    assert set(found) == {"recess-undercut"}
    assert size(found["recess-undercut"]) == pytest.approx(33, abs=1)


def test_a_slot_under_a_wide_mouth_is_no_pocket():
    assert "recess-undercut" not in told(pieces.t_slot(mouth=2.6))


def test_a_bulb_under_a_neck_is_told_once_for_its_mouth():
    """1 wide over 4: a hollow whose core hangs by a neck, and no pocket besides."""
    _, found = measured(pieces.bulb())
    assert "pattern-hollow-neck" in found
    assert told(pieces.bulb()) == {}


@pytest.mark.parametrize(("diameter", "times"), [(0.9, 3.5 / 0.9), (1.2, 3.5 / 1.2)])
def test_a_deep_hole_for_a_peg_is_told_by_its_own_sizes(diameter, times):
    """Into the ball from z = 4 to 0.5; told up to a fifth too deep for its width, on the safe side."""
    found = told(pieces.peg_hole(diameter))
    assert set(found) == {"recess-deep"}
    assert "blind hole" in found["recess-deep"].says
    assert size(found["recess-deep"]) == pytest.approx(times, rel=0.2)


def test_a_shallow_hole_for_a_peg_is_passed_in_silence():
    assert told(pieces.peg_hole(2.4)) == {}


@pytest.mark.parametrize(("diameter", "mouth"), [(0.8, 1.4), (1.2, 2.0), (0.9, 1.6)])
def test_a_countersunk_hole_is_neither_groove_nor_pocket(diameter, mouth):
    """As for stones: through a plate of 2, no more than 2.5 times as deep as wide."""
    assert told(pieces.countersunk(diameter, mouth)) == {}


def test_a_narrow_slot_is_told_as_a_gap_and_not_as_deep_besides():
    """0.3 wide through 4: also 13 times as deep as wide."""
    found = told(block(slot(0.3)))
    assert set(found) == {"gap-narrow"}
    assert size(found["gap-narrow"]) == pytest.approx(0.3, abs=0.011)


def test_a_slot_wide_enough_but_long_is_told_as_deep():
    found = told(block(slot(0.7)))
    assert set(found) == {"recess-deep"}
    assert size(found["recess-deep"]) == pytest.approx(4 / 0.7, rel=0.12)


# --- what stands up ---


def test_the_land_between_sunk_strokes_is_no_raised_line():
    """0.3 wide and 0.25 deep in the bore, with 0.6 of land between them, level with it."""
    assert told(pieces.marked(0.3, 0.25)) == {}


def test_a_mark_sunk_too_little_is_told_as_shallow():
    found = told(pieces.marked(0.4, 0.12, pitch=1.2))
    assert set(found) == {"engraving-shallow"}
    assert size(found["engraving-shallow"]) == pytest.approx(0.12, abs=0.011)


@pytest.mark.parametrize(("width", "height"), [(0.25, 0.4), (0.3, 0.5)])
def test_fine_raised_lines_are_told_once_as_such(width, height):
    """As thin as a wall and as a wire as well."""
    found = told(pieces.raised(width, height))
    assert set(found) == {"relief-fine"}
    assert size(found["relief-fine"]) == pytest.approx(width, abs=0.011)


def test_broad_raised_lines_are_passed_in_silence():
    assert told(pieces.raised(0.8, 0.4)) == {}


def test_raised_lines_side_by_side_are_told_where_the_ground_between_is_wider_than_they():
    near = [line(0.3, 0.4).translate((0, k * 1.0, 0)) for k in (-1, 0, 1)]
    assert set(told(block(on=near))) == {"relief-fine"}


def test_a_thin_wire_besides_fine_raised_lines_is_still_told():
    fine = Solid.cube((8, 0.3, 0.8), True).translate((0, 0, 2))
    wire = Solid.cylinder(8, 0.3, 0.3, 32).translate((0, 3, 0))
    found = told(block(on=[fine, wire]))
    assert set(found) == {"relief-fine", "wire-thin"}
    assert found["wire-thin"].at_mm[2] > 2.5
    assert size(found["wire-thin"]) == pytest.approx(0.6, abs=0.02)


# --- webs, crossings, beads, blind holes ---


def disc(*holes, high=1.6, radius=8.0, sides=48):
    """A disc with holes as (radius, distance of the middle from the disc's)."""
    solid = Solid.cylinder(high, radius, radius, 192, center=True)
    for hole, away in holes:
        solid -= Solid.cylinder(5, hole, hole, sides, center=True).translate((0, away, 0))
    return from_manifold(solid)


@pytest.mark.parametrize(("hole", "web"), [(0.5, 0.2), (0.5, 0.4), (0.75, 0.15), (1.0, 0.3), (1.5, 0.3)])
def test_a_web_beside_a_hole_is_told_as_thick_as_it_is_whatever_the_hole(hole, web):
    pattern, found = measured(disc((hole, 8 - web - hole)))
    assert size(found["wall-thin"]) == pytest.approx(web, abs=0.015)
    assert pattern.piece.wall.thinnest_mm == pytest.approx(web, abs=0.015), "the row and the picture say the same"
    x, y, _ = found["wall-thin"].at_mm
    assert abs(x) < 0.4
    assert y > 8 - web - hole


def across(solid, hole, out):
    """A hole of a diameter along y, its middle so far out along x."""
    drill = Solid.cylinder(40, hole / 2, hole / 2, 64, True).rotate((90, 0, 0)).translate((out, 0, 0))
    return from_manifold(solid - drill)


def drilled(name, web):
    """A hole beside which so much is left, by construction: in a rod, a bead, and the side of a tube near its end."""
    if name == "rod":
        return across(Solid.cylinder(20, 1.5, 1.5, 128, True), 1.0, 1.5 - 0.5 - web)
    if name == "bead":
        return across(Solid.sphere(3.0, 128), 1.5, 3.0 - 0.75 - web)
    tube = Solid.cylinder(14, 3, 3, 128) - Solid.cylinder(20, 2, 2, 128)
    return across(tube.rotate((0, -90, 0)).translate((14, 0, 0)), 1.0, 14 - 0.5 - web)


@pytest.mark.parametrize("web", [0.15, 0.4])
@pytest.mark.parametrize("name", ["rod", "bead", "tube"])
def test_a_web_in_something_round_is_told_as_thick_as_it_is_between_its_mouths(name, web):
    """At the mouths of a hole in a rod or a bead it tapers to nothing; the metal between them carries that."""
    found = told(drilled(name, web))
    assert size(found["wall-thin"]) == pytest.approx(web, abs=0.03)
    assert "recess-undercut" not in found, "a straight hole is no pocket, however its mouths slant"


@pytest.mark.parametrize("name", ["rod", "bead", "tube"])
def test_a_hole_in_something_round_with_enough_beside_it_is_passed_in_silence(name):
    assert "wall-thin" not in told(drilled(name, 0.7))


@pytest.mark.parametrize(("hole", "web"), [(0.5, 0.7), (0.5, 2.0), (1.5, 0.65)])
def test_a_hole_with_enough_beside_it_is_passed_in_silence(hole, web):
    assert "wall-thin" not in told(disc((hole, 8 - web - hole)))


def test_seats_of_stones_side_by_side_stand_on_the_metal_under_them():
    """Nine seats of 1.3 mm, 0.7 deep, in a band of 2 mm, 0.25 apart at their floors: ordinary work."""
    band = Solid.cylinder(3, 10.6, 10.6, 128, center=True) - Solid.cylinder(4, 8.6, 8.6, 128, center=True)
    for k in range(-4, 5):
        seat = Solid.cylinder(1, 0.65, 0.65, 32, center=True).translate((0, 0, 10.4))
        seat += Solid.cylinder(6, 0.4, 0.4, 32, center=True).translate((0, 0, 9.6))
        band -= seat.rotate((90, 0, 0)).rotate((0, 0, 9 * k))
    assert told(from_manifold(band)) == {}


def test_bands_that_cross_are_told_once_and_nobody_hammers_them_round():
    one = Solid.cylinder(2.5, 10.2, 10.2, 128, center=True) - Solid.cylinder(4, 8.6, 8.6, 128, center=True)
    _, found = measured(from_manifold(one.rotate((10, 0, 0)) + one.rotate((-10, 0, 0))))
    assert "inner-corner-sharp" not in found
    if "bore-not-round" in found:
        assert "hammered" not in found["bore-not-round"].says
        assert "mandrel" not in found["bore-not-round"].do


def test_the_corners_round_small_beads_are_no_edge_of_mould():
    """Sixty beads of 0.6 mm, half sunk in a disc: a millimetre of sharp corner in all, a sixtieth at each."""
    solid = Solid.cylinder(2, 8, 8, 128, center=True)
    for k in range(60):
        solid += Solid.sphere(0.3, 24).translate((7.5, 0, 1.1)).rotate((0, 0, 6 * k))
    assert "inner-corner-sharp" not in told(from_manifold(solid))


@pytest.mark.parametrize("sides", [16, 32, 64])
def test_a_blind_hole_is_as_wide_as_it_was_drawn(sides):
    """0.90 mm wide between corners; between flats narrower by the cosine of half the angle of a side."""
    hole = Solid.cylinder(4, 0.45, 0.45, sides).translate((0, 0, 0.5))
    found = told(from_manifold(Solid.sphere(4, 64) - hole))
    (width,) = (float(part) for part in re.findall(r"deep and \{l:([\d.]+)\} wide", found["recess-deep"].says))
    assert 0.97 * 0.9 * np.cos(np.pi / sides) <= width <= 0.905, "within 3 %"
