"""The page of the days ahead, built without a browser: what is to be cast, what is given up, what is taken into the runs."""

import inspect

import pytest

from pourwell.app.desk_words import TIMES
from pourwell.errors import BadRequestError, OutputError
from pourwell.web.desk.pages import add_pages
from pourwell.web.desk.runs import runs_page
from pourwell.web.desk.studio import studio_page
from tests.unit.app.days_samples import answer, apart, flask, load, nothing, offer, placed, together
from tests.unit.web.built import Built
from tests.unit.web.days_built import begun, built, tick, worked_out


@pytest.fixture
def desk(still_desk):
    return still_desk


def test_ways_lead_here_from_the_runs_and_from_the_studio_with_several_in_hand(desk, two):
    for build in (runs_page, studio_page):
        (way,) = [a for a in Built(lambda build=build: build(desk)).all("a", "btn") if a.props["href"] == "/runs/days"]
        assert way.text == "Place them over the days"
    desk.remove_run(two[0].id)
    assert not [a for a in Built(lambda: studio_page(desk)).all("a", "btn") if a.props["href"] == "/runs/days"]


def test_runs_that_wait_are_ticked_and_one_that_cannot_be_read_says_why(desk, two):
    desk.new_run()
    page = built(desk)
    boxes = [label.default_slot.children[0] for label in page.all("label", "check") if "Run " in page.words(label)]
    assert [box.props["value"] for box in boxes] == [True, True], "the third has none"
    assert f"Studs, sterling silver, a tree of 11 g, 63.5 {TIMES} 63.5 mm" in page.text
    assert "Nothing goes into it yet" in page.text


def test_with_nothing_ticked_there_is_nothing_to_work_out(desk, two, address):
    page = built(desk)
    tick(page, "Run 1")
    tick(page, "Run 2")
    assert address["said"] == {"off": ["1.2"]}
    assert "Tick what is to be cast" in page.text
    page.press("Work the days out")
    assert desk.crew.jobs == []


def test_the_hours_of_the_settings_are_shown_and_may_be_changed_here(desk, two, address):
    (desk.folder / "studio.toml").write_text(
        'work_from = "07:30"\ndays_off = ["Monday"]\novernight_firing = false\n', encoding="utf-8"
    )
    page = built(desk)
    assert page.field("At work from").props["placeholder"] == "07:30"
    assert page.field("Days off").props["placeholder"] == "Monday"
    assert page.by("At work from") == "settings"
    assert ["", "As the settings say: not allowed"] in page.field("A kiln on while nobody is awake").props["options"]
    page.type("At work from", "9")
    assert page.by("At work from") == "yours"
    page.type("to", "25:00")
    assert "no time of day" in page.help_of("to")
    assert "Something in the form is not right yet" in page.text
    assert address["said"] == {"work_from": ["9"], "work_to": ["25:00"]}


def test_what_stands_in_the_address_stands_in_the_fields(desk, two):
    page = built(desk, work_from="9", off="2", bag="1", trees="1", **{"t1.alloy": "bronze-silicon-873", "t1.weight": "24.5"})
    assert page.field("At work from").value == "9"
    assert page.field("Tree weighs").value == "24.5"
    assert page.field("Alloy").value == "bronze-silicon-873"
    page.press("Work the days out")
    asked = desk.crew.jobs[0].given[1]
    assert [entry["number"] for entry in asked["entries"]] == [1, 3]
    assert asked["week"]["bag_damp"] is True


def test_a_tree_is_added_called_by_its_number_on_the_sheet_taken_away_and_brought_back(desk, two, address):
    page = built(desk)
    page.press("Add a tree that is not drawn yet")
    assert "run 3 on the sheet" in page.text
    page.type("Flasks of the same", "0")
    assert "below what can be" in page.help_of("Flasks of the same")
    page.press("Take tree 1 away")
    assert "Tree 1, not drawn yet" not in page.text
    assert address["said"] == {}
    page.press("Undo")
    assert page.field("Flasks of the same").value == "0"
    assert address["said"]["trees"] == ["1"]


def test_more_trees_than_a_week_holds_are_refused(desk, two, address):
    page = built(desk, trees=".".join(map(str, range(1, 13))), **{f"t{k}.alloy": "sterling-925" for k in range(1, 13)})
    page.press("Add a tree that is not drawn yet")
    assert "More than 12 flasks are no week's work" in page.text


def test_a_pour_of_its_own_is_kept_and_another_can_be_asked_for(desk, two, address):
    desk.change_run(two[0].id, fields={"pour_day": "2026-11-28", "pour_hour": "10:00"})
    page = built(desk)
    pour = page.field("Pour")
    assert (pour.value, ["own", "Sat 28 Nov 10:00, as it says"] in pour.props["options"]) == ("own", True)
    page.type("Pour", "by")
    assert "Enter the hour of the pour" in page.help_of("at")
    page.type("at", "17:00")
    assert address["said"] == {"r1.pour": ["by"], "r1.hour": ["17:00"]}


def test_with_several_kilns_one_may_be_chosen(desk, two):
    assert "Kiln" not in [label.text for label in built(desk).all("label")]
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    assert ["small", "small"] in built(desk).field("Kiln").props["options"]


def test_a_run_that_has_begun_is_not_ticked_and_may_be_taken_in(desk, two, address):
    begun(desk, two[0])
    page = built(desk)
    assert "By its plan it began Wed 14:30. Tick it only if nothing of it was done." in page.text
    tick(page, "Run 1")
    assert address["said"] == {"on": ["1"]}
    page.press("Work the days out")
    assert [entry["number"] for entry in desk.crew.jobs[0].given[1]["entries"]] == [1, 2]


@pytest.mark.parametrize("listed", ['[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "wide"\n', ""])
def test_a_kiln_that_is_gone_is_told_at_its_field_and_nothing_is_placed(desk, two, listed, address):
    (desk.folder / "studio.toml").write_text(listed, encoding="utf-8")
    desk.change_run(two[1].id, fields={"kiln": "old"})
    page = built(desk, **{"r1.kiln": "nope"})
    fields = [e for e in page.elements if ["*", "Any that takes it"] in e.props.get("options", [])]
    assert [e.value for e in fields] == ["nope", "old"]
    assert [e.props["options"][-1][1] for e in fields] == ["nope, not in studio.toml", "old, not in studio.toml"]
    assert all(e.props["aria-invalid"] == "true" for e in fields)
    page.press("Work the days out")
    assert desk.crew.jobs == []
    for one in fields:
        page.happen(one, "chosen", "*")
    page.press("Work the days out")
    assert [e["when"]["kiln"] for e in desk.crew.jobs[0].given[1]["entries"]] == [None, None]


def test_a_kiln_that_a_begun_run_keeps_is_told_and_nothing_is_done_before_it_is_cool_at_one_press(desk, two, address):
    begun(desk, two[0])
    page = built(desk)
    assert "Run 1 has begun and keeps the kiln; it is cool enough for another load 17:30." in page.text
    page.press("Nothing before then")
    assert address["said"] == {"start_day": ["2026-11-26"], "start_hour": ["17:30"]}
    assert page.field("Nothing before").value == "2026-11-26"
    page.press("Work the days out")
    assert desk.crew.jobs[0].given[1]["week"]["start_at"].hour == 17


def test_with_another_kiln_that_stands_empty_nothing_is_said_of_the_one_that_is_kept(desk, two):
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    begun(desk, two[0], kiln="tall")
    assert "has begun and keeps the kiln" not in built(desk).text


def test_a_run_that_comes_in_hand_meanwhile_is_listed_and_ticked(desk, two):
    page = built(desk)
    desk.new_run(fields={"weight": "8"})
    page.go_round()
    assert "Run 3" in page.text


def test_hours_are_taken_and_come_back_with_undo(desk, two):
    page = worked_out(desk, answer(apart()))
    assert "for the bench go by the list of these days" in page.text
    page.press("Take these hours into the runs")
    assert page.state.startswith("Saved")
    assert [desk.store.run(run.id).form["pour_hour"] for run in two] == ["09:30", "09:30"]
    assert "has its pour Fri 27 Nov 09:30." in page.text
    assert "Since then" not in page.text
    page.press("Undo")
    assert [desk.store.run(run.id).form["pour_hour"] for run in two] == ["", ""]
    assert "would pour Fri 27 Nov 09:30." in page.text


def test_undo_leaves_what_was_typed_since_and_says_so(desk, two):
    page = worked_out(desk, answer(apart()))
    page.press("Take these hours into the runs")
    desk.change_run(two[0].id, fields={"pour_hour": "15:00"})
    page.press("Undo")
    assert page.state.startswith("Saved")
    assert page.state.endswith(". Left as it is: the pour of run 1 was changed since")
    assert [desk.store.run(run.id).form["pour_hour"] for run in two] == ["15:00", ""]


@pytest.mark.parametrize("gone", [False, True])
def test_undo_that_sets_nothing_back_is_not_called_saved(desk, two, gone, monkeypatch):
    desk.remove_run(two[1].id)
    page = worked_out(desk, answer(placed([flask(1, 25)], [load(1, [1], on_h=8)])))
    page.press("Take these hours into the runs")
    if gone:  # the studio was restored to a day when there was no such run

        def none(number):
            raise BadRequestError(f"There is no run {number} here.")

        with monkeypatch.context() as without:
            without.setattr(desk.store, "run", none)
            page.press("Undo")
        assert page.state == "Not saved: There is no run 1 here."
    else:
        desk.remove_run(two[0].id)
        page.press("Undo")
        assert page.state == "Not saved: run 1 was laid away since."


def test_runs_whose_hours_were_taken_are_worked_out_at_one_press(desk, two, address):
    page = worked_out(desk, answer(apart()))
    page.press("Take these hours into the runs")
    page.press("Work these runs out")
    forms = [job.given[1]["form"] for job in desk.crew.jobs if job.call.endswith(":plan_run")]
    assert [form["pour_at"] for form in forms] == ["2026-11-27T09:30:00+00:00", "2026-11-28T09:30:00+00:00"]
    assert address["to"] == "/runs"


def test_runs_that_share_a_firing_say_so_and_are_placed_with_one_each_at_one_press(desk, two, address):
    page = worked_out(desk, answer(together()))
    assert "is not taken: it shares firing 1 with run 2" in page.text
    page.press("Place them with a firing each")
    assert desk.crew.jobs[-1].given[1]["week"]["fire_apart"] is True
    assert address["said"] == {"apart": ["1"]}


def test_what_is_changed_afterwards_is_told_and_nothing_is_taken_before_it_is_worked_out_again(desk, two, address):
    page = worked_out(desk, answer(apart()))
    page.type("At work from", "9")
    assert "Since then what is asked, or a file of the studio, was changed." in page.text
    assert "Work the days out again first." in page.text
    page.press("Work them out again")
    assert len(desk.crew.jobs) == 2


@pytest.mark.parametrize(
    ("given", "typed"),
    [
        (offer("overnight"), {"overnight": ["yes"]}),
        (offer("bag"), {"bag": ["1"], "overnight": ["no"]}),
        (offer("late", value="21:00"), {"work_to": ["21:00"], "overnight": ["no"]}),
        (offer("hold", value="720"), {"wait": ["720"], "overnight": ["no"]}),
        (
            offer("later", pour_h=26),
            {"pour_day": ["2026-11-27"], "pour_hour": ["10:30"], "overnight": ["no"]},
        ),
        (offer("pour"), {"r1.pour": ["free"], "r2.pour": ["free"], "overnight": ["no"]}),
    ],
)
def test_what_is_given_up_at_one_press_stands_in_the_form_and_is_worked_out(desk, two, address, given, typed):
    page = worked_out(desk, nothing(given, offer("kiln")), overnight="no")
    assert "Nothing fits" in page.text
    assert page.text.count("Pour Friday") == 2
    (press,) = [button for button in page.all("button") if str(button.props.get("aria-label")).endswith(f"give up {given['key']}")]
    page.happen(press, "click")
    assert address["said"] == typed
    assert len(desk.crew.jobs) == 2


def test_another_pour_of_a_single_run_takes_the_place_of_its_own(desk, two, address):
    desk.remove_run(two[1].id)
    page = worked_out(desk, nothing(offer("later")), **{"r1.pour": "at", "r1.hour": "10:00"})
    page.press("Pour then: give up later")
    assert {key: address["said"][key] for key in ("pour_day", "pour_hour", "r1.pour")} == {
        "pour_day": ["2026-11-27"],
        "pour_hour": ["10:30"],
        "r1.pour": ["free"],
    }


def test_what_cannot_be_placed_is_told_in_words(desk, two):
    page = built(desk)
    page.press("Work the days out")
    job = desk.crew.jobs[0]
    job.end("failed", fault=BadRequestError("These are 13 flasks.", try_this="Plan fewer at once."))
    page.go_round()
    assert "These are 13 flasks. Plan fewer at once." in page.text


def test_work_that_goes_on_is_told_and_can_be_stopped(desk, two, address):
    page = built(desk)
    page.press("Work the days out")
    job = desk.crew.jobs[0]
    job.state, job.says = "working", "Placing the runs"
    page.go_round()
    assert "It is being worked out." in page.text
    assert "Placing the runs" in page.text
    page.press("Being worked out")
    assert len(desk.crew.jobs) == 1, "one press is one placing"
    page.press("Stop The days ahead")
    assert not job.wanted
    job.end("stopped")
    page.go_round()
    assert page.button("Work the days out").props.get("aria-disabled") is None


def test_a_tree_may_wait_for_its_patterns_and_have_a_kiln_and_a_latest_hour(desk, address):
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    said = {"t1.alloy": "sterling-925", "t1.kiln": "small", "t1.pour": "by", "t1.day": "2026-11-28", "t1.hour": "17"}
    page = built(desk, trees="1", **said, **{"t1.ready_day": "2026-11-27", "t1.ready_hour": "9:30"})
    assert [page.field(label).value for label in ("Kiln", "Pour", "Patterns are there from")] == ["small", "by", "2026-11-27"]
    page.press("Work the days out")
    (entry,) = desk.crew.jobs[0].given[1]["entries"]
    assert (entry["when"]["kiln"], f"{entry['when']['pour_by']:%d %H:%M}", f"{entry['when']['ready_at']:%d %H:%M}") == (
        "small",
        "28 17:00",
        "27 09:30",
    )


def test_the_kiln_of_a_run_that_names_one_is_chosen_and_any_may_be_asked_for(desk, two, address):
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    desk.change_run(two[0].id, fields={"kiln": "small"})
    page = built(desk, off="2")
    assert page.field("Kiln").value == "small"
    page.type("Kiln", "*")
    assert address["said"] == {"off": ["2"], "r1.kiln": ["*"]}
    page.press("Work the days out")
    assert desk.crew.jobs[0].given[1]["entries"][0]["when"]["kiln"] is None


def test_hours_that_could_not_be_kept_are_not_called_saved(desk, two, monkeypatch):
    page = worked_out(desk, answer(apart()))

    def full(*_, **__):
        raise OutputError("It could not be kept.")

    monkeypatch.setattr(desk, "change_run", full)
    page.press("Take these hours into the runs")
    assert page.state == "Not saved: It could not be kept."
    with pytest.raises(StopIteration):
        page.button("Undo")


def test_a_weight_in_another_unit_is_shown_as_it_was_typed(desk):
    desk.new_run(fields={"weight": "7 dwt"})
    assert "a tree of 7 dwt, smallest that fits" in built(desk).text


def test_script_in_a_title_is_a_title(desk, two):
    desk.change_run(two[0].id, fields={"title": "<script>alert(1)</script>"})
    page = built(desk, **{"title": "<b>Fair</b>"})
    assert "<script>alert(1)</script>, sterling silver" in page.text, "it is text, never HTML"
    assert page.field("Title of the sheet").value == "<b>Fair</b>"


def test_the_page_of_the_days_is_not_taken_for_a_run_of_that_number():
    source = inspect.getsource(add_pages)
    assert source.index('"/runs/days"') < source.index('"/runs/{run_id}"'), "the first that fits is served"
