"""Freezing, burnout and comparison, built without a browser: what they show, what they say where it is not there."""

import pytest

from pourwell.app.desk_runs import asked_of
from pourwell.errors import BadRequestError
from pourwell.steps.burnout.model import BAG_WINS
from pourwell.steps.day.night import OVERNIGHT
from pourwell.web.desk.compare import compare_page
from pourwell.web.desk.firing import firing_page
from pourwell.web.desk.freezing import freezing_page
from pourwell.web.desk.run import run_page
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import NOW, finding, planned


@pytest.fixture
def desk(still_desk):
    return still_desk


# ---- freezing


def test_the_tree_is_shown_by_time_with_its_warnings_and_hot_spots(desk, run):
    worked_out(desk, run, deep())
    page = Built(lambda: freezing_page(desk, run.id))
    viewer = next(e for e in page.elements if "flags" in e.props)
    assert viewer.props["solids"][0]["src"].endswith("/freezing-view.bin")
    flags = [(f["letter"], f["what"]) for f in viewer.props["flags"]]
    assert flags == [("A", "Warning"), ("B", "Hot spot")], "a hot spot beside a warning shares its letter"
    assert "Piece 2 is cut off from the button" in page.text
    assert "Sterling silver at 970 °C into a flask at 540 °C. Worked out 08:30." in page.text
    said = [page.words(row) for row in page.all("tr")]
    assert any("1 · Heddle band 9 s" in row for row in said), "called by its name, not by its letter"
    assert any("2 · B 9 s 6 to 14 s 12 s 8 to 20 s Warn  no up to a 1.9 mm ball" in row for row in said), said
    assert "Take a sprue of 3.5 mm." in page.text
    assert "Helps" in page.text
    assert "Draft: cells of 1 mm." in page.text


def test_a_warning_turns_the_view_and_washes_its_row(desk, run, monkeypatch):
    worked_out(desk, run, deep())
    page = Built(lambda: freezing_page(desk, run.id))
    turned = []
    viewer = next(e for e in page.elements if "flags" in e.props)
    monkeypatch.setattr(viewer, "look_at", turned.append)
    page.press("Show the hot spot of piece 1")
    assert turned == ["B"]
    assert [page.words(row).split()[0] for row in page.all("tr", "here")] == ["B"]
    page.happen(viewer, "picked", "A")
    assert len(page.all("li", "find here")) == 1
    assert not page.all("tr", "here")


def test_the_curves_of_at_most_three_places_are_drawn_and_told(desk, run):
    worked_out(desk, run, deep())
    page = Built(lambda: freezing_page(desk, run.id))
    label = next(e.props["aria-label"] for e in page.all("svg") if "Cooling" in e.props.get("aria-label", ""))
    assert label == "Cooling curves; liquidus 896, solidus 779. Solid: piece 2, its thickest place after 20 s."
    assert "stem" not in page.text


def test_a_freezing_that_is_not_there_says_why_and_how_to_get_it(desk, run):
    page = Built(lambda: freezing_page(desk, run.id))
    assert "It is not worked out yet" in page.text
    desk.change_run(run.id, fields={"freeze": False})
    worked_out(desk, desk.store.run(run.id), deep(frozen=False))
    page = Built(lambda: freezing_page(desk, run.id))
    assert "It was not asked for" in page.text
    page.press("Work out how it freezes")
    assert desk.store.run(run.id).form["freeze"] is True
    assert desk.crew.jobs[0].given[1]["form"]["freeze"] == "draft"
    assert "It is being worked out" in page.text
    by_weight = desk.new_run(fields={"weight": "23"})
    assert "known by its weight alone" in Built(lambda: freezing_page(desk, by_weight.id)).text


def test_a_plan_that_is_older_than_the_view_says_so_and_one_press_works_it_out(desk, run):
    kept = {"run-sheet.pdf": b"%PDF", "view.bin": b"", "view.json": b"{}"}
    desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [deep()]}, files=kept, now=NOW)
    page = Built(lambda: freezing_page(desk, run.id))
    assert "It was worked out, but not kept to be looked at" in page.text
    assert "This plan is older than this page." in page.text
    page.press("Work out how it freezes")
    assert desk.crew.jobs[0].given[1]["form"]["freeze"] == "draft"
    assert "It is being worked out" in page.text


def test_a_freezing_that_could_not_be_computed_says_why_with_the_way_to_try_again(desk, run):
    told = finding("note", "the tree is not closed", code="freeze-not-computed")
    worked_out(desk, run, deep(frozen=False, findings=[told | {"do": "Look at the tree."}]))
    page = Built(lambda: freezing_page(desk, run.id))
    assert "It could not be computed" in page.text
    assert "The tree is not closed. Look at the tree. One press works out the plan again" in page.text
    page.press("Work out how it freezes")
    assert len(desk.crew.jobs) == 1


def test_a_burnout_that_an_older_plan_has_not_is_worked_out_at_one_press(desk, run, monkeypatch):
    gone = []
    monkeypatch.setattr("pourwell.web.desk.firing.ui.navigate.to", gone.append)
    planned(desk, run)
    page = Built(lambda: firing_page(desk, run.id))
    assert "It is older than this page, or its burnout could not be computed" in page.text
    page.press("Work it out again")
    assert (len(desk.crew.jobs), gone) == (1, [f"/runs/{run.id}"])
    desk.change_run(run.id, fields={"returns": "140"})
    page = Built(lambda: firing_page(desk, run.id))
    page.press("Work it out again")
    assert "Not yet: the form of the run holds something that is not right." in page.text
    assert len(desk.crew.jobs) == 1


def test_it_is_worked_out_finer_on_request_and_then_no_more(desk, run):
    worked_out(desk, run, deep())
    page = Built(lambda: freezing_page(desk, run.id))
    page.press("Work it out finer")
    assert desk.crew.jobs[0].given[1]["form"]["freeze"] == "fine"
    desk.crew.jobs[0].end("done")
    worked_out(desk, desk.store.run(run.id), deep(fine=True))
    assert "Work it out finer" not in Built(lambda: freezing_page(desk, run.id)).text


def test_a_form_that_is_not_right_is_not_worked_out(desk, run):
    desk.change_run(run.id, fields={"returns": "140"})
    page = Built(lambda: freezing_page(desk, run.id))
    page.press("Work out how it freezes")
    assert desk.crew.jobs == []
    assert "Not yet: the form of the run holds something that is not right." in page.text


# ---- burnout


def test_the_burnout_is_told_over_one_line_of_time_with_limits_and_hands(desk, run):
    worked_out(desk, run, deep())
    page = Built(lambda: firing_page(desk, run.id))
    for word in ("kiln", "rim", "half radius", "core", "warning over 740 °C", "mould suffers over 760 °C", "core dry 22:35"):
        assert word in page.text.splitlines(), word
    assert len(page.all("polygon", "c-band")) == 2, "of the core, and of the water"
    assert page.all("rect", "c-hand")
    keys = page.words(page.all("dl", "keys")[0])
    assert "Core dry 22:35" in keys
    assert "Drying takes at least 55 min" in keys
    assert "Published programme 15 h this is 1 h longer" in keys
    assert "Energy 9.2 kWh, 7.0 to 13.0" in keys
    assert "core dry between 21:16 and 23:58" in page.text
    assert "Cracks: not held against strength" in page.text


def test_a_programme_that_is_compared_with_one_from_memory_does_not_call_it_published(desk, run):
    plan = deep()
    plan["burnout"]["published_grade"] = "memory"
    worked_out(desk, run, plan)
    page = Built(lambda: firing_page(desk, run.id))
    assert "Table, put together from memory 15 h this is 1 h longer" in page.words(page.all("dl", "keys")[0])
    assert "Table, put together from memory" in page.words(page.all("tr")[0])
    assert "Published" not in page.text


def test_beside_the_curves_stand_the_cautions_of_the_kiln(desk, run):
    plan = deep() | {"overnight": OVERNIGHT, "reading_c": {"never_above": 734.5, "off": 754.5}}
    worked_out(desk, run, plan)
    page = Built(lambda: firing_page(desk, run.id))
    assert "Reading never above 734 °C; at 754 °C switch off: the run is lost." in page.text
    assert OVERNIGHT in page.text
    assert BAG_WINS in page.text
    assert (
        "Kiln off at the mains before the tongs go in. If flasks stay: door shut, kiln on again, by hand to the flask" in page.text
    )


def test_each_measure_stands_against_its_limit_and_the_published_one(desk, run):
    worked_out(desk, run, deep())
    page = Built(lambda: firing_page(desk, run.id))
    steam, carbon = [page.words(row) for row in page.all("tr")[1:]]
    assert steam == "Steam 2.2 kW/m\u00b2 at most 5.0 kW/m\u00b2 +56 % 4.0 kW/m\u00b2 much water"
    assert carbon == "Carbon 270 min at least 300 min \u221210 % Warn 300 min with every input at its likely value"


def test_a_core_that_is_not_dry_at_the_end_is_said_to_be_so(desk, run):
    worked_out(desk, run, deep(dry=None))
    page = Built(lambda: firing_page(desk, run.id))
    assert "not before the end" in page.text
    assert "core dry 2" not in "".join(e.text for e in page.all("span", "c-word"))


def test_a_burnout_that_is_not_computed_leads_to_the_run(desk, run):
    assert "Nothing is computed yet" in Built(lambda: firing_page(desk, run.id)).text
    planned(desk, run)
    assert "This plan does not hold it" in Built(lambda: firing_page(desk, run.id)).text


@pytest.mark.parametrize("build", [freezing_page, firing_page, compare_page])
def test_a_run_that_is_not_there_is_refused(desk, build):
    with pytest.raises(BadRequestError, match="There is no run 77 here"):
        Built(lambda: build(desk, 77))


# ---- the form: who set what, and what was changed since


def test_who_set_a_weight_or_a_temperature_is_told_in_its_field(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    assert page.by("Returns in the charge") == "default"
    assert page.by("Metal at the pour") == "computed"
    worked_out(desk, run, deep())
    page = Built(lambda: run_page(desk, run.id))
    assert page.field("Metal at the pour").props["placeholder"] == "970"
    page.type("Metal at the pour", "985")
    page.type("Returns in the charge", "30")
    assert [page.by(label) for label in ("Metal at the pour", "Flask at the pour", "Returns in the charge")] == [
        "yours",
        "computed",
        "yours",
    ]
    by_weight = Built(lambda: run_page(desk, desk.new_run().id))
    assert by_weight.by("Metal at the pour") == "default", "without a shape nothing can be computed of it"
    by_weight.type("Tree on the scale", "23")
    assert by_weight.by("Tree on the scale") == "yours"


def test_a_metal_temperature_that_cannot_be_is_refused_in_place(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    page.type("Metal at the pour", "700")
    assert page.help_of("Metal at the pour").startswith("700 is below what can be, for this alloy is liquid from 896")
    page.press("Work it out")
    assert desk.crew.jobs == []


def test_fields_that_were_changed_since_the_plan_are_marked(desk, run):
    worked_out(desk, run, deep())
    page = Built(lambda: run_page(desk, run.id))
    assert not page.all("div", "field since")
    page.type("Flask", "76x100")
    assert [page.words(field).split()[0] for field in page.all("div", "field since")] == ["Flask"]
    page.press("One more <i>Heddle</i> band")
    assert page.all("ul", "plist since")


def test_a_pattern_whose_unit_was_changed_since_marks_its_run_and_says_so(desk, run):
    plan = deep()
    plan["pieces"] = [{"id": "A", "name": "Heddle band", "count": 3, "units": "mm"}]
    worked_out(desk, run, plan)
    page = Built(lambda: run_page(desk, run.id))
    assert "Its unit or bodies were changed since" not in page.text
    desk.set_units(run.pieces[0][0], "inch")
    page.go_round()
    assert "Since then changed: how a pattern is read." in page.text
    assert "Open the former sheet" in page.text
    assert [page.words(row) for row in page.all("li", "since")] == [
        "<i>Heddle</i> band Sprue point Its unit or bodies were changed since \u2212 +"
    ]
    assert "Since then changed: how a pattern is read." in Built(lambda: freezing_page(desk, run.id)).text


def test_another_window_sees_the_tick_of_freezing(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    stones, alloying, box = (e for e in page.all("input") if e.props.get("type") == "checkbox")
    assert box.props["checked"]
    assert not stones.props.get("checked")
    assert not alloying.props.get("checked")
    desk.change_run(run.id, fields={"freeze": False, "stones": True, "own_alloying": True})
    page.type("Flask", "76x100")
    assert not box.props["checked"], "it is told anew, whatever was changed there"
    assert stones.props["checked"]
    assert alloying.props["checked"]


def test_a_count_is_typed_or_stepped(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    field = next(e for e in page.elements if e.props.get("aria-label") == "How many <i>Heddle</i> band")
    page.happen(field, "typed", "6")
    assert desk.store.run(run.id).pieces[0][1] == 6
    for nonsense in ("", "0", "many", "9999"):
        page.happen(field, "typed", nonsense)
        assert desk.store.run(run.id).pieces[0][1] == 6
