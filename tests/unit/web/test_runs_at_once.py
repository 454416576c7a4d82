"""Pages with several runs in hand, built without a browser: one kiln for two loads, stopped runs, names on the day rail."""

from dataclasses import replace
from datetime import timedelta

import pytest

from pourwell.app.desk_runs import asked_of
from pourwell.materials.studio import STUDIO_FILE
from pourwell.web.desk.compare import compare_page
from pourwell.web.desk.drawn import TimeLine
from pourwell.web.desk.firing import firing_page
from pourwell.web.desk.freezing import freezing_page
from pourwell.web.desk.patterns import patterns_page
from pourwell.web.desk.rail import NAME_LINES, day_rail, names
from pourwell.web.desk.run import run_page
from pourwell.web.desk.runs import runs_page
from pourwell.web.desk.sprues import sprues_page
from pourwell.web.desk.stopped import StopBand
from pourwell.web.desk.studio import studio_page
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import NOW, at, checked, finding, plan, planned, step


@pytest.fixture
def desk(still_desk):
    return still_desk


def fired(desk, run, *, on_h, findings=()):
    """The plan of a run whose kiln goes on so many hours from now; poured 16 h later, and free again 5 h after that."""
    made = plan(findings=findings, stopped=any(f["severity"] == "stop" for f in findings))
    segment = made["burnout"]["segments"][0] | {"starts_at": at(on_h), "reached_at": at(on_h + 4), "ends_at": at(on_h + 16)}
    made["burnout"] |= {"starts_at": at(on_h), "ends_at": at(on_h + 16), "segments": [segment]}
    made["pour"] |= {"at": at(on_h + 16)}
    made["timeline"] = [
        step("invest", on_h - 6, on_h - 5, 20), step("kiln", on_h, on_h + 16, 0), step("pour", on_h + 16, on_h + 16.1, 5),
    ]  # fmt: skip
    made["kiln_free_at"] = at(on_h + 21)
    return desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [made]}, files={}, now=NOW)


@pytest.fixture
def two(desk, run, band):
    """Run 1 in the kiln from 16:30, run 2 wants it from 17:30."""
    other = desk.new_run(pieces=[(band.id, 2)])
    fired(desk, run, on_h=8)
    fired(desk, other, on_h=9)
    return run, other


def test_the_studio_says_that_one_kiln_is_wanted_by_two_runs(desk, two):
    page = Built(lambda: studio_page(desk))
    rows = [page.words(row) for row in page.all("li", "find")]
    assert rows[0].startswith("Stop Run 2: The kiln is taken by run 1 from Thu 16:30 to Fri 08:30")
    assert "Do not open the kiln for it." in rows[0]
    assert rows[1].startswith("Warn Run 1: Run 2 is planned into the kiln at Thu 17:30")
    kiln = next(s for s in page.all("section") if page.words(s).startswith("Kiln, by plan"))
    assert "Run 1 Now cold On at 16:30" in page.words(kiln)
    assert "Run 2: the kiln is not free then On at 17:30" in page.words(kiln)


def test_a_second_kiln_in_the_studio_s_file_is_offered_and_a_run_that_takes_it_clashes_no_more(desk, two):
    (desk.folder / STUDIO_FILE).write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    page = Built(lambda: studio_page(desk))
    assert "The kiln “tall” is taken by run 1" in page.text
    assert "Choose “small” as the kiln of this run" in page.text
    asked = desk.store.latest(run_id=two[1].id)
    plans = [{**asked.data["plans"][0], "inputs": {"studio": {"kiln": {"name": "small"}}}}]
    desk.store.add_result(run_id=two[1].id, asked=asked.asked, data={"plans": plans}, files={}, now=NOW)
    assert "is taken" not in Built(lambda: studio_page(desk)).text
    (desk.folder / STUDIO_FILE).write_text("[[kilns", encoding="utf-8")
    assert all(not one.clashes for one in desk.standings()), "half a file counts as it was before"


def test_hands_that_two_runs_want_are_told_once_in_the_studio(desk, run, band):
    other = desk.new_run(pieces=[(band.id, 2)])
    for one in (run, other):
        fired(desk, one, on_h=8)
    page = Built(lambda: studio_page(desk))
    rows = [page.words(row) for row in page.all("li", "find")]
    assert [row[:61] for row in rows if "want hands at once" in row] == [
        "Warn Runs 1 and 2 want hands at once, Thu 10:30: “invest now”"
    ]


def test_both_runs_say_so_on_their_own_pages_also_beside_the_day(desk, two):
    first, second = (Built(lambda run=run: run_page(desk, run.id)) for run in two)
    band = second.all("p", "do-not-pour")[0]
    assert second.words(band).startswith("Do not fire: The kiln is taken by run 1")
    assert [h.text for h in second.all("h1")] == ["Run 2: do not fire"]
    assert [second.words(p)[:26] for p in second.all("p", "clash")] == ["Stop The kiln is taken by "]
    assert [first.words(p)[:34] for p in first.all("p", "clash")] == ["Warn Run 2 is planned into the kil"]
    assert not first.all("p", "do-not-pour")
    assert [h.text for h in first.all("h1")] == ["Run 1"]


def test_a_run_that_is_moved_away_takes_the_stop_off_an_open_page(desk, two):
    page = Built(lambda: run_page(desk, two[1].id))
    fired(desk, two[0], on_h=40)
    desk.turn += 1
    page.go_round()
    assert not page.all("p", "do-not-pour")
    assert [h.text for h in page.all("h1")] == ["Run 2"]


def test_a_stopped_run_is_not_announced_as_what_is_next(desk, two):
    page = Built(lambda: studio_page(desk))
    red, blue = page.all("section", "ahead")
    assert "held-up" in red.classes
    assert page.words(red).startswith("Run 2: do not fire The kiln is taken by run 1")
    assert page.words(blue).startswith("10:30 in 2 h Run 1: invest now")
    rows = [page.words(row) for row in page.all("div", "next")]
    assert rows[0].startswith(
        "Do not fire: The kiln is taken by run 1 from Thu 16:30 to Fri 08:30, and this run is to go in at Thu 17:30."
    )
    assert "2 runs in hand. Run 2 is stopped: do not fire. Next hands-on step in 2 h." in page.text
    assert rows[1].startswith("10:30  invest now")


def test_a_run_that_only_its_own_plan_stops_has_no_blue_block_and_says_do_not_pour(desk, run):
    planned(desk, run, findings=[finding("stop", "It will leak.")], stopped=True)
    page = Built(lambda: studio_page(desk))
    (red,) = page.all("section", "ahead")
    assert page.words(red).startswith("Run 1: do not pour It will leak. By its plan 10:30 would be: invest now.")
    assert "1 run in hand. Run 1 is stopped: do not pour." in page.text
    assert "Do not pour: It will leak." in page.words(Built(lambda: runs_page(desk)).all("div", "next")[0])


def test_what_is_stopped_stands_over_the_weights_with_a_way_to_what_to_do(desk, run):
    planned(desk, run, findings=[finding("stop", "It will leak.")], stopped=True)
    page = Built(lambda: run_page(desk, run.id))
    assert page.client.title == "Do not pour: run 1 · Pourwell"
    band, weights = page.all("p", "do-not-pour")[0], page.all("table", "weigh")[0]
    assert page.words(band) == "Do not pour: It will leak. What to do"
    assert not page.all("a", "btn main"), "its sheet is no invitation"
    assert page.elements.index(band) < page.elements.index(weights)
    ids = {e.props.get("id") for e in page.elements}
    assert {a.props["href"].removeprefix("#") for a in page.all("a") if a.props["href"].startswith("#")} <= ids | {"main"}


def test_on_a_narrow_page_keys_go_through_the_results_first_as_the_eye_does(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    hears = next(e for e in page.elements if type(e).__name__ == "Narrow")

    def order():
        wanted = ("goes-in", "tree", "to-weigh", "controller")
        return [e.props["id"] for e in page.elements if e.props.get("id") in wanted]

    page.happen(hears, "narrow", True)
    assert order()[0] == "goes-in", "the form first while there is no plan"
    planned(desk, run)
    desk.turn += 1
    page.go_round()
    assert order() == ["to-weigh", "controller", "tree", "goes-in"]
    planned(desk, run, charge=80.0)
    desk.turn += 1
    page.go_round()
    assert order() == ["to-weigh", "controller", "tree", "goes-in"], "with the next plan too"
    page.happen(hears, "narrow", False)
    assert order() == ["goes-in", "tree", "to-weigh", "controller"]


def test_the_ways_down_a_narrow_page_stand_there_once_a_plan_does(desk, run):
    assert not Built(lambda: run_page(desk, run.id)).all("nav", "ways")
    planned(desk, run)
    page = Built(lambda: run_page(desk, run.id))
    assert page.words(page.all("nav", "ways")[0]) == "To weigh Findings Kiln The day What goes in"
    assert page.all("div", "run-all planned")


class Answers(FakeCrew):
    """Answers the daily question with one plan: kiln on at 16:30."""

    def answer(self, call, *given):
        job = super().answer(call, *given)
        job.end("done", outcome=plan(weight=True))
        return job


@pytest.mark.parametrize(
    ("on_h", "says"),
    [
        (7, "Stop The kiln is taken by run 1 from Thu 15:30 to Fri 07:30, and this run is to go in at Thu 16:30."),
        (9, "Warn Run 1 is planned into the kiln at Thu 17:30, and this run has it from Thu 16:30 to Fri 08:30"),
        (40, ""),
    ],
)
def test_the_daily_answer_says_that_a_run_has_the_kiln_then(desk, run, on_h, says):
    fired(desk, run, on_h=on_h)
    desk.crew = Answers()
    page = Built(lambda: studio_page(desk))
    page.type("Tree on the scale", "23,4")
    daily = next(s for s in page.all("section", "sec") if "What to weigh, and when the kiln goes on" in page.words(s))
    rows = [page.words(row) for row in page.all("li", "find") if row in daily.descendants()]
    assert len(rows) == bool(says)
    assert all(row.startswith(says) for row in rows)


@pytest.mark.parametrize(("on_h", "stopped"), [(7, True), (9, False)])
def test_what_stops_the_daily_answer_stands_over_its_figures_and_nothing_invites(desk, run, on_h, stopped):
    fired(desk, run, on_h=on_h)
    desk.crew = Answers()
    page = Built(lambda: studio_page(desk))
    page.type("Tree on the scale", "23,4")
    answer = page.all("div", "answer")[0].descendants()
    bands = [e for e in page.all("p", "do-not-pour") if e in answer]
    assert [page.words(e)[:38] for e in bands] == ["Do not fire: The kiln is taken by run "][:stopped]
    assert all(page.words(e).endswith("What to do") for e in bands)
    figures = next(e for e in page.all("dl", "keys") if page.words(e).startswith("Powder"))
    assert all(page.elements.index(band) < page.elements.index(figures) for band in bands)
    assert bool(page.all("div", "act-keys")) is not stopped
    card = next(e for e in page.all("button") if e.text == "Print the card")
    assert ("main" in card.classes) is not stopped
    assert [e.tag for e in page.elements if e.props.get("id") == "daily-findings"] == ["ul"], "there the band leads"
    if stopped:
        fired(desk, run, on_h=40)
        page.type("Tree on the scale", "23,5")
        assert "main" in card.classes
        assert page.all("div", "act-keys")


def test_runs_that_want_the_kiln_of_a_burnout_are_told_together_and_in_its_words(desk, run, band):
    """Kiln on at 16:30, out the next day at 08:30; runs 1 and 2 want it at 17:30 and 19:30."""
    other = desk.new_run(pieces=[(band.id, 2)])
    fired(desk, run, on_h=9)
    fired(desk, other, on_h=60)
    asked = plan(weight=True) | {"kiln_free_at": at(29)}
    (one,) = desk.burnouts.clashes(asked)
    assert (one["code"], one["severity"]) == ("kiln-wanted", "warn")
    assert one["says"] == (
        "Run 1 is planned into the kiln at Thu 17:30, and this burnout has it from Thu 16:30 to Fri 08:30; it is cool enough for "
        "another at Fri 13:30."
    )
    assert one["do"] == "Do not open for run 1 before Fri 13:30: move its pour, or start this burnout later."
    fired(desk, other, on_h=11)
    (both,) = desk.burnouts.clashes(asked)
    assert both["says"].startswith(
        "Runs 1 and 2 are planned into the kiln at Thu 17:30 and Thu 19:30, and this burnout has it from"
    )
    assert both["do"] == "Do not open for runs 1 and 2 before Fri 13:30: move their pours, or start this burnout later."
    assert {key: both["marked"][key] for key in ("says", "do")} == {key: both[key] for key in ("says", "do")}


def test_a_burnout_that_finds_its_kiln_taken_hears_of_no_run_of_its_own(desk, run):
    fired(desk, run, on_h=7)
    (stop,) = desk.burnouts.clashes(plan(weight=True))
    assert stop["says"].startswith(
        "The kiln is taken by run 1 from Thu 15:30 to Fri 07:30, and this burnout is to go in at Thu 16:30"
    )
    assert stop["do"].startswith("Do not open the kiln for it. Move the pour of this burnout to about Sat 04:30 or later")
    assert stop["do"].endswith("Or move run 1.")
    assert "run" not in stop["marked"]["do"].replace("run 1", "")


def rail(desk):
    axis = TimeLine(start=NOW - timedelta(hours=3), end=NOW + timedelta(hours=27), zone=None)
    return names(desk.standings(), axis, NOW)


@pytest.mark.parametrize(("on_h", "says"), [(8, "Run 1 into the kiln"), (-1, "Run 1 in the kiln")])
def test_a_run_is_in_the_kiln_once_it_went_in_and_before_that_it_goes_into_it(desk, run, on_h, says):
    fired(desk, run, on_h=on_h)
    assert [name.says for name in rail(desk)] == [says]


def test_the_names_of_runs_that_share_a_place_say_in_as_soon_as_one_of_them_is(desk, run, band):
    for hours in (-1.5, -1, -0.5):
        one = desk.new_run(pieces=[(band.id, 1)])
        fired(desk, one, on_h=hours)
    axis = TimeLine(start=NOW - timedelta(hours=3), end=NOW + timedelta(hours=27), zone=None)
    bare = [replace(one, clashes=()) for one in desk.standings()]
    assert [name.says for name in names(bare, axis, NOW)] == ["Run 2 in the kiln", "Runs 3, 4 in the kiln"]
    early = NOW - timedelta(hours=1)
    assert [name.says for name in names(bare, axis, early)] == ["Run 2 in the kiln", "Runs 3, 4 in the kiln"]
    assert [name.says for name in names(bare, axis, NOW - timedelta(hours=2))] == ["Run 2 into the kiln", "Runs 3, 4 into the kiln"]


def test_names_on_the_rail_never_print_over_each_other(desk, run, band):
    for hours in (1, 2, 3, 23):
        fired(desk, desk.new_run(pieces=[(band.id, 1)]), on_h=hours)
    found = rail(desk)
    assert [(name.runs, name.line) for name in found] == [((2,), 0), ((3, 4), 1), ((5,), 0)]
    assert all(not one.meets(other) for one in found for other in found if one is not other)
    assert {name.line for name in found} <= set(range(NAME_LINES))
    assert [name.says for name in found[:2]] == ["Run 2 into the kiln", "Runs 3, 4: the kiln is taken"]


def test_the_rail_names_both_runs_and_who_is_stopped(desk, two):
    page = Built(lambda: day_rail(desk.standings(), desk.choices(), NOW))
    words = {e.text: e for e in page.all("span", "c-word")}
    assert "fault" in words["Run 2: the kiln is taken"].classes
    assert "fault" not in words["Run 1 into the kiln"].classes
    tops = [words[text].style["top"] for text in ("Run 1 into the kiln", "Run 2: the kiln is taken")]
    assert tops[0] != tops[1]
    assert "Stopped: run 2." in page.all("svg")[0].props["aria-label"]


@pytest.mark.parametrize(("code", "size"), [("units-suspect", "unit in doubt: ring ISO 53.7"), ("wall-thin", "ring ISO 53.7")])
def test_the_card_of_a_piece_whose_unit_is_most_likely_wrong_says_so(desk, band, code, size):
    data = checked(findings=[finding("warn", "Thin"), finding("note", "Most likely its unit is wrong") | {"code": code}])
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG"}, now=NOW)
    page = Built(lambda: patterns_page(desk))
    (one,) = next(e for e in page.elements if "pieces" in e.props).props["pieces"]
    assert one["size"] == size


PAGES_OF_A_RUN = {
    "": run_page,
    "how it freezes": freezing_page,
    "inside the flask": firing_page,
    "sprue points": sprues_page,
    "two plans side by side": compare_page,
}


@pytest.mark.parametrize("view", PAGES_OF_A_RUN)
def test_every_page_of_a_stopped_run_bears_the_same_band_and_title(desk, run, view):
    worked_out(desk, run, deep())
    more = f", {view}" if view else ""
    page = Built(lambda: PAGES_OF_A_RUN[view](desk, run.id))
    assert not page.all("p", "do-not-pour")
    assert page.client.title == (f"Run 1: {view} · Pourwell" if view else "Run 1 · Pourwell")
    worked_out(desk, run, deep(findings=[finding("stop", "It will leak")]))
    desk.turn += 1  # as every plan that is kept does
    for shown in (page, Built(lambda: PAGES_OF_A_RUN[view](desk, run.id))):
        for timer in (e for e in shown.elements if isinstance(getattr(getattr(e, "callback", None), "__self__", None), StopBand)):
            with shown.client:
                timer.callback()
        assert page.words(shown.all("p", "do-not-pour")[0]) == "Do not pour: It will leak. What to do"
        assert shown.client.title == f"Do not pour: run 1{more} · Pourwell"
        assert [e.text for e in shown.all("h1")] == [f"Run 1{more}: do not pour"]
    way = next(e for e in page.all("a") if e.text == "What to do")
    assert way.props["href"] == ("/runs/1#findings" if view else "#findings")


def test_beside_another_plan_a_stopped_one_is_named(desk, run, band):
    worked_out(desk, run, deep(findings=[finding("stop", "It will leak")]))
    worked_out(desk, run, deep())
    other = desk.new_run(pieces=[(band.id, 2)])
    last = worked_out(desk, other, deep(findings=[finding("stop", "It is open")]))
    page = Built(lambda: compare_page(desk, run.id, a=1 + last.id - 3, b=last.id))
    said = [page.words(e) for e in page.all("p", "do-not-pour")]
    assert said == ["Plan A: do not pour: It will leak.", "Plan B: do not pour: It is open (and 1 more). What to do"], (
        "its kiln is taken too"
    )


def test_a_run_that_was_changed_since_is_not_announced_as_if_its_plan_still_held(desk, run):
    fired(desk, run, on_h=8)
    assert "former plan" not in Built(lambda: studio_page(desk)).text
    desk.change_run(run.id, fields={"pour_hour": "16:00"})
    page = Built(lambda: studio_page(desk))
    assert "By a former plan: its form was changed since." in page.words(page.all("section", "ahead")[0])
    assert any(page.words(row).startswith("Warn Run 1: Its form was changed since") for row in page.all("li", "find"))
    assert "changed since, work it out again" in Built(lambda: runs_page(desk)).text
    desk.change_run(run.id, fields={"pour_hour": "", "title": "For Ada"})
    assert "former plan" not in Built(lambda: studio_page(desk)).text, "a title changes no plan"
