"""Findings about features: each fires where it should, and stays silent where it should."""

import numpy as np
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.shapes import SHAPES, Fineness
from pourwell.geometry.solidity import from_manifold, to_manifold, weld
from pourwell.materials.model import Quantity
from pourwell.steps.pattern.feature_checks import CHECKS, CODES
from tests.unit.geometry.feature_pieces import (
    Solid,
    blind_hole,
    block,
    drilled,
    flask_shaped,
    groove,
    line,
    notch,
    refined,
    slot,
    v_groove,
    with_wire,
)
from tests.unit.pattern.case import library, measured

WARN, NOTE = Severity.WARN, Severity.NOTE
FAR = "common practice, no source"

SMALL = {
    "plain-band": {"bore_mm": 14, "width_mm": 1.6, "thickness_mm": 1.0},
    "comfort-band": {"bore_mm": 15},
    "half-round-band": {"bore_mm": 14},
    "signet": {
        **{"bore_mm": 15, "table_length_mm": 8, "table_width_mm": 7, "head_mm": 1.8},
        **{"shank_width_mm": 2.5, "shank_thickness_mm": 1.3},
    },
    "bezel-ring": {"bore_mm": 15, "stone_mm": 3.5, "wall_mm": 0.8, "ledge_mm": 0.5},
    "pendant": {"diameter_mm": 10, "bail_bore_mm": 2.5, "bail_wire_mm": 1.2, "rim_mm": 1.2},
    "stud": {"diameter_mm": 4, "wire_mm": 0.85, "wire_length_mm": 8},
}
LARGE = {
    "plain-band": {"bore_mm": 21, "width_mm": 9, "thickness_mm": 2.4},
    "comfort-band": {"bore_mm": 22},
    "half-round-band": {"bore_mm": 21},
    "signet": {
        **{"bore_mm": 21, "table_length_mm": 16, "table_width_mm": 14, "head_mm": 3.2},
        **{"shank_width_mm": 5, "shank_thickness_mm": 2.2},
    },
    "bezel-ring": {
        **{"bore_mm": 18, "stone_mm": 7, "wall_mm": 1.2, "ledge_mm": 0.9, "cup_mm": 5},
        **{"shank_width_mm": 3, "shank_thickness_mm": 1.8},
    },
    "pendant": {"diameter_mm": 32, "bail_bore_mm": 6, "bail_wire_mm": 2.4, "rim_mm": 2},
    "stud": {"diameter_mm": 10, "wire_mm": 1.0, "wire_length_mm": 12, "rim_mm": 1.6},
}
COARSE = Fineness(chord_mm=0.02, longest_mm=3.0)


def finding(code, severity, mesh, **more):
    """The finding of a code, whole: place, sentences, and a source that exists."""
    _, found = measured(mesh, **more)
    assert code in found, f"found {sorted(found)}"
    told = found[code]
    assert told.severity is severity
    assert severity in next(c.severities for c in CODES if c.code == code)
    assert told.where.startswith("piece A, near x ")
    for sentence in (told.says, told.do):
        assert sentence.endswith(".")
        assert "{" not in spelt_out(sentence)
    assert told.measure
    assert told.limit
    assert told.source.partition(":")[0] in {*library().sources, FAR, "own choice"}
    return told


def silent(code, mesh, **more):
    _, found = measured(mesh, **more)
    assert code not in found, found[code].says


def test_wire_thin_fires():
    told = finding("wire-thin", WARN, with_wire(0.6))
    assert told.measure == "0.60 mm"
    assert told.limit == "0.8 mm"
    assert told.source == library().alloy("sterling-925").min_wire_mm.source


def test_wire_thin_goes_by_the_alloy():
    silent("wire-thin", with_wire(0.85))
    assert finding("wire-thin", WARN, with_wire(0.85), alloy="gold-916-yellow").limit == "1 mm"


def test_wire_thin_stays_silent():
    silent("wire-thin", with_wire(0.82))
    silent("wire-thin", from_manifold(Solid.cube((12, 10, 0.7), True)))
    silent("wire-thin", block(on=[line(0.6, 0.5)]))
    silent("wire-thin", with_wire(0.6).scaled(0.01))


def test_gap_narrow_fires():
    told = finding("gap-narrow", WARN, block(slot(0.3)))
    assert told.measure == "0.30 mm"
    assert told.source.startswith("gold-casting-design-text")
    finding("gap-narrow", WARN, block(drilled(0.35)))


def test_gap_narrow_fires_between_two_wires():
    pair = Solid.cube((1.0, 8.0, 1.0), True).translate((-0.6, 0, 0)) + Solid.cube((1.0, 8.0, 1.0), True).translate((0.6, 0, 0))
    for y in (-4, 4):
        pair += Solid.cube((4, 2, 2), True).translate((0, y, 0))
    told = finding("gap-narrow", WARN, from_manifold(pair))
    assert told.measure == "0.20 mm"


def round_wires(gap_mm):
    """Two wires 2 mm thick and 18 mm long side by side, joined at their ends."""
    wire = Solid.cylinder(20, 1, 1, 64, True).rotate((90, 0, 0))
    joints = [Solid.cube((6, 2, 2), True).translate((1, y, 0)) for y in (-10, 10)]
    return from_manifold(wire + wire.translate((2 + gap_mm, 0, 0)) + joints[0] + joints[1])


def ball_over_plate(gap_mm):
    """A ball of 6 mm that an arm holds over a plate."""
    arm = Solid.cube((2, 2, 9), True).translate((6, 0, 4)) + Solid.cube((8, 2, 2), True).translate((3, 0, 7.2))
    return from_manifold(Solid.sphere(3, 96).translate((0, 0, 4 + gap_mm)) + Solid.cube((14, 14, 2), True) + arm)


@pytest.mark.parametrize("gap_mm", [0.1, 0.2, 0.3])
def test_gap_narrow_fires_between_two_round_wires_and_no_corner_is_told_there(gap_mm):
    _, found = measured(round_wires(gap_mm))
    assert found["gap-narrow"].measure == f"{gap_mm:.2f} mm"
    x, y, z = found["gap-narrow"].at_mm
    assert 1 + gap_mm / 2 == pytest.approx(x, abs=gap_mm / 2 + 0.02)
    assert abs(y) < 9
    assert abs(z) < 0.2
    assert "inner-corner-sharp" not in found


def test_gap_narrow_fires_between_a_ball_and_a_plate():
    _, found = measured(ball_over_plate(0.2))
    assert float(found["gap-narrow"].measure.split()[0]) == pytest.approx(0.2, abs=0.05)
    assert found["gap-narrow"].at_mm == pytest.approx((0, 0, 1.1), abs=0.9)
    assert "inner-corner-sharp" not in found


@pytest.mark.parametrize("piece", [round_wires(0.5), round_wires(-0.2), ball_over_plate(0.6)])
def test_gap_narrow_stays_silent_between_round_sides_that_are_wide_apart_or_joined(piece):
    silent("gap-narrow", piece)


def test_a_sharp_corner_elsewhere_is_told_beside_a_gap_between_round_sides():
    """The ball over the plate, and a notch of 30 degrees in the plate's far side."""
    wedge = Solid.hull_points([(x, y, z) for y in (-8, 8) for x, z in ((0, -0.2), (-0.3, -1.32), (0.3, -1.32))])
    _, found = measured(from_manifold(to_manifold(weld(ball_over_plate(0.2))) - wedge))
    assert "gap-narrow" in found
    assert found["inner-corner-sharp"].at_mm[2] == pytest.approx(-0.2, abs=0.1)


def test_gap_narrow_fires_in_a_side_slot_into_which_no_ball_looks_from_outside():
    """A slot 1 mm wide and 3 deep, from whose bottom a narrow one leads off sideways."""
    down = Solid.cube((1.0, 20, 6), True).translate((0, 0, 2.0))
    aside = Solid.cube((4.0, 20, 0.3), True).translate((2.0, 0, -0.6))
    told = finding("gap-narrow", WARN, block(down, aside))
    assert told.measure == "0.30 mm"
    wide = Solid.cube((4.0, 20, 0.5), True).translate((2.0, 0, -0.6))
    silent("gap-narrow", block(down, wide))


def test_gap_narrow_stays_silent():
    silent("gap-narrow", block(slot(0.45)))
    silent("gap-narrow", block(drilled(0.9)))
    silent("gap-narrow", block(groove(0.2, 0.3)))


def test_engraving_narrow_fires():
    told = finding("engraving-narrow", WARN, block(groove(0.2, 0.3)))
    assert told.measure == "0.20 mm"
    assert told.source.startswith("maker-drawing-rules")
    assert "{l:0.30} deep" in told.says


def test_engraving_narrow_goes_by_the_pattern_material_where_that_is_coarser():
    coarse = Quantity(value=0.5, unit="mm", source="studio", grade="supplier")
    carved = library().pattern("wax-carving").model_copy(update={"min_detail_mm": coarse})
    _, found = measured(block(groove(0.4, 0.4)), material=carved)
    assert found["engraving-narrow"].limit == "0.5 mm"
    silent("engraving-narrow", block(groove(0.4, 0.4)))


def test_engraving_narrow_stays_silent():
    silent("engraving-narrow", block(groove(0.3, 0.3)))
    silent("engraving-narrow", block(v_groove(90, 0.2)))
    silent("engraving-narrow", block(slot(0.2)))


def test_engraving_shallow_fires():
    told = finding("engraving-shallow", WARN, block(groove(0.5, 0.15)))
    assert told.measure == "0.15 mm"
    assert "only {l:0.05} is left" in told.says
    assert "nothing is left" in finding("engraving-shallow", WARN, block(groove(0.5, 0.1))).says


def test_engraving_shallow_is_a_note_where_something_is_left():
    assert "{l:0.12} is left" in finding("engraving-shallow", NOTE, block(groove(0.5, 0.22))).says


def test_engraving_shallow_stays_silent():
    silent("engraving-shallow", block(groove(0.5, 0.25)))
    silent("engraving-shallow", block(v_groove(90, 0.3)))
    silent("engraving-shallow", block(Solid.cube((20, 4, 0.3), True).translate((0, 4, 2))))
    silent("engraving-shallow", block(groove(3.0, 0.15)))


def test_recess_deep_fires():
    told = finding("recess-deep", WARN, block(groove(0.4, 1.0)))
    assert told.measure == "2.5 times its width"
    assert told.limit == "1.5 times its width"
    assert told.source == FAR
    assert "no deeper than {l:0.60}" in told.do


def test_recess_deep_has_a_limit_of_its_own_for_each_kind():
    assert "blind hole" in finding("recess-deep", WARN, block(blind_hole(1.0, 2.6))).says
    told = finding("recess-deep", WARN, block(drilled(0.7)))
    assert "through" in told.says
    assert told.limit == "4 times its width"


def test_recess_deep_stays_silent():
    silent("recess-deep", block(groove(0.8, 1.1)))
    silent("recess-deep", block(blind_hole(1.0, 1.9)))
    silent("recess-deep", block(drilled(1.2)))
    silent("recess-deep", block(v_groove(60, 1.0)))


def test_recess_undercut_fires():
    told = finding("recess-undercut", WARN, refined(block(flask_shaped()), 1))
    assert told.limit == "75%"
    assert "Air stays in it" in told.says


def test_recess_undercut_stays_silent():
    silent("recess-undercut", block(groove(0.8, 1.5)))
    silent("recess-undercut", block(v_groove(40, 1.0)))
    silent("recess-undercut", block(blind_hole(1.5, 2.5)))


def test_relief_fine_fires():
    told = finding("relief-fine", WARN, block(on=[line(0.3, 0.4)]))
    assert told.measure == "0.30 mm"
    assert "leaves {l:0.10} of its face" in told.says


def test_relief_fine_stays_silent():
    silent("relief-fine", block(on=[line(0.45, 0.4)]))
    silent("relief-fine", block())


def test_relief_low_fires():
    told = finding("relief-low", NOTE, block(on=[line(0.6, 0.2)]))
    assert told.measure == "0.20 mm"
    assert "{l:0.10} is left" in told.says


def test_relief_low_stays_silent():
    silent("relief-low", block(on=[line(0.6, 0.35)]))
    silent("relief-low", block(Solid.cube((20, 4, 0.3), True).translate((0, 4, 2))))


def test_inner_corner_sharp_fires():
    told = finding("inner-corner-sharp", NOTE, block(notch(30)))
    assert told.measure == "30 degrees"
    assert told.limit == "45 degrees"


def test_inner_corner_sharp_stays_silent():
    silent("inner-corner-sharp", block(notch(50)))
    silent("inner-corner-sharp", block(groove(0.4, 0.4)))
    silent("inner-corner-sharp", block(Solid.cube((20, 4, 2), True).translate((0, 4, 2))))


def test_features_are_not_judged_where_the_unit_is_in_doubt():
    _, found = measured(block(slot(0.3)).scaled(100))
    assert set(found) == {"units-doubtful"}


@pytest.mark.parametrize("sizes", [{}, SMALL, LARGE], ids=["as drawn", "small", "large"])
@pytest.mark.parametrize("name", SHAPES)
def test_none_of_our_own_pieces_raises_a_false_alarm(name, sizes):
    """In sterling, in three sizes: a finding on an ordinary sound piece is noise."""
    for fineness in (Fineness(), COARSE):
        pattern, found = measured(SHAPES[name].make(**sizes.get(name, {}), fineness=fineness))
        assert found == {}, {code: told.says for code, told in found.items()}
        assert pattern.ball_mm.shape == pattern.gap_mm.shape == pattern.wall_mm.shape == (len(pattern.mesh.faces),)
        for array in (pattern.ball_mm, pattern.gap_mm, pattern.wall_mm):
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 1.0


def test_every_code_has_its_severities_and_every_check_its_words():
    assert len({code.code for code in CODES}) == len(CODES)
    assert all(code.severities and code.about for code in CODES)
    assert all(check.__doc__ for check in CHECKS)
    assert len(CHECKS) == len(CODES)


def test_walls_by_rays_and_by_balls_agree_on_our_bands():
    """Two ways that share no query: within 3 % at nine triangles in ten of the flat and round faces, edges left out."""
    for name in ("plain-band", "comfort-band", "pendant"):
        pattern, _ = measured(SHAPES[name].make())
        inner = pattern.ball_mm > 0.8 * np.median(pattern.ball_mm[pattern.ball_mm > 1.0])
        ratio = pattern.wall_mm[inner] / pattern.ball_mm[inner]
        assert np.quantile(np.abs(ratio - 1), 0.5) < 0.03
