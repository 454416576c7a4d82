"""Equilibrium without a guess, and the recipes beside the point where two solids become one, for which it is there."""

import numpy as np
import pytest

from pourwell.materials.library import load_library
from pourwell.physics.alloy.afresh import equilibrium
from pourwell.physics.alloy.freeze import freeze, liquidus
from pourwell.physics.alloy.heat import melting, mole_fractions
from pourwell.physics.alloy.phases import NoEquilibriumError, newcomer
from pourwell.steps.melt.computed import assessment

ENERGIES = assessment(load_library())
NOWHERE = np.empty((0, 3))
CASES = {
    "18 ct": ([16, 75, 9], 0.4),
    "14 ct": ([20.5, 58.5, 21], 0.5),
    "9 ct": ([20, 37.5, 42.5], 0.3),
    "8 ct": ([34.5, 33.3, 32.2], 0.5),
}


def moles(percents):
    return mole_fractions(np.array(percents, dtype=float), ENERGIES.molar_masses)


@pytest.mark.parametrize("name", CASES)
def test_from_nothing_it_finds_what_the_path_found_step_by_step(name):
    percents, liquid = CASES[name]
    path = freeze(ENERGIES, moles(percents), "lever")
    point = min(path, key=lambda p: abs(p.liquid_moles - liquid))
    found = equilibrium(ENERGIES, moles(percents), point.temperature, near=NOWHERE)
    assert found.amounts[0] == pytest.approx(point.liquid_moles, abs=1e-6)
    assert found.compositions[0] == pytest.approx(point.liquid, abs=1e-6)
    assert len(found.compositions) == 1 + len(point.solids)


@pytest.mark.parametrize("name", CASES)
def test_what_it_finds_holds_all_the_metal_and_nothing_else_wants_to_appear(name):
    percents, _ = CASES[name]
    whole = moles(percents)
    temperature = liquidus(ENERGIES, whole).temperature - 8.0
    found = equilibrium(ENERGIES, whole, temperature, near=whole[None, :])
    assert found.amounts @ found.compositions == pytest.approx(whole, abs=1e-9)
    potentials = ENERGIES.liquid.potentials(found.compositions[0], temperature)
    other = newcomer(ENERGIES.fcc, potentials, temperature=temperature, there=found.compositions[1:])
    assert other is None or other.height > -1e-9


@pytest.mark.parametrize("by", [+30.0, -400.0])
def test_where_all_is_liquid_or_all_is_solid_there_is_no_balance_of_both(by):
    whole = moles([16, 75, 9])
    with pytest.raises(NoEquilibriumError):
        equilibrium(ENERGIES, whole, liquidus(ENERGIES, whole).temperature + by, near=NOWHERE)


BESIDE = [
    (0.3173, 0.4907, 0.1920),
    (0.3274, 0.4765, 0.1961),
    (0.3644, 0.4690, 0.1667),
    (0.3176, 0.4898, 0.1927),
    (0.3289, 0.4912, 0.1798),
    (0.3371, 0.4901, 0.1728),
    (0.2974, 0.4851, 0.2175),
    (0.3525, 0.4746, 0.1729),
    (0.4088, 0.4619, 0.1293),
]
"""Shares of silver, gold, copper by mass at which a single step of an earlier form of the walk found no way on."""


@pytest.mark.parametrize("way", ["lever", "scheil"])
@pytest.mark.parametrize("shares", BESIDE)
def test_beside_the_end_of_the_gap_a_recipe_freezes_like_its_neighbours(shares, way):
    """Continuity: its range and latent heat are those of recipes two thousandths of the metal away, but for what that moves."""
    here = melting(ENERGIES, moles(shares), way)
    assert np.diff(here.temperature).min() >= 0
    assert np.diff(here.enthalpy).min() > 0
    others = [melting(ENERGIES, moles(np.array(shares) + 0.002 * (np.arange(3) == i)), way) for i in range(3)]
    for other in others:
        assert here.liquidus == pytest.approx(other.liquidus, abs=2)
        assert here.last_liquid == pytest.approx(other.last_liquid, abs=2)
        assert here.latent == pytest.approx(other.latent, rel=0.02)
