"""Two plans side by side, built without a browser: what they have, what is different, all flasks of both."""

from datetime import timedelta

import pytest

from pourwell.app.desk_runs import asked_of
from pourwell.web.desk.compare import chosen, compare_page, firings
from pourwell.web.desk.compared import rows
from pourwell.web.kept import link
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import NOW, finding


@pytest.fixture
def desk(still_desk):
    return still_desk


def both(desk, run, **other):
    first = worked_out(desk, run, deep(charge=75.1))
    changed = desk.change_run(run.id, fields={"flask": "89x102"})
    return first, worked_out(desk, changed, deep(charge=80.0, **other))


def test_two_plans_stand_side_by_side_with_what_was_chosen_otherwise(desk, run):
    first, second = both(desk, run, findings=[finding("warn", "It is thin")])
    page = Built(lambda: compare_page(desk, run.id))
    assert "Chosen otherwise: flask." in page.text
    table = {page.words(row).split("  ")[0]: row for row in page.all("tr")}
    charge = next(page.words(row) for row in table.values() if page.words(row).startswith("Charge"))
    assert charge == "Charge 75.1 g 80.0 g +4.9 g"
    warned = next(row for row in page.all("tr") if page.words(row).startswith("Warnings"))
    assert page.words(warned) == "Warnings 0 1 +1"
    assert [page.words(cell) for cell in warned.default_slot.children if "better" in cell.classes] == ["0"]
    assert "In B" in page.text
    assert "It is thin" in page.text
    assert [e.props["solids"][0]["src"] for e in page.elements if "solids" in e.props] == [
        link(first, "view.bin"),
        link(second, "view.bin"),
    ]
    assert "Both programmes" in page.text


def test_what_is_the_same_is_pale_and_says_so(desk, run):
    both(desk, run)
    page = Built(lambda: compare_page(desk, run.id))
    same = [page.words(row) for row in page.all("tr", "same")]
    assert "Metal at the pour 970 °C 970 °C same" in same
    assert "Both have the same findings." in page.text


def test_a_difference_is_that_of_the_figures_shown_and_what_one_has_not_is_not_the_same(desk, run):
    """36.6 % and 40.4 % are shown as 37 and 40: three points apart."""
    plans = deep(frozen=False), deep()
    for plan, share in zip(plans, (0.366, 0.404), strict=True):
        plan["tree"] = {**plan["tree"], "yield_fraction": share}
        worked_out(desk, run, plan)
    page = Built(lambda: compare_page(desk, run.id))
    said = [page.words(row) for row in page.all("tr")]
    assert "Yield 37 % 40 % +3 points" in said
    assert "Pieces not surely fed \u2014 1 \u2014" in said


def test_any_two_of_all_runs_can_be_chosen(desk, run):
    other = desk.new_run(fields={"weight": "23"})
    kept = [(7, other.id, NOW), (6, run.id, NOW), (5, run.id, NOW)]
    assert chosen(kept, run.id, (0, 0)) == (5, 6), "by default the one before and the last of this run"
    assert chosen(kept, run.id, (7, 0)) == (7, 6)
    assert chosen(kept, run.id, (0, 7)) == (6, 7)
    assert chosen(kept, run.id, (99, 98)) == (5, 6)
    assert chosen(kept, other.id, (0, 0)) == (6, 7)
    assert chosen(kept[:1], other.id, (0, 0)) is None


def test_a_choice_leads_to_the_page_of_these_two(desk, run, monkeypatch):
    both(desk, run)
    gone = []
    monkeypatch.setattr("pourwell.web.desk.compare.ui.navigate.to", gone.append)
    page = Built(lambda: compare_page(desk, run.id))
    page.type("Plan A", "3")
    assert gone == [f"/runs/{run.id}/compare?a=3&b=3"]


def flask_of(mm, *, charge, metal_g, share, pieces, hours=0, **how):
    """One flask of several: its metal, the share of it that is pieces, and when its kiln goes on."""
    one = deep(charge=charge, **how)
    one["flask"] = {"diameter_mm": mm, "height_mm": 76.0}
    one["tree"] = {**one["tree"], "metal_g": metal_g, "yield_fraction": share}
    one["pieces"] = pieces
    if hours:
        later = NOW + timedelta(hours=8 + hours)
        one["burnout"]["starts_at"] = one["burnout"]["segments"][0]["starts_at"] = later.isoformat(timespec="minutes")
    return one


def two_against_one(desk, run):
    band, bezel = {"id": "A", "name": "Band", "count": 3}, {"id": "B", "name": "Bezel", "count": 2}
    small = flask_of(64.0, charge=40.0, metal_g=30.0, share=0.5, pieces=[band])
    other = flask_of(51.0, charge=30.0, metal_g=10.0, share=0.3, pieces=[band | {"count": 1}, bezel], hours=2)
    large = flask_of(89.0, charge=65.0, metal_g=38.0, share=0.5, pieces=[band | {"count": 4}, bezel])
    files = {"view.bin": b"a", "view.json": b"{}", "2-view.bin": b"b", "2-view.json": b"{}"}
    first = desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [small, other]}, files=files, now=NOW)
    return first, worked_out(desk, run, large)


def test_all_flasks_of_both_plans_are_shown_and_what_they_have_together(desk, run):
    """By hand: 40 + 30 = 70 g of charge; 0.5 x 30 + 0.3 x 10 = 18 g of pieces in 40 g of metal is 45 %."""
    first, second = two_against_one(desk, run)
    page = Built(lambda: compare_page(desk, run.id))
    said = [page.words(row) for row in page.all("tr")]
    assert "Charge 70.0 g 65.0 g \u22125.0 g" in said
    assert "Yield 45 % 50 % +5 points" in said
    assert "Pieces 6 6 same" in said
    assert any(row.startswith("Goes in 4 \u00d7 Band, 2 \u00d7 Bezel 4 \u00d7 Band, 2 \u00d7 Bezel") for row in said), said
    assert any(row.startswith("Flask 64 \u00d7 76 mm, 51 \u00d7 76 mm 89 \u00d7 76 mm other") for row in said), said
    assert "A 1 A 2 B" in said, "flask by flask"
    assert "Charge 40.0 g 30.0 g 65.0 g" in said
    assert "Flask 64 \u00d7 76 mm 51 \u00d7 76 mm 89 \u00d7 76 mm" in said
    assert [e.props["solids"][0]["src"] for e in page.elements if "solids" in e.props] == [
        link(first, "view.bin"),
        link(first, "2-view.bin"),
        link(second, "view.bin"),
    ]
    assert [e.text for e in page.all("span", "strong") if e.text[0] in "AB"] == ["A 1", "A 2", "B"]


def test_flasks_that_go_through_one_firing_share_its_line():
    plan, later = deep(), flask_of(64.0, charge=40.0, metal_g=30.0, share=0.5, pieces=[], hours=2)
    names = [(name, style) for name, _, _, style in firings(([plan, plan], [plan, later, plan]), timedelta())]
    assert names == [("A", "c-ink"), ("B 1, 3", "c-acc"), ("B 2", "c-acc dotted")]


def test_a_finding_of_a_second_flask_alone_is_told(desk, run):
    plain, bad = deep(), deep(findings=[finding("warn", "It is thin")])
    worked_out(desk, run, plain, bad)
    worked_out(desk, run, plain)
    page = Built(lambda: compare_page(desk, run.id))
    assert "In A" in page.text
    assert "It is thin" in page.text


def test_a_single_plan_says_how_to_get_another(desk, run):
    worked_out(desk, run, deep())
    assert "Another plan is needed to compare with" in Built(lambda: compare_page(desk, run.id)).text


def test_a_figure_that_one_has_not_is_a_dash(desk):
    weight = {row.what: row for row in rows(deep(frozen=False, weight=True), deep(), zone=None)}
    assert weight["Tree in metal"].both == ("\u2014", "74.2")
    assert weight["Pieces not surely fed"].both == ("\u2014", "1")
    assert weight["Tree in metal"].difference == ""
    assert not weight["Tree in metal"].same
    assert "Your hands" in weight
