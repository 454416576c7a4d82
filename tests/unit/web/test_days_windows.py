"""The page of the days ahead in several windows, and while another hand changes the files of the studio under it."""

import pytest

from tests.unit.app.days_samples import answer, apart, together
from tests.unit.web.days_built import built, worked_out


@pytest.fixture
def desk(still_desk):
    return still_desk


def test_a_file_of_the_studio_that_is_being_written_is_told_and_the_page_goes_on(desk, two):
    page = built(desk)
    (desk.folder / "studio.toml").write_text("altitude = 3\n", encoding="utf-8")
    desk.turn += 1
    page.go_round()
    assert "altitude" in page.text
    (desk.folder / "studio.toml").write_text('name = "Quillmere"\n', encoding="utf-8")
    desk.turn += 1
    page.go_round()
    assert "One button says when to be where" in page.text


def test_what_another_window_has_worked_out_is_shown(desk, two):
    mine = built(desk)
    worked_out(desk, answer(apart()))
    mine.go_round()
    assert "Firing 1, kiln" in mine.text


def sheet_of(page):
    return next(a.props["href"] for a in page.all("a") if a.text == "Open the sheet")


def test_each_of_two_windows_shows_what_was_asked_as_its_own_form_says(desk, two, address):
    mine = worked_out(desk, answer(apart()))
    other = worked_out(desk, answer(together()), bag="1")
    mine.go_round()
    assert ("Firing 2, kiln" in mine.text, "Firing 2, kiln" in other.text) == (True, False)
    assert sheet_of(mine) != sheet_of(other)
    assert "otherwise" not in mine.text + other.text
    mine.press("Take these hours into the runs")
    assert [desk.store.run(run.id).form["pour_hour"] for run in two] == ["09:30", "09:30"], "of what this window shows"
    again = built(desk)
    assert sheet_of(again) == sheet_of(mine), "a page that is loaded anew has its own answer"


def test_a_window_that_asked_for_nothing_yet_shows_the_newest_and_says_that_it_was_asked_otherwise(desk, two):
    asked = worked_out(desk, answer(together()), bag="1")
    page = built(desk)
    assert "It was asked otherwise than the form says here." in page.text
    assert "Firing 1, kiln" in page.text
    assert sheet_of(page) == sheet_of(asked)
    assert page.button("Work them out again")


def test_a_window_whose_form_is_changed_keeps_its_own_answer(desk, two, address):
    mine = worked_out(desk, answer(apart()))
    worked_out(desk, answer(together()), bag="1")
    mine.type("At work from", "9")
    assert "Since then what is asked, or a file of the studio, was changed." in mine.text
    assert "Firing 2, kiln" in mine.text
    mine.press("Work them out again")
    mine.type("At work from", "10")
    desk.crew.do(answer(together()))
    mine.go_round()
    assert "Firing 2, kiln" not in mine.text, "the newest that it asked for, though the form says something else by now"


def test_a_file_that_becomes_unreadable_meanwhile_is_told_and_what_was_worked_out_is_not_called_good(desk, two):
    page = worked_out(desk, answer(apart()))
    links = {a.text for a in page.all("a")}
    assert links >= {"Open the sheet", "Load the calendar"}
    (desk.folder / "studio.toml").write_text("altitude = 3\n", encoding="utf-8")
    page.go_round()
    assert "altitude" in page.words(page.all("div", "head")[0])
    assert "altitude" in page.state
    assert not {a.text for a in page.all("a")} & {"Open the sheet", "Load the calendar"}
    assert "What was worked out is not shown now" in page.text
    assert not [b for b in page.all("button") if page.words(b).startswith("Take these hours")]
    (desk.folder / "studio.toml").write_text('name = "Quillmere"\n', encoding="utf-8")
    page.go_round()
    assert page.state == ""
    assert "Firing 2, kiln" in page.text
    assert "Since then what is asked, or a file of the studio, was changed." in page.text


def test_settings_that_were_changed_meanwhile_make_what_was_worked_out_old(desk, two):
    page = worked_out(desk, answer(apart()))
    assert page.button("Take these hours into the runs")
    (desk.folder / "studio.toml").write_text("overnight_firing = false\n", encoding="utf-8")
    page.go_round()
    assert "Work the days out again first." in page.text
    assert not [b for b in page.all("button") if page.words(b).startswith("Take these hours")]


def test_with_an_unreadable_file_no_tree_is_added_and_nothing_is_worked_out(desk, two, address):
    page = built(desk)
    (desk.folder / "studio.toml").write_text("altitude = 3\n", encoding="utf-8")
    page.press("Add a tree that is not drawn yet")
    page.press("Work the days out")
    assert "altitude" in page.text
    assert (desk.crew.jobs, "said" in address) == ([], False)
