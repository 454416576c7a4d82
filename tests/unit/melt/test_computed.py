"""The melting range of a recipe: what is computed, what is refused, and what a studio's own row makes of it."""

import numpy as np
import pytest

from pourwell.app.shop import open_shop
from pourwell.errors import BadDataError, BadRequestError
from pourwell.materials.checks import row_faults
from pourwell.materials.library import load_library, weak_values
from pourwell.materials.model import Grade
from pourwell.physics.alloy.heat import mole_fractions
from pourwell.steps.melt.computed import assessment, freezing, melting_range, melts, why_not
from pourwell.units import c_from_k

LIBRARY = load_library()
STERLING = {"Ag": 92.5, "Cu": 7.5}
OWN = """
id = "house-585"
name = "House 14 ct"
like = "gold-585-yellow"
fineness_permille = 585
composition_percent = { Au = 58.5, Ag = 25.0, Cu = 16.5 }
"""


def own(folder, text, *, computing=True):
    (folder / "alloys").mkdir()
    (folder / "alloys" / "mine.toml").write_text(text, encoding="utf-8")
    library = load_library(folder, melts=melts(LIBRARY) if computing else None)
    return library, next(row for key, row in library.alloys.items() if row != LIBRARY.alloys.get(key))


def test_sterling_melts_between_803_and_896_and_a_casting_is_liquid_down_to_779():
    got = melting_range(STERLING, LIBRARY)
    assert (round(got.solidus_c), round(got.liquidus_c), round(got.last_liquid_c)) == (803, 896, 779)
    assert got.band_k == 10
    assert got.sources == ("dinsdale-1991", "kattner-1999")


def test_sources_name_only_the_pairs_that_are_in_the_recipe():
    assert melting_range({"Au": 100.0}, LIBRARY).sources == ("dinsdale-1991",)
    assert "hassam-1988" in melting_range({"Au": 50.0, "Ag": 50.0}, LIBRARY).sources


@pytest.mark.parametrize(
    ("recipe", "said"),
    [
        ({"Ag": 92.5, "Cu": 5.5, "Zn": 2.0}, "2 percent Zn"),
        ({"Au": 75.0, "Pd": 13.0, "Ag": 10.0, "Cu": 2.0}, "13 percent Pd"),
        ({"Pt": 95.0, "Ru": 5.0}, "none of silver, gold and copper"),
        ({}, "none of silver"),
        ({"Ag": 92.5, "Cu": 5.0}, "adds to 97.5 percent"),
        ({"Ag": 110.0, "Cu": -10.0}, "numbers of nought or more"),
        ({"Ag": float("nan"), "Cu": 10.0}, "numbers of nought or more"),
        ({"Ag": float("inf")}, "numbers of nought or more"),
    ],
)
def test_a_recipe_outside_what_is_assessed_is_refused_with_the_reason(recipe, said):
    assert said in why_not(recipe, LIBRARY)
    with pytest.raises(BadRequestError, match="cannot be computed") as caught:
        freezing(recipe, LIBRARY, "lever")
    assert said in caught.value.why
    assert "refiner" in caught.value.try_this
    assert melts(LIBRARY)(recipe) is None


def test_the_impurity_of_fine_metal_is_let_pass():
    got = melting_range({"Ag": 99.9, "Pb": 0.1}, LIBRARY)
    assert got.liquidus_c == pytest.approx(961.78, abs=0.01)
    assert why_not({"Ag": 99.8, "Pb": 0.2}, LIBRARY)


def test_rounding_of_the_sum_is_let_pass():
    assert why_not({"Au": 33.3, "Ag": 33.3, "Cu": 33.3}, LIBRARY) == ""
    assert why_not({"Au": 33.3, "Ag": 33.3, "Cu": 33.0}, LIBRARY) != ""


@pytest.mark.parametrize("masses", [[0, 0, 0], [1, -1, 1], [np.nan, 1, 1], [1, 1]])
def test_parts_that_are_no_recipe_are_refused(masses):
    with pytest.raises(BadRequestError, match="no recipe"):
        mole_fractions(np.array(masses, dtype=float), assessment(LIBRARY).molar_masses)


def test_moles_follow_from_masses():
    """Ag 71.9 percent by mass is 60.1 percent of the atoms."""
    x = mole_fractions(np.array([71.9, 0, 28.1]), assessment(LIBRARY).molar_masses)
    assert x == pytest.approx([0.6012, 0, 0.3988], abs=1e-4)


def test_a_curve_can_be_asked_both_ways():
    got = freezing(STERLING, LIBRARY, "scheil")
    for fraction in (0.1, 0.3, 0.6, 0.8):
        assert got.solid_at(got.temperature_at_solid(fraction)) == pytest.approx(fraction, abs=1e-6)
    assert got.solid_at(got.liquidus + 1) == 0
    assert got.solid_at(got.last_liquid - 1) == 1
    assert c_from_k(got.temperature_at_solid(0.95)) == pytest.approx(779.1, abs=0.1)


def test_a_result_cannot_be_written_into():
    got = freezing(STERLING, LIBRARY, "lever")
    for name in ("temperature", "enthalpy", "path_solid", "path_liquid"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(got, name)[0] = 1.0


def test_pure_metal_freezes_at_one_temperature_in_the_table():
    got = freezing({"Cu": 100.0}, LIBRARY, "scheil")
    flat = np.flatnonzero(np.diff(got.temperature) == 0)
    assert len(flat) == 1
    assert got.enthalpy[flat[0] + 1] - got.enthalpy[flat[0]] == pytest.approx(got.latent, rel=1e-9)


def test_an_alloy_without_a_eutectic_has_no_flat_part():
    assert np.diff(freezing({"Ag": 50.0, "Au": 50.0}, LIBRARY, "lever").temperature).min() > 0


def test_an_own_recipe_gets_its_melting_range_with_the_band_and_the_papers(tmp_path):
    library, house = own(tmp_path, OWN)
    assert (house.solidus_c.value, house.liquidus_c.value) == (831, 850)
    assert house.liquidus_c.ends == (840, 860)
    assert house.liquidus_c.grade is Grade.ESTIMATE
    assert house.liquidus_c.source.startswith("sundman-1998:computed")
    assert all(key in house.solidus_c.source for key in ("kattner-1999", "hassam-1988", "dinsdale-1991"))
    assert "within 10 K" in house.solidus_c.note
    assert "797 degC" in house.solidus_c.note
    assert row_faults(house, library) == ()


def test_the_metal_temperature_follows_the_computed_liquidus(tmp_path):
    _, house = own(tmp_path, OWN)
    model = LIBRARY.alloy("gold-585-yellow")
    for key in ("metal_thin_c", "metal_medium_c", "metal_heavy_c"):
        above = getattr(house, key).value - house.liquidus_c.value
        assert above == pytest.approx(getattr(model, key).value - model.liquidus_c.value)


def test_what_is_computed_is_told_among_the_weak_values(tmp_path):
    """So the plan and the sheet name it."""
    _, house = own(tmp_path, OWN)
    assert {"solidus_c", "liquidus_c"} <= {key for key, _ in weak_values(house)}


def test_a_given_range_is_never_replaced(tmp_path):
    _, house = own(tmp_path, OWN + "solidus_c = 835\nliquidus_c = 855\n")
    assert (house.solidus_c.value, house.liquidus_c.value, house.liquidus_c.source) == (835, 855, "studio")


@pytest.mark.parametrize("line", ["liquidus_c = 855", "solidus_c = 835"])
def test_half_a_range_asks_for_the_other_half(tmp_path, line):
    """A computed end beside a measured one might even cross it."""
    with pytest.raises(BadDataError, match=r"_c.* missing"):
        own(tmp_path, OWN + line + "\n")


@pytest.mark.parametrize(
    "recipe", ["{ Au = 58.5, Ag = 20.0, Cu = 16.5, Zn = 5.0 }", "{ Au = 58.5, Ag = 20.0 }", "{ Au = 'much', Ag = 41.5 }", "5"]
)
def test_an_own_recipe_that_cannot_be_computed_still_asks_for_its_range(tmp_path, recipe):
    with pytest.raises(BadDataError):
        own(tmp_path, OWN.replace("{ Au = 58.5, Ag = 25.0, Cu = 16.5 }", recipe))


def test_a_changed_recipe_of_a_shipped_row_is_computed_too(tmp_path):
    _, ours = own(tmp_path, 'id = "sterling-925"\ncomposition_percent = { Ag = 93.0, Cu = 7.0 }\n')
    assert ours.liquidus_c.value == pytest.approx(899, abs=1)
    assert ours.liquidus_c.source == "kattner-1999:computed, with dinsdale-1991"


def test_without_a_way_to_compute_a_library_asks_as_before(tmp_path):
    with pytest.raises(BadDataError, match="solidus_c"):
        own(tmp_path, OWN, computing=False)


def test_the_shop_computes(tmp_path):
    (tmp_path / "alloys").mkdir()
    (tmp_path / "alloys" / "mine.toml").write_text(OWN, encoding="utf-8")
    assert open_shop(tmp_path).library.alloy("house-585").solidus_c.value == 831
