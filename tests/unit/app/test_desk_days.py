"""The days ahead on the desk: what is placed, what stands against it, and what of it is taken into the runs."""

from datetime import UTC, datetime, timedelta

import pytest

from pourwell.app.desk import Desk
from pourwell.app.desk_days_form import PLACED
from pourwell.app.desk_runs import asked_of
from pourwell.errors import BadRequestError
from tests.unit.app.days_samples import NOW, answer, apart, at, nothing, together
from tests.unit.app.fake_crew import FakeCrew


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    (tmp_path / "studio" / "studio.toml").write_text('time_zone = "Europe/Lisbon"\n', encoding="utf-8")
    yield made
    made.close()


@pytest.fixture
def two(desk):
    return [desk.new_run(fields={"weight": weight, "flask": "64x64"}) for weight in ("11", "12")]


def place(desk, data, typed=None):
    read = desk.days.read(typed or {})
    assert not read.faults
    desk.days.place(read)
    desk.crew.do(answer(data))
    return desk.days.latest


def fired(desk, run, *, on_h, begun=False):
    """A plan of a run whose kiln goes on so many hours from now."""
    first = on_h - 3 if begun else 1
    lines = [("invest", first, first + 1, 20), ("kiln", on_h, on_h + 16, 0), ("pour", on_h + 16, on_h + 16.1, 5)]
    timeline = [{"key": k, "says": k, "starts_at": at(a), "ends_at": at(b), "hands_on_min": hands} for k, a, b, hands in lines]
    plan = {"pour": {"at": at(on_h + 16)}, "burnout": {"starts_at": at(on_h)}, "kiln_free_at": at(on_h + 21), "timeline": timeline}
    data = {"plans": [plan | {"findings": []}]}
    desk.store.add_result(run_id=run.id, asked=asked_of(run), data=data, files={}, now=NOW)


def test_work_gets_the_runs_as_their_own_pages_plan_them(desk, two):
    pattern, _ = desk.store.add_pattern(b"solid", file="band.stl", name="Band", now=NOW)
    desk.change_run(two[0].id, pieces={pattern.id: 3}, fields={f"sprue_{pattern.id}": [1.0, 2.0, 3.0]})
    desk.days.place(desk.days.read({}))
    (job,) = desk.crew.jobs
    folder, asked, now = job.given
    assert (job.call, folder, now) == ("pourwell.app.desk_days_work:place_days", desk.folder, NOW)
    desk.plan(run := desk.store.run(two[0].id), {})
    given = desk.crew.jobs[-1].given[2]
    assert asked["entries"][0]["pieces"] == given
    assert (given[0].count, given[0].sprue_at_mm) == (3, (1.0, 2.0, 3.0))
    assert [entry["number"] for entry in asked["entries"]] == [run.number, 2]


def test_a_placing_that_is_made_anew_stops_the_one_before(desk, two):
    first = desk.days.place(desk.days.read({}))
    assert desk.days.being_placed() is first
    second = desk.days.place(desk.days.read({"bag": "1"}))
    assert not first.wanted
    assert second.wanted


def test_the_last_placings_are_held_and_older_ones_are_told(desk, two):
    first = place(desk, apart())
    assert desk.days.get(first.number) is first
    for _ in range(4):
        place(desk, apart())
    with pytest.raises(BadRequestError, match="not held any more"):
        desk.days.get(first.number)


def test_hours_are_taken_into_the_forms_as_if_typed_and_come_back(desk, two):
    desk.change_run(two[1].id, fields={"pour_day": "2026-11-29", "pour_hour": "17:00"})
    placing = place(desk, apart(), {"r2.pour": "free"})
    taken = desk.days.take(placing)
    forms = [desk.store.run(run.id).form for run in two]
    assert [(form["pour_day"], form["pour_hour"]) for form in forms] == [("2026-11-27", "09:30"), ("2026-11-28", "09:30")]
    assert forms[0][PLACED] == "2026-11-27 09:30"
    assert [one.taken for one in desk.days.taking(placing)] == [True, True]
    assert desk.days.take(placing) == {}, "there is nothing more to take"
    assert desk.days.take_back(taken) == ([1, 2], [])
    forms = [desk.store.run(run.id).form for run in two]
    assert [(form["pour_day"], form["pour_hour"], form[PLACED]) for form in forms] == [("", "", ""), ("2026-11-29", "17:00", "")]


def test_what_was_typed_since_the_hours_were_taken_is_not_set_back(desk, two):
    """The rest of the run is, and so is the other run; a run that was laid away is left alone."""
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    data = apart()
    for flask, load in zip(data["runs"], data["loads"], strict=True):
        flask["kiln"] = load["kiln"] = "small"
    taken = desk.days.take(place(desk, data))
    desk.change_run(two[0].id, fields={"pour_hour": "15:00"})
    assert desk.days.take_back(taken) == ([1, 2], ["the pour of run 1 was changed since"])
    form, other = (desk.store.run(run.id).form for run in two)
    assert (form["pour_day"], form["pour_hour"], form["kiln"]) == ("2026-11-27", "15:00", "")
    assert (other["pour_day"], other["kiln"]) == ("", "")
    taken = desk.days.take(place(desk, data, {"r1.pour": "free"}))
    desk.remove_run(two[0].id)
    assert desk.days.take_back(taken) == ([2], ["run 1 was laid away since"])
    assert desk.store.run(two[0].id).form["pour_hour"] == "09:30"


def test_the_kiln_is_taken_with_the_hour_as_the_form_of_a_run_names_it(desk, two):
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    data = apart()
    for flask, load, kiln in zip(data["runs"], data["loads"], ("small", "tall"), strict=True):
        flask["kiln"] = load["kiln"] = kiln
    placing = place(desk, data)
    taken = desk.days.take(placing)
    assert [desk.store.run(run.id).form["kiln"] for run in two] == ["small", ""], "the first is the one of a run that names none"
    assert desk.days.signature(desk.days.read({})) == placing.signature
    assert all(one.taken for one in desk.days.taking(placing))
    desk.days.take_back(taken)
    assert [desk.store.run(run.id).form["kiln"] for run in two] == ["", ""]


def test_a_firing_is_held_against_runs_in_its_own_kiln_alone(desk, two):
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    fired(desk, desk.new_run(fields={"weight": "9"}), on_h=-1, begun=True)
    data = apart()
    data["loads"][0]["kiln"] = "small"
    assert desk.days.clashes(place(desk, data)) == []
    data["loads"][0]["kiln"] = "tall"
    assert desk.days.clashes(place(desk, data))[0]["says"].startswith("The kiln “tall” is taken by run 3")


def test_taking_the_hours_is_no_change_of_what_was_asked(desk, two):
    placing = place(desk, apart())
    desk.days.take(placing)
    assert desk.days.signature(desk.days.read({})) == placing.signature
    assert desk.days.signature(desk.days.read({"bag": "1"})) != placing.signature
    desk.change_run(two[0].id, fields={"flask": "76x100"})
    assert desk.days.signature(desk.days.read({})) != placing.signature


def test_hours_are_told_on_the_clock_of_the_studio(tmp_path, desk, two):
    (desk.folder / "studio.toml").write_text('time_zone = "Asia/Tokyo"\n', encoding="utf-8")
    placing = place(desk, apart())
    assert desk.days.taking(placing)[0].pour_at.strftime("%d %H:%M") == "27 18:30"


def test_a_run_that_shares_a_firing_is_not_taken_and_says_with_whom(desk, two):
    first, other = desk.days.taking(place(desk, together()))
    assert first.why_not.startswith("It shares firing 1 with run 2")
    assert other.why_not.startswith("It shares firing 1 with run 1,")
    assert first.pour_at == datetime(2026, 11, 27, 9, 30, tzinfo=UTC), "of its first flask"
    assert desk.days.take(desk.days.latest) == {}


def test_flasks_of_one_run_in_one_firing_are_taken_and_in_two_are_not(desk, two):
    data = together()
    data["loads"][0]["runs"] = [1, 3]
    data["loads"].append({**data["loads"][0], "number": 2, "runs": [2]})
    placing = place(desk, data)
    assert placing.entries == {1: 1, 3: 1, 2: 2}
    assert [one.why_not for one in desk.days.taking(placing)] == ["", ""]
    data["loads"][1]["runs"] = [2, 3]
    data["loads"][0]["runs"] = [1]
    assert "Its flasks stand in 2 firings here" in desk.days.taking(place(desk, data))[0].why_not


def test_a_run_that_was_changed_or_laid_away_since_is_not_taken(desk, two):
    placing = place(desk, apart())
    desk.change_run(two[0].id, fields={"weight": "19"})
    desk.remove_run(two[1].id)
    assert [one.why_not for one in desk.days.taking(placing)] == [
        "Its form was changed since. Work the days out again.",
        "It was laid away since.",
    ]


def test_a_run_in_hand_that_has_the_kiln_stops_a_firing_into_it(desk, two):
    third = desk.new_run(fields={"weight": "9"})
    fired(desk, third, on_h=-1, begun=True)
    placing = place(desk, apart())
    assert list(placing.runs) == [1, 2], "what has begun is not placed"
    stop, *rest = desk.days.clashes(placing)
    assert (stop["code"], stop["severity"], stop["where"]) == ("kiln-taken", "stop", "firing 1")
    assert "taken by run 3 from Thu 07:30 to Thu 23:30" in stop["says"]
    assert stop["do"].endswith("set “Nothing before” under Limits, and work the days out again.")
    assert rest == []


def test_a_run_that_is_placed_is_not_held_against_itself(desk, two):
    fired(desk, two[0], on_h=9)
    assert desk.days.clashes(place(desk, apart())) == []


def test_the_kiln_is_had_by_what_has_begun_until_it_is_cool(desk, two):
    assert desk.days.kiln_had_until() is None
    fired(desk, two[0], on_h=9)
    assert desk.days.kiln_had_until() is None, "it waits, and may be placed anew"
    fired(desk, two[0], on_h=-1, begun=True)
    run, free_at = desk.days.kiln_had_until()
    assert (run.id, free_at) == (two[0].id, NOW + timedelta(hours=20))
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "a"\n\n[[kilns]]\nname = "b"\n', encoding="utf-8")
    assert desk.days.kiln_had_until() is None, "the other is free"


def test_runs_that_are_over_are_not_in_hand(desk, two):
    fired(desk, two[0], on_h=-40, begun=True)
    assert [one.run.id for one in desk.days.in_hand()] == [two[1].id]


def test_where_nothing_fits_there_is_nothing_to_take(desk, two):
    desk.days.place(desk.days.read({}))
    desk.crew.do(nothing())
    assert desk.days.latest.nothing["what"] == "Nothing fits."


def test_of_several_runs_those_that_are_alone_in_a_firing_are_taken_and_the_others_stay(desk, two):
    third = desk.new_run(fields={"weight": "9", "flask": "64x64", "pour_day": "2026-11-30", "pour_hour": "12:00"})
    data = apart()
    data["runs"].append({**data["runs"][1], "number": 3})
    data["loads"][1]["runs"] = [2, 3]
    placing = place(desk, data)
    assert list(desk.days.take(placing)) == [two[0].id]
    forms = [desk.store.run(run.id).form for run in (*two, third)]
    assert [form["pour_hour"] for form in forms] == ["09:30", "", "12:00"]


def test_a_tree_that_is_not_drawn_is_placed_and_nothing_of_it_is_taken(desk, two):
    data = apart()
    data["runs"].append({**data["runs"][1], "number": 3, "pour_at": at(73)})
    data["loads"].append({**data["loads"][1], "number": 3, "runs": [3]})
    placing = place(desk, data, {"trees": "1", "t1.alloy": "sterling-925"})
    assert placing.runs == {1: 1, 2: 2, 3: 0}
    assert [one.run.number for one in desk.days.taking(placing)] == [1, 2]


def test_a_tree_takes_a_number_that_no_run_has_also_none_that_was_laid_away(desk, two):
    desk.remove_run(desk.new_run().id)
    typed = {"trees": "1.2", "t1.alloy": "sterling-925", "t2.alloy": "sterling-925"}
    assert [entry["number"] for entry in desk.days.read(typed).entries] == [1, 2, 4, 5]


def test_a_run_that_was_taken_is_placed_freely_the_next_time_until_somebody_types_another_hour(desk, two):
    desk.days.take(place(desk, apart()))
    assert [entry["when"]["pour_at"] for entry in desk.days.read({}).entries] == [None, None]
    desk.change_run(two[0].id, fields={"pour_hour": "11:00"})
    first, other = (entry["when"]["pour_at"] for entry in desk.days.read({}).entries)
    assert (first, other) == (datetime(2026, 11, 27, 11, 0, tzinfo=UTC), None)
