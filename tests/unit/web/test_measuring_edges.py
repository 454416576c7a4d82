"""A log and a weighing at their edges: other units, what an address says, two windows, Undo after a change, what a stop leaves.

Answers of the quick lane are the real ones here, so that a page is held against what reading and weighing really say.
"""

import asyncio
import json
from math import pi

import pytest

from pourwell.app.crew import _found
from pourwell.errors import PourwellError
from pourwell.materials.calibration import load_calibrations
from pourwell.web.desk.log_page import LogPage, log_page
from pourwell.web.desk.scale_page import ScalePage, scale_page
from pourwell.web.desk.tag import Drop
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.app.firing_logs import kiln_log
from tests.unit.app.test_measuring import KILN
from tests.unit.web.built import Built
from tests.unit.web.test_measuring_pages import told

IMPERIAL = '[shown]\nlength = "inch"\ntemperature = "F"\ndecimal = "comma"\n'
BEFORE, AFTER = "Before, as it goes into the kiln", "After, burnt out and cold"
EMPTY, PATTERN = "The steel alone", "What burns out"
STEPS = "The scale shows steps of"
WEIGHED = {"flask": "76x100", "before": "1364.3", "after": "1155", "empty": "600", "pattern": "10"}


class Works(FakeCrew):
    """Its quick lane does what it is asked, at once and here."""

    def answer(self, call, *given):
        job = super().answer(call, *given)
        try:
            job.end("done", outcome=_found(call)(*given, tell=lambda text: None))
        except PourwellError as err:
            job.end("failed", fault=err)
        return job


@pytest.fixture
def desk(still_desk, monkeypatch):
    still_desk.crew, still_desk.addresses = Works(), []
    monkeypatch.setattr("pourwell.web.desk.log_page.ui.navigate.history.replace", still_desk.addresses.append)
    return still_desk


@pytest.fixture
def opened(desk, monkeypatch):
    """A page with its state at hand, what it does at first done; its timers do not run here."""
    states = []
    for kind in (LogPage, ScalePage):
        original = kind.build
        monkeypatch.setattr(kind, "build", lambda self, original=original: (states.append(self), original(self))[1])

    def go(build, given=None):
        page = Built(lambda: build(desk, given or {}))
        page.state_of = states[-1]
        with page.client:
            asyncio.run((page.state_of.begin if build is log_page else page.state_of.ask)())
        return page

    return go


def dropped(desk, page, content=None, file="firing.csv"):
    log = desk.measuring.take_in(content or kiln_log(), file)
    page.happen(next(e for e in page.elements if isinstance(e, Drop)), "took", json.dumps({"log": log.key, "name": file}))
    return log


def look(*pages):
    for page in pages:
        with page.client:
            page.state_of.look()


def done(desk, *pages, **more):
    desk.crew.do({"data": told(KILN, **more), "files": {"log-against-model.svg": b"<svg/>"}})
    look(*pages)


def kept(desk):
    return [one.kind for one in load_calibrations(desk.folder)]


# ---- units


def test_fields_of_a_log_are_typed_in_the_units_of_the_studio_and_asked_in_those_of_the_workshop(desk, opened):
    """932 °F are 500 °C; 0,05 in are 1.27 mm; 842 °F are 450 °C: by definition of both units."""
    (desk.folder / "studio.toml").write_text(IMPERIAL, encoding="utf-8")
    page = opened(log_page)
    dropped(desk, page)
    assert page.field("The fall is wanted about").props["placeholder"] == "932"
    assert page.field("A probe may sit off by").props["placeholder"] == "0,08", "2 mm are 0.0787 in"
    page.type("The fall is wanted about", "842")
    page.type("A probe may sit off by", "0,05")
    page.type("Read only so far", "7,5")
    page.press("Work it out")
    wish = desk.crew.jobs[0].given[2]["wish"]
    assert wish["flask_c"] == pytest.approx(450)
    assert wish["placing_mm"] == pytest.approx(1.27)
    assert wish["until_h"] == 7.5
    assert "fall wanted at 842 °F" in [e.text for e in page.all("span", "c-word")]
    assert "read up to 7,5 h" in page.text


@pytest.mark.parametrize(
    ("label", "text", "says"),
    [
        ("The fall is wanted about", "5000", "5000 is above what can be. Enter 20 to 1,100 °C."),
        ("The fall is wanted about", "cold", '"cold" is no number. Enter 20 to 1,100 °C.'),
        ("The fall is wanted about", "500 mm", '"500 mm" is no number. Enter 20 to 1,100 °C.'),
        ("A probe may sit off by", "-1", "-1 is below what can be. Enter 0 to 50 mm."),
        ("Read only so far", "nan", "nan is not what can be. Enter 0 to 2,000 h."),
        ("Read only so far", "1e999", '"1e999" is no number. Enter 0 to 2,000 h.'),
        ("Read only so far", "<b>9</b>", '"<b>9</b>" is no number. Enter 0 to 2,000 h.'),
    ],
)
def test_what_is_no_figure_is_told_at_its_field_and_nothing_is_begun(desk, opened, label, text, says):
    page = opened(log_page)
    dropped(desk, page)
    page.type(label, text)
    assert page.help_of(label) == says
    assert page.field(label).props["aria-invalid"] == "true"
    page.press("Work it out")
    assert desk.crew.jobs == []


# ---- what an address says


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"p2": "attic"}, "names no place"),
        ({"p2": "kiln", "unit": "K"}, ""),
        ({"p99": "core", "d99": "deep", "p\u00b2": "kiln"}, ""),
        ({"p2": "<img src=x onerror=alert(1)>"}, "names no place"),
        ({"until": "1e999", "fall": "-", "placing": "\u2026", "flask": "no", "investment": "mud"}, ""),
    ],
)
def test_an_address_that_says_nonsense_is_a_page_with_its_faults_told(desk, opened, given, says):
    log = desk.measuring.take_in(kiln_log(), "firing.csv")
    page = opened(log_page, given | {"log": log.key})
    assert says in page.text
    assert page.field("Column 2 sat")
    page.type("Column 2 sat", "kiln")
    assert "names no place" not in page.text


def test_a_log_that_is_dropped_anew_after_a_restart_finds_what_was_entered(desk, opened):
    log = desk.measuring.take_in(kiln_log(), "firing.csv")
    desk.measuring.held.let_go(log.key)
    page = opened(log_page, {"log": log.key, "p2": "wall", "flask": "76x100", "until": "8"})
    assert "This log is not held any more" in page.text
    assert "Work it out" not in page.text
    dropped(desk, page)
    assert "not held any more" not in page.text
    assert [page.field(label).value for label in ("Column 2 sat", "Flask")] == ["wall", "76x100"]
    assert page.field("Read only so far").props["value"] == "8"


def test_no_log_is_a_page_with_a_place_to_drop_one_and_nothing_to_press(desk, opened):
    page = opened(log_page, {"flask": "76x100"})
    drop = next(e for e in page.elements if isinstance(e, Drop))
    assert drop.props["single"] is True
    assert desk.crew.asked == []
    look(page)
    assert not [e for e in page.all("button") if page.words(e) in ("Work it out", "Keep it")]


def test_on_a_page_the_cautions_come_first_then_the_log_then_its_curves_then_its_fields(desk, opened):
    """The order of the elements is the order of a phone, and of keys."""
    page = opened(log_page)
    dropped(desk, page)
    heads = [e.text for e in page.all("h2")]
    wanted = ["With a probe in kiln and flask", "firing.csv", "What was read", "What it is of", "What sat where", "How it is read"]
    assert [one for one in heads if one in wanted] == wanted
    buttons = [e for e in page.all("button") if page.words(e) == "Work it out"]
    assert len(buttons) == 2, "at the head, and behind the fields of a phone"


# ---- two windows, Undo, a stop


def worked_out(desk, page):
    page.press("Work it out")
    done(desk, page)


def test_what_one_window_keeps_the_other_says_too_and_keeps_no_second_time(desk, opened):
    first = opened(log_page)
    log = dropped(desk, first)
    second = opened(log_page, {"log": log.key})
    worked_out(desk, first)
    look(second)
    first.press("Keep it")
    look(second)
    assert "Kept as kiln-2026-11-26.toml." in second.text
    assert "Keep it" not in second.text
    first.press("Undo")
    look(second)
    assert second.button("Keep it")
    assert kept(desk) == []


def test_whose_kiln_it_must_be_stands_beside_the_button_that_keeps_it(desk, opened):
    page, whose = opened(log_page), "Of the kiln “large”: do not keep a log of another one."
    dropped(desk, page)
    page.press("Work it out")
    done(desk, page, of_kiln=whose)
    assert page.button("Keep it")
    assert [page.words(one) for one in page.all("p", "caution")] == [whose]
    page.press("Keep it")
    assert whose not in page.text


def test_undo_after_another_log_was_dropped_leaves_neither_called_kept(desk, opened):
    page = opened(log_page)
    log = dropped(desk, page)
    worked_out(desk, page)
    page.press("Keep it")
    dropped(desk, page, file="second.csv")
    page.press("Undo")
    assert kept(desk) == []
    again = opened(log_page, {"log": log.key})
    assert "Kept as" not in again.text
    assert again.button("Keep it")


def test_a_measurement_that_was_taken_out_of_the_list_is_not_called_kept(desk, opened):
    page = opened(log_page)
    dropped(desk, page)
    worked_out(desk, page)
    page.press("Keep it")
    next((desk.folder / "calibrations").glob("*.toml")).unlink()
    look(page)
    assert "Kept as" not in page.text


def test_undo_after_a_field_was_changed_takes_the_measurement_back_and_keeps_the_field(desk, opened):
    page = opened(log_page)
    dropped(desk, page)
    worked_out(desk, page)
    page.press("Keep it")
    page.type("Read only so far", "8")
    page.press("Undo")
    assert kept(desk) == []
    assert page.field("Read only so far").props["value"] == "8" or "until=8" in desk.addresses[-1]
    assert "Changed since it was worked out" in page.text


def test_work_that_was_stopped_leaves_the_log_as_it_was_and_no_fault(desk, opened):
    page = opened(log_page)
    log = dropped(desk, page)
    page.press("Work it out")
    page.press("Stop firing.csv")
    assert not desk.crew.jobs[0].wanted
    desk.crew.jobs[0].end("stopped")
    look(page)
    assert log.told is None
    assert not page.all("div", "job")
    assert not page.all("div", "not-done")
    assert "What was read" in page.text
    page.press("Work it out")
    assert len(desk.crew.jobs) == 2


def test_a_job_that_breaks_says_so_in_both_windows_and_leaves_the_older_answer(desk, opened):
    page = opened(log_page)
    log = dropped(desk, page)
    worked_out(desk, page)
    page.type("Read only so far", "8")
    page.press("Work it out again")
    desk.crew.jobs[-1].end("failed", fault=PourwellError("The process ended."))
    look(page)
    assert "Not yet\nThe process ended." in page.text
    assert log.told.number
    assert "107 ± 1.5" in page.words(page.all("table", "told")[0])


def test_a_folder_that_cannot_be_written_is_told_and_nothing_is_called_kept(desk, opened):
    (desk.folder / "calibrations").write_text("a file where a folder should be", encoding="utf-8")
    page = opened(log_page)
    dropped(desk, page)
    worked_out(desk, page)
    assert "Would become measured" in page.text
    page.press("Keep it")
    assert page.state.startswith("Not saved: ")
    assert "Kept as" not in page.text


# ---- the scale


def water_share(before, after, empty, pattern):
    """By the stoichiometry that docs/physics.md states: burnt mould to water bound and free, of 100 g powder and 40 g water."""
    return (before - after - pattern) / (after - empty)


def test_a_weighing_is_told_from_the_address_in_the_very_figures_of_a_hand_computation(desk, opened):
    """555 g burnt held 196.5 g of free and 39.3 g of bound water as mixed; 199.3 g lost less 39.3 is 160 g: 0.81 of it."""
    assert water_share(1364.3, 1155, 600, 10) == pytest.approx(199.3 / 555)
    page = opened(scale_page, WEIGHED | {"step": "0.1", "stood": "3"})
    assert page.words(page.all("table", "told")[0]).startswith("Water that went into the kiln 160 g of 196 g as mixed")
    assert page.words(page.all("table", "told")[0]).endswith(" % 81 ± 5 %")
    assert "flask-76x100-2026-11-26.toml" in page.text


@pytest.mark.parametrize(
    ("given", "label", "says"),
    [
        ({"step": "90", "after": "800"}, STEPS, "No scale shows steps of 90 g here. Enter 1 g, or what yours shows."),
        ({"step": "0"}, STEPS, "0 is below what can be. Enter 0.001 to 100 g."),
        ({"step": "fine"}, STEPS, '"fine" is no number. Enter 0.001 to 100 g.'),
        ({"before": "-3"}, BEFORE, "-3 is below what can be. Enter 0 to 50,000 g."),
        ({"empty": "600 °C"}, EMPTY, '"600 °C" is no number. Enter 0 to 50,000 g.'),
        ({"pattern": "1,2,3"}, PATTERN, '"1,2,3" is no number. Enter 0 to 50,000 g.'),
        ({"stood": "2000"}, "It stood before the kiln", "2000 is above what can be. Enter 0 to 1,000 h."),
    ],
)
def test_a_weighing_that_cannot_be_is_told_at_its_field(desk, opened, given, label, says):
    page = opened(scale_page, WEIGHED | given)
    assert page.help_of(label) == says
    assert "That is no burnout" not in page.text
    assert not page.all("table", "told")


@pytest.mark.parametrize(
    ("size", "fine"), [("76x100", True), ("76,2 \u00d7 101,6", True), ("3x4in", True), ("5x", False), ("9000x9", False)]
)
def test_a_flask_in_no_list_is_read_as_people_write_it(desk, opened, size, fine):
    page = opened(scale_page, WEIGHED | {"flask": "other", "size": size})
    assert bool(page.all("table", "told")) is fine
    assert page.help_of("Inside, diameter x height").startswith("in mm" if fine else f"\u201c{size}\u201d is no flask".replace(
        "\u201c", '"').replace("\u201d", '"'))  # fmt: skip


@pytest.mark.parametrize(
    "given", [{}, {"flask": "other"}, {"flask": "76x100"}, WEIGHED | {"pattern": ""}, WEIGHED | {"flask": "other", "size": " "}]
)
def test_as_long_as_something_is_missing_nothing_is_asked_and_it_is_said_what(desk, opened, given):
    page = opened(scale_page, given)
    assert desk.crew.asked == []
    assert "Choose the flask and enter before, after and what burns out" in page.text
    assert "Keep it" not in page.text


def test_a_flask_that_lost_more_than_all_its_water_is_told_and_not_kept(desk, opened):
    page = opened(scale_page, WEIGHED | {"before": "1580"})
    (band,) = page.all("p", "do-not-pour")
    assert band.text.startswith("Not to be kept: the flask lost ")
    assert "Keep it" not in page.text


def test_weights_that_were_exchanged_are_told_as_no_burnout(desk, opened):
    page = opened(scale_page, WEIGHED | {"before": "1155", "after": "1364.3"})
    assert "That is no burnout" in page.text
    assert "Look whether the weights are exchanged" in page.text


def test_troy_ounces_and_pennyweights_are_weights_too(desk, opened):
    """A troy ounce is 31.1034768 g and a twentieth of it a pennyweight, by definition."""
    page = opened(scale_page, WEIGHED)
    page.type(PATTERN, "0.5 ozt")
    asked = [desk.crew.asked[-1][1][1]["weighed"]]
    page.type(PATTERN, "10 dwt")
    asked.append(desk.crew.asked[-1][1][1]["weighed"])
    assert asked == ["before=1364.3,after=1155,empty=600,pattern=15.552"] * 2


def test_without_the_empty_flask_the_mould_is_taken_by_its_size_and_it_is_asked_for(desk, opened):
    """A 76x100 flask holds π·3.8²·10 = 453.6 cm³."""
    assert pi * 3.8**2 * 10 == pytest.approx(453.6, abs=0.1)
    page = opened(scale_page, WEIGHED | {"empty": "", "before": "1164.3", "after": "955"})
    assert "Weigh the empty flask too" in page.text
    assert page.all("table", "told")


def test_after_something_else_was_weighed_undo_takes_back_the_former_alone(desk, opened):
    page = opened(scale_page, WEIGHED)
    page.press("Keep it")
    page.type(BEFORE, "1360")
    assert page.button("Keep it"), "this one is not kept"
    page.press("Undo")
    assert kept(desk) == []
    page.press("Keep it")
    assert kept(desk) == ["flask"]
