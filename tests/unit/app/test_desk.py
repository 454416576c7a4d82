"""The desk: what comes in is kept and checked, what is typed is kept, what is planned says from what."""

from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from pourwell.app.desk import ALLOY, NEW_RUN, Desk, desk_folder
from pourwell.app.desk_runs import OTHER_SURFACE, OTHER_UNIT, READ, asked_of, changed_since, fell_away, sprues_of
from pourwell.app.desk_words import WORK
from pourwell.app.desk_work import daily
from pourwell.errors import BadFileError, BadRequestError
from tests.unit.app.fake_crew import FakeCrew

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
CHECKED = {"data": {"piece": {}, "findings": []}, "files": {"picture.png": b"PNG"}}
PLANNED = {"data": {"plans": [{"timeline": [], "findings": []}]}, "files": {"run-sheet.pdf": b"%PDF"}}


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


def drop(desk, tmp_path, content=b"solid", file="heddle-band.stl"):
    path = tmp_path / "content"
    path.write_bytes(content)
    return desk.take_in(path, file)


def test_a_dropped_file_is_kept_first_and_then_checked(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    assert pattern.name == "Heddle band"
    job = desk.being_checked(pattern.id)
    assert job is not None
    assert (job.title, job.call) == ("heddle-band.stl", f"{WORK}:check_pattern")
    folder, given, wanted = job.given
    assert (folder, wanted) == (desk.folder, {"alloy": ALLOY, "material": "resin"})
    assert given.path.read_bytes() == b"solid"
    desk.crew.do(CHECKED)
    result = desk.store.latest(pattern_id=pattern.id)
    assert result.data == CHECKED["data"]
    assert desk.store.shelf.path(result.files["picture.png"]).read_bytes() == b"PNG"
    assert desk.being_checked(pattern.id) is None


def test_the_same_file_is_not_checked_twice(desk, tmp_path):
    drop(desk, tmp_path)
    drop(desk, tmp_path)
    assert len(desk.crew.jobs) == 1
    desk.crew.do(CHECKED)
    drop(desk, tmp_path)
    assert len(desk.crew.jobs) == 1


def test_an_empty_file_is_not_kept(desk, tmp_path):
    with pytest.raises(BadFileError, match="is empty"):
        drop(desk, tmp_path, content=b"")
    assert desk.store.patterns() == []


def test_what_was_left_unchecked_is_checked_when_the_desk_opens_again(desk, tmp_path):
    drop(desk, tmp_path)
    desk.close()
    again = Desk(desk.folder, lambda: NOW, crew=FakeCrew())
    again.begin()
    assert [call for call, _ in again.crew.asked] == [f"{WORK}:warm"]
    assert [job.title for job in again.crew.jobs] == ["heddle-band.stl"]
    again.close()


def test_another_unit_is_kept_and_checked_anew(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    desk.crew.do(CHECKED)
    desk.set_units(pattern.id, "inch")
    assert desk.store.pattern(pattern.id).units == "inch"
    job = desk.crew.do(CHECKED)
    assert job.given[1].units == "inch"
    assert desk.store.latest(pattern_id=pattern.id).asked["units"] == "inch"


def test_with_another_unit_places_of_sprues_fall_away_in_every_run_and_it_is_told(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    desk.crew.do(CHECKED)
    run, away, none = desk.new_run(pieces=[(pattern.id, 1)]), desk.new_run(pieces=[(pattern.id, 1)]), desk.new_run()
    for one in (run, away):
        desk.set_sprue(one.id, pattern.id, (1.0, 2.0, 3.0))
    desk.remove_run(away.id)
    desk.set_units(pattern.id, "inch")
    assert [sprues_of(desk.store.run(one.id)) for one in (run, away)] == [{}, {}]
    assert [fell_away(desk.store.run(one.id), pattern.id) for one in (run, away, none)] == [OTHER_UNIT, OTHER_UNIT, ""]
    desk.set_sprue(run.id, pattern.id, (4.0, 5.0, 6.0))
    desk.set_units(pattern.id, "inch")
    assert sprues_of(desk.store.run(run.id)) == {pattern.id: (4.0, 5.0, 6.0)}, "the same unit changes nothing"
    assert not fell_away(desk.store.run(run.id), pattern.id)


def plan_of_two(desk, first, second):
    """A run of two patterns, planned: both were read in millimetres, each in a flask of its own."""
    run = desk.new_run(pieces=[(first.id, 2), (second.id, 1)])
    plans = [{"pieces": [{"id": "A", "units": "mm"}]}, {"pieces": [{"id": "B", "units": "mm"}]}]
    data = {"plans": plans}
    return run, desk.store.add_result(run_id=run.id, asked=asked_of(run), data=data, files={}, now=NOW)


def test_a_pattern_that_is_read_in_another_unit_since_marks_every_run_that_takes_it(desk, tmp_path):
    first, second = drop(desk, tmp_path), drop(desk, tmp_path, content=b"solid other")
    run, result = plan_of_two(desk, first, second)
    assert desk.changed(run, result) == ()
    desk.set_units(second.id, "mm")
    assert desk.changed(run, result) == (), "now it is said, but it is the unit in which the plan took it"
    desk.set_units(second.id, "inch")
    assert (desk.changed(run, result), desk.read_otherwise(run, result)) == ((READ,), {second.id})
    alone = desk.change_run(run.id, pieces={second.id: 0})
    assert desk.changed(alone, result) == ("pieces",), "what the run does not take any more is not its business"
    desk.set_units(second.id, "mm")
    assert desk.changed(run, result) == ()
    assert desk.changed(run, None) == ()


def test_a_plan_that_does_not_say_in_which_unit_it_took_a_pattern_is_not_doubted(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    run = desk.new_run(pieces=[(pattern.id, 1)])
    data = {"plans": [{"pieces": [{"id": "A"}]}, {}]}
    result = desk.store.add_result(run_id=run.id, asked=asked_of(run), data=data, files={}, now=NOW)
    desk.set_units(pattern.id, "inch")
    assert desk.changed(run, result) == ()


def test_a_run_takes_another_pattern_in_the_place_of_one_and_back(desk, tmp_path):
    first, second = drop(desk, tmp_path), drop(desk, tmp_path, content=b"solid other")
    run = desk.new_run(pieces=[(first.id, 4)])
    assert desk.take_instead(run.id, first.id, second.id).pieces == ((second.id, 4),)
    assert desk.take_instead(run.id, second.id, first.id).pieces == ((first.id, 4),)


@pytest.mark.parametrize(("off_mm", "stays"), [(0.05, True), (0.051, False), (None, False)])
def test_a_sprue_stays_on_the_pattern_taken_instead_only_where_its_surface_passes(desk, tmp_path, off_mm, stays):
    first, second = drop(desk, tmp_path), drop(desk, tmp_path, content=b"solid other")
    run = desk.new_run(pieces=[(first.id, 4)])
    assert desk.sprue_off(run, first.id, second.id) is None, "nothing is asked where nothing was set"
    run = desk.set_sprue(run.id, first.id, (1.0, 2.0, 3.0))
    desk.sprue_off(run, first.id, second.id)
    assert desk.crew.asked[-1][1][1] == (1.0, 2.0, 3.0)
    now = desk.take_instead(run.id, first.id, second.id, off_mm=off_mm)
    assert sprues_of(now) == ({second.id: (1.0, 2.0, 3.0)} if stays else {})
    assert fell_away(now, second.id) == ("" if stays else OTHER_SURFACE)
    assert asked_of(now)["sprues"] == ({str(second.id): [1.0, 2.0, 3.0]} if stays else "")
    assert sprues_of(desk.take_instead(run.id, second.id, first.id)) == {first.id: (1.0, 2.0, 3.0)}, "and back"


def test_a_pattern_needs_a_name(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    assert desk.rename_pattern(pattern.id, "  <b>Larch</b> ").name == "<b>Larch</b>"
    with pytest.raises(BadRequestError, match="needs a name"):
        desk.rename_pattern(pattern.id, "  ")


def test_taking_out_can_be_undone(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    desk.remove_pattern(pattern.id)
    assert desk.store.patterns() == []
    desk.remove_pattern(pattern.id, back=True)
    assert len(desk.store.patterns()) == 1


def test_pieces_to_try_are_kept_and_checked(desk):
    desk.bring_examples()
    desk.crew.do([("a-band.stl", b"1"), ("a-stud.stl", b"2")])
    assert [p.name for p in desk.store.patterns()] == ["A band", "A stud"]
    assert [job.title for job in desk.crew.jobs[1:]] == ["a-stud.stl", "a-band.stl"]


def test_every_change_is_seen_by_pages(desk, tmp_path):
    turns = [desk.turn]
    pattern = drop(desk, tmp_path)
    turns.append(desk.turn)
    run = desk.new_run()
    turns.append(desk.turn)
    desk.change_run(run.id, fields={"flask": "76x100"})
    turns.append(desk.turn)
    desk.rename_pattern(pattern.id, "Other")
    turns.append(desk.turn)
    assert turns == sorted(set(turns))


def test_a_new_run_takes_the_alloy_of_the_last(desk):
    assert desk.new_run().form == NEW_RUN
    desk.change_run(1, fields={"alloy": "fine-silver-999"})
    assert desk.new_run().form["alloy"] == "fine-silver-999"
    assert desk.usual_alloy() == "fine-silver-999"


def test_a_plan_is_kept_with_what_it_was_made_from(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    desk.crew.do(CHECKED)
    run = desk.new_run(pieces=[(pattern.id, 3)])
    job = desk.plan(run, {"alloy": "sterling-925"})
    assert desk.being_planned(run.id) is job
    folder, wanted, given = job.given
    assert (folder, wanted) == (desk.folder, {"form": {"alloy": "sterling-925"}, "number": 1, "now": NOW})
    assert [(one.name, one.count) for one in given] == [("Heddle band", 3)]
    desk.crew.do(PLANNED)
    result = desk.store.latest(run_id=run.id)
    assert result.asked["pieces"] == [[pattern.id, 3]]
    assert changed_since(desk.store.run(run.id), result) == ()


def test_what_was_changed_since_is_named(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    desk.crew.do(CHECKED)
    run = desk.new_run(pieces=[(pattern.id, 3)])
    desk.plan(run, {})
    desk.change_run(run.id, fields={"flask": "76x100"})
    desk.crew.do(PLANNED)
    result = desk.store.latest(run_id=run.id)
    assert changed_since(desk.store.run(run.id), result) == ("flask",), "changed while it was being planned"
    desk.change_run(run.id, pieces={pattern.id: 4}, fields={"title": "no matter"})
    assert changed_since(desk.store.run(run.id), result) == ("flask", "pieces")
    desk.change_run(run.id, pieces={pattern.id: 3}, fields={"flask": ""})
    assert changed_since(desk.store.run(run.id), result) == ()
    assert changed_since(run, None) == ()


def test_a_new_plan_of_a_run_ends_the_one_that_is_being_made(desk):
    run = desk.new_run(fields={"weight": "20"})
    first = desk.plan(run, {"weight_g": 20.0})
    second = desk.plan(run, {"weight_g": 21.0})
    assert not first.wanted
    assert second.wanted


def test_the_daily_question_goes_to_the_quick_lane(desk):
    desk.ask({"weight_g": 20.0})
    assert desk.crew.asked == [(f"{WORK}:daily", (desk.folder, {"weight_g": 20.0}, NOW))]
    assert desk.store.runs() == [], "asking leaves nothing behind"


def test_the_daily_answer_carries_what_a_night_takes(tmp_path):
    """Wax for a Friday at ten is fired over the night."""
    asked = {"weight_g": 12.0, "alloy": "sterling-925", "flask": "64x64", "pattern": "wax-injection", "pour_at": "2027-03-05 10:00"}
    assert "carbon monoxide alarm that sleepers hear" in daily(tmp_path, asked, NOW, tell=lambda _: None)["overnight"]


def test_runs_stand_with_their_plans(desk):
    run = desk.new_run()
    assert [(s.run.id, s.doing) for s in desk.standings()] == [(run.id, "not worked out yet")]
    desk.remove_run(run.id)
    assert desk.standings() == []
    desk.remove_run(run.id, back=True)
    assert len(desk.standings()) == 1


def test_what_changes_a_plan_is_what_is_asked_of():
    run = SimpleNamespace(form={**NEW_RUN, "weight": "3", "title": "x"}, pieces=((1, 2),))
    asked = asked_of(run)
    assert "title" not in asked
    assert (asked["weight"], asked["pieces"]) == ("3", [[1, 2]])


def test_the_folder_is_made_where_there_is_none(monkeypatch, tmp_path):
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "mine" / "studio"))
    assert desk_folder() == tmp_path / "mine" / "studio"
    assert desk_folder().is_dir()
    monkeypatch.delenv("POURWELL_STUDIO")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert desk_folder().is_dir()
    assert tmp_path in desk_folder().parents


def test_a_place_for_a_sprue_is_kept_with_the_run_and_planned_with(desk, tmp_path):
    first, second = drop(desk, tmp_path), drop(desk, tmp_path, content=b"other", file="stud.stl")
    run = desk.new_run(pieces=[(first.id, 3), (second.id, 1)])
    desk.plan(run, {})
    desk.crew.do(CHECKED)
    desk.crew.do(CHECKED)
    desk.crew.do(PLANNED)
    result = desk.store.latest(run_id=run.id)
    assert changed_since(desk.store.run(run.id), result) == ()
    desk.set_sprue(run.id, first.id, (1.23456, -0.5, 10))
    kept = desk.store.run(run.id)
    assert sprues_of(kept) == {first.id: (1.235, -0.5, 10.0)}
    assert changed_since(kept, result) == ("sprues",)
    given = desk.plan(kept, {}).given[2]
    assert [one.sprue_at_mm for one in given] == [(1.235, -0.5, 10.0), None]
    back = desk.set_sprue(run.id, first.id, None)
    assert sprues_of(back) == {}
    assert changed_since(back, result) == ()


def test_a_place_of_a_piece_that_the_run_takes_no_more_changes_no_plan(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    run = desk.new_run(pieces=[(pattern.id, 1)])
    desk.set_sprue(run.id, pattern.id, (1, 2, 3))
    assert asked_of(desk.store.run(run.id))["sprues"] == {str(pattern.id): [1.0, 2.0, 3.0]}
    without = desk.change_run(run.id, pieces={pattern.id: 0})
    assert asked_of(without)["sprues"] == ""


def test_places_are_asked_for_in_the_alloy_of_the_run_with_the_one_that_is_set(desk, tmp_path):
    pattern = drop(desk, tmp_path)
    run = desk.new_run(pieces=[(pattern.id, 2)], fields={"alloy": "fine-silver-999"})
    desk.sprue_places(desk.set_sprue(run.id, pattern.id, (1, 2, 3)), pattern.id)
    call, (folder, given, wanted) = desk.crew.asked[-1]
    assert call == "pourwell.app.sprue_places:places"
    assert (folder, given.name) == (desk.folder, "Heddle band")
    assert wanted == {"alloy": "fine-silver-999", "material": "resin", "at_mm": (1.0, 2.0, 3.0)}


def test_the_run_to_try_has_its_pieces_and_is_worked_out_at_once(desk):
    run = desk.bring_demo()
    assert desk.store.run(run.id).pieces == ()
    desk.crew.do([("a-band.stl", b"1"), ("b-band.stl", b"2"), ("a-stud.stl", b"3")])
    names = {p.id: p.name for p in desk.store.patterns()}
    assert [(names[k], count) for k, count in desk.store.run(run.id).pieces] == [("A band", 2), ("B band", 2), ("A stud", 1)]
    job = desk.being_planned(run.id)
    assert job is not None
    assert job.given[1]["form"]["returns_fraction"] == 0.4
    assert job.given[1]["form"]["freeze"] == "none", "the first plan is to be there soon"
