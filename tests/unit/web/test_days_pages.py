"""The page of the days ahead, built without a browser: what is to be cast, what came of it, what is taken into the runs."""

from urllib.parse import parse_qs, urlparse

import pytest
from nicegui import ui

from pourwell.app.desk_words import TIMES
from pourwell.errors import BadRequestError
from pourwell.web.desk.days import days_page
from pourwell.web.desk.days_told import WORD_WIDE, stacked
from pourwell.web.desk.runs import runs_page
from pourwell.web.desk.studio import studio_page
from tests.unit.app.days_samples import answer, apart, flask, load, nothing, offer, placed, together
from tests.unit.web.built import Built
from tests.unit.web.samples import finding

STOP = {**finding("stop", "the core is not dry at the pour"), "code": "core-wet", "marked": {}}


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture
def address(monkeypatch):
    """What the page wrote into its address last, and where it went."""
    said = {"to": ""}
    monkeypatch.setattr(ui.navigate.history, "replace", lambda path: said.update(said=parse_qs(urlparse(path).query)))
    monkeypatch.setattr(ui.navigate, "to", lambda path: said.update(to=path))
    return said


@pytest.fixture
def two(desk):
    return [desk.new_run(fields={"weight": weight, "flask": "64x64", "title": "Studs"}) for weight in ("11", "12")]


def built(desk, **typed):
    return Built(lambda: days_page(desk, typed))


def worked_out(desk, data, **typed):
    page = built(desk, **typed)
    page.press("Work the days out")
    desk.crew.do(data)
    page.go_round()
    return page


def tick(page, words):
    box = next(label for label in page.all("label", "check") if words in page.words(label)).default_slot.children[0]
    page.happen(box, "ticked", not box.props["value"])


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


def test_first_comes_what_to_do_when_then_kilns_picture_and_findings(desk, two):
    page = worked_out(
        desk, answer(placed(apart()["runs"], apart()["loads"], findings=[finding("note", "it fires while nobody is awake")]))
    )
    text = page.text.partition("What to do when")[2].partition("What to do when")[2]  # the ways of a phone stand before
    order = [
        "Thursday 26 November",
        "Mix, pour the slurry",
        "Into the runs",
        "Firing 1, kiln",
        "The days as a picture",
        "Findings",
    ]
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    assert page.words(page.all("ol", "of-days")[0]).startswith("10:30 Mix, pour the slurry run 1, Studs 1 20 min 16:30 Kiln on")
    assert "Fri 27 Nov 09:30" in text
    links = {a.text: a.props["href"] for a in page.all("a", "btn")}
    assert links["Open the sheet"].endswith("/day.pdf")
    assert links["Load the calendar"].endswith("/day.ics")
    assert "Worked out 08:30." in page.text


def test_the_picture_has_a_strip_a_day_with_the_kiln_the_work_and_the_hours(desk, two):
    page = worked_out(desk, answer(apart()))
    strips = page.all("div", "one-day")
    assert len(strips) == 3
    assert strips[0].default_slot.children[0].props["aria-label"] == "Thursday 26 November: 20 min of work, 0 pours."
    boxes = [child for child in strips[0].default_slot.children[0].default_slot.children if "c-hand" in child.classes]
    assert [(box.props["x"], box.props["width"]) for box in boxes] == [("437.5", "12.5")], "10:30 to 10:48 of a day of 1000"
    opened = [child for child in strips[2].default_slot.children[0].default_slot.children if "c-open" in child.classes]
    assert opened == [], "a day off has no hours"
    assert "1 invest" in page.words(strips[0])
    assert "pour 1" in page.words(strips[1])


def test_words_that_would_meet_stand_below_each_other_and_the_last_is_left_to_the_list():
    told = list(stacked([(0.1, "a"), (0.15, "b"), (0.16, "c"), (0.17, "d"), (0.5, "e"), (0.99, "f")], WORD_WIDE))
    assert told == [(0.1, 0, "a"), (0.15, 1, "b"), (0.16, 2, "c"), (0.5, 0, "e"), (0.99, 0, "f")]


def test_a_stop_stands_in_a_band_and_nothing_is_taken(desk, two):
    page = worked_out(desk, answer(placed(apart()["runs"], apart()["loads"], findings=[STOP])))
    assert "Do not pour: the core is not dry at the pour." in page.words(page.all("p", "do-not-pour")[0])
    assert page.words(page.all("h1")[0]) == "The days ahead: do not pour"
    assert "What stops it comes first." in page.text
    with pytest.raises(StopIteration):
        page.button("Take these hours into the runs")


def test_hours_are_taken_and_come_back_with_undo(desk, two):
    page = worked_out(desk, answer(apart()))
    page.press("Take these hours into the runs")
    assert page.state.startswith("Saved")
    assert [desk.store.run(run.id).form["pour_hour"] for run in two] == ["09:30", "09:30"]
    assert "has its pour Fri 27 Nov 09:30." in page.text
    assert "Since then" not in page.text
    page.press("Undo")
    assert [desk.store.run(run.id).form["pour_hour"] for run in two] == ["", ""]
    assert "would pour Fri 27 Nov 09:30." in page.text


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
    assert "Since then what is asked was changed." in page.text
    assert "Work the days out again first." in page.text
    page.press("Work them out again")
    assert len(desk.crew.jobs) == 2


def test_a_result_whose_first_step_is_over_says_so(desk, two):
    data = apart()
    data["days"][0]["jobs"][0]["at"] = "2026-11-26T08:10:00+00:00"
    page = worked_out(desk, answer(data))
    assert "Its first step is over by now." in page.text


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


def test_temperatures_are_in_the_units_of_the_reader(desk, two):
    (desk.folder / "studio.toml").write_text('display = "imperial"\n', encoding="utf-8")
    page = worked_out(desk, answer(placed([flask(1, 25), flask(2, 49)], [load(1, [1], on_h=8), load(2, [2], on_h=32)])))
    pours = next(s for s in page.all("section") if page.words(s).startswith("Pours"))
    assert "1004 °F" in page.words(pours), "540 degC"
