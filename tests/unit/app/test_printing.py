"""Printing as a use case: the studio's printer and resin, words of the command line, the rows that a user reads."""

import re
from dataclasses import replace

import numpy as np
import pytest

from pourwell.app.print_asked import direction_of, hours
from pourwell.app.printing import print_file
from pourwell.errors import BadDataError, BadFileError, BadRequestError, UnknownNameError
from pourwell.geometry.shapes import plain_band
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import cup, stl_file, table, turn_by

RESIN = 'id = "my-resin"\nfamily = "resin"\nname = "Quillmere resin"\ndensity_g_per_cm3 = 1.1\n'


@pytest.fixture
def studio(tmp_path, monkeypatch):
    """A studio's folder in which a test may write."""
    folder = tmp_path / "studio"
    folder.mkdir()
    monkeypatch.setenv("POURWELL_STUDIO", str(folder))
    return folder


@pytest.fixture
def block_file(tmp_path):
    return stl_file(tmp_path / "block.stl", box((0, 0, 0), (5, 6, 10)))


def printed(file, **more):
    ask = {"pattern": "resin", "units": None, "layer_mm": None, "direction": None, **more}
    return print_file(file, tell=lambda _: None, **ask)


def test_without_a_studio_the_printer_is_assumed_and_that_is_said(studio, block_file):
    plan = printed(block_file).plan
    assert plan.assumed == ("layer_mm", "light_s", "lift_s", "bottom_layers_count", "bottom_light_s", "stand_mm")
    assert plan.resin.cost_money is None


def test_the_studio_s_printer_sets_the_time(studio, block_file):
    (studio / "studio.toml").write_text(
        "[printer]\nlayer_mm = 0.1\nlight_s = 3\nlift_s = 5\nbottom_layers_count = 2\nbottom_light_s = 33\nstand_mm = 2\n",
        encoding="utf-8",
    )
    plan = printed(block_file, direction="0,0,1").plan
    assert plan.assumed == ()
    assert plan.time.layers_count == 120
    assert plan.time.print_min == pytest.approx((120 * 8 + 2 * 30) / 60)


def test_a_layer_that_is_asked_for_wins_and_is_no_longer_assumed(studio, block_file):
    plan = printed(block_file, layer_mm=0.025, direction="0,0,1").plan
    assert plan.time.layers_count == 600
    assert "layer_mm" not in plan.assumed


@pytest.mark.parametrize("layer_mm", [0.0, -0.05, 5.0])
def test_a_layer_that_no_printer_makes_is_refused(studio, block_file, layer_mm):
    with pytest.raises(BadRequestError, match="No printer makes layers"):
        printed(block_file, layer_mm=layer_mm)


@pytest.mark.parametrize(
    ("price", "cost"), [("price_per_kg = 250", 0.3 * 1.1 * 1.2 * 0.25), ("price_per_l = 250", 0.3 * 1.2 * 0.25)]
)
def test_a_price_in_the_studio_s_own_row_costs_the_print(studio, block_file, price, cost):
    (studio / "patterns").mkdir()
    (studio / "patterns" / "my-resin.toml").write_text(RESIN + price + "\n", encoding="utf-8")
    (studio / "studio.toml").write_text('[printer]\ncurrency = "EUR"\n', encoding="utf-8")
    answer = printed(block_file, pattern="my-resin")
    assert answer.plan.resin.cost_money == pytest.approx(cost)
    assert dict((name, figure) for name, figure, _ in answer.rows)["cost"] == f"{cost:.2f} EUR"


def test_without_a_price_the_row_says_where_to_write_it(studio, block_file):
    _, figure, remark = next(row for row in printed(block_file).rows if row[0] == "cost")
    assert figure == "not known"
    assert "price_per_kg" in remark


def test_a_printer_that_cannot_be_is_refused_with_its_key(studio, block_file):
    (studio / "studio.toml").write_text("[printer]\nlight_s = -1\n", encoding="utf-8")
    with pytest.raises(BadDataError, match=r"printer\.light_s|light_s"):
        printed(block_file)


def test_the_rows_tell_what_a_user_needs_first(studio, tmp_path):
    answer = printed(stl_file(tmp_path / "table.stl", table(legs=[(0, 0, 0), (9, 5, 0)])), direction="0,0,1")
    rows = {name: (figure, remark) for name, figure, remark in answer.rows}
    assert list(rows)[:5] == ["in the printer", "turn", "time", "resin", "cost"]
    assert rows["turn"][0] == "0° about x, then 0° about y"
    assert rows["time"] == ("37 min", "220 layers of 0.05 mm, piece 6.0 mm high; washing and curing not counted")
    assert rows["needs supports"][0] == "60 mm²"
    assert "z 5" in rows["needs supports"][1]
    assert "flatter than 30°" in rows["needs supports"][1]
    assert rows["largest ceiling"][1].startswith("in one layer, 5.00 mm up, near x ")
    assert rows["largest ceiling"][1].endswith(", z 5")
    assert not answer.stopped


def test_other_ways_are_told_with_their_faults(studio, tmp_path):
    answer = printed(stl_file(tmp_path / "table.stl", table(legs=[(0, 0, 0), (9, 5, 2.0)])))
    assert answer.other_rows
    for words, time, measures in answer.other_rows:
        assert "away from the plate" in words
        assert time.endswith("min")
        assert measures.count(",") >= 2


def test_a_file_whose_unit_is_in_doubt_stops(studio, tmp_path):
    tiny = stl_file(tmp_path / "tiny.stl", box((0, 0, 0), (0.02, 0.02, 0.02)))
    assert printed(tiny, layer_mm=0.01).stopped
    assert not printed(tiny, units="m").stopped


def test_a_cup_is_warned_of_but_does_not_stop(studio, tmp_path):
    answer = printed(stl_file(tmp_path / "cup.stl", cup()), direction="0,0,1")
    assert [f.code for f in answer.findings] == ["print-cup"]
    assert not answer.stopped


@pytest.mark.parametrize(("text", "found"), [(None, None), ("0,0,1", (0, 0, 1)), (" 1, -2.5 ,3", (1, -2.5, 3))])
def test_a_direction_is_three_numbers(text, found):
    assert direction_of(text) == found


@pytest.mark.parametrize("text", ["", "up", "1,2", "1,2,3,4", "a,b,c"])
def test_other_words_are_no_direction(text):
    with pytest.raises(BadRequestError, match="no direction"):
        direction_of(text)


@pytest.mark.parametrize(("minutes", "said"), [(0.4, "0 min"), (45, "45 min"), (59.7, "1 h 00 min"), (185, "3 h 05 min")])
def test_times_are_said_as_people_say_them(minutes, said):
    assert hours(minutes) == said


def test_what_is_not_there_is_refused(studio, block_file, tmp_path):
    with pytest.raises(UnknownNameError, match="resn"):
        printed(block_file, pattern="resn")
    with pytest.raises(BadFileError):
        printed(str(tmp_path / "none.stl"))
    with pytest.raises(BadRequestError, match="not printed"):
        printed(block_file, pattern="wax-injection")


def test_a_ceiling_too_small_to_matter_has_no_row(studio, block_file):
    assert "largest ceiling" not in [name for name, _, _ in printed(block_file, direction="0,0,1").rows]


def test_directions_are_told_without_minus_zeros(studio, block_file):
    answer = printed(block_file, direction="-0.0,-0.00001,-1")
    assert "(0.000,0.000,-1.000)" in dict((name, remark) for name, _, remark in answer.rows)["turn"]


def row(answer, name):
    """Figure and remark of a row; None where it has none."""
    return next(((figure, remark) for each, figure, remark in answer.rows if each == name), None)


def test_the_rows_are_those_of_the_plan(studio, tmp_path):
    answer = printed(stl_file(tmp_path / "cup.stl", cup()), direction="1,0,0")
    plan = answer.plan
    assert row(answer, "in the printer") == (plan.way.words, "As you asked.")
    assert row(answer, "resin")[0] == f"{plan.resin.used_g:.2f} g"
    assert f"piece {plan.resin.piece_g:.2f} g" in row(answer, "resin")[1]
    assert f"{plan.resin.waste_fraction:.0%} for supports and vat ({plan.resin.waste_grade};" in row(answer, "resin")[1]
    assert row(answer, "needs supports")[0] == f"{plan.under_mm2:.0f} mm²"


def test_of_the_best_way_it_is_said_why_and_among_how_many(studio, block_file):
    answer = printed(block_file)
    assert row(answer, "in the printer")[1].endswith(f" {answer.plan.compared_count} ways compared")
    assert row(answer, "in the printer")[1].startswith(answer.plan.why)


def test_the_turn_of_the_rows_brings_the_direction_up(studio, block_file):
    """As a user turns the file: about x, then about y."""
    answer = printed(block_file, direction="1,-2,2")
    about_x, about_y = (float(turn) for turn in re.findall(r"(-?[\d.]+)°", row(answer, "turn")[0]))
    numbers = [float(n) for n in re.search(r"\((.*)\)", row(answer, "turn")[1])[1].split(",")]
    up = turn_by((0, 1, 0), np.deg2rad(about_y)) @ turn_by((1, 0, 0), np.deg2rad(about_x)) @ np.array(numbers)
    assert up == pytest.approx((0, 0, 1), abs=2e-3)


def test_a_direction_that_is_told_may_be_asked_for(studio, tmp_path):
    """What the rows of other ways say is taken by the command line, and is that way."""
    file = stl_file(tmp_path / "table.stl", table(legs=[(0, 0, 0), (9, 5, 2.0)]))
    first = printed(file)
    for words, time, measures in first.other_rows:
        again = printed(file, direction=measures.rpartition("; ")[2])
        assert (again.plan.way.words, row(again, "time")[0]) == (words, time)


def test_faults_of_other_ways_are_counted_before_their_measures(studio, block_file):
    answer = printed(block_file, direction="0,0,1")
    way = answer.plan.way
    counts = ((2, 0, 0.0), (0, 1, 0.0), (1, 3, 7.6), (0, 0, 0.0))
    others = tuple(replace(way, islands_count=i, cups_count=c, held_mm3=c * 10.4, hidden_mm2=h) for i, c, h in counts)
    told = [measures for _, _, measures in replace(answer, plan=replace(answer.plan, others=others)).other_rows]
    assert told[0].startswith("2 in mid-air; steps ")
    assert told[1].startswith("1 holding 10 mm³ of resin; steps ")
    assert told[2].startswith("1 in mid-air; 3 holding 31 mm³ of resin; 8 mm² on supports inside; steps ")
    assert told[3].startswith("steps ")
    assert all(measures.endswith("; 0.000,0.000,1.000") for measures in told)


def test_steps_have_a_row_for_each_reach_that_the_piece_has(studio, tmp_path):
    ring = printed(stl_file(tmp_path / "ring.stl", plain_band()), direction="0,0,1")
    assert row(ring, "steps in the bore")[1].startswith(f"of {ring.plan.steps[1].area_mm2:.0f} mm²; up to 0.0")
    assert row(ring, "steps out of reach") is None
    flat = printed(stl_file(tmp_path / "block.stl", box((0, 0, 0), (5, 6, 10))), direction="0,0,1")
    assert row(flat, "steps on open faces") == ("none", "over 0.025 mm, on 280 mm²")


def test_at_layers_thinner_than_what_shows_no_steps_are_told_and_not_a_share(studio, tmp_path):
    fine = printed(stl_file(tmp_path / "ring.stl", plain_band()), direction="0,0,1", layer_mm=0.025)
    assert row(fine, "steps in the bore")[0] == "none"
    assert row(fine, "steps in the bore")[1].startswith("over 0.025 mm, on ")


def test_layers_of_no_number_are_refused(studio, block_file):
    for layer_mm in (float("nan"), float("inf")):
        with pytest.raises(BadRequestError, match="No printer makes layers"):
            printed(block_file, layer_mm=layer_mm)


def test_each_stage_is_told_once_with_the_file_s_name(studio, block_file):
    said = []
    print_file(block_file, pattern="resin", units=None, layer_mm=None, direction="0,0,1", tell=said.append)
    assert said == ["Reading block.stl", "Comparing ways to stand for block.stl"]


def test_the_unit_scales_the_piece_and_the_resin_by_its_cube(studio, block_file):
    mm, cm = (printed(block_file, units=unit, direction="0,0,1") for unit in ("mm", "cm"))
    assert cm.plan.way.height_mm == pytest.approx(10 * mm.plan.way.height_mm)
    assert cm.plan.resin.used_g == pytest.approx(1000 * mm.plan.resin.used_g)


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0 min"), (59.4, "59 min"), (60, "1 h 00 min"), (119.6, "2 h 00 min"), (1505, "25 h 05 min")]
)
def test_no_time_says_sixty_minutes(minutes, said):
    assert hours(minutes) == said
