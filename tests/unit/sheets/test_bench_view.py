"""The check list, the results and the page of a tree by weight, as strings."""

from dataclasses import replace

import pytest

from pourwell.sheets.bench_view import checklist_view, planned, results_view
from pourwell.sheets.display import Display
from pourwell.sheets.weight_view import weight_view
from pourwell.steps.day.model import CheckStep
from tests.golden.sheets.parts import POUR_AT
from tests.golden.sheets.plans import plan
from tests.golden.sheets.variants import by_weight

SHOW, IMPERIAL = Display(), Display("imperial")


def line(**more) -> CheckStep:
    return CheckStep(kind="step", text="Weigh.", **more)


@pytest.mark.parametrize(
    ("step", "metric", "imperial"),
    [
        (line(quantity="metal_g", value=125.9), ("125.9", "g"), ("81.0", "dwt")),
        (line(quantity="bulk_g", value=590.0), ("590", "g"), ("20.8", "oz")),
        (line(quantity="temperature_c", value=970.0), ("970", "°C"), ("1778", "°F")),
        (line(quantity="clock", at=POUR_AT), ("10:00", ""), ("10:00 am", "")),
        (line(value=3.0), ("3", ""), ("3", "")),
        (line(), ("", ""), ("", "")),
        (line(quantity="clock"), ("", ""), ("", "")),
    ],
)
def test_the_figure_of_a_step_is_shown_in_the_readers_units(step, metric, imperial):
    assert planned(step, SHOW) == metric
    assert planned(step, IMPERIAL) == imperial


def test_steps_and_gates_are_numbered_apart_and_nothing_else_is():
    view = checklist_view(plan(), SHOW)
    assert [x["no"] for x in view if x["kind"] == "gate"] == ["1", "2", "3"]
    steps = [x["no"] for x in view if x["kind"] == "step"]
    assert steps == [str(i) for i in range(1, len(steps) + 1)]
    assert {x["no"] for x in view if x["kind"] in ("day", "phase")} == {""}


def test_a_phase_has_its_hour_and_day():
    first = next(x for x in checklist_view(plan(), SHOW) if x["kind"] == "phase")
    assert (first["text"], first["clock"], first["day"]) == ("Patterns", "12:45", "Thu 3 Dec")


def test_quantities_in_texts_plans_cautions_and_gates_are_written_out():
    made = plan()
    step = line(plan="{l:6}", caution="Over {t:760} it burns.", prevents="a loss of {p:5}")
    gate = CheckStep(kind="gate", text="Before", checks=("past {p:98}",))
    shown_step, shown_gate = checklist_view(replace(made, checklist=(step, gate)), SHOW)
    words = [shown_step["note"], shown_step["caution"], shown_step["prevents"], *shown_gate["checks"]]
    assert [w.replace("\u00a0", " ") for w in words] == ["6 mm", "Over 760 °C it burns.", "a loss of 5 kPa", "past 98 kPa"]


def test_no_line_of_the_check_list_is_lost():
    made = plan()
    assert len(checklist_view(made, SHOW)) == len(made.checklist)


def test_results_have_a_row_a_piece_with_one_fineness_for_all():
    rows = results_view(plan(), SHOW)
    assert [(r["no"], r["letter"], r["cast"]) for r in rows][:3] == [("1", "D", "15.70"), ("2", "C", "12.24"), ("3", "A", "4.50")]
    assert results_view(by_weight(), SHOW) == []


def test_a_weight_gives_metal_with_its_band_and_names_what_it_cannot_tell():
    made = by_weight()
    view = weight_view(made, made.weighed, SHOW, paper="a4")
    rows = {r["says"]: (r["value"], r["note"]) for r in view["rows"]}
    assert rows["Tree in metal"] == ("179.3 g", "172.9 to 186.0")
    assert rows["of it sprue wax"] == ("4.10 g", "")
    assert view["unknown"] == list(made.unknown)


def test_a_tree_without_sprue_wax_has_no_row_for_it():
    made = by_weight()
    view = weight_view(made, replace(made.weighed, wax_g=0.0), SHOW, paper="a4")
    assert "of it sprue wax" not in {r["says"] for r in view["rows"]}


def test_the_room_of_the_flask_ends_under_cover_and_headspace():
    made = by_weight()
    room = weight_view(made, made.weighed, SHOW, paper="a4")["room"]
    assert room["limit"] == 100.0 - 3.0 - 13.0
    assert {"says": "tip max.", "value": "84", "y": 84.0, "at": 84.0} in room["marks"]
    assert room["places"] == []
