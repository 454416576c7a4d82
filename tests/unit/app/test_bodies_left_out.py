"""Bodies that the user does not want cast: every work of the desk leaves them out, and runs say what was changed since."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app.desk import Desk
from pourwell.app.desk_drafts_work import fit_pattern, mend_pattern
from pourwell.app.desk_runs import READ, sizes_of
from pourwell.app.desk_words import GivenPattern, for_desk
from pourwell.app.desk_work import asked_of_run, check_pattern
from pourwell.app.print_view import print_pattern
from pourwell.app.shop import open_shop
from pourwell.app.sprue_places import off_mm, places
from pourwell.errors import BadRequestError
from pourwell.geometry.shapes import plain_band
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.files.pattern_files import cube, joined
from tests.unit.geometry.printed_samples import stl_file

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
USUAL = {"alloy": "sterling-925", "material": "resin"}
STONE_MM3 = 8.0


def silent(_):
    """Tell nobody."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("studio")


@pytest.fixture(scope="module")
def band(folder):
    """A band with a stone of 2 mm beside it, in one body without a name, as many programs write it."""
    return folder / "set.stl", plain_band(bore_mm=17.2, width_mm=4.0, thickness_mm=1.8)


@pytest.fixture(scope="module")
def given(band):
    path, mesh = band
    stl_file(path, joined(mesh, cube(2, (0, 0, 20))))
    return GivenPattern(path=path, file="set.stl", name="Set", units="mm", leave_out=("piece (2)",))


def test_it_is_not_measured_and_that_is_said(folder, given, band):
    data = check_pattern(folder, given, USUAL, tell=silent)["data"]
    assert [(one["name"], one["kept"]) for one in data["piece"]["bodies"]] == [("piece (1)", True), ("piece (2)", False)]
    assert data["piece"]["volume_mm3"] == pytest.approx(band[1].volume_mm3, rel=1e-6)
    told = next(one for one in data["findings"] if one["code"] == "bodies-left-out")
    assert told["says"] == '"piece (2)" (8.0 mm³) is not cast: you left it out.'
    assert told["do"] == (
        "The file still holds what is left out: take it out of the file before that is printed. "
        "If one of them is metal, tick it under Bodies."
    )
    assert "pattern-apart" not in {one["code"] for one in data["findings"]}


def test_with_it_the_check_says_how_to_leave_it_out(folder, given):
    whole = GivenPattern(path=given.path, file="set.stl", name="Set", units="mm")
    data = check_pattern(folder, whole, USUAL, tell=silent)["data"]
    apart = next(one for one in data["findings"] if one["code"] == "pattern-apart")
    assert apart["do"].endswith("or untick under Bodies those that are not cast.")


def test_it_is_not_printed(folder, given, band):
    wanted = {**USUAL, "layer_mm": 0.05, "direction": "0,1,0"}
    data = print_pattern(folder, given, wanted, tell=silent)["data"]
    assert [one["code"] for one in data["findings"] if one["severity"] == "warn"] == ["print-left-out"], "the file holds it still"
    assert 1000 * data["resin"]["piece_ml"] == pytest.approx(band[1].volume_mm3, rel=1e-6)


def test_it_is_not_in_a_file_made_to_a_size_or_mended(folder, given, band):
    fitted = fit_pattern(folder, given, {**USUAL, "size": "ISO 56", "offset": False}, tell=silent)
    assert fitted["data"]["heads"][1]["triangle_count"] == len(band[1].faces)
    mended = mend_pattern(folder, given, tell=silent)["data"]
    assert ["left out", "", "not cast: piece (2)"] in [list(row) for row in mended["rows"]]
    assert mended["heads"][0]["triangle_count"] == len(band[1].faces)


def test_no_sprue_stands_on_it(folder, given):
    on_the_stone = (1.0, 1.0, 22.0)
    assert off_mm(given, on_the_stone, tell=silent) > 5
    assert all(one["at_mm"][2] < 15 for one in places(folder, given, USUAL | {"at_mm": None}, tell=silent)["choices"])


def test_a_run_asks_for_it_to_be_left_out_and_for_the_size_that_is_wanted(folder, given):
    form = {"alloy": "sterling-925", "pattern": "resin", "freeze": "none"}
    sized = replace(given, count=3, size="ISO 56")
    asked = asked_of_run(form, [sized], paths=[given.path], shop=open_shop(folder), number=4)
    assert [(one.count, one.size, one.leave_out) for one in asked.pieces] == [(3, "ISO 56", ("piece (2)",))]


# ---- the desk


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "desk", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


def checked(*kept):
    """The answer of a check: which of its bodies are cast."""
    bodies = [{"name": f"piece ({k})", "kept": one, "volume_mm3": 8.0} for k, one in enumerate(kept, start=1)]
    return {"data": {"piece": {"bodies": bodies, "units": "mm"}, "findings": []}, "files": {}}


def test_leaving_a_body_out_is_kept_has_it_checked_anew_and_marks_runs_that_were_planned_with_it_at_once(desk, given):
    pattern = desk.take_in(given.path, "set.stl")
    desk.crew.do(checked(True, True))
    run = desk.new_run(pieces=[(pattern.id, 2)])
    planned = {"data": {"plans": [{"pieces": [{"id": "A", "units": "mm"}], "timeline": [], "findings": []}]}, "files": {}}
    desk.plan(run, {})
    desk.crew.do(planned)
    result = desk.store.latest(run_id=run.id)
    assert desk.changed(run, result) == ()
    job = desk.leave_out(pattern.id, ["piece (2)"])
    assert job.given[1].leave_out == ("piece (2)",)
    assert (desk.changed(run, result), desk.read_otherwise(run, result)) == ((READ,), {pattern.id}), "before its check is done"
    assert desk.pieces_given(run)[0].leave_out == ("piece (2)",)
    desk.plan(run, {})
    desk.crew.jobs[-1].then(planned)
    assert desk.changed(run, desk.store.latest(run_id=run.id)) == (), "worked out anew, whatever became of the check"
    desk.crew.do(checked(True, False))
    assert desk.store.latest(pattern_id=pattern.id).asked["leave_out"] == ["piece (2)"]
    desk.leave_out(pattern.id, [])
    assert desk.changed(run, result) == ()


def test_a_desk_that_ended_before_a_check_was_done_does_it_when_it_begins_again(desk, given, tmp_path):
    pattern = desk.take_in(given.path, "set.stl")
    desk.crew.do(checked(True, True))
    desk.leave_out(pattern.id, ["piece (2)"])
    desk.close()
    again = Desk(tmp_path / "desk", lambda: NOW, crew=FakeCrew())
    again.begin()
    assert [job.given[1].leave_out for job in again.crew.jobs] == [("piece (2)",)]
    again.crew.do(checked(True, False))
    again.close()
    third = Desk(tmp_path / "desk", lambda: NOW, crew=FakeCrew())
    third.begin()
    assert third.crew.jobs == []
    third.close()


def test_quick_ticks_are_judged_by_what_is_asked_and_each_stops_the_check_before(desk, given):
    pattern = desk.take_in(given.path, "set.stl")
    desk.crew.do(checked(True, True))
    desk.leave_out(pattern.id, ["piece (1)"])
    desk.crew.do(checked(False, True))
    first = desk.leave_out(pattern.id, [])
    second = desk.leave_out(pattern.id, ["piece (2)"])
    third = desk.leave_out(pattern.id, [])
    assert [job.wanted for job in (first, second, third)] == [False, False, True]


def test_a_check_that_is_under_way_is_stopped_by_another_choice(desk, given):
    pattern = desk.take_in(given.path, "set.stl")
    first = desk.crew.jobs[0]
    desk.leave_out(pattern.id, ["piece (2)"])
    assert not first.wanted
    assert desk.crew.jobs[-1].wanted


def test_the_last_body_is_not_left_out(desk, given):
    pattern = desk.take_in(given.path, "set.stl")
    desk.crew.do(checked(True, True))
    desk.leave_out(pattern.id, ["piece (1)"])
    desk.crew.do(checked(False, True))
    with pytest.raises(BadRequestError, match="Every body of the file would be left out"):
        desk.leave_out(pattern.id, ["piece (1)", "piece (2)"])
    assert desk.store.pattern(pattern.id).leave_out == ("piece (1)",)
    desk.leave_out(pattern.id, ["piece (2)"])
    assert desk.store.pattern(pattern.id).leave_out == ("piece (2)",), "the one that was left out before may come back"


def test_a_hollow_in_the_last_body_is_no_body_that_is_left(desk, given):
    """Its check would fail, and the figures of before would stand there for good."""
    pattern = desk.take_in(given.path, "set.stl")
    answer = checked(True, True, True)
    answer["data"]["piece"]["bodies"][1]["volume_mm3"] = -3.0
    desk.crew.do(answer)
    with pytest.raises(BadRequestError, match="Every body"):
        desk.leave_out(pattern.id, ["piece (1)", "piece (3)"])
    assert desk.store.pattern(pattern.id).leave_out == ()


def test_the_size_that_is_wanted_goes_along_to_the_pattern_that_is_taken_instead(desk, tmp_path):
    old, new = (desk.take_in(Path(stl_file(tmp_path / name, cube(side))), name) for name, side in (("a.stl", 4), ("b.stl", 5)))
    run = desk.new_run(pieces=[(old.id, 2)], fields={f"size_{old.id}": "US 8"})
    assert sizes_of(desk.take_instead(run.id, old.id, new.id)) == {new.id: "US 8"}
    desk.change_run(run.id, fields={f"size_{new.id}": "US 9"})
    assert sizes_of(desk.take_instead(run.id, new.id, old.id)) == {old.id: "US 8"}, "what was wanted of it before stays"


def test_what_a_command_line_says_of_bodies_is_said_here_in_words_of_the_page():
    assert for_desk("If one is not, name it under leave_out in a job file.") == (
        "If one is not, untick it under Bodies, on its own page."
    )
