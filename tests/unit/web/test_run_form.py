"""The form of a run: what cannot be is refused at its field, what was typed stays; two windows show each other theirs."""

from datetime import timedelta

import pytest

from pourwell.app.desk_runs import sprues_of
from pourwell.errors import BadRequestError
from pourwell.web.desk.freezing import freezing_page
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.patterns import patterns_page
from pourwell.web.desk.run import run_page
from pourwell.web.desk.sprues import sprues_page
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import NOW, finding, planned

NAME = "<i>Heddle</i> band"
TOMORROW = (NOW + timedelta(days=1)).date().isoformat()


@pytest.fixture
def desk(still_desk):
    return still_desk


def opened(desk, run):
    return Built(lambda: run_page(desk, run.id))


@pytest.mark.parametrize(
    ("label", "typed", "says"),
    [
        ("Returns in the charge", "-5", "-5 is below what can be. Enter 0 to 100 %."),
        ("Returns in the charge", "half", '"half" is no number. Enter 0 to 100 %.'),
        ("Returns in the charge", "30 g", '"30 g" is no number. Enter 0 to 100 %.'),
        ("Metal at the pour", "2100", "2100 is above what can be, for this alloy is liquid from 896 °C on. Enter 896 to 2,000 °C."),
        ("Metal at the pour", "1600 °F", "1600 °F is below what can be, for this alloy is liquid from 896 °C on."),
        ("Metal at the pour", "nan", "nan is not what can be, for this alloy is liquid from 896 °C on."),
        ("Flask at the pour", "5", "5 is below what can be. Enter 20 to 1,100 °C."),
        ("Flask at the pour", "540 dwt", '"540 dwt" is no number. Enter 20 to 1,100 °C.'),
        ("at", "25:00", '"25:00" is no time of day. Enter it as 10:00.'),
        ("at", "8:15", "08:15 on Thursday 26 November is over. Enter a later time."),
    ],
)
def test_what_cannot_be_is_told_at_its_field_stays_as_typed_and_plans_nothing(desk, run, label, typed, says):
    page = opened(desk, run)
    page.type(label, typed)
    assert page.help_of(label).startswith(says)
    assert page.field(label).props["aria-invalid"] == "true"
    others = {"Returns in the charge", "Metal at the pour", "Flask at the pour", "at"} - {label}
    assert not [one for one in others if page.field(one).props.get("aria-invalid") == "true"], "no other field is blamed"
    page.press("Work it out")
    assert desk.crew.jobs == []
    assert typed in desk.store.run(run.id).form.values()
    assert opened(desk, run).field(label).value == typed
    page.type(label, "")
    assert page.field(label).props["aria-invalid"] == "false"
    page.press("Work it out")
    assert len(desk.crew.jobs) == 1


@pytest.mark.parametrize(
    ("label", "typed", "key", "asked"),
    [
        ("Metal at the pour", "1780 °F", "metal_c", 971.111),
        ("Metal at the pour", "1780 F", "metal_c", 971.111),
        ("Flask at the pour", "540,5", "flask_c", 540.5),
        ("Flask at the pour", "1 000 °F", "flask_c", 537.778),
        ("Returns in the charge", "33,5 %", "returns_fraction", 0.335),
    ],
)
def test_another_unit_behind_a_figure_is_understood_and_kept_as_it_was_typed(desk, run, label, typed, key, asked):
    page = opened(desk, run)
    page.type(label, typed)
    page.press("Work it out")
    assert desk.crew.jobs[0].given[1]["form"][key] == pytest.approx(asked, abs=1e-3)
    assert typed in desk.store.run(run.id).form.values()


@pytest.mark.parametrize(("typed", "weight_g"), [("0.75 ozt", 23.3276), ("15 dwt", 23.3276), ("1,5 oz", 42.5243), ("23", 23.0)])
def test_a_tree_may_be_weighed_in_any_unit_of_the_trade(desk, typed, weight_g):
    blank = desk.new_run()
    page = opened(desk, blank)
    page.press("Work it out")
    assert page.help_of("Tree on the scale") == "Put the tree on the scale and enter what it shows."
    assert desk.crew.jobs == []
    page.type("Tree on the scale", typed)
    page.press("Work it out")
    assert desk.crew.jobs[0].given[1]["form"]["weight_g"] == pytest.approx(weight_g, abs=1e-3)


def test_a_day_needs_its_hour_and_both_together_are_the_pour(desk, run):
    page = opened(desk, run)
    page.type("Pour on", TOMORROW)
    assert page.help_of("at") == "The day needs an hour, such as 10:00."
    page.press("Work it out")
    assert desk.crew.jobs == []
    page.type("at", "9")
    page.press("Work it out")
    assert desk.crew.jobs[0].given[1]["form"]["pour_at"].startswith(f"{TOMORROW}T09:00")


def test_a_day_that_was_chosen_once_stays_in_the_list_when_it_is_over(desk, run):
    desk.change_run(run.id, fields={"pour_day": "2026-11-20", "pour_hour": "9:00"})
    page = opened(desk, run)
    assert page.field("Pour on").props["options"][1] == ["2026-11-20", "Fri 20 Nov"]
    page.type("Flask", "")
    assert page.help_of("at").startswith("09:00 on Friday 20 November is over.")


@pytest.mark.parametrize("alloy_first", [True, False])
def test_the_least_metal_temperature_is_that_of_the_alloy_that_is_chosen(desk, run, alloy_first):
    page = opened(desk, run)
    steps = [("Alloy", "fine-silver-999"), ("Metal at the pour", "930")]
    for label, text in steps if alloy_first else reversed(steps):
        page.type(label, text)
    assert "for this alloy is liquid from 962 °C on" in page.help_of("Metal at the pour")
    page.type("Alloy", "sterling-925")
    assert page.help_of("Metal at the pour") == ""


def test_the_page_of_freezing_does_not_plan_what_the_form_refuses(desk, run):
    desk.change_run(run.id, fields={"metal_c": "700"})
    page = Built(lambda: freezing_page(desk, run.id))
    page.press("Work out how it freezes")
    assert desk.crew.jobs == []
    assert "holds something that is not right" in page.text


def test_a_second_window_shows_what_the_first_one_keeps(desk, run):
    first, second = opened(desk, run), opened(desk, run)
    first.type("Metal at the pour", "985")
    first.type("Flask", "76x100")
    first.press(f"One more {NAME}")
    second.go_round()
    assert second.field("Metal at the pour").props["value"] == "985"
    assert second.by("Metal at the pour") == "yours"
    assert second.field("Flask").value == "76x100"
    assert second.counts == ["4"]
    second.type("Returns in the charge", "20")
    kept = desk.store.run(run.id)
    assert (kept.form["metal_c"], kept.form["returns"], kept.pieces[0][1]) == ("985", "20", 4), "each changes only its own field"


def test_steps_of_two_windows_add_up(desk, run):
    first, second = opened(desk, run), opened(desk, run)
    first.press(f"One more {NAME}")
    second.press(f"One more {NAME}")
    assert desk.store.run(run.id).pieces[0][1] == 5
    assert second.counts == ["5"]


def test_a_count_that_is_none_is_not_kept_and_breaks_nothing(desk, run):
    page = opened(desk, run)
    field = next(e for e in page.elements if e.props.get("aria-label") == f"How many {NAME}")
    for nonsense in ("\u00b2", "-1", "1.5", "501", "3 x"):
        page.happen(field, "typed", nonsense)
        assert desk.store.run(run.id).pieces[0][1] == 3


def test_no_more_of_a_kind_than_can_be_however_often_it_is_pressed(desk, run):
    desk.change_run(run.id, pieces={run.pieces[0][0]: 500})
    page = opened(desk, run)
    page.press(f"One more {NAME}")
    assert desk.store.run(run.id).pieces[0][1] == 500


def test_a_piece_that_was_taken_out_of_the_library_stays_in_its_run_and_is_offered_to_no_other(desk, run):
    desk.remove_pattern(run.pieces[0][0])
    page = opened(desk, run)
    assert page.counts == ["3"]
    assert [e.text for e in page.all("a", "name")] == [NAME]
    fresh = opened(desk, desk.new_run())
    assert "No pattern is here yet." in fresh.text
    assert not [e for e in fresh.all("label") if e.text == "Add a piece"], "a list with nothing in it is not offered"


def test_names_are_text_on_every_page_that_shows_them(desk, run):
    bad = "<img src=x onerror=alert(1)>"
    desk.rename_pattern(run.pieces[0][0], bad)
    worked_out(desk, desk.store.run(run.id), deep(findings=[finding("warn", f"{bad} is thin")]))
    for build in (
        lambda: run_page(desk, run.id),
        lambda: pattern_page(desk, run.pieces[0][0]),
        lambda: patterns_page(desk),
        lambda: sprues_page(desk, run.id),
    ):
        page = Built(build)
        assert not [e for e in page.elements if "innerHTML" in e.props or e.tag == "nicegui-html"]
        assert not [e for e in page.all("img") if e.props.get("src") == "x"]
    assert [e.text for e in opened(desk, run).all("a", "name")] == [bad]


def test_a_run_that_is_laid_away_is_kept_with_all_it_holds(desk, run):
    pattern = run.pieces[0][0]
    desk.set_sprue(run.id, pattern, (1, 2, 3))
    desk.remove_run(run.id)
    desk.remove_run(run.id, back=True)
    assert sprues_of(desk.store.run(run.id)) == {pattern: (1, 2, 3)}
    assert opened(desk, run).all("a", "sprue-way")[0].text == "Sprue: yours"


# ---- what a plan does not allow, and what is offered


@pytest.mark.parametrize("number", [0, -1, 77, 10**12])
def test_a_number_that_no_run_has_is_refused(desk, run, number):
    with pytest.raises(BadRequestError, match=f"There is no run {number} here"):
        Built(lambda: run_page(desk, number))
    with pytest.raises(BadRequestError, match=f"There is no run {number} here"):
        Built(lambda: sprues_page(desk, number))
    with pytest.raises(BadRequestError, match=f"There is no pattern {number} here"):
        Built(lambda: pattern_page(desk, number))


def ways(page):
    """Where one can go and what one can press in the head."""
    acts = next(e for e in page.all("div", "acts"))
    return [page.words(e) for e in acts.default_slot.children if e.visible]


def test_the_head_offers_only_what_there_is(desk, run):
    assert ways(opened(desk, run)) == ["Work it out"]
    planned(desk, run)
    assert ways(opened(desk, run)) == ["How it freezes", "Open the run sheet"], "with a single plan there is nothing to compare"
    planned(desk, run)
    assert ways(opened(desk, run)) == ["Compare two plans", "How it freezes", "Open the run sheet"]
    desk.change_run(run.id, fields={"flask": "76x100"})
    assert ways(opened(desk, run)) == ["Compare two plans", "How it freezes", "Open the former sheet", "Work it out again"]
    weighed = desk.new_run(fields={"weight": "23"})
    planned(desk, weighed, weight=True)
    page = opened(desk, weighed)
    assert ways(page) == ["Compare two plans", "Open the run sheet"], "a weight has no shape that could freeze"
    assert "It is known by its weight alone." in page.text


def test_a_second_press_while_it_is_worked_out_does_nothing(desk, run):
    page = opened(desk, run)
    page.press("Work it out")
    page.press("Being worked out")
    assert len(desk.crew.jobs) == 1


@pytest.mark.parametrize(("flask", "here"), [(1, "Flask 1"), (2, "Flask 2"), (9, "Flask 2"), (-3, "Flask 1")])
def test_of_several_flasks_the_nearest_to_a_number_is_shown(desk, run, flask, here):
    worked_out(desk, run, deep(charge=75.1), deep(charge=80.5))
    page = Built(lambda: run_page(desk, run.id, flask=flask))
    assert "The pieces take 2 flasks:" in page.text
    assert [e.text for e in page.all("a") if e.props.get("aria-current") == "page" and e.text.startswith("Flask")] == [here]
    weigh = page.words(page.all("table", "weigh")[0])
    assert ("80.5 g" in weigh) is (here == "Flask 2")
    assert f"Open the run sheet of {here.lower()}" in page.text


@pytest.mark.parametrize("code", ["attach-user-bad", "tree-neck", "freeze-cut-off", "wall-thin"])
def test_a_stop_has_a_way_to_its_cause_at_most_and_nothing_that_puts_it_aside(desk, run, code):
    worked_out(desk, run, deep(findings=[finding("stop", "It will leak", code=code)], stopped=True))
    page = opened(desk, run)
    stop = next(e for e in page.all("li", "find") if page.words(e).startswith("Stop"))
    inside = stop.descendants()
    assert not [e for e in inside if e.tag in ("button", "input")]
    assert {e.props["href"].split("?")[0] for e in inside if e.tag == "a"} <= {
        f"/runs/{run.id}/sprues",
        f"/runs/{run.id}/freezing",
    }
    assert "Do not pour" in page.text
    page.type("Flask", "76x100")
    assert "Do not pour" in page.text, "a change alone does not cure it"


def test_a_kiln_is_chosen_only_where_there_are_several(desk, run):
    with pytest.raises(StopIteration):
        opened(desk, run).field("Kiln")
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    page = opened(desk, run)
    assert page.field("Kiln").props["options"] == [["", "tall"], ["small", "small"]]
    page.type("Kiln", "small")
    page.press("Work it out")
    assert desk.crew.jobs[0].given[1]["form"]["kiln"] == "small"


KILNS = '[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n'


@pytest.mark.parametrize("listed", [KILNS.replace("small", "wide"), '[kiln]\nname = "tall"\n', ""])
def test_a_kiln_that_is_gone_stays_in_its_field_is_told_there_and_plans_nothing(desk, run, listed):
    (desk.folder / "studio.toml").write_text(KILNS, encoding="utf-8")
    page = opened(desk, run)
    page.type("Kiln", "small")
    (desk.folder / "studio.toml").write_text(listed, encoding="utf-8")
    page.go_round()
    for one in (page, opened(desk, run)):
        assert one.field("Kiln").value == "small"
        assert ["small", "small, not in studio.toml"] in one.field("Kiln").props["options"]
        assert one.help_of("Kiln").startswith('No kiln is called "small" any more. Choose another one')
        one.press("Work it out")
        assert one.help_of("Kiln").startswith('No kiln is called "small" any more.')
        assert desk.crew.jobs == []
    page.type("Kiln", "")
    assert not [e for e in page.elements if "help" in e.classes and "No kiln" in e.text]
    page.press("Work it out")
    assert len(desk.crew.jobs) == 1


def test_a_kiln_that_came_to_the_first_place_is_still_the_one_that_was_chosen(desk, run):
    desk.change_run(run.id, fields={"kiln": "small"})
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "small"\n\n[[kilns]]\nname = "tall"\n', encoding="utf-8")
    page = opened(desk, run)
    assert page.field("Kiln").props["options"] == [["small", "small"], ["tall", "tall"]]
    assert page.help_of("Kiln") == ""
    (desk.folder / "studio.toml").write_text('[kiln]\nname = "small"\n', encoding="utf-8")
    page.go_round()
    assert not [e for e in page.all("label") if e.text == "Kiln"]
    page.press("Work it out")
    assert len(desk.crew.jobs) == 1


def test_of_a_weight_the_base_and_the_wax_are_said_and_what_cannot_be_is_told_at_its_field(desk):
    run = desk.new_run(fields={"weight": "41.2"})
    page = opened(desk, run)
    page.type("Of it the base", "26.9")
    page.type("Of it sprue wax", "14.3")
    assert page.help_of("Of it the base").startswith("That is as much as the scale shows in all")
    page.press("Work it out")
    assert desk.crew.jobs == []
    page.type("Of it sprue wax", "-1")
    assert page.help_of("Of it sprue wax").startswith("-1 is below what can be. Enter 0 to 20,000 g.")
    page.type("Of it sprue wax", "2 dwt")
    page.type("Title on the sheet", "<b>For Ada</b>")
    page.press("Work it out")
    asked = desk.crew.jobs[0].given[1]["form"]
    assert (asked["weight_g"], asked["base_g"], asked["title"]) == (41.2, 26.9, "<b>For Ada</b>")
    assert asked["wax_g"] == pytest.approx(2 * 1.55517384), (
        "a pennyweight is 24 grains of 64.79891 mg (NIST Handbook 44, appendix C)"
    )


def test_base_and_wax_are_of_a_weight_alone(desk, run):
    desk.change_run(run.id, fields={"base_g": "26.9", "wax_g": "nonsense"})
    page = opened(desk, run)
    assert "Of it the base" not in page.text
    page.press("Work it out")
    assert {"base_g", "wax_g"} & set(desk.crew.jobs[0].given[1]["form"]) == set()


def test_fine_metal_and_master_alloy_are_asked_for_by_a_tick_that_marks_the_plan(desk, run):
    planned(desk, run)
    page = opened(desk, run)
    desk.change_run(run.id, fields={"own_alloying": True})
    again = opened(desk, run)
    assert "Since then changed: alloying." in again.text
    assert "Since then changed" not in page.text
    again.press("Work it out again")
    assert desk.crew.jobs[0].given[1]["form"]["own_alloying"] is True
