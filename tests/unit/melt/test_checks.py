"""Findings of the melt step: each fires and stays silent; shipped alloys give no stop."""

import pytest

from pourwell.findings import Severity
from pourwell.materials.studio import Studio
from tests.unit.burnout.case import altered, library, run

STERLING = library().alloy("sterling-925")


def crucible(cm3):
    return Studio(melting={"crucible_cm3": cm3})


def test_alloy_poison_fires():
    leaded = altered(STERLING, composition_percent={"Ag": 92.5, "Cu": 6.5, "Cd": 0.6, "Pb": 0.4})
    found = [f for f in run(alloy=leaded).findings if f.code == "alloy-poison"]
    assert [f.severity for f in found] == [Severity.STOP] * 2
    assert "lead" in found[0].says
    assert "cadmium" in found[1].says


def test_a_trace_of_lead_under_the_limit_of_the_law_is_no_stop():
    traced = altered(STERLING, composition_percent={"Ag": 92.5, "Cu": 7.48, "Pb": 0.02})
    assert "alloy-poison" not in run(alloy=traced).codes


def test_own_row_doubtful_fires():
    mine = altered(STERLING, liquidus_c=940)
    found = run(alloy=mine).finding("own-row-doubtful")
    assert found.severity == "warn"
    assert "metal" in found.says


def test_own_row_doubtful_stays_silent():
    assert "own-row-doubtful" not in run(alloy=altered(STERLING, liquidus_c=898)).codes
    assert all("own-row-doubtful" not in run(alloy=name).codes for name in library().alloys)


def test_alloy_poison_stays_silent():
    assert all("alloy-poison" not in run(alloy=name).codes for name in library().alloys)


def test_alloy_advisory_fires():
    assert run(alloy="platinum-950-cobalt", investment="phosphate").severity("alloy-advisory") == "warn"


def test_alloy_advisory_stays_silent():
    assert "alloy-advisory" not in run().codes


def test_metal_by_rule_fires():
    found = run(alloy="palladium-950", investment="phosphate").finding("metal-by-rule")
    assert found.severity == "warn"
    assert "refiner" in found.do


def test_metal_by_rule_stays_silent():
    assert "metal-by-rule" not in run().codes
    assert "metal-by-rule" not in run(alloy="palladium-950", investment="phosphate", metal_c=1510).codes


def test_mould_wrong_fires():
    assert run(alloy="platinum-950-ruthenium").severity("mould-wrong") == "stop"


def test_mould_wrong_stays_silent():
    assert "mould-wrong" not in run(alloy="platinum-950-ruthenium", investment="phosphate").codes
    assert "mould-wrong" not in run(investment="phosphate").codes


def test_metal_over_mould_fires():
    found = run(metal_c=1130).finding("metal-over-mould")
    assert found.severity == "stop"
    assert "sulphur" in found.says
    assert "metal-hot" not in run(metal_c=1130).codes


def test_metal_over_mould_stays_silent():
    assert "metal-over-mould" not in run(metal_c=1120).codes


def test_metal_not_liquid_fires():
    assert run(metal_c=896).severity("metal-not-liquid") == "stop"


def test_metal_not_liquid_stays_silent():
    assert "metal-not-liquid" not in run(metal_c=897).codes


def test_metal_hot_fires():
    found = run(metal_c=1060, flask_c=500).finding("metal-hot")
    assert found.severity == "warn"
    assert "gas porosity" in found.says
    assert "black" in found.says
    assert (found.measure, found.limit) == ("1060 °C", "950 to 990 °C")


def test_metal_hot_stays_silent():
    assert "metal-hot" not in run().codes
    assert "metal-hot" not in run(metal_c=990).codes


@pytest.mark.parametrize("metal_c", [900, 920, 945])
def test_metal_cold_fires(metal_c):
    found = run(metal_c=metal_c).finding("metal-cold")
    assert found.severity == "warn"
    assert "misruns" in found.says


def test_metal_cold_stays_silent():
    assert "metal-cold" not in run(metal_c=950).codes


def test_cold_metal_is_told_by_how_much_sooner_it_freezes():
    said = run(metal_c=923).finding("metal-cold").says
    assert "keeps its superheat" in said
    percent = int(said.rpartition("keeps its superheat ")[2].partition("%")[0])
    assert 10 < percent < 50


def test_flask_hot_fires():
    found = run(flask_c=640).finding("flask-hot")
    assert found.severity == "warn"
    assert "porosity" in found.says


def test_flask_hot_stays_silent():
    assert "flask-hot" not in run(flask_c=565).codes


def test_flask_cold_fires():
    found = run(flask_c=400).finding("flask-cold")
    assert found.severity == "warn"
    assert "misruns" in found.says


def test_flask_cold_stays_silent():
    assert "flask-cold" not in run(flask_c=510).codes


def test_flask_limited_fires():
    mild = altered(library().investment("gypsum-stone"), peak_c=510)
    found = run(investment=mild, stones=True, section_mm=0.8).finding("flask-limited")
    assert found.severity == "note"
    assert "kept at {t:445}, the most that this mould with stones stands" in found.says
    plain = run(investment=mild, section_mm=0.8)
    assert "kept at {t:510}, the most that this mould stands" in plain.finding("flask-limited").says
    assert "flask-over-peak" not in plain.codes


def test_flask_limited_stays_silent():
    assert "flask-limited" not in run(investment="gypsum-stone", stones=True, section_mm=4.0).codes
    assert "flask-limited" not in run().codes
    assert "flask-limited" not in run(flask_c=400).codes


def test_returns_share_fires():
    found = run(returns_fraction=0.7).finding("returns-share")
    assert found.severity == "warn"
    assert "30.2 g" in found.do
    assert "zinc" not in found.says, "there is none in sterling"
    assert "burns off zinc" in run(alloy="gold-417-yellow", returns_fraction=0.9).finding("returns-share").says


def test_returns_share_stays_silent():
    assert "returns-share" not in run(returns_fraction=0.5).codes


def test_crucible_small_fires():
    over, brim = run(studio=crucible(6)), run(studio=crucible(7.5))
    assert over.severity("crucible-small") == "stop"
    assert "run over" in over.finding("crucible-small").says
    assert brim.severity("crucible-small") == "warn"


def test_crucible_small_stays_silent():
    assert "crucible-small" not in run(studio=crucible(20)).codes
    assert "crucible-small" not in run().codes


@pytest.mark.parametrize("name", library().alloys)
@pytest.mark.parametrize("section_mm", [0.5, 1.8, 5.0])
def test_a_shipped_alloy_in_its_own_mould_gives_no_stop_and_few_warns(name, section_mm):
    investment = "gypsum-standard" if library().alloy(name).mould == "gypsum" else "phosphate"
    found = run(alloy=name, investment=investment, section_mm=section_mm).findings
    warns = [f.code for f in found if f.severity is Severity.WARN]
    assert not [f.code for f in found if f.severity is Severity.STOP]
    assert len(warns) <= (3 if library().alloy(name).advisory else 0), warns


def test_a_plain_run_finds_nothing():
    assert [f.code for f in run().findings] == []


def test_weight_mixed_fires():
    found = run(mixed=True, metal_g=100.0).finding("weight-mixed")
    assert found.severity == "note"
    assert "--wax" in found.do


def test_weight_mixed_stays_silent():
    assert "weight-mixed" not in run(metal_g=100.0).codes
