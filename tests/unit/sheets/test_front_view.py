"""The front: seven figures with their bands, findings, what the plan leans on."""

from dataclasses import replace
from datetime import time

import pytest

from pourwell.findings import Severity
from pourwell.plan import Leaned
from pourwell.sheets.display import Display
from pourwell.sheets.front_view import ASSUMED, assumed, counts, figures, findings_view, headed, leaned, run_facts
from pourwell.sheets.run_sheet import run_sheet, view
from pourwell.steps.flask.model import FIGURES_WIN
from tests.golden.sheets.plans import STUDIO, plan
from tests.golden.sheets.reading import page_texts
from tests.golden.sheets.variants import by_weight, stopped

SHOW, IMPERIAL = Display(), Display("imperial")


def values(show: Display = SHOW, of=None) -> dict[str, str]:
    return {f["label"]: f"{f['value']} {f['unit']}".strip() for f in figures(of or plan(), show)}


def notes(label: str, of) -> list[str]:
    return next(f["notes"] for f in figures(of, SHOW) if f["label"] == label)


def test_the_seven_figures_stand_in_the_order_of_the_bench():
    assert values() == {
        "Charge": "125.9 g",
        "Powder": "590 g",
        "Water": "230 g",
        "Flask temperature": "500 °C",
        "Metal temperature": "970 °C",
        "Kiln on": "17:23",
        "Pour": "10:00",
    }


def test_the_hours_carry_their_day():
    assert [f["day"] for f in figures(plan(), SHOW)] == ["", "", "", "", "", "Thu 3 Dec", "Fri 4 Dec"]


def test_an_imperial_sheet_keeps_the_metric_figure_beside_its_own():
    both = {f["label"]: (f"{f['value']} {f['unit']}", f["also"]) for f in figures(plan(), IMPERIAL)}
    assert both["Powder"] == ("20.8 oz", "590 g")
    assert both["Charge"] == ("81.0 dwt", "125.9 g")
    assert both["Metal temperature"] == ("1778 °F", "970 °C")
    assert both["Kiln on"] == ("5:23 pm", "")


def test_each_weighed_and_heated_figure_has_its_band():
    assert notes("Charge", plan()) == ["124.0 to 128.4 by density and loss", "75.5 fresh + 50.4 returns"]
    assert notes("Flask temperature", plan()) == ["480 to 520 at the pour"]
    assert notes("Metal temperature", plan()) == ["960 to 985 at the pour", "liquid from 896"]
    assert notes("Water", plan()) == ["39 to 100 of powder (38 to 40)", "21 to 24 °C"]


def test_the_word_of_the_bag_is_named():
    made = plan()
    bag = replace(made, mix=replace(made.mix, ratio_from="bag", ratio_g_per_100_g=40.5))
    assert notes("Water", bag)[0] == "40.5 to 100 of powder, from the bag"


def test_the_users_own_temperatures_are_named_as_his():
    made = plan()
    own = replace(made, temperatures=replace(made.temperatures, metal_from="user", flask_from="user"))
    assert notes("Metal temperature", own)[1] == notes("Flask temperature", own)[1] == "your own figure"


def test_a_charge_without_returns_and_one_alloyed_by_the_user_say_what_to_weigh():
    made = plan()
    fresh = replace(made.charge, returns_g=0.0, fresh_g=made.charge.total_g)
    assert notes("Charge", replace(made, charge=fresh))[1] == "125.9 fresh, no returns"
    own = replace(made.charge, fine="Au", fine_g=44.1, master_g=31.4)
    assert notes("Charge", replace(made, charge=own))[1] == "44.1 fine Au + 31.4 master alloy + 50.4 returns"


def test_the_run_says_what_hangs_on_it():
    assert run_facts(plan(), SHOW)[-1] == ("On it", "6 pieces", ": 2 A, 2 B, 1 C, 1 D")
    assert run_facts(by_weight(), SHOW)[-1] == ("On it", "a tree of 14.3 g", ", known by its weight alone")


def test_findings_stand_with_stops_first_and_keep_measure_limit_and_source():
    view = findings_view(stopped(25, 3), SHOW)
    assert [f["severity"] for f in view][:4] == ["stop", "stop", "stop", "warn"]
    assert view[0]["foot"].replace("\u00a0", " ") == "tree, tier 2; overlap 0.4 mm; limit 3 mm apart"
    assert any(f["foot"] == "charge; 40 %; limit 50 % [bench-alloys-2004]" for f in view)


def test_findings_are_counted_by_severity():
    assert counts(stopped(25, 3)) == {"stop": 3, "warn": 12, "note": 10}
    assert set(counts(plan())) == {s.value for s in Severity}


def test_weak_values_are_told_with_unit_and_grade():
    assert leaned(plan()) == [
        "net shrinkage of resin: 0.012 (estimate)",
        "liquid density of Sterling silver 925: 9.1 g/cm³ (memory)",
        "melt loss by torch: 0.01 (estimate)",
    ]


@pytest.mark.parametrize(
    ("what", "unit", "says"),
    [
        ("gypsum-resin: metal_max_c", "degC", "gypsum-resin, metal max: 3 °C (memory)"),
        ("sterling-925: surface_tension_n_per_m", "N/m", "sterling-925, surface tension: 3 N/m (memory)"),
        ("Air in the kiln", "W/(m2 K)", "Air in the kiln: 3 W/(m² K) (memory)"),
    ],
)
def test_names_and_units_of_the_data_are_told_in_words(what, unit, says):
    value = Leaned(what=what, value=3.0, unit=unit, grade="memory", source="invented")
    assert leaned(replace(plan(), leaned=(value,))) == [says]


def test_names_from_the_data_stand_with_a_capital():
    assert headed("sterling silver") == "Sterling silver"
    assert headed("") == ""


def test_equipment_that_the_studio_does_not_give_is_told():
    words = assumed(plan(), SHOW)
    assert "kiln falls 120 °C an hour" in words
    assert "rubber base 8 mm deep, dome 28 \u00d7 12 mm" in words
    assert not any(w.startswith("cast ") for w in words), "the fixture's studio gives how it casts"


def test_a_studio_that_gives_everything_leaves_nothing_assumed():
    given = STUDIO.model_copy(update={"given": frozenset(ASSUMED)})
    made = plan(studio=given)
    assert assumed(replace(made, flask=replace(made.flask, base_assumed=False)), SHOW) == []


def test_kiln_on_says_that_the_kiln_is_shared():
    made = plan()
    shared = replace(made, kiln_load=replace(made.kiln_load, runs=(46, 47, 48)))

    def note(of):
        return next(f for f in figures(of, Display()) if f["label"] == "Kiln on")["notes"][0]

    assert note(shared).endswith(", shared with 2 other runs")
    assert "shared" not in note(made)


@pytest.mark.parametrize("doubt", ["unit", "hull"])
def test_under_a_doubt_nothing_is_weighed_and_the_doubt_stands_where_the_figure_would(doubt):
    made = plan()
    first = replace(made.patterns[0], piece=replace(made.patterns[0].piece, doubt=doubt))
    unsure = replace(made, patterns=(first, *made.patterns[1:]))
    assert list(values(of=unsure).items())[:3] == [("Charge", "\u2014 g"), ("Powder", "\u2014 g"), ("Water", "\u2014 g")]
    for label in ("Charge", "Powder", "Water"):
        assert notes(label, unsure) == [f"not told: the size of {first.piece.name} is in doubt"]
    assert list(values(of=unsure).items())[3:] == list(values().items())[3:]


def test_a_kiln_that_fires_in_the_night_says_so_on_the_front():
    made = plan()
    assert "alarms that sleepers hear" in view(made, paper="a4", display="metric", pictures={})["night"]
    awake = made.studio.model_copy(update={"sleep_from": time(10, 30), "sleep_to": time(11, 30)})
    assert view(replace(made, studio=awake), paper="a4", display="metric", pictures={})["night"] == ""


def test_the_band_of_a_charge_by_weight_is_named_for_what_makes_it():
    """Where resin and wax were weighed as one the share of wax makes most of the band; where it was said, density and loss do."""
    made = by_weight()
    assert made.weighed is not None
    for mixed, words in ((True, "unknown wax share"), (False, "density and loss")):
        of = replace(made, weighed=replace(made.weighed, mixed=mixed))
        assert notes("Charge", of)[0].endswith(f" by {words}")


def test_the_front_says_who_wins_over_its_figures_and_for_phosphate_whose_the_liquid_is():
    made = plan()
    assert view(made, paper="a4", display="metric", pictures={})["wins"] == (FIGURES_WIN,)
    phosphate = replace(made, mix=replace(made.mix, binder="phosphate"))
    printed = " ".join(page_texts(run_sheet(phosphate, pictures={}))[0].split())
    assert printed.index("win over every figure here") < printed.index("liquid and ratio are its maker's") < printed.index("Water")
