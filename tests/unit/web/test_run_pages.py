"""The pages of runs, built without a browser: what they say in each state, and what pressing and typing does."""

from datetime import timedelta

import pytest

from pourwell.app.desk_runs import asked_of
from pourwell.app.desk_words import SHEET
from pourwell.errors import BadRequestError
from pourwell.steps.burnout.model import BAG_WINS
from pourwell.steps.day.night import OVERNIGHT
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.run import run_page
from pourwell.web.desk.runs import runs_page
from pourwell.web.kept import link
from tests.unit.web.built import Built
from tests.unit.web.samples import NOW, at, checked, finding, plan, planned


@pytest.fixture
def desk(still_desk):
    return still_desk


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
    assert page.counts == ["5"]
    for _ in range(5):
        page.press(f"One fewer {name}")
    assert desk.store.run(run.id).pieces == ()
    assert not page.counts
    assert "Tree on the scale" in page.text, "without pieces a run is known by its weight"
    page.type("Add a piece", "1")
    assert desk.store.run(run.id).pieces == ((1, 1),)


def test_a_picture_comes_when_the_piece_is_checked(desk, run):
    fresh, _ = desk.store.add_pattern(b"other", file="stud.stl", name="Stud", now=NOW)
    desk.change_run(run.id, pieces={fresh.id: 1})
    page = Built(lambda: run_page(desk, run.id))
    assert len(page.all("img")) == 1
    kept = desk.store.add_result(pattern_id=fresh.id, asked={}, data=checked(), files={"picture.png": b"PNG"}, now=NOW)
    page.press("One more Stud")
    assert [e.props["src"] for e in page.all("img")] == [link(one, "picture.png") for one in (desk.store.result(1), kept)]


def test_every_field_is_kept_as_it_is_typed(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    fields = (("Metal at the pour", "965"), ("Flask at the pour", "510"))
    for label, value in (
        *fields,
        ("Flask", "76x100"),
        ("Alloy", "fine-silver-999"),
        ("Returns in the charge", "140"),
        ("at", "9:3"),
    ):
        page.type(label, value)
    form = desk.store.run(run.id).form
    assert (form["flask"], form["alloy"], form["returns"], form["pour_hour"]) == ("76x100", "fine-silver-999", "140", "9:3")
    assert (form["metal_c"], form["flask_c"]) == ("965", "510")
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
    assert desk.crew.jobs[0].given[1]["form"]["returns_fraction"] == 0.4
    assert "Being worked out" in page.text


def test_a_plan_shows_what_to_weigh_what_was_found_and_the_day(desk, run):
    planned(desk, run, findings=[finding("warn", "it is thin"), finding("note", "worth it")])
    page = Built(lambda: run_page(desk, run.id))
    weigh = page.words(page.all("table", "weigh")[0])
    assert "Powder strong grade 597.0 g" in weigh
    assert "Water 21 to 24 °C, 40 : 100 by default 238.8 g" in weigh
    assert "Fresh sterling silver 45.1 g" in weigh
    assert "Returns clean, once cast; at most 50 % 30.0 g" in weigh
    assert "Charge 74.1 to 76.1 g, melt loss included 75.1 g" in weigh
    assert "1 note: worth knowing" in page.text
    assert "\u2212120" in page.text
    assert "1:05" in page.text
    assert [page.words(row) for row in page.all("li", "hand next")] == ["Thu 26 10:30 Invest now 20 min"]
    assert "Do not pour" not in page.text
    assert page.all("a", "btn main")[0].props["href"] == "/runs/1/sheet.pdf"


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


def by_hand(*, takes):
    """A plan whose kiln takes so many segments; the rest, or all, is set by hand."""
    out = plan()
    second = out["burnout"]["segments"][0] | {"number": 2, "target_c": 370.0}
    points = [
        {"at_min": 0, "set_c": 60.0, "why": "climb slowly", "seen_c": 20.0},
        {"at_min": 480, "set_c": 370.0, "why": "it dries"},
    ]
    out["burnout"]["segments"].append(second)
    out["burnout"] |= {"by_hand": points, "stones": True}
    out["timeline"][1] |= {"hands_on_min": 6, "moments": [at(8), at(16)]}
    reading = {"never_above": 512.9, "off": 530.0}
    return out | {"inputs": {"studio": {"kiln": {"segments_count": takes}}}, "reading_c": reading, "overnight": OVERNIGHT}


def shown(desk, run, made):
    desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [made]}, files={SHEET: b"%PDF"}, now=NOW)
    return Built(lambda: run_page(desk, run.id))


def test_a_kiln_set_by_hand_is_told_by_the_clock(desk, run):
    page = shown(desk, run, by_hand(takes=0))
    assert "Set by hand, by the clock" in page.text
    assert "Set the controller" not in page.text
    rows = [page.words(row) for row in page.all("table", "segs")[0].descendants() if row.tag == "tr"]
    assert rows == ["Time Set Should show Look", "Thu 16:30 60 °C 20 °C climb slowly", "Fri 00:30 370 °C \u2014 it dries"]
    kiln = next(page.words(row) for row in page.all("li") if "Kiln now" in page.words(row))
    assert kiln.endswith("Kiln now: set by hand 2 times, by the clock 16 h")
    assert "Stones in place" in page.words(page.all("dl", "keys")[0])


def test_what_the_controller_does_not_take_follows_by_hand(desk, run):
    page = shown(desk, run, by_hand(takes=1))
    assert page.text.index("Set the controller") < page.text.index("Then by hand, by the clock")
    typed, told = page.all("table", "segs")
    assert "540 °C" in page.words(typed)
    assert "370 °C" not in page.words(typed), "the second segment is set by hand"
    assert "370 °C" in page.words(told)


def test_beside_the_controller_stand_its_cautions(desk, run):
    page = shown(desk, run, by_hand(takes=8))
    assert "Reading never above 512 °C; at 530 °C switch off: the run is lost." in page.text
    assert BAG_WINS in page.text
    assert (
        "Kiln off at the mains before the tongs go in. If flasks stay: door shut, kiln on again, by hand to the flask" in page.text
    )
    shared = shown(desk, run, by_hand(takes=8) | {"kiln_load": {"runs": [47, 48]}})
    assert "If flasks stay: door shut, kiln on again, by hand to 540 °C and hold." in shared.text.replace("\u00a0", " ")
    assert f"It fires while you sleep. {OVERNIGHT}" in page.text
    quiet = shown(desk, run, by_hand(takes=8) | {"overnight": ""})
    assert "while you sleep" not in quiet.text


def test_a_plan_kept_before_nights_were_told_is_cautious(desk, run):
    old = by_hand(takes=8)
    del old["overnight"], old["reading_c"]
    assert OVERNIGHT in shown(desk, run, old).text


def test_stones_are_ticked_kept_asked_for_and_named_when_they_change(desk, run):
    planned(desk, run)
    page = Built(lambda: run_page(desk, run.id))
    stones = next(e for e in page.all("input") if e.props.get("type") == "checkbox")
    page.happen(stones, "change", True)
    assert desk.store.run(run.id).form["stones"] is True
    assert "Since then changed: stones in place." in page.text
    page.press("Work it out again")
    assert desk.crew.jobs[-1].given[1]["form"]["stones"] is True
    page.happen(stones, "change", False)
    assert "Since then changed" not in page.text
