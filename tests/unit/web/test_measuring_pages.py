"""A log read and a flask weighed on the pages: what is asked, what is told in place, what is kept and taken back."""

import asyncio
import json

import pytest

from pourwell.app.crew import Job
from pourwell.errors import BadFileError, BadRequestError
from pourwell.materials.calibration import load_calibrations
from pourwell.web.desk.calibrations import calibrations
from pourwell.web.desk.frame import frame
from pourwell.web.desk.log_chart import called
from pourwell.web.desk.log_page import LogPage, log_page
from pourwell.web.desk.measured import said
from pourwell.web.desk.scale_page import ScalePage, scale_page
from pourwell.web.desk.tag import Drop
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.app.test_measuring import FLASK, KILN
from tests.unit.web.built import Built, note_addresses

EVIL = "<script>window.stolen = 1</script>"
CURVES = [
    {"name": "Kiln", "place": "kiln", "read": [[0, 20], [4, 700], [9, 500]]},
    {"name": "Core", "place": "core", "read": [[0, 20], [5, 690], [9, 500]]},
]


def read(**more):
    data = {"rows_count": 271, "time": {"name": "Time", "first": ["19:00"]}, "hours": 9.0, "refused": None, "curves": CURVES}
    columns = [{"number": 2, "name": EVIL, "first": ["19.7"]}, {"number": 3, "name": "Core", "first": ["20.0"]}]
    remarks = [{"line": 152, "says": "The clock passes midnight; the log goes on the next day."}]
    return data | {"columns": columns, "places": {"2": "kiln", "3": "core"}, "remarks": remarks} | more


def told(*calibrations, doubtful="", **more):
    values = [
        {"what": "falls at 500 °C, door shut", "figure": "107 ± 1.5", "unit": "K/h", "says": "read about 532 °C; default 120 K/h"}
    ]
    data = {"values": values, "becomes": "the kiln's fall (kiln).", "notes": ["Counted in: it."], "about": "core within 1.2 K"}
    data |= {"calibrations": list(calibrations), "files": ["kiln-2026-11-26.toml"], "remarks": [], "doubtful": doubtful}
    model = [curve | {"model": curve["read"]} for curve in CURVES]
    return data | {"curves": model, "of_kiln": ""} | more


class Answers(FakeCrew):
    """A quick lane that reads every log alike, or says what it is given to say."""

    outcome = None

    def answer(self, call, *given):
        job = super().answer(call, *given)
        if isinstance(self.outcome, Exception):
            job.end("failed", fault=self.outcome)
        else:
            job.end("done", outcome=self.outcome or (read() if call.endswith("read_log") else told(FLASK)))
        return job


@pytest.fixture
def desk(still_desk, monkeypatch):
    still_desk.crew = Answers()
    addresses = []
    note_addresses(monkeypatch, addresses.append)
    still_desk.addresses = addresses
    return still_desk


@pytest.fixture
def opened(desk, monkeypatch):
    """The page of a log with its state at hand; its timers do not run here."""
    states = []
    original = LogPage.build
    monkeypatch.setattr(LogPage, "build", lambda self: (states.append(self), original(self))[1])

    def go(given=None):
        page = Built(lambda: log_page(desk, given or {}))
        with page.client:
            asyncio.run(states[-1].begin())
        page.state_of = states[-1]
        return page

    return go


def dropped(desk, page, file="firing.csv"):
    """A log that came, as its strip tells it."""
    log = desk.measuring.take_in(b"Time,Kiln,Core", file)
    page.happen(next(e for e in page.elements if isinstance(e, Drop)), "took", json.dumps({"log": log.key, "name": file}))
    return log


def look(page):
    with page.client:
        page.state_of.look()


def done(desk, page, answer):
    desk.crew.do({"data": answer, "files": {"log-against-model.png": b"PNG", "log-against-model.svg": b"<svg/>"}})
    look(page)


def reads(desk):
    return [given[1] for call, given in desk.crew.asked if call.endswith("read_log")]


def test_the_cautions_stand_at_the_head_before_anything_is_dropped(desk, opened):
    page = opened()
    assert "Mains off and the plug out before anything goes through a kiln's wall or door" in page.text
    assert "at 300 °C it looks like a cold one" in Built(lambda: scale_page(desk, {})).text
    assert [e.text for e in page.all("h2")] == ["With a probe in kiln and flask"]
    assert "Work it out" not in page.text


def test_what_was_read_is_shown_with_its_lines_and_a_strangers_heading_is_text(desk, opened):
    page = opened()
    log = dropped(desk, page)
    assert [e.text for e in page.all("h3") if EVIL in e.text] == [f"2: {EVIL}"]
    assert "Line 152: The clock passes midnight" in page.text
    assert page.field("Column 3 sat").value == "core"
    assert desk.addresses[-1] == f"/materials/calibrations/log?log={log.key}"
    chart = next(e for e in page.all("svg") if "The log over" in str(e.props.get("aria-label")))
    assert chart.props["aria-label"] == "The log over 9.0 h: kiln up to 700 °C; core up to 690 °C."


def test_a_probe_wants_its_flask_and_then_it_is_worked_out_as_on_the_command_line(desk, opened):
    page = opened()
    dropped(desk, page)
    page.press("Work it out")
    assert desk.crew.jobs == []
    assert page.help_of("Flask") == "Which flask was it? Its size decides what its core reads."
    assert "Flask: Which flask was it?" in page.text
    page.type("Flask", "other")
    page.type("Inside, diameter x height", "50x60")
    assert (page.by("A probe may sit off by"), page.field("A probe may sit off by").props["placeholder"]) == ("default", "2")
    page.type("Read only so far", "8,5")
    page.type("A probe may sit off by", "1")
    assert page.by("A probe may sit off by") == ""
    page.press("Work it out")
    wish = desk.crew.jobs[0].given[2]["wish"]
    assert wish == {
        "columns": ("kiln=2", "core=3"), "unit": None, "time_unit": None, "until_h": 8.5, "flask_c": 500.0,
        "flask": "50x60", "investment": "gypsum-resin", "placing_mm": 1.0,
    }  # fmt: skip
    look(page)
    assert "Stop" in page.text


def test_the_cut_stands_on_the_curve_and_what_cannot_be_is_refused_in_its_place(desk, opened):
    page = opened()
    dropped(desk, page)
    page.type("Read only so far", "6")
    assert page.all("rect", "c-cut")[0].props["x"] == "666.7"
    assert "read up to 6 h" in page.text
    page.type("Read only so far", "long")
    assert page.help_of("Read only so far") == '"long" is no number. Enter 0 to 2,000 h.'
    assert page.all("rect", "c-cut") == []
    page.type("Read only so far", "")
    assert "from the first reading" in page.help_of("Read only so far")


def test_a_depth_is_asked_for_and_read_with_its_unit(desk, opened):
    page = opened()
    dropped(desk, page)
    page.type("Column 3 sat", "depth")
    assert page.help_of("Column 3: from the wall") == "How deep does its tip sit, from the wall?"
    page.type("Column 3: from the wall", "12")
    page.type("Column 3: over the shelf", "1.5 in")
    assert reads(desk)[-1]["columns"] == ("kiln=2", "12mm@38.1mm=3")
    page.type("Column 2 sat", "")
    page.type("Column 3 sat", "")
    assert "No column is used: choose which one sat in the kiln." in page.text


def test_what_the_reader_refuses_stands_at_its_field_in_words_of_a_page(desk, opened):
    desk.crew.outcome = read(refused="firing.csv: from 68 up to 700 may be °C or °F. Say --unit C or --unit F.", curves=[])
    page = opened()
    dropped(desk, page)
    assert page.help_of("Readings in") == "firing.csv: from 68 up to 700 may be °C or °F. Choose the unit of the readings."
    desk.crew.outcome = None
    page.type("Readings in", "F")
    assert reads(desk)[-1]["unit"] == "F"
    assert page.help_of("Readings in") == ""
    assert "Not yet" not in page.text


def test_what_is_no_log_at_all_is_told_and_leaves_nothing_to_press(desk, opened):
    desk.crew.outcome = BadFileError("firing.csv is no text.", try_this="Export the log as CSV or text.")
    page = opened()
    dropped(desk, page)
    assert "It cannot be read\nfiring.csv is no text. Export the log as CSV or text." in page.text
    assert "Work it out" not in page.text


def test_a_log_that_takes_too_long_is_given_up(desk, opened, monkeypatch):
    jobs = []
    monkeypatch.setattr("pourwell.web.desk.log_page.READ_S", 0.0)
    monkeypatch.setattr(desk.crew, "answer", lambda *a: jobs.append(Job("", "", (), then=print)) or jobs[-1])
    page = opened()
    dropped(desk, page)
    assert "Reading it takes longer than" in page.text
    assert not jobs[0].wanted


def test_what_it_tells_is_kept_only_when_asked_and_taken_back(desk, opened):
    page = opened()
    log = dropped(desk, page)
    page.type("Flask", "76x100")
    page.press("Work it out")
    done(desk, page, told(KILN))
    assert "107 ± 1.5 °C/h" in page.words(page.all("table", "told")[0])
    assert "It is written into the folder calibrations of the studio: kiln-2026-11-26.toml." in page.text
    assert [e.props["href"] for e in page.all("a") if e.props.get("download")] == [
        f"/log/{log.key}/{log.told.number}/log-against-model.{end}" for end in ("png", "svg")
    ]
    assert "Dots are read, lines computed." in str([e.props.get("aria-label") for e in page.all("svg")])
    assert load_calibrations(desk.folder) == ()
    assert "Saved" not in page.state
    page.press("Keep it")
    assert [one.kind for one in load_calibrations(desk.folder)] == ["kiln"]
    assert "Kept as kiln-2026-11-26.toml." in page.text
    assert page.state.startswith("Saved")
    page.press("Undo")
    assert load_calibrations(desk.folder) == ()
    assert page.button("Keep it")


def test_fields_that_changed_since_are_said_and_nothing_of_before_is_kept(desk, opened):
    page = opened()
    dropped(desk, page)
    page.type("Flask", "76x100")
    page.press("Work it out")
    done(desk, page, told(KILN))
    page.type("The fall is wanted about", "450")
    assert "Changed since it was worked out" in page.text
    page.press("Keep it")
    assert load_calibrations(desk.folder) == ()
    page.type("The fall is wanted about", "500")
    assert "Changed since" not in page.text


def test_what_is_doubtful_stands_in_a_red_band_and_has_no_button(desk, opened):
    page = opened()
    dropped(desk, page)
    page.type("Flask", "76x100")
    page.press("Work it out")
    done(desk, page, told(KILN, doubtful="The model misses core by 34 K: look whether the probe sat where you say."))
    (band,) = page.all("p", "do-not-pour")
    assert band.text.startswith("Not to be kept: the model misses core by 34 K")
    assert "Keep it" not in page.text


def test_a_fit_that_fails_says_why_in_place_and_the_job_is_shown_no_more(desk, opened):
    page = opened()
    dropped(desk, page)
    page.type("Flask", "76x100")
    page.press("Work it out")
    desk.crew.jobs[0].end("failed", fault=BadRequestError("Within 0 h there is no log.", try_this="Give --until-h in hours."))
    look(page)
    assert page.help_of("Read only so far") == "Within 0 h there is no log. Enter hours."
    assert desk.crew.jobs == []
    page.type("Read only so far", "7")
    assert "from the first reading" in page.help_of("Read only so far")


def test_a_page_that_is_loaded_anew_has_fields_log_and_what_it_told(desk, opened):
    first = opened()
    log = dropped(desk, first)
    first.type("Flask", "76x100")
    first.type("Column 3 sat", "half")
    first.press("Work it out")
    done(desk, first, told(KILN))
    page = opened({"log": log.key, "flask": "76x100", "p3": "half"})
    assert page.field("Flask").value == "76x100"
    assert page.field("Column 3 sat").value == "half"
    assert "Would become measured" in page.text
    assert "Changed since" not in page.text
    gone = opened({"log": "0" * 16, "flask": "76x100"})
    assert "This log is not held any more" in gone.text


def test_headings_that_say_nothing_are_told_and_a_log_without_a_kiln_is_refused_in_place(desk, opened):
    desk.crew.outcome = read(places={}, curves=[CURVES[0] | {"place": "", "name": "T1"}])
    page = opened()
    dropped(desk, page)
    assert "The headings do not say it. Choose at least the column of the kiln." in page.text
    assert "T1" in [e.text for e in page.all("span", "c-word")]
    page.press("Work it out")
    desk.crew.jobs[0].end("failed", fault=BadRequestError("It has no column of the kiln.", try_this="Name it, as --column kiln=2."))
    look(page)
    assert "It has no column of the kiln. Choose which column is the kiln's." in page.text


def test_another_log_has_its_columns_told_anew(desk, opened):
    page = opened()
    dropped(desk, page)
    page.type("Flask", "76x100")
    page.type("Column 3 sat", "half")
    dropped(desk, page, "second.csv")
    assert page.field("Column 3 sat").value == "core"
    assert page.field("Flask").value == "76x100"


# ---- the scale


@pytest.fixture
def scale(desk, monkeypatch):
    states = []
    original = ScalePage.build
    monkeypatch.setattr(ScalePage, "build", lambda self: (states.append(self), original(self))[1])

    def go(given=None):
        page = Built(lambda: scale_page(desk, given or {}))
        with page.client:
            asyncio.run(states[-1].ask())
        return page

    return go


WEIGHED = {"flask": "76x100", "before": "1364.3", "after": "1155", "pattern": "10"}


def test_a_weighing_is_answered_as_one_types_in_the_words_of_the_command_line(desk, scale):
    page = scale()
    page.type("Flask", "76x100")
    page.type("Before, as it goes into the kiln", "1364,3")
    page.type("After, burnt out and cold", "1155")
    assert desk.crew.asked == [], "what burns out is not known yet"
    page.type("What burns out", "0")
    page.type("The steel alone", "21.16 oz")
    page.type("It stood before the kiln", "3")
    assert desk.crew.asked[-1][1][1] == {
        "weighed": "before=1364.3,after=1155,empty=599.876,pattern=0", "flask": "76x100", "investment": "gypsum-resin",
        "resolution_g": 1.0, "stood_h": 3.0,
    }  # fmt: skip
    assert desk.addresses[-1].startswith("/materials/calibrations/scale?flask=76x100&before=1364%2C3")


def test_a_weighing_is_kept_for_its_flask_and_taken_back_and_says_what_it_goes_before(desk, scale):
    page = scale(WEIGHED)
    page.press("Keep it")
    assert [one.of for one in load_calibrations(desk.folder)] == ["50x60"]
    page.press("Undo")
    assert load_calibrations(desk.folder) == ()
    page.press("Keep it")
    again = scale(WEIGHED)
    assert "Of each value the newest counts: these go before flask-50x60-2026-11-26.toml, which stay." in again.text


def test_weights_that_cannot_be_are_refused_in_place_and_nonsense_below(desk, scale):
    page = scale(WEIGHED)
    page.type("After, burnt out and cold", "heavy")
    assert page.help_of("After, burnt out and cold") == '"heavy" is no number. Enter 0 to 50,000 g.'
    assert "Keep it" not in page.text
    desk.crew.outcome = BadRequestError("A flask of 1 kg before and 2 kg after was not burnt out.")
    page.type("After, burnt out and cold", "2000")
    assert "A flask of 1 kg before and 2 kg after was not burnt out." in page.text
    desk.crew.outcome = BadRequestError('"5x" is no flask.')
    page.type("Flask", "other")
    page.type("Inside, diameter x height", "5x")
    assert page.help_of("Inside, diameter x height") == '"5x" is no flask.'


def test_what_a_weighing_tells_is_in_the_units_of_the_studio(desk, scale):
    (desk.folder / "studio.toml").write_text('[shown]\ntemperature = "F"\ndecimal = "comma"\n', encoding="utf-8")
    desk.crew.outcome = told(KILN)
    page = scale(WEIGHED)
    assert "193 ± 2,7 °F/h" in page.words(page.all("table", "told")[0])
    assert "read about 990 °F; default 216 °F/h" in page.text
    assert "at 572 °F it looks like a cold one" in page.text


def test_differences_are_told_in_the_unit_of_the_page_and_conductivities_stay():
    texts = []
    Built(lambda: texts.append(said("0.38 W/(m K) dry, within 1.6 K, 120 K/h")))
    assert texts == ["0.38 W/(m K) dry, within 1.6 K, 120 K/h"]


def test_places_are_called_as_people_do():
    names = []
    Built(lambda: names.extend([called("half"), called("12mm@40mm"), called("12mm"), called("", "T1")]))
    assert names == ["half radius", "12 mm deep, 40 mm up", "12 mm deep", "T1"]


def test_the_list_leads_to_both_also_before_anything_is_measured(desk):
    def build():
        with frame(desk, at="/materials", title="Calibrations") as page:
            calibrations(page)

    for _ in range(2):
        ways = [e.props["href"] for e in Built(build).all("a", "btn")]
        assert ways == ["/materials/calibrations/log", "/materials/calibrations/scale"]
        desk.measuring.keep(told(KILN))
