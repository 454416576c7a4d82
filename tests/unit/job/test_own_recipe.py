"""A recipe typed by the user goes all the way: from the studio's file to the plan's temperatures and what it leaned on."""

from datetime import UTC, datetime

import pytest

from pourwell.errors import BadDataError
from pourwell.findings import Severity
from pourwell.job import plan_runs
from pourwell.materials.library import load_library
from pourwell.materials.studio import Studio
from pourwell.request import Request
from pourwell.steps.melt.computed import melts

SHIPPED = load_library()
NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
POUR = datetime(2027, 3, 4, 10, 0, tzinfo=UTC)
STUDIO = Studio(name="Quillmere Studio", time_zone="Europe/Lisbon", flasks=(SHIPPED.flask("64x64"),))


def typed(folder, like, recipe):
    """The library of a studio with one own recipe that says nothing of its melting."""
    (folder / "alloys").mkdir()
    text = f'id = "own"\nname = "Own recipe"\nlike = "{like}"\ncomposition_percent = {recipe}\n'
    (folder / "alloys" / "own.toml").write_text(text, encoding="utf-8")
    return load_library(folder, melts=melts(SHIPPED))


def planned(library, alloy="own"):
    asked = Request(alloy=alloy, pour_at=POUR, weight_g=20.0)
    (plan,) = plan_runs(asked, (), studio=STUDIO, library=library, now=NOW, tell=lambda _: None)
    return plan


RECIPES = {
    "sterling with a little less copper": ("sterling-925", "{ Ag = 93.5, Cu = 6.5 }"),
    "14 ct yellow with more silver": ("gold-585-yellow", "{ Au = 58.5, Ag = 25.0, Cu = 16.5 }"),
    "18 ct between 2N and 3N": ("gold-750-yellow-3n", "{ Au = 75.0, Ag = 14.0, Cu = 11.0 }"),
    "9 ct red": ("gold-375-red", "{ Au = 37.5, Ag = 8.0, Cu = 54.5 }"),
}


@pytest.mark.parametrize("name", RECIPES)
def test_an_own_recipe_is_planned_with_its_computed_temperatures(tmp_path, name):
    library = typed(tmp_path, *RECIPES[name])
    plan, alloy = planned(library), library.alloy("own")
    assert plan.temperatures.metal_c >= alloy.liquidus_c.value + library.rule("superheat_least_k")
    assert plan.temperatures.flask_c <= alloy.solidus_c.value - library.rule("flask_below_solidus_k")
    assert not [f for f in plan.findings if f.severity is Severity.STOP]


@pytest.mark.parametrize("name", RECIPES)
def test_the_plan_names_the_papers_that_its_temperatures_lean_on(tmp_path, name):
    plan = planned(typed(tmp_path, *RECIPES[name]))
    leaned = {entry.what: entry for entry in plan.leaned}
    for key in ("solidus_c", "liquidus_c"):
        assert "computed" in leaned[f"own: {key}"].source
        assert leaned[f"own: {key}"].grade == "estimate"


def test_a_recipe_that_melts_higher_is_poured_hotter(tmp_path):
    """Less copper in sterling: liquidus 7 K up, metal no less."""
    usual, own = planned(SHIPPED, "sterling-925"), planned(typed(tmp_path, "sterling-925", "{ Ag = 95.0, Cu = 5.0 }"))
    assert own.temperatures.metal_c > usual.temperatures.metal_c


def test_the_sheet_s_recipe_with_zinc_is_not_computed_in_silence(tmp_path):
    with pytest.raises(BadDataError, match="solidus_c"):
        typed(tmp_path, "gold-585-yellow", "{ Au = 58.5, Ag = 20.0, Cu = 16.5, Zn = 5.0 }")
