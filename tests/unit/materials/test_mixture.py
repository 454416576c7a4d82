"""Mixing: what must hold of it whatever the figures of the elements are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.errors import UnknownNameError
from pourwell.materials import mixture
from pourwell.materials.library import load_library

ELEMENTS = load_library().elements
BY_MASS = {
    "latent_kj_per_kg": mixture.latent_kj_per_kg,
    "cp_solid_j_per_kg_k": mixture.cp_solid_j_per_kg_k,
    "cp_liquid_j_per_kg_k": mixture.cp_liquid_j_per_kg_k,
    "surface_tension_n_per_m": mixture.surface_tension_n_per_m,
    "density_g_per_cm3": mixture.density_g_per_cm3,
}
recipes = st.dictionaries(st.sampled_from(sorted(ELEMENTS)), st.floats(0.1, 100), min_size=1, max_size=5)


@pytest.mark.parametrize("key", BY_MASS)
@pytest.mark.parametrize("symbol", ["Ag", "Au", "Cu"])
def test_a_pure_metal_mixes_to_itself(key, symbol):
    assert BY_MASS[key]({symbol: 100.0}, ELEMENTS) == pytest.approx(getattr(ELEMENTS[symbol], key).value)


@pytest.mark.parametrize("key", BY_MASS)
@given(recipe=recipes)
def test_a_mixture_lies_between_its_parts(key, recipe):
    parts = [getattr(ELEMENTS[symbol], key).value for symbol in recipe]
    assert min(parts) * (1 - 1e-12) <= BY_MASS[key](recipe, ELEMENTS) <= max(parts) * (1 + 1e-12)


@pytest.mark.parametrize("key", BY_MASS)
@given(recipe=recipes, factor=st.floats(0.01, 50))
def test_only_the_shares_of_a_recipe_matter(key, recipe, factor):
    scaled = {symbol: part * factor for symbol, part in recipe.items()}
    assert BY_MASS[key](scaled, ELEMENTS) == pytest.approx(BY_MASS[key](recipe, ELEMENTS))


@given(recipe=recipes)
def test_volumes_add(recipe):
    """A melt of two lots has the volume of both lots."""
    lots = [({symbol: part}, part) for symbol, part in recipe.items()]
    apart = sum(grams / mixture.density_g_per_cm3(lot, ELEMENTS) for lot, grams in lots)
    together = sum(recipe.values()) / mixture.density_g_per_cm3(recipe, ELEMENTS)
    assert together == pytest.approx(apart)


@pytest.mark.parametrize("symbol", ["Ag", "Au", "Cu"])
def test_a_melt_is_lighter_than_the_solid_and_lighter_when_hotter(symbol):
    element = ELEMENTS[symbol]
    melting_c = element.melting_c.value
    at_melting = mixture.liquid_density_g_per_cm3({symbol: 100.0}, ELEMENTS, at_c=melting_c)
    hotter = mixture.liquid_density_g_per_cm3({symbol: 100.0}, ELEMENTS, at_c=melting_c + mixture.HOTTER_K)
    assert element.density_g_per_cm3.value > at_melting > hotter
    assert hotter == pytest.approx(element.liquid_density_100_k_hotter_g_per_cm3.value)


def test_an_element_without_a_row_is_named():
    with pytest.raises(UnknownNameError, match='No element is called "Xx"'):
        mixture.density_g_per_cm3({"Ag": 90.0, "Xx": 10.0}, ELEMENTS)


def test_metal_weighs_as_many_times_more_as_it_is_denser():
    assert mixture.metal_per_pattern_ratio(10.0, 2.0) == 5.0
