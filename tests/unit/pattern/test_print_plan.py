"""How a pattern is printed: the way it stands, resin, cost, time, steps, undersides."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.geometry.shapes import SHAPES
from pourwell.materials.model import Grade, Quantity
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_plan import resin
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import block, cup, cylinder, mesh, table, turn_by
from tests.unit.pattern.case import library
from tests.unit.pattern.printing import printed


def price(value, unit):
    return Quantity(value=value, unit=unit, source="studio", grade=Grade.SUPPLIER)


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_shapes_raise_no_alarm_in_their_best_way_to_stand(name):
    plan, found = printed(SHAPES[name].make())
    assert found == {}
    assert plan.chosen == "best"
    assert plan.why.startswith("nothing begins in mid-air; no hollow holds resin")
    assert plan.compared_count >= 30
    assert plan.layers_mm3 == pytest.approx(plan.volume_mm3, rel=0.002)


def test_a_ring_is_described_by_its_bore():
    shape = SHAPES["plain-band"].make()
    told = {way: printed(shape, direction=way)[0].way.words for way in ((0, 1, 0), (0, 0, 1), (0, 1, 1))}
    assert told[0, 1, 0] == "lying flat, the bore upright"
    assert told[0, 0, 1] == "standing, the bore level"
    assert told[0, 1, 1] == "leaning, the bore 45° from upright"


def test_a_ring_with_a_head_says_where_it_looks():
    shape = SHAPES["bezel-ring"].make()
    words = [printed(shape, direction=way)[0].way.words for way in ((0, 0, 1), (0, 0, -1), (1, 0, 0))]
    assert [w.rpartition("head ")[2] for w in words] == ["away from the plate", "towards the plate", "aside"]


def test_a_piece_without_a_bore_is_described_by_the_file_s_axes():
    what = table(legs=[(0, 0, 0), (9, 5, 0)])
    assert printed(what, direction=(0, 0, -3))[0].way.words == "the file's -z away from the plate"
    assert printed(what, direction=(1, 0, 1))[0].way.words == "leaning, the file's 0.71, 0, 0.71 away from the plate"


@pytest.mark.parametrize(
    ("direction", "words"),
    [
        ((0, -1, 0), "upright, head away from the plate, wire down"),
        ((0, 1, 0), "upright, head down on the plate, wire up"),
        ((1, 0, 0), "lying, the wire level"),
        ((1, -1, 0), "leaning, the wire 45° from upright, head up"),
        ((1, 1, 0), "leaning, the wire 45° from upright, wire up"),
    ],
)
def test_a_stud_is_described_by_its_wire_and_head(direction, words):
    plan, _ = printed(SHAPES["stud"].make(), direction=direction)
    assert plan.way.words == words
    assert plan.why == "As you asked." + (
        " But a thin wire that lies so flat sags between its supports and carries their stubs." if "level" in words else ""
    )


def test_a_stud_stands_with_its_front_free_of_supports_and_its_wire_upright():
    """Common practice, no source: stubs go where they are not seen, and a thin wire does not lie."""
    plan, _ = printed(SHAPES["stud"].make())
    assert plan.way.words == "upright, head away from the plate, wire down"
    assert "no supports on the front of its head" in plan.why
    assert "sags" not in plan.why


def test_ways_that_are_the_same_by_symmetry_are_told_once():
    plan, _ = printed(SHAPES["stud"].make())
    ways = [plan.way, *plan.others]
    assert len({way.words for way in ways}) == len(ways)
    assert sum("level" in way.words for way in ways) <= 1
    assert any("wire up" in way.words for way in plan.others)
    block = printed(box((0, 0, 0), (4, 5, 6)))[0]
    measures = [(round(w.height_mm, 2), round(w.proud_mm, 4), round(w.under_fraction, 3)) for w in (block.way, *block.others)]
    assert len(set(measures)) == len(measures), "up and upside down are the same for a block"


@pytest.mark.parametrize("direction", [(0, 0, 1), (0, 0, -1), (1, 2, -3), (0, -1, 0), (-1, 0, 0), (0.2, 0.3, 0.9)])
def test_the_two_turns_bring_the_direction_up(direction):
    way = printed(box((0, 0, 0), (4, 5, 6)), direction=direction)[0].way
    unit = np.array(direction) / np.linalg.norm(direction)
    np.testing.assert_allclose(way.direction, unit, atol=1e-12)
    turned = turn_by((0, 1, 0), np.deg2rad(way.turn_y_deg)) @ turn_by((1, 0, 0), np.deg2rad(way.turn_x_deg)) @ unit
    np.testing.assert_allclose(turned, (0, 0, 1), atol=1e-9)


def test_what_is_asked_is_done_and_others_are_told():
    plan, _ = printed(SHAPES["plain-band"].make(), direction=(0, 0, 5))
    assert plan.chosen == "asked"
    assert plan.why == "As you asked."
    assert plan.way.direction == (0, 0, 1)
    assert plan.others
    assert all(np.dot(plan.way.direction, other.direction) < 0.95 for other in plan.others)


def test_others_are_of_different_kinds():
    plan, _ = printed(SHAPES["plain-band"].make())
    words = [plan.way.words, *(other.words for other in plan.others)]
    assert sorted(word.partition(",")[0] for word in words) == ["leaning", "lying flat", "standing"]


def test_the_best_way_for_a_short_legged_table_hangs_no_leg_in_the_air():
    plan, found = printed(table(legs=[(0, 0, 0), (9, 5, 2.0)]))
    assert "print-island" not in found
    assert plan.islands == ()


def test_a_cup_is_stood_so_that_it_runs_out_where_there_is_such_a_way():
    plan, found = printed(cup())
    assert "print-cup" not in found
    assert abs(plan.way.direction[2]) < 0.9


def test_where_no_way_is_without_fault_the_one_with_fewest_is_taken_and_said():
    """Cups that look six ways: whichever way it stands, some hold resin."""
    cube = block((0, 0, 0), (12, 12, 12))
    for axis in range(3):
        for low in (-1.0, 10.0):
            a, b = [3.0] * 3, [9.0] * 3
            a[axis], b[axis] = low, low + 3.0
            cube -= block(a, b)
    plan, found = printed(mesh(cube))
    assert "print-cup" in found
    assert "no better way was found" in plan.why
    assert "hold" in plan.why


def test_resin_is_the_volume_at_its_density_and_waste_on_top():
    row, rule = library().pattern("resin"), library().rules["print_waste_fraction"]
    got = resin(1000.0, material=row, currency="", library=library())
    assert got.piece_ml == pytest.approx(1)
    assert got.piece_g == pytest.approx(row.density_g_per_cm3.value)
    assert (got.piece_low_g, got.piece_high_g) == pytest.approx(row.density_g_per_cm3.ends)
    assert got.used_ml == pytest.approx(1 + rule.value)
    assert got.used_g == pytest.approx(row.density_g_per_cm3.value * (1 + rule.value))
    assert (got.waste_source, got.waste_grade) == (rule.source, rule.grade.value)
    assert (got.cost_money, got.cost_low_money, got.cost_high_money) == (None, None, None)


def test_a_price_by_the_kilogram_and_one_by_the_litre_agree_through_the_density():
    row = library().pattern("resin")
    by_kg = row.model_copy(update={"price_per_kg": price(200.0, "money/kg")})
    by_l = row.model_copy(update={"price_per_l": price(200.0 * row.density_g_per_cm3.value, "money/l")})
    a, b = (resin(1500.0, material=each, currency="EUR", library=library()) for each in (by_kg, by_l))
    assert a.cost_money == pytest.approx(1.5e-3 * row.density_g_per_cm3.value * 1.2 * 200)
    assert (b.cost_money, b.cost_low_money, b.cost_high_money) == pytest.approx((a.cost_money, a.cost_low_money, a.cost_high_money))
    assert a.cost_low_money < a.cost_money < a.cost_high_money
    assert a.currency == "EUR"


def test_time_counts_the_supports_and_follows_the_printer():
    what = box((0, 0, 0), (5, 5, 10))
    plan, _ = printed(what, direction=(0, 0, 1))
    assert (plan.time.layers_count, plan.time.bottom_layers_count) == (300, 5)
    quick, _ = printed(
        what, direction=(0, 0, 1), printer=Printer(layer_mm=0.1, light_s=1, lift_s=2, bottom_layers_count=0, stand_mm=0)
    )
    assert (quick.time.layers_count, quick.time.print_min) == (100, pytest.approx(5))


def test_steps_are_told_by_where_tools_reach():
    shape = SHAPES["plain-band"].make()
    plan, _ = printed(shape, direction=(0, 0, 1))
    by_reach = {steps.reach: steps for steps in plan.steps}
    assert sum(steps.area_mm2 for steps in plan.steps) == pytest.approx(shape.area_mm2)
    assert by_reach["bore"].area_mm2 == pytest.approx(np.pi * 17.3 * 4, rel=0.08)
    # proud by 0.025 of 0.05 mm where the face is flatter than 60 degrees: two thirds of the circle, less its level two degrees
    assert by_reach["bore"].stepped_mm2 / by_reach["bore"].area_mm2 == pytest.approx(2 / 3, abs=0.04)
    assert by_reach["bore"].proud_mm == pytest.approx(0.05, rel=0.01)
    assert by_reach["open"].at_mm is not None
    assert by_reach["recess"].area_mm2 == 0


def test_upright_faces_and_level_ones_show_no_steps():
    plan, _ = printed(box((0, 0, 0), (5, 5, 10)), direction=(0, 0, 1))
    assert all(steps.stepped_mm2 == 0 and steps.at_mm is None and steps.proud_mm == 0 for steps in plan.steps)


def test_undersides_and_the_largest_ceiling_are_told():
    plan, _ = printed(table(legs=[(0, 0, 0), (9, 5, 0)]), direction=(0, 0, 1))
    assert plan.under_mm2 == pytest.approx(60)
    assert plan.under_at_mm[2] == pytest.approx(5)
    assert plan.ceiling_mm2 == pytest.approx(58, rel=0.02)
    assert plan.ceiling_height_mm == pytest.approx(5)
    upside_down, _ = printed(table(legs=[(0, 0, 0), (9, 5, 0)]), direction=(0, 0, -1))
    assert upside_down.under_mm2 == pytest.approx(60)
    assert upside_down.ceiling_mm2 < 1


def test_a_body_named_support_is_left_out():
    leg = box((12, 0, 0), (13, 1, 6))
    plan, _ = printed(("ring", box((0, 0, 0), (5, 5, 5))), ("support", leg), direction=(0, 0, 1))
    assert plan.volume_mm3 == pytest.approx(125)


def test_cautions_are_those_of_the_resin_and_of_the_eyes():
    plan, _ = printed(box((0, 0, 0), (5, 5, 5)))
    said = " ".join(plan.cautions)
    for word in ("gloves", "Isopropyl", "air it", "safety glasses", "UV lamp: lid shut", "safety sheet"):
        assert word in said


def test_what_was_assumed_is_handed_on():
    assert printed(box((0, 0, 0), (5, 5, 5)), assumed=("light_s",))[0].assumed == ("light_s",)


def test_wax_is_not_printed():
    with pytest.raises(BadRequestError, match="not printed"):
        printed(box((0, 0, 0), (5, 5, 5)), material="wax-injection")


@pytest.mark.parametrize("direction", [(0, 0, 0), (float("nan"), 0, 1), (0, float("inf"), 1)])
def test_a_direction_that_points_nowhere_is_refused(direction):
    with pytest.raises(BadRequestError, match="nowhere"):
        printed(box((0, 0, 0), (5, 5, 5)), direction=direction)


def test_a_source_without_bodies_is_refused_and_not_a_fault_of_ours():
    with pytest.raises(BadRequestError, match="left out"):
        printed()


def test_layers_without_end_are_refused():
    with pytest.raises(BadRequestError, match="more than 20,000 layers"):
        printed(box((0, 0, 0), (5, 5, 1500)))


def test_the_figures_of_a_plan_follow_the_layer():
    shape = SHAPES["signet"].make()
    fine, coarse = (printed(shape, direction=(0, 0, 1), printer=Printer(layer_mm=t))[0] for t in (0.025, 0.1))
    assert fine.time.layers_count == pytest.approx(4 * coarse.time.layers_count, rel=0.01)
    assert coarse.way.proud_mm == pytest.approx(4 * fine.way.proud_mm)
    assert fine.layers_mm3 == pytest.approx(coarse.layers_mm3, rel=0.003)


def test_a_bore_that_no_finger_goes_through_is_no_bore():
    tube = mesh(cylinder(5, low=0, high=4) - cylinder(3, low=-1, high=5))
    plan, _ = printed(tube, direction=(0, 0, 1))
    assert plan.way.words == "the file's +z away from the plate"
    assert next(s for s in plan.steps if s.reach == "bore").area_mm2 == 0


def test_a_plan_is_data():
    plan, _ = printed(box((0, 0, 0), (5, 5, 5)))
    assert replace(plan, name="other").name == "other"
