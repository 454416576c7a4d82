"""The pages of the studio and of patterns, built without a browser: what they say in each state, and what a press does."""

import pytest

from pourwell.app.crew import Job
from pourwell.errors import BadFileError, BadRequestError
from pourwell.steps.day.night import OVERNIGHT
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.patterns import patterns_page
from pourwell.web.desk.studio import studio_page
from pourwell.web.kept import link
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.web.built import Built
from tests.unit.web.samples import NOW, checked, finding, plan, planned


@pytest.fixture
def desk(still_desk):
    return still_desk


def test_the_first_day_offers_a_short_way_and_something_to_play_with(desk):
    page = Built(lambda: studio_page(desk))
    assert "Nothing is in hand yet." in page.text
    assert "Your first run" in page.text
    page.press("Try it with a run of four invented pieces")
    assert [(job.title, job.about) for job in desk.crew.jobs] == [("Pieces to try", ("demo", 1))]
    assert len(desk.store.runs()) == 1


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
    assert "It fires while you sleep" not in page.text
    assert page.by("Tree on the scale") == "yours"
    assert "40 : 100 by default; both temperatures by default" in page.text
    page.type("Tree on the scale", "a lot")
    assert '"a lot" is no number' in page.help_of("Tree on the scale")
    assert "Print the card" not in page.text
    page.type("Tree on the scale", "20")
    page.type("at", "7:00")
    assert "is over" in page.help_of("at")


def test_the_daily_answer_says_what_a_night_s_firing_takes(desk):
    class Answers(FakeCrew):
        def answer(self, call, *given):
            job = super().answer(call, *given)
            job.end("done", outcome=plan(weight=True) | {"overnight": OVERNIGHT})
            return job

    desk.crew = Answers()
    page = Built(lambda: studio_page(desk))
    page.type("Tree on the scale", "23,4")
    assert "It fires while you sleep. Extraction on and outdoors, a smoke alarm and a carbon monoxide alarm" in page.text
    assert "Local rules and the insurer come first" in page.text


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


def pieces(page):
    """What the library shows."""
    return next(e for e in page.elements if "pieces" in e.props).props["pieces"]


def test_the_library_shows_size_weight_and_the_worst_finding(desk, band):
    data = checked(findings=[finding("stop", "Open"), finding("warn", "Thin")])
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG"}, now=NOW)
    (one,) = pieces(Built(lambda: patterns_page(desk)))
    assert (one["name"], one["weight"], one["size"]) == ("<i>Heddle</i> band", "4.42", "ring ISO 53.7")
    assert (one["mark"], one["word"], one["count"]) == ("stop", "Stop", 1)
    assert (one["src"], one["px"]) == (link(desk.store.result(2), "picture.png"), 190)


def test_a_piece_in_doubt_has_a_dash_for_a_weight(desk, band):
    data = checked(doubtful="not told: the unit is in doubt", bore=False)
    data["piece"]["doubt"] = "unit"
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG"}, now=NOW)
    (one,) = pieces(Built(lambda: patterns_page(desk)))
    assert (one["weight"], one["size"]) == ("\u2014", "unit in doubt")


def test_pieces_are_at_one_scale_and_a_far_larger_one_says_that_it_is_not(desk, band):
    for number, mm in enumerate((0.05, 0.05, 0.2)):
        pattern, _ = desk.store.add_pattern(bytes([number]), file=f"{number}.stl", name=f"Piece {number}", now=NOW)
        data = checked() | {"mm_per_px": mm}
        desk.store.add_result(pattern_id=pattern.id, asked={}, data=data, files={"picture.png": bytes([number])}, now=NOW)
    found = {one["name"]: one for one in pieces(Built(lambda: patterns_page(desk)))}
    assert found["Piece 0"]["px"] == found["<i>Heddle</i> band"]["px"] == 190
    assert (found["Piece 2"]["px"], found["Piece 2"]["note"]) == (190, "drawn 4.0 times smaller")


def test_a_piece_without_a_check_says_whether_one_is_coming(desk):
    first, _ = desk.store.add_pattern(b"1", file="a.stl", name="A", now=NOW)
    desk.store.add_pattern(b"2", file="b.stl", name="B", now=NOW)
    desk.check(first)
    assert [(one["name"], one["note"]) for one in pieces(Built(lambda: patterns_page(desk)))] == [
        ("B", "Not checked"),
        ("A", "Being checked"),
    ]


def test_many_pieces_are_one_element(desk, band):
    few = len(Built(lambda: patterns_page(desk)).elements)
    for number in range(25):
        desk.store.add_pattern(bytes([number]), file=f"{number}.stl", name=f"Piece {number}", now=NOW)
    page = Built(lambda: patterns_page(desk))
    assert len(page.elements) == few
    assert len(pieces(page)) == 26


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
    assert [one["src"] for one in viewer.props["solids"]] == [link(desk.store.result(2), "view.bin")]
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
