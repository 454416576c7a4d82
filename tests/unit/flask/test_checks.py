"""Findings of the flask step: each fires and stays silent."""

from dataclasses import replace

import pytest

from pourwell.materials.studio import Studio
from pourwell.steps.flask import checks
from tests.unit.burnout.case import altered, library, run

NO_PUMP = Studio(investing_vacuum={"bowl": False, "flask": False})


def standard(**changes):
    return altered(library().investment("gypsum-standard"), **changes)


def test_flask_unknown_fires():
    found = run(size=(71, 93)).finding("flask-unknown")
    assert found.severity == "note"
    assert "{l:71}" in found.says


def test_flask_unknown_stays_silent():
    assert "flask-unknown" not in run(size=(76, 100)).codes


@pytest.mark.parametrize("diameter_mm", [28, 140])
def test_flask_size_unchecked_fires(diameter_mm):
    assert run(size=(diameter_mm, 100)).severity("flask-size-unchecked") == "warn"


@pytest.mark.parametrize("diameter_mm", [30, 130])
def test_flask_size_unchecked_stays_silent(diameter_mm):
    assert "flask-size-unchecked" not in run(size=(diameter_mm, 100)).codes


def test_flask_guessed_fires():
    assert flask_facts(guessed=True) == ["flask-guessed"]


def test_flask_guessed_stays_silent():
    assert flask_facts(guessed=False) == []


def flask_facts(*, guessed=False, **room):
    made = run()
    facts = checks.Facts(
        flask=replace(made.flask, **room),
        mix=made.mix,
        investment=made.investment,
        pattern_material=made.pattern_material,
        stones=False,
        studio=Studio(),
        library=library(),
        guessed=guessed,
    )
    return [f.code for f in checks.findings(facts)]


def test_flask_no_room_fires():
    assert run(size=(76, 31)).severity("flask-no-room") == "stop"


def test_flask_no_room_stays_silent():
    assert "flask-no-room" not in run(size=(50, 55)).codes


def test_a_dome_that_fills_the_room_to_the_hair_leaves_none():
    assert flask_facts(usable_mm=10.0, dome_height_mm=10.0) == ["flask-no-room"]
    assert flask_facts(usable_mm=10.5, dome_height_mm=10.0) == []


@pytest.mark.parametrize(("ratio", "fault"), [(50, "weak mould"), (30, "bubbles")])
def test_water_ratio_outside_fires(ratio, fault):
    found = run(investment=standard(water_g_per_100_g=ratio)).finding("water-ratio-outside")
    assert found.severity == "warn"
    assert fault in found.says


def test_water_ratio_outside_stays_silent():
    assert "water-ratio-outside" not in run(investment=standard(water_g_per_100_g=41)).codes
    assert "water-ratio-outside" not in run(investment="phosphate").codes


def test_work_time_short_fires():
    found = run(investment=standard(gloss_off_min=7)).finding("work-time-short")
    assert found.severity == "warn"
    assert "5.5 min" in found.measure


def test_work_time_short_stays_silent():
    assert "work-time-short" not in run(investment=standard(gloss_off_min=8)).codes
    assert "work-time-short" not in run(investment=standard(gloss_off_min=8.5)).codes


def test_investing_no_vacuum_fires():
    none = run(studio=NO_PUMP).finding("investing-no-vacuum")
    assert none.severity == "warn"
    assert "beads of metal" in none.says
    assert "wetting agent" in none.do
    half = run(studio=Studio(investing_vacuum={"bowl": True, "flask": False}))
    assert half.severity("investing-no-vacuum") == "note"


def test_investing_no_vacuum_stays_silent():
    assert "investing-no-vacuum" not in run().codes


def test_investment_not_for_pattern_fires():
    grade = standard(for_patterns=["wax"])
    assert run(pattern="resin", investment=grade).severity("investment-not-for-pattern") == "warn"


def test_investment_not_for_pattern_stays_silent():
    assert "investment-not-for-pattern" not in run(pattern="resin", investment="gypsum-resin").codes


def test_investment_not_for_stones_fires():
    assert run(stones=True).severity("investment-not-for-stones") == "warn"


def test_investment_not_for_stones_stays_silent():
    assert "investment-not-for-stones" not in run(stones=True, investment="gypsum-stone").codes


def test_investment_advisory_fires():
    assert run(alloy="platinum-950-ruthenium", investment="phosphate").severity("investment-advisory") == "warn"


def test_investment_advisory_stays_silent():
    assert "investment-advisory" not in run().codes


def weighed(tree_cm3):
    made = run(size=(76, 100))
    facts = {name: getattr(made, name) for name in ("flask", "mix", "investment", "pattern_material", "studio")}
    return checks.findings(checks.Facts(**facts, stones=False, library=library(), tree_cm3=tree_cm3))


@pytest.mark.parametrize(("tree_cm3", "severity"), [(70, "warn"), (138, "stop"), (550, "stop")])
def test_flask_overfull_fires(tree_cm3, severity):
    """143 g of resin, typed for 14.3, are 138 cm3; base, cover and wall leave about 260 cm3 in a flask of 76 by 100."""
    (found,) = (f for f in weighed(tree_cm3) if f.code == "flask-overfull")
    assert found.severity == severity
    assert f"{tree_cm3} cm" in found.says


@pytest.mark.parametrize("tree_cm3", [None, 13.7, 40])
def test_flask_overfull_stays_silent(tree_cm3):
    assert "flask-overfull" not in {f.code for f in weighed(tree_cm3)}
