"""The page of sprue points, built without a browser: what is offered, what a press keeps, what it says of a bad place."""

import asyncio

import pytest

from pourwell.app.desk_runs import sprues_of
from pourwell.errors import BadRequestError
from pourwell.web.desk.plans import way_of
from pourwell.web.desk.run import run_page
from pourwell.web.desk.sprues import Sprues, chosen_of, sprues_page
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, place, worked_out
from tests.unit.web.samples import finding

BACK, SIDE = place("back of the shank", (0, 0, -10.9)), place("side of the head", (5.7, 4.8, 9.5))


class Answers(FakeCrew):
    """Tells two places, and of one that is set what the test wants."""

    own = None
    fault = None
    no_cure = ""

    def answer(self, call, *given):
        job = super().answer(call, *given)
        wanted = given[-1]["at_mm"]
        outcome = {"choices": [BACK, SIDE], "no_cure": self.no_cure, "own": self.own if wanted is not None else None}
        job.end("failed" if self.fault else "done", outcome=None if self.fault else outcome, fault=self.fault)
        return job


@pytest.fixture
def desk(still_desk):
    still_desk.crew = Answers()
    return still_desk


def opened(desk, run, monkeypatch):
    """The page after its first answer; what it asks later is asked at once."""
    made = []
    monkeypatch.setattr("pourwell.web.desk.sprues.ui.timer", lambda _, deed, once=False: made.append(deed) if once else None)
    page = Built(lambda: sprues_page(desk, run.id))

    def settle():
        while made:
            with page.client:
                asyncio.run(made.pop(0)())
        return page

    return settle(), settle


def viewer(page):
    return next(e for e in page.elements if "placing" in e.props)


def test_the_proposed_place_is_the_one_that_counts_at_first(desk, run, monkeypatch):
    page, _ = opened(desk, run, monkeypatch)
    assert "Proposed by the shape of the piece" in page.text
    assert page.words(page.all("li", "place-row here")[0]).startswith("A Back of the shank")
    assert page.button("Back to the proposed place").props["aria-disabled"] == "true"
    assert page.button("Set the sprue at place A").text == "It stands here"
    assert [(f["letter"], f["at"], f["what"]) for f in viewer(page).props["flags"]] == [
        ("A", [0, 0, -10.9], "Place"),
        ("B", [5.7, 4.8, 9.5], "Place"),
    ]
    assert viewer(page).props["grip"] == [0, 0, -10.9]


def test_another_place_is_kept_at_once_and_undone_by_one_press(desk, run, monkeypatch):
    page, settle = opened(desk, run, monkeypatch)
    page.press("Set the sprue at place B")
    assert sprues_of(desk.store.run(run.id)) == {run.pieces[0][0]: (5.7, 4.8, 9.5)}
    settle()
    assert "Saved 08:30:00" in page.text
    assert "Set by you" in page.text
    assert page.words(page.all("li", "place-row here")[0]).startswith("B Side of the head")
    page.press("Back to the proposed place")
    settle()
    assert sprues_of(desk.store.run(run.id)) == {}
    assert page.words(page.all("li", "place-row here")[0]).startswith("A ")


def test_a_point_on_the_piece_is_kept_and_a_bad_one_is_told(desk, run, monkeypatch):
    page, settle = opened(desk, run, monkeypatch)
    desk.crew.own = place("shoulder", (1, 2, 3), trouble="the piece is 0.8 mm thick there")
    page.happen(viewer(page), "placed", {"part": "piece", "at": [1.0, 2.0, 3.0], "out": [0.0, 0.0, 1.0]})
    settle()
    assert sprues_of(desk.store.run(run.id)) == {run.pieces[0][0]: (1.0, 2.0, 3.0)}
    assert viewer(page).props["grip"] == [1.0, 2.0, 3.0]
    assert not page.all("li", "place-row here")
    assert "Your place is thin there: the piece is 0.8 mm thick there." in page.text
    desk.crew.own = place("back of the shank", (0, 0, -10.9), trouble="it lies in the bore, so it is not used", used=False)
    page.happen(viewer(page), "placed", {"part": "piece", "at": [0.0, 0.0, 8.0], "out": [0.0, 0.0, -1.0]})
    settle()
    assert "Your place cannot be used: it lies in the bore" in page.text
    assert "The plan takes instead: back of the shank" in page.text
    assert viewer(page).props["grip"] == [0.0, 0.0, 8.0], "it stands where it was set, whatever the plan takes"


def test_a_flag_in_the_picture_sets_the_sprue_too(desk, run, monkeypatch):
    page, settle = opened(desk, run, monkeypatch)
    page.happen(viewer(page), "picked", "B")
    settle()
    assert "Set by you" in page.text


def test_why_no_place_can_be_chosen_is_told(desk, run, monkeypatch):
    desk.crew.fault = BadRequestError("Heddle band is not sound.", try_this="Mend it first.")
    page, _ = opened(desk, run, monkeypatch)
    assert "Heddle band is not sound. Mend it first." in page.text


def test_a_run_without_pieces_leads_to_its_form(desk):
    page = Built(lambda: sprues_page(desk, desk.new_run().id))
    assert "This run takes no piece yet" in page.text
    assert page.all("a", "btn")[-1].props["href"] == "/runs/1"


def test_an_answer_that_comes_late_is_not_shown(desk, run, monkeypatch):
    page, _ = opened(desk, run, monkeypatch)
    with page.client:
        shown = Sprues(desk, None, run_id=run.id, pattern_id=run.pieces[0][0])
        told = desk.crew.answer

        def while_another_is_asked(call, *given):
            shown.turn += 1
            return told(call, *given)

        monkeypatch.setattr(desk.crew, "answer", while_another_is_asked)
        asyncio.run(shown.ask())
    assert shown.found is None, "the newer one will be shown"


def test_which_of_the_list_is_set():
    assert chosen_of([BACK, SIDE], None) == 0
    assert chosen_of([BACK, SIDE], (5.7, 4.8, 9.49)) == 1
    assert chosen_of([BACK, SIDE], (1, 2, 3)) is None


def test_the_form_of_the_run_says_whose_the_sprue_is_and_leads_there(desk, run):
    pattern = run.pieces[0][0]
    page = Built(lambda: run_page(desk, run.id))
    way = page.all("a", "sprue-way")[0]
    assert (way.text, way.props["href"]) == ("Sprue point", f"/runs/{run.id}/sprues?piece={pattern}")
    desk.set_sprue(run.id, pattern, (1, 2, 3))
    assert Built(lambda: run_page(desk, run.id)).all("a", "sprue-way")[0].text == "Sprue: yours"


def test_a_finding_of_a_sprue_leads_to_its_page(desk, run):
    found = finding("warn", "It is fed through a neck", code="tree-neck")
    worked_out(desk, run, deep(findings=[found]))
    page = Built(lambda: run_page(desk, run.id))
    assert [a.props["href"] for a in page.all("a", "btn") if a.text == "Set its sprue"] == [f"/runs/{run.id}/sprues?piece=1"]
    assert way_of(run, deep(), {"code": "tree-neck", "where": "piece K"}) is None
    assert way_of(run, deep(), {"code": "wall-thin", "where": "piece A"}) is None
    assert way_of(run, deep(), {"code": "freeze-cut-off", "where": "piece A"}) == (
        "Show how it freezes",
        f"/runs/{run.id}/freezing",
    )


def test_that_no_place_alone_feeds_the_piece_stands_over_the_list(desk, run, monkeypatch):
    page, _ = opened(desk, run, monkeypatch)
    assert not page.all("p", "no-cure")
    desk.crew.no_cure = "No single sprue feeds it. Set a second one of 3.5 mm."
    page, _ = opened(desk, run, monkeypatch)
    assert [page.words(e) for e in page.all("p", "no-cure")] == ["No single sprue feeds it. Set a second one of 3.5 mm."]


def test_that_a_plan_takes_one_sprue_a_piece_is_said_where_a_second_one_is_looked_for(desk, run, monkeypatch):
    page, _ = opened(desk, run, monkeypatch)
    assert "A plan takes one sprue a piece." in page.text
    assert "weigh the tree then" in page.text


def test_a_place_that_fell_away_with_the_unit_of_the_pattern_is_told_on_both_pages(desk, run, monkeypatch):
    pattern_id = run.pieces[0][0]
    desk.set_sprue(run.id, pattern_id, (5.7, 4.8, 9.5))
    desk.set_units(pattern_id, "inch")
    assert "Set its sprue anew: the unit was changed" in Built(lambda: run_page(desk, run.id)).text
    page, settle = opened(desk, run, monkeypatch)
    assert "Your place fell away: the unit of the pattern was changed." in page.text
    page.press("Set the sprue at place B")
    settle()
    assert "fell away" not in page.text
    assert "Set by you" in page.text
