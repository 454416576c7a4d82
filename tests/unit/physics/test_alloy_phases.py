"""Phases beside each other: the balance that Newton finds, the phase that wants to appear, the solid that parts."""

import numpy as np
import pytest

from pourwell.materials.library import load_library
from pourwell.physics.alloy.cooling import FROZEN_IN, cool
from pourwell.physics.alloy.freeze import freeze, liquidus
from pourwell.physics.alloy.phases import Balance, NoEquilibriumError, State, first_solid, newcomer, settle
from pourwell.steps.melt.computed import assessment

ENERGIES = assessment(load_library())
SILVER_COPPER = ENERGIES.among(np.array([0, 2]))
PHASES = (SILVER_COPPER.liquid, SILVER_COPPER.fcc)
EUTECTIC = 1052.28


def tie_line(temperature, moles=(0.9, 0.1)):
    guess = State(temperature=temperature, compositions=np.array([[0.8, 0.2], [0.93, 0.07]]), amounts=np.array([0.5, 0.5]))
    return settle(PHASES, guess, Balance(moles=np.array(moles), temperature=temperature))


def test_settled_phases_have_equal_potentials_and_hold_all_the_metal():
    state = tie_line(1120.0)
    liquid, solid = (phase.potentials(x, 1120.0) for phase, x in zip(PHASES, state.compositions, strict=True))
    assert liquid == pytest.approx(solid, abs=1e-5)
    assert state.amounts @ state.compositions == pytest.approx([0.9, 0.1], abs=1e-10)
    assert state.amounts.sum() == pytest.approx(1)


def test_a_tie_line_does_not_depend_on_how_much_there_is_of_each_phase():
    """Lever rule: only the amounts move with the whole."""
    one, other = tie_line(1120.0), tie_line(1120.0, (0.88, 0.12))
    assert one.compositions == pytest.approx(other.compositions, abs=1e-9)
    assert other.amounts[0] > one.amounts[0]


def test_given_the_amount_of_liquid_the_temperature_is_found():
    there = tie_line(1120.0)
    guess = State(temperature=1100.0, compositions=there.compositions, amounts=there.amounts)
    back = settle(PHASES, guess, Balance(moles=np.array([0.9, 0.1]), first_amount=float(there.amounts[0])))
    assert back.temperature == pytest.approx(1120.0, abs=1e-6)


def test_a_solid_without_diffusion_is_laid_down_half_as_it_began():
    """The trapezium rule: the liquid's loss is the mean of the first and the last solid."""
    before = liquidus(SILVER_COPPER, np.array([0.9, 0.1]))
    after = settle(PHASES, before, Balance(moles=np.array([0.9, 0.1]), first_amount=0.95, before=before.compositions))
    mean = (before.compositions[1] + after.compositions[1]) / 2
    assert 0.95 * after.compositions[0] + 0.05 * mean == pytest.approx([0.9, 0.1], abs=1e-10)


def test_phases_that_cannot_balance_are_refused():
    """One temperature, one liquid and one solid of one metal: nothing is left to be found."""
    silver = ENERGIES.among(np.array([0]))
    guess = State(temperature=1000.0, compositions=np.ones((2, 1)), amounts=np.array([0.5, 0.5]))
    with pytest.raises(NoEquilibriumError, match="not found to balance"):
        settle((silver.liquid, silver.fcc), guess, Balance(moles=np.ones(1), temperature=1000.0))


def test_far_above_the_liquidus_no_solid_wants_to_appear_and_below_it_does():
    liquid = np.array([0.9, 0.1])
    at = liquidus(SILVER_COPPER, liquid).temperature
    assert first_solid(SILVER_COPPER, liquid, at + 20).height > 0 > first_solid(SILVER_COPPER, liquid, at - 20).height
    assert first_solid(SILVER_COPPER, liquid, at).height == pytest.approx(0, abs=1e-8)


def test_the_lowest_place_is_lower_than_any_other():
    """Against a fine scan of all compositions."""
    potentials, at = SILVER_COPPER.liquid.potentials(np.array([0.5, 0.5]), 1080.0), 1080.0
    found = newcomer(SILVER_COPPER.fcc, potentials, temperature=at, there=np.empty((0, 2)))
    scan = min(
        float(x @ (SILVER_COPPER.fcc.potentials(x, at) - potentials)) / (8.31451 * at)
        for x in (np.array([1 - c, c]) for c in np.linspace(1e-4, 1 - 1e-4, 2000))
    )
    assert found.height <= scan + 1e-9
    assert found.height == pytest.approx(scan, abs=1e-5)


def test_at_the_eutectic_the_second_solid_just_appears():
    path = freeze(SILVER_COPPER, np.array([0.86, 0.14]), "scheil")
    before = path[-2]
    potentials = SILVER_COPPER.liquid.potentials(before.liquid, before.temperature)
    found = newcomer(SILVER_COPPER.fcc, potentials, temperature=before.temperature, there=before.solids)
    assert before.temperature == pytest.approx(EUTECTIC, abs=0.02)
    assert found is None or abs(found.height) < 1e-6


def test_a_phase_that_is_there_is_not_found_again():
    state = tie_line(1120.0)
    potentials = SILVER_COPPER.liquid.potentials(state.compositions[0], 1120.0)
    found = newcomer(SILVER_COPPER.fcc, potentials, temperature=1120.0, there=state.compositions[1:])
    assert found is None or np.abs(found.composition - state.compositions[1]).max() > 0.3


def test_only_what_is_near_to_appearing_is_looked_at_closely():
    potentials = SILVER_COPPER.liquid.potentials(np.array([0.9, 0.1]), 1300.0)
    assert newcomer(SILVER_COPPER.fcc, potentials, temperature=1300.0, there=np.empty((0, 2)), within=0.001) is None


def test_sterling_parts_on_cooling_and_a_gold_alloy_without_a_gap_does_not():
    moles = np.array([0.8791, 0.1209])
    end = freeze(SILVER_COPPER, moles, "lever")[-1]
    temperatures, features = cool(SILVER_COPPER, moles, temperature=end.temperature, solids=end.solids)
    assert (temperatures[0], temperatures[-1]) == pytest.approx((end.temperature, FROZEN_IN))
    one = SILVER_COPPER.fcc.features(moles)
    assert features[0] == pytest.approx(one, abs=1e-8)
    assert np.abs(features[-1] - one).max() > 0.02
    gold_silver = ENERGIES.among(np.array([0, 1]))
    _, whole = cool(gold_silver, np.array([0.5, 0.5]), temperature=1200.0, solids=np.array([[0.5, 0.5]]))
    assert np.abs(whole - gold_silver.fcc.features(np.array([0.5, 0.5]))).max() < 1e-12


def test_parting_lowers_the_energy_and_loses_no_metal():
    moles = np.array([0.8791, 0.1209])
    end = freeze(SILVER_COPPER, moles, "lever")[-1]
    _, features = cool(SILVER_COPPER, moles, temperature=end.temperature, solids=end.solids)
    assert features[:, :2] == pytest.approx(np.tile(moles, (len(features), 1)), abs=1e-9)
    heat = features @ SILVER_COPPER.fcc.coefficients(FROZEN_IN, "enthalpy")
    assert heat[-1] < heat[0]


def test_two_solids_from_the_eutectic_stay_two():
    moles = np.array([0.6, 0.4])
    end = freeze(SILVER_COPPER, moles, "lever")[-1]
    assert len(end.solids) == 2
    _, features = cool(SILVER_COPPER, moles, temperature=end.temperature, solids=end.solids)
    assert features[0] == pytest.approx(end.features, abs=1e-8)
    assert np.diff(features[:, 2]).max() < 0  # x_Ag x_Cu falls as each solution gets purer


@pytest.mark.parametrize("silver_percent", [7.6, 8.1, 8.5])
def test_a_solidus_that_turns_back_is_followed(silver_percent):
    """Copper holds more silver some way above the eutectic than at it: liquid grows again on cooling."""
    masses = np.array([silver_percent, 100 - silver_percent]) / SILVER_COPPER.molar_masses
    path = freeze(SILVER_COPPER, masses / masses.sum(), "lever")
    assert path[-1].liquid_moles == 0
    assert np.diff([p.temperature for p in path]).max() <= 1e-9
