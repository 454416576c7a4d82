"""The red band over the pages of a run: what it says of what stops it, and that it goes when that does."""

from datetime import timedelta

import pytest

from pourwell.app.in_hand import KILN_TAKEN
from pourwell.web.desk.frame import frame
from pourwell.web.desk.sprues import sprues_page
from pourwell.web.desk.stopped import StopBand, red_band
from pourwell.web.desk.tag import Tag
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import NOW, finding


@pytest.fixture
def desk(still_desk):
    return still_desk


def banded(desk, run, *, view="how it freezes"):
    """A page with nothing but its head and the band; and the band."""
    made = []

    def build():
        with frame(desk, at="/runs", title="A page") as page:
            head = Tag("h1", "")
            made.append(StopBand(page, run.id, head=head, view=view))
            made[0].build()

    return Built(build), made[0]


def looked(page, band):
    with page.client:
        band.look()
    return [page.words(e) for e in page.all("p", "do-not-pour")]


def test_nothing_is_said_of_a_run_that_nothing_stops_or_that_is_not_worked_out(desk, run):
    page, band = banded(desk, run)
    assert looked(page, band) == []
    worked_out(desk, run, deep(findings=[finding("warn", "A thin wall")]))
    desk.turn += 1
    assert looked(page, band) == []
    assert page.client.title == "Run 1: how it freezes \u00b7 Pourwell"


def test_it_comes_with_a_plan_that_is_stopped_and_goes_with_one_that_is_not(desk, run):
    page, band = banded(desk, run)
    for findings, said in (
        ([finding("stop", "It will leak.")], ["Do not pour: It will leak. What to do"]),
        ([finding("stop", "It is open"), finding("stop", "It is wet")], ["Do not pour: It is open (and 1 more). What to do"]),
        ([], []),
    ):
        worked_out(desk, run, deep(findings=findings))
        desk.turn += 1
        assert looked(page, band) == said
    assert [e.text for e in page.all("h1")] == ["Run 1: how it freezes"]


def test_a_kiln_that_is_taken_forbids_the_fire_and_not_the_pour(desk, run):
    worked_out(desk, run, deep(findings=[finding("stop", "The kiln is taken", code=KILN_TAKEN)]))
    page, band = banded(desk, run, view="")
    assert looked(page, band) == ["Do not fire: The kiln is taken. What to do"]
    assert page.client.title == "Do not fire: run 1 \u00b7 Pourwell"
    assert next(e for e in page.all("a") if e.text == "What to do").props["href"] == "#findings"


def test_it_is_looked_at_anew_as_time_goes_on_and_not_at_every_glance(desk, run, monkeypatch):
    page, band = banded(desk, run)
    asked = []
    monkeypatch.setattr(desk, "standing_of", lambda run_id: asked.append(run_id))
    for _ in range(3):
        looked(page, band)
    assert asked == []
    monkeypatch.setattr(desk, "clock", lambda: NOW + timedelta(minutes=1))
    looked(page, band)
    assert asked == [run.id], "a clash with another run passes with time"


def test_of_a_run_that_is_laid_away_nothing_is_forbidden(desk, run):
    worked_out(desk, run, deep(findings=[finding("stop", "It will leak")]))
    page, band = banded(desk, run)
    assert looked(page, band)
    desk.remove_run(run.id)
    assert looked(page, band) == []


def test_words_in_the_band_are_words_and_the_way_is_only_where_there_is_one(desk):
    page = Built(lambda: red_band("Do not pour: <b>it</b> leaks."))
    assert page.words(page.all("p", "do-not-pour")[0]) == "Do not pour: <b>it</b> leaks."
    assert page.all("a") == []


def test_a_page_without_pieces_bears_it_too(desk):
    run = desk.new_run(fields={"weight": "23"})
    worked_out(desk, run, deep(findings=[finding("stop", "The kiln cannot reach it")]))
    page = Built(lambda: sprues_page(desk, run.id))
    assert "Do not pour: The kiln cannot reach it." in page.text
    assert "This run takes no piece yet" in page.text
