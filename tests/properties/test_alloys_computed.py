"""What must hold of any recipe of silver, gold and copper, over the whole triangle with its edges and corners."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.materials.library import load_library
from pourwell.physics.alloy.heat import COLDEST, HOTTEST, liquidus_temperature, melting, mole_fractions
from pourwell.steps.melt.computed import METALS, assessment, freezing, why_not

LIBRARY = load_library()
ENERGIES = assessment(LIBRARY)
PARTS = st.lists(st.one_of(st.just(0.0), st.floats(1e-4, 100)), min_size=3, max_size=3).filter(any)
WAYS = st.sampled_from(["lever", "scheil"])
LOWEST_LIQUID = 1040.0
"""[K]: some kelvins under the lowest end of any path that was computed; no liquid of the three metals is known under it."""
HIGHEST_MELTING = 1357.78


def melted(parts, way):
    return melting(ENERGIES, mole_fractions(np.array(parts), ENERGIES.molar_masses), way)


@given(PARTS, WAYS)
def test_any_recipe_freezes_between_the_lowest_eutectic_and_the_highest_melting_point(parts, way):
    got = melted(parts, way)
    assert LOWEST_LIQUID < got.last_liquid <= got.liquidus < HIGHEST_MELTING


@given(PARTS)
def test_a_casting_is_never_solid_before_metal_at_rest(parts):
    """Without diffusion the liquid is further on at every temperature; a solidus that turns back is the only, slight, exception."""
    even, cast = melted(parts, "lever"), melted(parts, "scheil")
    assert cast.liquidus == pytest.approx(even.liquidus, abs=1e-6)
    assert cast.last_liquid <= even.last_liquid + 1.0


@given(PARTS, WAYS)
def test_heat_rises_with_temperature_all_the_way(parts, way):
    got = melted(parts, way)
    assert (got.temperature[0], got.temperature[-1]) == pytest.approx((COLDEST, HOTTEST))
    assert got.enthalpy[0] == 0
    assert np.diff(got.temperature).min() >= 0
    assert np.diff(got.enthalpy).min() > 0


@given(PARTS, WAYS)
def test_the_solid_grows_from_none_to_all(parts, way):
    got = melted(parts, way)
    assert (got.path_solid[0], got.path_solid[-1]) == (0, 1)
    assert got.path_solid.min() >= 0
    assert got.path_solid.max() <= 1
    assert np.diff(got.path_temperature).max() <= 0
    assert 0 <= got.together_fraction <= 1


@given(PARTS, WAYS)
def test_what_is_there_is_a_composition(parts, way):
    got = melted(parts, way)
    for compositions in (got.path_liquid, got.path_forming):
        assert compositions.sum(axis=1) == pytest.approx(1, abs=1e-9)
        assert compositions.min() >= 0
    absent = [i for i, part in enumerate(parts) if part == 0]
    assert not got.path_liquid[:, absent].any()


@given(PARTS, WAYS)
def test_heats_lie_between_those_of_the_metals_or_near(parts, way):
    """Latent 60 to 215 kJ/kg (gold 64, copper 209); capacities 150 to 520 J/(kg K)."""
    got = melted(parts, way)
    assert 60e3 < got.latent < 215e3
    for capacity in (got.liquid_capacity, got.solid_capacity):
        assert 150 < capacity < 520


@given(PARTS, st.floats(0.01, 50))
def test_a_recipe_s_scale_does_not_matter(parts, scale):
    one, other = (mole_fractions(np.array(p), ENERGIES.molar_masses) for p in (parts, [scale * p for p in parts]))
    assert one == pytest.approx(other, abs=1e-12)


@given(PARTS, st.integers(0, 2))
def test_a_little_more_of_a_metal_moves_the_liquidus_a_little(parts, which):
    """Continuity: a thousandth of the whole never moves it by more than 5 K."""
    whole = sum(parts)
    more = [part + 0.001 * whole * (i == which) for i, part in enumerate(parts)]
    one, other = (liquidus_temperature(ENERGIES, mole_fractions(np.array(p), ENERGIES.molar_masses)) for p in (parts, more))
    assert abs(one - other) < 5


@given(st.permutations(METALS), PARTS)
def test_the_order_in_which_a_recipe_is_written_does_not_matter(order, parts):
    whole = sum(parts)
    percents = {metal: 100 * part / whole for metal, part in zip(METALS, parts, strict=True) if part}
    turned = {metal: percents[metal] for metal in order if metal in percents}
    assert why_not(percents, LIBRARY) == ""
    assert freezing(percents, LIBRARY, "lever").last_liquid == freezing(turned, LIBRARY, "lever").last_liquid


@given(st.dictionaries(st.sampled_from(["Ag", "Au", "Cu", "Zn", "Pd", "X"]), st.one_of(st.floats(), st.floats(0, 100)), max_size=4))
def test_any_recipe_is_computed_or_refused_with_a_reason(recipe):
    why = why_not(recipe, LIBRARY)
    assert why == "" or why.endswith(".")
    if why == "":
        assert freezing(recipe, LIBRARY, "lever").liquidus > LOWEST_LIQUID
