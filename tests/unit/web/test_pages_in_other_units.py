"""Pages of a run and of pieces in inch, °F and pennyweights: no figure stays in the units of the workshop, none is lost."""

import asyncio

import pytest

from pourwell.app.shown import Shown
from pourwell.sheets.display import Display
from pourwell.web.desk.compare import compare_page
from pourwell.web.desk.compared import rows
from pourwell.web.desk.draft import printed
from pourwell.web.desk.firing import firing_page, verdicts
from pourwell.web.desk.freezing import freezing_page
from pourwell.web.desk.run import run_page
from pourwell.web.desk.runs import runs_page
from pourwell.web.desk.shape import ShapePage, shape_page
from pourwell.web.desk.sprues import Sprues, sprues_page
from pourwell.web.desk.studio import studio_page
from pourwell.web.desk.units import show_in
from tests.unit.web.built import Built, note_addresses
from tests.unit.web.deep import deep, place, worked_out
from tests.unit.web.samples import finding, planned
from tests.unit.web.test_drafts_on_pages import Answers
from tests.unit.web.test_sprue_pages import Answers as Places

IMPERIAL = '[shown]\nlength = "inch"\ntemperature = "F"\nweight = "dwt"\n'


@pytest.fixture
def desk(still_desk):
    (still_desk.folder / "studio.toml").write_text(IMPERIAL, encoding="utf-8")
    return still_desk


def whole(page):
    return page.words(page.client.layout).replace("\u00a0", " ")


def other_flask(**more):
    out = deep(**more)
    out["flask"] = {"diameter_mm": 88.9, "height_mm": 127.0}
    out["pour"] = {**out["pour"], "metal_c": 985.0}
    return out


def test_two_plans_are_compared_in_the_units_of_the_studio(desk, run):
    worked_out(desk, run, deep(charge=75.1))
    worked_out(desk, desk.change_run(run.id, fields={"flask": "89x127"}), other_flask(charge=80.0))
    page = Built(lambda: compare_page(desk, run.id))
    table = [page.words(row) for row in page.all("tr")]
    assert "Charge 48.3 dwt 51.4 dwt +3.2 dwt" in table
    assert "Metal at the pour 1778 °F 1805 °F +27 °F" in table, "a difference of 15 K, not 59 °F"
    assert any(row.startswith("Flask 2.99 \u00d7 4.02 in 3.50 \u00d7 5.00 in other") for row in table), table
    assert [e.text for e in page.all("h3") if "flask" in e.text] == [
        "A: flask 2.99 \u00d7 4.02 in",
        "B: flask 3.50 \u00d7 5.00 in",
    ]


def test_the_heads_of_freezing_and_burnout_are_in_the_units_of_the_studio(desk, run):
    worked_out(desk, run, deep())
    assert "Sterling silver at 1778 °F into a flask at 1004 °F." in Built(lambda: freezing_page(desk, run.id)).text
    assert "flask 2.99 \u00d7 4.02 in" in Built(lambda: firing_page(desk, run.id)).text


@pytest.mark.parametrize("build", [lambda desk, run: runs_page(desk), lambda desk, run: studio_page(desk)])
def test_the_charge_of_a_run_in_hand_is_in_pennyweights(desk, run, build):
    planned(desk, run, findings=[finding("stop", "Rim is 0.50 mm thick")])
    said = whole(Built(lambda: build(desk, run)))
    assert "75.1" not in said
    assert "mm" not in said


def test_places_for_a_sprue_are_told_in_inches_with_their_reasons(desk, run, monkeypatch):
    class Thin(Places):
        own = place("shoulder", (1, 2, 3), trouble="the piece is 0.80 mm thick there", reason="Its stump is 2.5 mm wide.")

    back = place("back of the shank", (0, 0, -10.9), reason="It is fed through 1.50 mm.")
    monkeypatch.setattr("tests.unit.web.test_sprue_pages.BACK", back)
    desk.crew = Thin()
    desk.set_sprue(run.id, run.pieces[0][0], (1, 2, 3))
    states, original = [], Sprues.build
    monkeypatch.setattr(Sprues, "build", lambda self, result: (states.append(self), original(self, result))[1])
    page = Built(lambda: sprues_page(desk, run.id))
    with page.client:
        asyncio.run(states[0].ask())
    said = whole(page)
    assert "Your place is thin there: the piece is 0.0315 in thick there." in said
    assert "Sprue 0.12 in Thickness there 0.067 in" in said
    assert "Its stump is 0.098 in wide." in said
    assert "It is fed through 0.0591 in." in said
    assert "Sprue 0.12 in; thickness there 0.067 in" in said
    assert " mm" not in said


def test_a_dimension_of_a_shape_is_typed_in_inches_and_made_in_millimetres(desk, monkeypatch):
    desk.crew = Answers()
    addresses, states, original = [], [], ShapePage.build
    note_addresses(monkeypatch, addresses.append)
    monkeypatch.setattr(ShapePage, "build", lambda self: (states.append(self), original(self))[1])
    page = Built(lambda: shape_page(desk, {"bore": "18.4 mm"}))
    with page.client:
        asyncio.run(states[0].begin())
    made = [given[1]["dimensions"] for call, given in desk.crew.asked if call.endswith(":make_shape")]
    assert made == [("bore=18.4",)]
    assert page.field("Bore").props["value"] == "0.7244094"
    page.type("Bore", "0.7")
    made = [given[1]["dimensions"] for call, given in desk.crew.asked if call.endswith(":make_shape")]
    assert made[-1] == ("bore=17.78",)
    assert addresses == ["/patterns/new?bore=0.7+in"], "the address keeps what was typed, with its unit"
    page.type("Bore", "20")
    assert page.help_of("Bore").startswith("20 in is above what can be. Enter 0.00 to 11.81 in."), page.help_of("Bore")


def test_fields_of_a_run_keep_their_unit_when_the_studio_takes_another(desk, run):
    page = Built(lambda: run_page(desk, run.id))
    page.type("Metal at the pour", "1780")
    assert desk.store.run(run.id).form["metal_c"] == "1780 °F"
    page.press("Work it out")
    assert desk.crew.jobs[0].given[1]["form"]["metal_c"] == pytest.approx(971.111, abs=1e-3)
    page.type("Flask at the pour", "30")
    assert page.help_of("Flask at the pour") == "30 °F is below what can be. Enter 68 to 2,012 °F."
    (desk.folder / "studio.toml").write_text("", encoding="utf-8")
    assert Built(lambda: run_page(desk, run.id)).field("Metal at the pour").props["value"] == "971.1111"
    (desk.folder / "studio.toml").write_text(IMPERIAL, encoding="utf-8")
    assert Built(lambda: run_page(desk, run.id)).field("Metal at the pour").props["value"] == "1780"


# ---- figures of two plans


def row_of(what, a, b):
    return next(row for row in rows(a, b, zone=None) if row.what == what)


@pytest.mark.parametrize(
    ("what", "section", "key", "values", "better", "says"),
    [
        ("Energy", "burnout", "energy_kwh", (9.2, 8.0), 1, "\u22121.2"),
        ("Energy", "burnout", "energy_kwh", (8.0, 9.2), 0, "+1.2"),
        ("Yield", "tree", "yield_fraction", (0.41, 0.52), 1, "+11"),
        ("Least clearance", "tree", "clearance_mm", (3.1, 2.9), 0, "\u22120.2"),
        ("Programme", "burnout", "total_min", (960, 870), 1, "\u22121 h 30"),
        ("Charge", "charge", "total_g", (75.1, 60.0), None, "\u221215.1"),
        ("Energy", "burnout", "energy_kwh", (9.21, 9.24), None, ""),
    ],
)
def test_the_tick_stands_at_the_better_and_nowhere_where_nobody_can_say(what, section, key, values, better, says):
    a, b = deep(), deep()
    for plan, value in zip((a, b), values, strict=True):
        plan[section] = {**plan[section], key: value}
    row = row_of(what, a, b)
    assert (row.better, row.difference) == (better, says)
    assert row.same is (says == "")


def test_more_stops_are_worse_whatever_else_is_better():
    a, b = deep(findings=[finding("stop", "Open"), finding("warn", "Thin")]), deep(findings=[finding("warn", "Thin")])
    assert (row_of("Stops", a, b).both, row_of("Stops", a, b).better) == (("1", "0"), 1)
    assert row_of("Warnings", a, b).same


def test_pours_of_different_hours_are_told_by_how_much_later():
    a, b = deep(), deep()
    b["pour"] = {**b["pour"], "at": "2026-11-27T11:00+00:00"}
    assert row_of("Pour", a, b).difference == "2 h 30 later"
    assert row_of("Pour", b, a).difference == "2 h 30 earlier"


@pytest.mark.parametrize("a", [1, 999, -5])
def test_a_plan_that_there_is_not_is_replaced_by_one_that_there_is(desk, run, a):
    one, two = worked_out(desk, run, deep()), worked_out(desk, run, deep())
    page = Built(lambda: compare_page(desk, run.id, a=a))
    assert {page.field("Plan A").value, page.field("Plan B").value} == {str(one.id), str(two.id)}


# ---- measures of the burnout


@pytest.mark.parametrize(
    ("measure", "at_most", "margin", "warned"),
    [
        (2.5, True, "+50 %", False),
        (5.0, True, "none", False),
        (5.14, True, "\u22123 %", False),
        (5.2, True, "\u22124 %", True),
        (4.8, False, "\u22124 %", True),
        (6.0, False, "+20 %", False),
    ],
)
def test_a_limit_is_missed_only_by_more_than_grids_differ(measure, at_most, margin, warned):
    one = {"what": "steam", "measure": measure, "limit": 5.0, "unit": "kW/m\u00b2", "at_most": at_most, "published": 4.0}
    page = Built(lambda: verdicts({"burnout": {"verdicts": [one | {"at_end": "much water"}]}}))
    row = page.all("tr")[1]
    assert f"{'at most' if at_most else 'at least'} 5.0 kW/m\u00b2 {margin}" in page.words(row)
    assert bool([e for e in row.descendants() if "mark" in e.classes]) is warned


def test_a_measure_is_told_with_the_source_of_its_limit_and_what_the_limit_is_at_other_ends():
    """25 K are 45 degF: a difference, so no 32 is added."""
    one = {"what": "rim ahead", "measure": 20.0, "limit": 25.0, "unit": "K", "at_most": True, "published": 22.0, "widest": 30.0}
    one |= {"reached": 30.0, "rule": 20.0}
    time = {"what": "char", "measure": 60.0, "limit": 50.0, "unit": "min", "at_most": False, "published": 60.0, "held_to": 70.0}
    time |= {"source": "b", "held_source": "c", "widest": 40.0, "by": "the table", "at_end": "slow"}
    told = {"a": "Author, Title, 1990", "b": "own choice", "c": "A table"}

    def build():
        show_in(Shown(Display(temperature_in="F")))
        verdicts({"burnout": {"verdicts": [one | {"source": "a", "at_end": "fast"}, time]}, "limit_sources": told})

    page = Built(build)
    first, second = (page.words(row) for row in page.all("tr")[1:])
    assert "at most 45 up to 54 at other ends °F" in first or "at most 45 °F up to 54 at other ends" in first, first
    assert "reaches 54 at its highest, over the rule's own 36" in first
    assert first.endswith("Author, Title, 1990")
    assert "down to 40 at other ends held to 70, its table's own time" in second
    assert second.endswith("own choice; A table")


@pytest.mark.parametrize(
    ("published", "says"), [(900, "this is 1 h longer"), (960, "this is no longer"), (990, "this is 30 min shorter")]
)
def test_the_programme_is_held_against_the_published_one(desk, run, published, says):
    plan = deep()
    plan["burnout"]["published_min"] = published
    worked_out(desk, run, plan)
    assert says in whole(Built(lambda: firing_page(desk, run.id)))


def test_a_comma_reaches_the_figures_of_a_page_and_not_its_hours():
    def build():
        show_in(Shown(Display(comma=True)))
        verdicts(deep())

    said = whole(Built(build))
    assert "2,2 kW/m\u00b2 at most 5,0 kW/m\u00b2 +56 %" in said
    assert printed("9:30 to 10:15") == "9:30 to 10:15"
