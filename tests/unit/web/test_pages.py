"""The pages, built without a browser: what they say in each state, and what pressing and typing does."""

from datetime import UTC, datetime, timedelta

import pytest

from pourwell.app.crew import Job
from pourwell.app.desk import Desk, asked_of
from pourwell.errors import BadFileError, BadRequestError
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.patterns import patterns_page
from pourwell.web.desk.run import run_page
from pourwell.web.desk.runs import runs_page
from pourwell.web.desk.studio import studio_page
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.web.built import Built

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


def at(hours):
    return (NOW + timedelta(hours=hours)).isoformat(timespec="minutes")


def finding(severity, says, **more):
    return {"code": "wall-thin", "severity": severity, "where": "piece A", "says": says, "do": "Widen it.", **more}


def step(key, begin, end, hands):
    return {"key": key, "says": f"{key.capitalize()} now", "starts_at": at(begin), "ends_at": at(end), "hands_on_min": hands}


def plan(*, findings=(), charge=75.1, stopped=False, weight=False):
    segment = {"number": 1, "ramp_c_per_h": -120.0, "target_c": 540.0, "hold_min": 65, "why": "the core follows"}
    out = {
        "run": {"stopped": stopped},
        "alloy": {"name": "sterling silver"},
        "findings": list(findings),
        "investment": {
            "name": "strong grade", "powder_g": 597.0, "water_g": 238.8, "water_low_c": 21.0, "water_high_c": 24.0,
            "ratio_g_per_100_g": 40.0,
        },
        "charge": {
            "total_g": charge, "low_g": charge - 1, "high_g": charge + 1, "fresh_g": charge - 30, "returns_g": 30.0,
            "returns_limit_fraction": 0.5, "fine_g": 0.0, "master_g": 0.0, "fine": "",
        },
        "flask": {"diameter_mm": 76.2, "height_mm": 101.6},
        "pour": {"metal_c": 970.0, "flask_c": 540.0, "at": at(24)},
        "quench": {"low_min": 8, "high_min": 15},
        "burnout": {
            "name": "resin in gypsum", "start_c": 20.0, "starts_at": at(8), "ends_at": at(24), "total_min": 960, "energy_kwh": 9.2,
            "by_hand": [], "segments": [segment | {"starts_at": at(8), "reached_at": at(12), "ends_at": at(24)}],
        },
        "timeline": [step("invest", 2, 3, 20), step("kiln", 8, 24, 0), step("pour", 24, 24.1, 5)],
    }  # fmt: skip
    if not weight:
        out |= {"pieces": [{"count": 3}], "tree": {"metal_g": 74.2, "yield_fraction": 0.41, "clearance_mm": 3.1}}
    return out


def checked(*, findings=(), doubtful="", bore=True):
    piece = {"metal_g": 4.42, "pattern_g": 0.47, "envelope_mm": [20.8, 4.0, 20.8], "wall": {"thinnest_mm": 1.8}, "units": "mm"}
    piece |= {"triangle_count": 5824}
    if bore:
        piece["bore"] = {"finished_mm": 17.08, "finished_sizes": {"iso": "53.7"}}
    rows = [["size", "20.8 x 4.0 x 20.8 mm", "5824 triangles"]]
    head = {"shown_count": 1, "triangle_count": 1, "parts": [], "fields": []}
    return {
        "piece": piece, "rows": rows, "doubtful": doubtful, "alloy": "sterling-925", "alloy_name": "sterling silver",
        "findings": list(findings), "mm_per_px": 0.05, "view": head,
    }  # fmt: skip


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


@pytest.fixture
def band(desk):
    pattern, _ = desk.store.add_pattern(b"solid", file="band.stl", name="<i>Heddle</i> band", now=NOW)
    desk.store.add_result(pattern_id=pattern.id, asked={}, data=checked(), files={"picture.png": b"PNG", "view.bin": b""}, now=NOW)
    return pattern


@pytest.fixture
def run(desk, band):
    return desk.new_run(pieces=[(band.id, 3)])


def planned(desk, run, **how):
    files = {"run-sheet.pdf": b"%PDF", "view.bin": b"", "view.json": b"{}"}
    if how.get("weight"):
        files = {"run-sheet.pdf": b"%PDF"}
    return desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [plan(**how)]}, files=files, now=NOW)


# ---- studio


def test_the_first_day_offers_a_short_way_and_something_to_play_with(desk):
    page = Built(lambda: studio_page(desk))
    assert "Nothing is in hand yet." in page.text
    assert "Your first run" in page.text
    page.press("Try it with four invented pieces")
    assert [job.title for job in desk.crew.jobs] == ["Pieces to try"]


def test_the_daily_question_stands_first_on_every_day(desk, run):
    for _ in range(2):
        page = Built(lambda: studio_page(desk))
        sections = [e.text for e in page.all("h2")]
        assert sections[0] == "What to weigh, and when the kiln goes on"
        planned(desk, run)


def test_what_comes_next_is_the_one_filled_block(desk, run):
    planned(desk, run)
    page = Built(lambda: studio_page(desk))
    block = page.all("section", "ahead")
    assert len(block) == 1
    said = page.words(block[0])
    assert "10:30" in said
    assert "in 2 h" in said
    assert "Run 1: invest now" in said
    assert "About 20 min of your time. Then: pour now." in said
    assert "1 run in hand. Next hands-on step in 2 h." in page.text


def test_stops_want_attention_before_warns_and_notes_do_not(desk, run):
    found = [finding("warn", "It is thin"), finding("note", "Good to know"), finding("stop", "It will leak")]
    planned(desk, run, findings=found)
    page = Built(lambda: studio_page(desk))
    rows = [page.words(row) for row in page.all("li", "find")]
    assert len(rows) == 2
    assert rows[0].startswith("Stop Run 1: It will leak")
    assert rows[1].startswith("Warn Run 1: It is thin")
    assert "Dismiss" not in page.text


def test_the_kiln_is_told_by_plan(desk, run):
    planned(desk, run)
    page = Built(lambda: studio_page(desk))
    assert "Kiln, by plan" in page.text
    keys = [page.words(key) for key in page.all("dl", "keys")]
    assert any("Now cold On at 16:30 Highest, 540 °C 20:30 Pour Fri 08:30" in key for key in keys), keys


def test_the_daily_question_is_answered_by_the_quick_lane(desk):
    class Answers(FakeCrew):
        def answer(self, call, *given):
            job = super().answer(call, *given)
            job.end("done", outcome=plan(weight=True, findings=[finding("note", "No flask was named")]))
            return job

    desk.crew = Answers()
    page = Built(lambda: studio_page(desk))
    assert "Print the card" not in page.text
    page.type("Tree on the scale", "23,4")
    assert desk.crew.asked[0][1][1]["weight_g"] == 23.4
    for said in ("597", "238.8", "75.1", "16:30", "970", "540", "Print the card"):
        assert said in page.text
    page.type("Tree on the scale", "a lot")
    assert '"a lot" is no number' in page.help_of("Tree on the scale")
    assert "Print the card" not in page.text
    page.type("Tree on the scale", "20")
    page.type("at", "7:00")
    assert "is over" in page.help_of("at")


def test_a_refusal_of_the_daily_question_is_told_without_words_of_the_command_line(desk):
    class Refuses(FakeCrew):
        def answer(self, call, *given):
            job = super().answer(call, *given)
            job.end(
                "failed", fault=BadRequestError("The pour is too early.", try_this="Leave --pour-at out to take the earliest pour.")
            )
            return job

    desk.crew = Refuses()
    page = Built(lambda: studio_page(desk))
    page.type("Tree on the scale", "23")
    assert "The pour is too early. Leave day and hour of the pour empty to take the earliest pour." in page.text


# ---- patterns


def test_an_empty_library_says_what_to_do(desk):
    page = Built(lambda: patterns_page(desk))
    assert "Drop your first pattern above" in page.text
    page.press("Try it with four invented pieces")
    assert "Pieces to try" in page.text
    assert "Drop your first pattern above" not in page.text


def test_the_library_shows_size_weight_and_the_worst_finding(desk, band):
    data = checked(findings=[finding("stop", "Open"), finding("warn", "Thin")])
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG"}, now=NOW)
    page = Built(lambda: patterns_page(desk))
    said = page.words(page.all("li", "piece")[0])
    assert said == "<i>Heddle</i> band 4.42 g ring ISO 53.7 Stop 1"
    assert page.all("img")[0].props["src"] == "/kept/2/picture.png"


def test_a_piece_in_doubt_has_a_dash_for_a_weight(desk, band):
    data = checked(doubtful="not told: the unit is in doubt", bore=False)
    data["piece"]["doubt"] = "unit"
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG"}, now=NOW)
    said = Built(lambda: patterns_page(desk)).text
    assert "\u2014" in said
    assert "unit in doubt" in said


def test_patterns_are_found_by_name_and_size(desk, band):
    page = Built(lambda: patterns_page(desk))
    page.type("Find a pattern", "heddle")
    assert page.all("li", "piece")
    page.type("Find a pattern", "53.7")
    assert page.all("li", "piece")
    page.type("Find a pattern", "signet")
    assert not page.all("li", "piece")
    assert "No pattern is called so. 1 are here." in page.text


def test_work_in_hand_says_what_it_does_and_can_be_stopped(desk):
    job = desk.crew.work("band.stl", "m:f", then=lambda _: None)
    job.state, job.says = "working", "Reading and measuring band.stl"
    page = Built(lambda: patterns_page(desk))
    assert "Reading and measuring band.stl" in page.text
    page.press("Stop band.stl")
    assert not job.wanted


def test_what_failed_says_why_until_it_is_closed(desk):
    bad = Job("band.stl", "m:f", (), then=lambda _: None)
    bad.end("failed", fault=BadFileError("band.stl is empty.", try_this="Export it again."))
    desk.crew.jobs.append(bad)
    page = Built(lambda: patterns_page(desk))
    assert "band.stl is empty. Export it again." in page.text
    page.press("Close band.stl")
    assert "band.stl is empty" not in page.text


# ---- one pattern


def test_a_pattern_shows_figures_findings_and_measures(desk, band):
    data = checked(findings=[finding("warn", "rim is thin", at_mm=[1.0, 2.0, 3.0], measure="0.5 mm", limit="0.8 mm")])
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG", "view.bin": b""}, now=NOW)
    page = Built(lambda: pattern_page(desk, band.id))
    assert "4.42" in page.text
    row = page.words(page.all("li", "find")[0])
    assert row == "Warn Rim is thin A Show piece A 0.5 mm; limit 0.8 mm Do:  Widen it."
    viewer = next(e for e in page.elements if "flags" in e.props)
    assert [(f["letter"], f["at"]) for f in viewer.props["flags"]] == [("A", [1.0, 2.0, 3.0])]
    assert viewer.props["src"] == "/kept/2/view.bin"
    assert "20.8 \u00d7 4.0 \u00d7 20.8 mm" in page.text


def test_nothing_found_is_said(desk, band):
    assert "Nothing was found that needs care." in Built(lambda: pattern_page(desk, band.id)).text


def test_name_and_unit_are_kept_as_they_are_typed(desk, band):
    page = Built(lambda: pattern_page(desk, band.id))
    page.type("Name", "Larch band")
    assert desk.store.pattern(band.id).name == "Larch band"
    assert "Saved 08:30:00" in page.text
    page.type("Name", "  ")
    assert page.help_of("Name") == "A pattern needs a name."
    assert desk.store.pattern(band.id).name == "Larch band"
    page.type("Unit of the file's numbers", "inch")
    assert desk.store.pattern(band.id).units == "inch"
    assert desk.crew.jobs[-1].about == ("pattern", band.id)


def test_a_pattern_is_taken_out_and_put_back(desk, band):
    page = Built(lambda: pattern_page(desk, band.id))
    page.press("Take it out of the library")
    assert desk.store.patterns() == []
    page.press("Undo")
    assert len(desk.store.patterns()) == 1


def test_a_pattern_that_was_not_checked_can_be_checked(desk):
    pattern, _ = desk.store.add_pattern(b"solid", file="a.stl", name="A", now=NOW)
    page = Built(lambda: pattern_page(desk, pattern.id))
    assert "It is not checked" in page.text
    page.press("Check it")
    assert desk.being_checked(pattern.id) is not None


# ---- runs and one run


def test_runs_in_hand_stand_before_those_that_are_over(desk, run):
    planned(desk, run)
    page = Built(lambda: runs_page(desk))
    row = page.words(page.all("ul", "rows")[0])
    assert "Run 1 sterling silver, 76 \u00d7 102" in row
    assert "75.1 g" in row
    assert "10:30  invest now" in row
    desk.clock = lambda: NOW + timedelta(days=3)
    page = Built(lambda: runs_page(desk))
    assert "Earlier, by plan" in page.text
    assert "No run is in hand" in page.text


def test_a_run_is_laid_away_and_taken_up_again(desk, run):
    page = Built(lambda: runs_page(desk))
    page.press("Lay run 1 away")
    assert desk.store.runs() == []
    assert "Run 1 was laid away." in page.text
    page.press("Undo")
    assert len(desk.store.runs()) == 1
    assert "Run 1 was laid away." not in page.text


def test_counts_go_up_and_down_and_a_piece_at_none_leaves(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    name = "<i>Heddle</i> band"
    page.press(f"One more {name}")
    page.press(f"One more {name}")
    assert desk.store.run(run.id).pieces[0][1] == 5
    assert page.all("output")[0].text == "5"
    for _ in range(5):
        page.press(f"One fewer {name}")
    assert desk.store.run(run.id).pieces == ()
    assert not page.all("output")
    assert "Tree on the scale" in page.text, "without pieces a run is known by its weight"
    page.type("Add a piece", "1")
    assert desk.store.run(run.id).pieces == ((1, 1),)


def test_every_field_is_kept_as_it_is_typed(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    for label, value in (("Flask", "76x100"), ("Alloy", "fine-silver-999"), ("Returns in the charge", "140"), ("at", "9:3")):
        page.type(label, value)
    form = desk.store.run(run.id).form
    assert (form["flask"], form["alloy"], form["returns"], form["pour_hour"]) == ("76x100", "fine-silver-999", "140", "9:3")
    assert page.help_of("Returns in the charge").startswith("140 is above")
    assert page.help_of("at").startswith('"9:3" is no time of day')
    assert "Saved 08:30:00" in page.text


def test_a_run_with_a_fault_is_not_worked_out(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    page.type("Returns in the charge", "140")
    page.press("Work it out")
    assert desk.crew.jobs == []
    page.type("Returns in the charge", "40")
    page.press("Work it out")
    assert desk.crew.jobs[0].given[1]["returns_fraction"] == 0.4
    assert "Being worked out" in page.text


def test_a_plan_shows_what_to_weigh_what_was_found_and_the_day(desk, run):
    planned(desk, run, findings=[finding("warn", "it is thin"), finding("note", "worth it")])
    page = Built(lambda: run_page(desk, run.id))
    weigh = page.words(page.all("table", "weigh")[0])
    assert "Powder strong grade 597.0 g" in weigh
    assert "Water 21 to 24 °C, 40 : 100 238.8 g" in weigh
    assert "Fresh sterling silver 45.1 g" in weigh
    assert "Returns clean, once cast; at most 50 % 30.0 g" in weigh
    assert "Charge 74.1 to 76.1 g, melt loss included 75.1 g" in weigh
    assert "1 note: worth knowing" in page.text
    assert "\u2212120" in page.text
    assert "1:05" in page.text
    assert [page.words(row) for row in page.all("li", "hand next")] == ["Thu 26 10:30 Invest now 20 min"]
    assert "Do not pour" not in page.text
    assert page.all("a", "btn main")[0].props["href"] == "/kept/2/run-sheet.pdf"


def test_a_stop_says_not_to_pour_and_cannot_be_put_aside(desk, run):
    planned(desk, run, findings=[finding("stop", "it will leak")], stopped=True)
    page = Built(lambda: run_page(desk, run.id))
    assert "Do not pour: a finding below stops this run." in page.text
    stop = page.all("li", "find")[0]
    assert not [e for e in page.all("button") if e in stop.descendants()]


def test_what_changed_since_is_named_and_the_sheet_is_the_former_one(desk, run):
    planned(desk, run)
    page = Built(lambda: run_page(desk, run.id))
    assert "Worked out 08:30." in page.text
    page.type("Flask", "76x100")
    assert "Since then changed: flask." in page.text
    assert "Open the former sheet" in page.text
    assert "Work it out again" in page.text
    page.type("Flask", "")
    assert "Open the run sheet" in page.text
    assert "Work it out again" not in page.text


def test_figures_that_changed_from_plan_to_plan_are_underlined(desk, run):
    planned(desk, run, charge=75.1)
    assert not Built(lambda: run_page(desk, run.id)).all("td", "changed")
    planned(desk, run, charge=80.0)
    page = Built(lambda: run_page(desk, run.id))
    assert [page.words(cell) for cell in page.all("td", "changed")] == ["50.0 g", "80.0 g"]
    assert "changed figures are underlined" in page.text


def test_a_run_by_weight_has_no_picture_and_says_so(desk):
    run = desk.new_run(fields={"weight": "23"})
    planned(desk, run, weight=True)
    page = Built(lambda: run_page(desk, run.id))
    assert "No picture of this tree" in page.text
    assert "Yield" not in page.text


def test_a_run_that_could_not_be_worked_out_says_why(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    page.press("Work it out")
    fault = BadRequestError("A piece is larger than every flask.", try_this="Take a larger flask: name it with --flask.")
    desk.crew.jobs[0].end("failed", fault=fault)
    page = Built(lambda: run_page(desk, run.id))
    assert "A piece is larger than every flask. Take a larger flask: choose it." in page.text


@pytest.mark.parametrize("build", [run_page, pattern_page])
def test_what_is_not_there_is_refused_before_anything_is_drawn(desk, build):
    with pytest.raises(BadRequestError, match=r"There is no (run|pattern) 77 here"):
        Built(lambda: build(desk, 77))
