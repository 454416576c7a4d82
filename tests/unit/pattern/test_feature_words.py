"""Findings about features from measures made up: limits, what is judged and what is not, and the words."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.corners import Corners
from pourwell.geometry.features import Features
from pourwell.geometry.gaps_outside import Gaps
from pourwell.geometry.recesses import Recesses
from pourwell.geometry.wires import Wires
from pourwell.materials.model import Quantity
from pourwell.steps.pattern.faults_told import under
from pourwell.steps.pattern.feature_checks import CODES, FeatureFacts, findings, looked, point
from tests.unit.pattern.case import library

NONE = np.empty(0)
SOUND = {
    "area_mm2": 1.0,
    "width_mm": 0.6,
    "mouth_mm": 0.6,
    "long_mm": np.inf,
    "depth_mm": 0.6,
    "open_fraction": 0.0,
    "beside_mm": np.inf,
}
FLAGS = {"through": False, "flush": True, "parallel": True, "between": True}


def rule(name):
    return library().rule(name)


def recesses(*places):
    """Recesses of these measures, and else a sound groove of 0.6 by 0.6; the k-th lies at x = k."""
    rows = [{**SOUND, **FLAGS, **place} for place in places]
    derived = [{"walled_mm": row["depth_mm"], "ball_mm": row["width_mm"], "rays_mm": np.nan} for row in rows]
    rows = [{**more, **row} for more, row in zip(derived, rows, strict=True)]
    columns = {name: np.array([row[name] for row in rows], dtype=float) for name in (*SOUND, "walled_mm", "ball_mm", "rays_mm")}
    flags = {name: np.array([row[name] for row in rows], dtype=bool) for name in FLAGS}
    return Recesses(at_mm=np.column_stack((np.arange(len(rows)), np.zeros((len(rows), 2)))).reshape(-1, 3), **columns, **flags)


def gaps(*places):
    """Gaps of these measures by rays and by balls, the k-th at x = 100 + k; each stands for 1 mm2."""
    rays, ball = np.array(places, dtype=float).reshape(-1, 2).T
    at = np.column_stack((100.0 + np.arange(len(rays)), np.zeros((len(rays), 2)))).reshape(-1, 3)
    return Gaps(at_mm=at, area_mm2=np.ones(len(rays)), rays_mm=rays, square_mm=rays, ball_mm=ball)


def facts(*, sunk=(), raised=(), gap=(), wire=(), ball=1.0, corner=(), corner_mm=0.01, material="resin", alloy="sterling-925"):
    """What the checks look at, all made up: wires as (gauge, area) and the ball's share of it, corners as (angle, length)."""
    gauge, area = np.array(wire, dtype=float).reshape(-1, 2).T
    angle, length = np.array(corner, dtype=float).reshape(-1, 2).T
    return FeatureFacts(
        piece=SimpleNamespace(id="B"),
        found=Features(
            ball_mm=NONE,
            gap_mm=NONE,
            gaps=gaps(*gap),
            wires=Wires(at_mm=np.full((len(gauge), 3), -9.0), area_mm2=area, gauge_mm=gauge, ball_mm=ball * gauge),
            sunk=recesses(*sunk),
            raised=recesses(*raised),
            corners=Corners(at_mm=np.full((len(angle), 3), -corner_mm), angle_deg=angle, length_mm=length),
        ),
        alloy=library().alloy(alloy),
        material=library().pattern(material) if isinstance(material, str) else material,
        library=library(),
    )


def told(**made):
    """The findings by code; each is whole."""
    found = {finding.code: finding for finding in findings(facts(**made))}
    for finding in found.values():
        assert finding.where.startswith("piece B, near x ")
        assert finding.at_mm is not None
        assert "{" not in spelt_out(finding.says) + spelt_out(finding.do)
        assert finding.severity in next(code.severities for code in CODES if code.code == finding.code)
    return found


def test_nothing_found_is_nothing_told():
    assert told() == {}
    assert told(sunk=[{}], raised=[{"depth_mm": 0.5}]) == {}


# --- a limit is held as it is written ---


@pytest.mark.parametrize(
    ("measure", "limit", "less"), [(0.796, 0.8, False), (0.77, 0.8, True), (0.8, 0.8, False), (0.9, 0.8, False)]
)
def test_what_rounds_to_the_limit_is_not_under_it(measure, limit, less):
    assert under(measure, limit) is less


def test_coarser_decimals_forgive_more():
    assert under(1.5, 1.54)
    assert not under(1.5, 1.54, decimals=1)
    assert under(1.5, 1.56, decimals=1)
    assert not under(44.6, 45.0, decimals=0)


@pytest.mark.parametrize(
    ("code", "made", "silent"),
    [
        ("wire-thin", {"wire": [(0.774, 9.0)]}, {"wire": [(0.797, 9.0)]}),
        ("gap-narrow", {"sunk": [{"through": True, "width_mm": 0.374}]}, {"sunk": [{"through": True, "width_mm": 0.396}]}),
        ("engraving-narrow", {"sunk": [{"mouth_mm": 0.274}]}, {"sunk": [{"mouth_mm": 0.296}]}),
        ("engraving-shallow", {"sunk": [{"depth_mm": 0.224}]}, {"sunk": [{"depth_mm": 0.246}]}),
        ("recess-deep", {"sunk": [{"depth_mm": 0.94}]}, {"sunk": [{"depth_mm": 0.92}]}),
        ("recess-undercut", {"sunk": [{"mouth_mm": 0.42}]}, {"sunk": [{"mouth_mm": 0.448}]}),
        ("inner-corner-sharp", {"corner": [(44.4, 9.0)]}, {"corner": [(44.6, 9.0)]}),
    ],
)
def test_no_finding_says_that_a_measure_is_less_than_itself(code, made, silent):
    """A measure that is written as the limit is not told: a finding of 0.80 mm of 0.8 mm helps nobody."""
    finding = told(**made)[code]
    assert finding.measure.split()[0] != finding.limit.split()[0]
    assert code not in told(**silent)


# --- wires and gaps ---


def test_a_wire_is_held_against_the_alloy_s_own_limit():
    for alloy in ("sterling-925", "gold-916-yellow"):
        limit = library().alloy(alloy).min_wire_mm
        assert told(wire=[(limit.value - 0.1, 9.0)], alloy=alloy)["wire-thin"].limit == f"{limit.value:g} mm"
        assert "wire-thin" not in told(wire=[(limit.value, 9.0)], alloy=alloy)


def test_only_what_goes_through_between_parallel_sides_is_a_gap():
    narrow = {"width_mm": 0.2, "mouth_mm": 0.2}
    assert told(sunk=[narrow | {"through": True}])["gap-narrow"].measure == "0.20 mm"
    assert "gap-narrow" not in told(sunk=[narrow])
    assert "gap-narrow" not in told(sunk=[narrow | {"through": True, "parallel": False}])


def test_the_narrowest_gap_that_is_no_speck_is_told():
    speck = 0.5 * rule("feature_patch_mm2")
    found = told(sunk=[{"through": True, "width_mm": 0.1, "area_mm2": speck}, {"through": True, "width_mm": 0.3}])["gap-narrow"]
    assert found.measure == "0.30 mm"
    assert found.at_mm == (1, 0, 0)
    assert "gap-narrow" not in told(sunk=[{"through": True, "width_mm": 0.1, "area_mm2": speck}])


# --- engraving ---


@pytest.mark.parametrize("other", [{"through": True}, {"flush": False}, {"mouth_mm": 9.0}, {"depth_mm": 9.0, "mouth_mm": 9.0}])
def test_what_goes_through_or_lies_between_parts_or_is_large_is_no_engraving(other):
    found = told(sunk=[{"depth_mm": 0.1, "mouth_mm": 0.2, "width_mm": 0.2} | other])
    assert not {"engraving-narrow", "engraving-shallow"} & set(found)


def test_a_pit_is_as_narrow_as_it_is_short():
    assert told(sunk=[{"mouth_mm": 0.6, "long_mm": 0.2}])["engraving-narrow"].measure == "0.20 mm"


@pytest.mark.parametrize(
    ("depth", "severity", "words"),
    [
        (0.22, Severity.NOTE, "as much: {l:0.12} is left"),
        (0.20, Severity.NOTE, "as much: {l:0.10} is left"),
        (0.199999, Severity.NOTE, "as much: {l:0.10} is left"),
        (0.17, Severity.WARN, "only {l:0.07} is left"),
        (0.10, Severity.WARN, "nothing is left"),
        (0.04, Severity.WARN, "nothing is left"),
    ],
)
def test_engraving_is_told_by_what_finishing_leaves_of_it(depth, severity, words):
    finding = told(sunk=[{"depth_mm": depth}])["engraving-shallow"]
    assert finding.severity is severity
    assert words in finding.says


def test_the_pattern_material_may_be_stricter_than_casting_and_never_laxer():
    resin, groove = library().pattern("resin"), library().rules["groove_width_mm"]
    for value, limit in ((0.1, groove.value), (0.45, 0.45)):
        coarse = Quantity(value=value, unit="mm", source="studio", grade="supplier")
        given = facts(material=resin.model_copy(update={"min_detail_mm": coarse}))
        assert given.detail(groove).value == limit
    assert facts(material=resin.model_copy(update={"min_detail_mm": None})).detail(groove) is groove


# --- recesses ---


@pytest.mark.parametrize(
    ("place", "name", "kind"),
    [
        ({}, "groove_depth_ratio", "groove"),
        ({"long_mm": 0.7}, "blind_hole_depth_ratio", "blind hole"),
        ({"through": True}, "through_hole_length_ratio", "hole or slot through the piece"),
        ({"through": True, "long_mm": 0.7}, "through_hole_length_ratio", "hole or slot through the piece"),
    ],
)
def test_each_kind_of_recess_has_its_own_limit_and_name(place, name, kind):
    limit = rule(name)
    finding = told(sunk=[place | {"depth_mm": 0.6 * (limit + 0.2)}])["recess-deep"]
    assert f"The {kind} there is" in finding.says
    assert finding.limit == f"{limit:g} times its width"
    assert finding.measure == f"{limit + 0.2:.1f} times its width"
    assert f"no deeper than {{l:{0.6 * limit:.2f}}}" in finding.do
    assert "recess-deep" not in told(sunk=[place | {"depth_mm": 0.6 * (limit - 0.2)}])


def test_the_recess_furthest_over_its_own_limit_is_told():
    """A groove 1.3 times over its limit beside a hole through that is 1.1 times over a limit more than twice as large."""
    groove = {"depth_mm": 0.6 * 1.3 * rule("groove_depth_ratio")}
    hole = {"through": True, "depth_mm": 0.6 * 1.1 * rule("through_hole_length_ratio")}
    assert "The groove there" in told(sunk=[hole, groove])["recess-deep"].says
    assert "through the piece" in told(sunk=[hole])["recess-deep"].says


def test_sides_that_lean_open_are_no_deep_recess():
    assert "recess-deep" not in told(sunk=[{"depth_mm": 3.0, "parallel": False}])


def test_an_undercut_has_a_floor_and_a_mouth_narrower_than_itself():
    assert told(sunk=[{"width_mm": 1.0, "mouth_mm": 0.5}])["recess-undercut"].measure == "50% of its width"
    assert "recess-undercut" not in told(sunk=[{"width_mm": 1.0, "mouth_mm": 0.5, "through": True}])
    assert "recess-undercut" not in told(sunk=[{"width_mm": 0.6, "mouth_mm": 0.8}])


# --- raised lines and corners ---


@pytest.mark.parametrize("other", [{"through": True}, {"flush": False}, {"parallel": False}, {"depth_mm": 2.0}])
def test_walls_and_slopes_are_no_raised_lines(other):
    assert told(raised=[{"width_mm": 0.2, "depth_mm": 0.2} | other]) == {}


@pytest.mark.parametrize(("width", "left"), [(0.35, "0.15"), (0.2, "0.00"), (0.1, "0.00")])
def test_a_raised_line_never_has_less_than_nothing_left(width, left):
    finding = told(raised=[{"width_mm": width, "depth_mm": 0.5}])["relief-fine"]
    assert f"leaves {{l:{left}}} of its face" in finding.says


def test_a_low_line_says_what_finishing_leaves_of_it():
    assert "{l:0.05} is left" in told(raised=[{"depth_mm": 0.15}])["relief-low"].says
    assert "{l:0.00} is left" in told(raised=[{"depth_mm": 0.08}])["relief-low"].says
    assert "relief-low" not in told(raised=[{"depth_mm": rule("relief_height_mm")}])


def test_corners_are_told_from_a_length_on_by_the_sharpest():
    enough = rule("inner_corner_length_mm")
    assert told(corner=[(30.0, 0.9 * enough)]) == {}
    finding = told(corner=[(40.0, 0.6 * enough), (22.4, 0.6 * enough)])["inner-corner-sharp"]
    assert finding.measure == "22 degrees"
    assert finding.where == "piece B, near x 0, y 0, z 0", "no minus zero"


# --- all of them ---


def test_a_thin_wire_that_is_a_fine_line_is_told_once():
    """Both in one place: the line is the cause, and the wire is no second fault."""
    line = {"width_mm": 0.2, "depth_mm": 0.1}
    assert {"relief-fine", "wire-thin"} <= set(told(raised=[line], wire=[(0.4, 9.0)])), "far from each other both are told"
    made = facts(raised=[line], wire=[(0.4, 9.0)])
    together = replace(made, found=replace(made.found, wires=replace(made.found.wires, at_mm=np.zeros((1, 3)))))
    codes = {finding.code for finding in findings(together)}
    assert "relief-fine" in codes
    assert "wire-thin" not in codes


def test_findings_come_in_the_order_of_the_register():
    found = told(
        sunk=[{"depth_mm": 0.1, "mouth_mm": 0.2}, {"through": True, "width_mm": 0.2}, {"depth_mm": 3.0}],
        raised=[{"width_mm": 0.2, "depth_mm": 0.1}],
        wire=[(0.4, 9.0)],
        corner=[(20.0, 9.0)],
        corner_mm=20.0,  # by itself: one in a groove that is told is not told besides
    )
    assert list(found) == [code.code for code in CODES if code.code in found]
    assert len(found) == len(CODES)


def test_a_place_is_three_plain_numbers():
    assert point(np.array([1, 2.5, -3], dtype=np.float32)) == (1.0, 2.5, -3.0)
    assert all(type(value) is float for value in point(np.arange(3)))


def test_what_is_looked_for_hangs_on_the_alloy_in_its_wires_only():
    one, other = (looked(library().alloy(name), library()) for name in ("sterling-925", "gold-916-yellow"))
    assert one.wire_mm != other.wire_mm
    for name in ("gap_mm", "ridge_mm", "least_mm", "corner_deg", "corner_mm"):
        assert getattr(one, name) == getattr(other, name) > 0


# --- gaps by rays and by balls ---


def test_of_a_gap_the_lesser_width_is_told_where_rays_and_balls_agree():
    found = told(sunk=[{"through": True, "width_mm": 0.3, "ball_mm": 0.28}])["gap-narrow"]
    assert found.measure == "0.28 mm"
    assert "rays" not in found.says


def test_where_rays_and_balls_differ_about_a_gap_both_are_told():
    found = told(sunk=[{"through": True, "width_mm": 0.6, "ball_mm": 0.3}])["gap-narrow"]
    assert "{l:0.30} wide (rays across it find {l:0.60}, the largest ball that fits in finds {l:0.30}: look there)" in found.says
    assert told(sunk=[{"through": True, "width_mm": 0.3, "ball_mm": 0.6}])["gap-narrow"].measure == "0.30 mm"


def test_of_a_strip_the_thinner_way_is_told_besides_the_gauge():
    assert (
        "{l:0.50} thick as a round one, {l:0.36} its thinner way; sterling" in told(wire=[(0.5, 9.0)], ball=0.72)["wire-thin"].says
    )
    assert "{l:0.50} thick; sterling" in told(wire=[(0.5, 9.0)], ball=0.97)["wire-thin"].says


# --- gaps that no ball rolls into ---


def test_a_gap_that_both_methods_find_is_told_where_no_recess_is():
    found = told(gap=[(0.3, 0.3), (0.31, 0.3), (0.5, 0.5)])["gap-narrow"]
    assert found.measure == "0.30 mm"
    assert "rays across it" not in found.says
    assert "gap-narrow" not in told(gap=[(0.42, 0.42), (0.5, 0.5)])


def test_a_gap_that_the_balls_overlook_is_told_with_both_figures():
    found = told(gap=[(0.3, 0.9)])["gap-narrow"]
    assert found.measure == "0.30 mm"
    assert "rays across it find {l:0.30}, the largest ball that fits in finds {l:0.90}: look there" in found.says
    assert "rays across it" not in told(gap=[(0.3, np.inf)])["gap-narrow"].says, "no second figure to tell"


def test_a_small_ball_in_a_corner_that_rays_find_wide_is_no_gap():
    assert told(gap=[(0.39, 0.1), (np.inf, 0.1), (2.0, 0.1)]) == {}


def test_a_gap_in_a_recess_that_is_judged_as_such_is_not_told_again():
    at_the_gap = {"width_mm": 0.35, "mouth_mm": 0.35, "depth_mm": 0.4}
    made = facts(sunk=[at_the_gap], gap=[(0.35, 0.35)])
    near = replace(made.found.gaps, at_mm=made.found.sunk.at_mm + 0.2)
    assert {f.code for f in findings(replace(made, found=replace(made.found, gaps=near)))} == set()
    assert {f.code for f in findings(made)} == {"gap-narrow"}


def test_the_narrower_of_a_slit_and_a_lone_gap_is_told():
    slit = {"through": True, "width_mm": 0.3}
    assert told(sunk=[slit], gap=[(0.2, 0.2)])["gap-narrow"].measure == "0.20 mm"
    assert told(sunk=[slit], gap=[(0.35, 0.35)])["gap-narrow"].measure == "0.30 mm"


def test_rays_straight_from_the_sides_of_a_slit_count():
    found = told(sunk=[{"through": True, "width_mm": 0.6, "ball_mm": 0.55, "rays_mm": 0.3}])["gap-narrow"]
    assert found.measure == "0.30 mm"
    assert "rays across it find {l:0.30}, the largest ball that fits in finds {l:0.55}" in found.says
    assert "gap-narrow" not in told(sunk=[{"through": True, "width_mm": 0.6, "rays_mm": np.inf}])


def test_a_groove_that_the_ball_finds_narrower_than_the_rays_tells_both():
    found = told(sunk=[{"width_mm": 0.4, "mouth_mm": 0.4, "ball_mm": 0.2}])["engraving-narrow"]
    assert found.measure == "0.20 mm"
    assert "rays across it find {l:0.40}, the largest ball that fits in finds {l:0.20}: look there" in found.says
    floored = {"width_mm": 0.4, "mouth_mm": 0.4, "ball_mm": 0.2, "between": False}
    assert "engraving-narrow" not in told(sunk=[floored]), "the floor stops that ball, not the other side"
    slanted = {"width_mm": 0.4, "mouth_mm": 0.5, "ball_mm": 0.2, "parallel": False}
    assert "engraving-narrow" not in told(sunk=[slanted]), "near its bottom a slanted groove holds only a small ball"


def test_a_deep_groove_tells_both_widths_where_they_differ():
    deep = {"width_mm": 2.0, "mouth_mm": 2.0, "depth_mm": 2.8}
    assert "recess-deep" not in told(sunk=[deep])
    found = told(sunk=[deep | {"ball_mm": 1.0}])["recess-deep"]
    assert "{l:2.80} deep and {l:1.00} wide (rays across it find {l:2.00}" in found.says
