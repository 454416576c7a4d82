"""The heat table as a solver reads it, and what is told of a freezing path."""

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.materials.library import load_library
from pourwell.physics.alloy.heat import COLDEST, HOTTEST, liquidus_temperature, melting, mole_fractions
from pourwell.steps.melt.computed import assessment
from pourwell.units import k_from_c, kg_per_mol_from_g_per_mol

ENERGIES = assessment(load_library())
WAYS = ("lever", "scheil")


def melted(percents, way):
    return melting(ENERGIES, mole_fractions(np.array(percents, dtype=float), ENERGIES.molar_masses), way)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("percents", [(92.5, 0, 7.5), (12.5, 75, 12.5), (20, 37.5, 42.5)])
def test_the_table_turns_heat_back_into_temperature(percents, way):
    """What an enthalpy solver does at every cell: heat is unambiguous even where temperature stands still."""
    got = melted(percents, way)
    for temperature in (400.0, 800.0, got.last_liquid - 5, got.liquidus - 3, got.liquidus + 50, 1600.0):
        heat = got.enthalpy_at(temperature)
        assert np.interp(heat, got.enthalpy, got.temperature) == pytest.approx(temperature, abs=1e-6)


@pytest.mark.parametrize("way", WAYS)
def test_the_slope_of_the_table_is_the_heat_capacity_outside_the_melting_range(way):
    got = melted((12.5, 75, 12.5), way)
    slope = (got.enthalpy_at(got.liquidus + 20) - got.enthalpy_at(got.liquidus + 1)) / 19
    assert slope == pytest.approx(got.liquid_capacity, rel=0.01)
    if way == "scheil":  # by the lever rule the solid also evens out further
        slope = (got.enthalpy_at(got.last_liquid - 1) - got.enthalpy_at(got.last_liquid - 15)) / 14
        assert slope == pytest.approx(got.solid_capacity, rel=0.01)


@pytest.mark.parametrize("way", WAYS)
def test_latent_heat_and_cooling_make_up_all_the_heat_of_the_range(way):
    got = melted((92.5, 0, 7.5), way)
    path = got.enthalpy[np.searchsorted(got.temperature, got.liquidus)] - got.enthalpy_at(got.last_liquid - 1e-6)
    cooling = 0.5 * (got.liquid_capacity + got.solid_capacity) * (got.liquidus - got.last_liquid)
    assert got.latent + cooling == pytest.approx(path, rel=1e-3)


def test_the_table_begins_cold_and_ends_hot_enough_for_any_pour():
    got = melted((100, 0, 0), "lever")
    assert (got.temperature[0], got.temperature[-1]) == pytest.approx((COLDEST, HOTTEST))
    assert k_from_c(1300) < HOTTEST


def test_a_path_is_fine_enough_and_not_too_fine():
    for way in WAYS:
        got = melted((20, 37.5, 42.5), way)
        assert np.diff(-got.path_temperature).max() < 5
        assert len(got.temperature) < 250


def test_the_liquidus_alone_is_that_of_the_whole_path():
    x = mole_fractions(np.array([16.0, 75.0, 9.0]), ENERGIES.molar_masses)
    assert liquidus_temperature(ENERGIES, x) == melting(ENERGIES, x, "lever").liquidus


def test_a_part_in_a_million_is_left_out_and_a_part_in_a_thousand_is_not():
    pure, trace, some = (liquidus_temperature(ENERGIES, np.array([1 - c, 0, c])) for c in (0, 5e-7, 1e-3))
    assert trace == pure
    assert pure - some > 0.3


def test_fractions_that_are_none_are_refused_before_any_computing():
    with pytest.raises(BadRequestError, match="no recipe"):
        melting(ENERGIES, np.array([np.nan, 0.5, 0.5]), "lever")


def test_molar_masses_convert():
    assert kg_per_mol_from_g_per_mol(107.8682) == pytest.approx(0.1078682)
