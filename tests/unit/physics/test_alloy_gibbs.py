"""Gibbs energies: each derivative that is written out against differences of the function itself."""

import numpy as np
import pytest

from pourwell.materials.library import load_library
from pourwell.physics.alloy.gibbs import GAS_CONSTANT, Solution, joined
from pourwell.steps.melt.computed import assessment

ENERGIES = assessment(load_library())
COMPOSITIONS = [np.array(x) for x in ([0.2, 0.3, 0.5], [0.05, 0.9, 0.05], [1 / 3, 1 / 3, 1 / 3], [0.98, 0.01, 0.01])]
PHASES = {"liquid": ENERGIES.liquid, "fcc": ENERGIES.fcc}


def gibbs(phase, x, temperature):
    return phase.features(x) @ phase.coefficients(temperature) + GAS_CONSTANT * temperature * (x * np.log(x)).sum()


@pytest.mark.parametrize("name", PHASES)
@pytest.mark.parametrize("temperature", [350.0, 900.0, 1150.0, 1300.0, 1345.0, 1500.0])
def test_slope_enthalpy_and_capacity_follow_from_the_energy(name, temperature):
    """S = -dG/dT, H = G + T S, cp = dH/dT."""
    phase, step = PHASES[name], 1e-2
    below, above = phase.coefficients(temperature - step), phase.coefficients(temperature + step)
    slope = (above - below) / (2 * step)
    assert phase.coefficients(temperature, "slope") == pytest.approx(slope, rel=1e-5, abs=1e-5)
    assert phase.coefficients(temperature, "enthalpy") == pytest.approx(
        phase.coefficients(temperature) - temperature * slope, abs=0.2
    )
    heat = (phase.coefficients(temperature + step, "enthalpy") - phase.coefficients(temperature - step, "enthalpy")) / (2 * step)
    assert phase.coefficients(temperature, "capacity") == pytest.approx(heat, rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("name", PHASES)
@pytest.mark.parametrize("x", COMPOSITIONS)
def test_potentials_are_the_slopes_of_the_energy_of_so_many_moles(name, x):
    """mu_i = d(n G)/d n_i."""
    phase, temperature, step = PHASES[name], 1150.0, 1e-6

    def whole(moles):
        return moles.sum() * gibbs(phase, moles / moles.sum(), temperature)

    potentials = phase.potentials(x, temperature)
    for i in range(3):
        up, down = (x + sign * step * (np.arange(3) == i) for sign in (1, -1))
        assert potentials[i] == pytest.approx((whole(up) - whole(down)) / (2 * step), abs=0.02)


@pytest.mark.parametrize("name", PHASES)
@pytest.mark.parametrize("x", COMPOSITIONS)
def test_potentials_add_up_to_the_energy(name, x):
    """Euler: G = sum x_i mu_i."""
    assert x @ PHASES[name].potentials(x, 1100.0) == pytest.approx(gibbs(PHASES[name], x, 1100.0), abs=1e-6)


@pytest.mark.parametrize("name", PHASES)
@pytest.mark.parametrize("x", COMPOSITIONS)
def test_potentials_obey_gibbs_and_duhem(name, x):
    """sum x_i d mu_i = 0 along any change of composition."""
    phase, step = PHASES[name], 1e-6 * np.array([1.0, -0.4, -0.6])
    change = phase.potentials(x + step, 1100.0) - phase.potentials(x - step, 1100.0)
    assert abs(x @ change) < 1e-6 * np.abs(change).max() + 1e-8


@pytest.mark.parametrize("x", COMPOSITIONS)
def test_second_derivatives_are_those_of_the_features(x):
    phase, step = ENERGIES.fcc, 1e-4
    _, second = phase.partials(x)
    for a in range(3):
        for b in range(3):
            da, db = step * (np.arange(3) == a), step * (np.arange(3) == b)
            corners = [phase.features(x + i * da + j * db)[3:] for i, j in ((1, 1), (1, -1), (-1, 1), (-1, -1))]
            expected = (corners[0] - corners[1] - corners[2] + corners[3]) / (4 * step**2)
            assert second[:, a, b] == pytest.approx(expected, abs=1e-5)


def test_features_of_many_compositions_are_those_of_each():
    many = np.array(COMPOSITIONS)
    assert ENERGIES.fcc.features(many) == pytest.approx(np.array([ENERGIES.fcc.features(x) for x in many]))


def test_an_ideal_pair_has_the_energy_of_mixing_alone():
    """R T sum x ln x: -5762.9 J/mol at 1000 K, half and half."""
    pure = (np.array([[3000.0, *[0.0] * 8]]),) * 2
    ideal = Solution(pure=pure, pairs=np.empty((0, 3), dtype=int), terms=np.empty((0, 3)))
    half = np.array([0.5, 0.5])
    assert half @ ideal.potentials(half, 1000.0) == pytest.approx(-5763.2, abs=0.5)
    assert ideal.enthalpy(half, 1000.0) == 0


def test_a_part_of_the_metals_keeps_their_own_energies():
    """Silver and copper alone, against all three with a trace of gold."""
    two = ENERGIES.among(np.array([0, 2]))
    trace = np.array([0.6, 1e-9, 0.4 - 1e-9])
    assert two.fcc.enthalpy(np.array([0.6, 0.4]), 1000.0) == pytest.approx(ENERGIES.fcc.enthalpy(trace, 1000.0), abs=1e-3)
    assert len(two.fcc.pairs) == 2
    assert two.molar_masses.tolist() == ENERGIES.molar_masses[[0, 2]].tolist()


def test_pieces_meet_without_step_and_kink_and_move_by_rounding_only():
    library = load_library()
    for element in library.gibbs_elements.values():
        printed = np.array(element.fcc.pieces)
        smooth = Solution(pure=(joined(printed),), pairs=np.empty((0, 3), dtype=int), terms=np.empty((0, 3)))
        rough = Solution(pure=(printed,), pairs=np.empty((0, 3), dtype=int), terms=np.empty((0, 3)))
        for meet in printed[:-1, 0]:
            for what in ("energy", "slope"):
                below, above = (smooth.coefficients(meet + side, what)[0] for side in (-1e-9, 1e-9))
                assert below == pytest.approx(above, rel=1e-10)
        assert smooth.coefficients(1500.0)[0] == pytest.approx(rough.coefficients(1500.0)[0], abs=0.2)


def test_beyond_its_last_piece_a_function_goes_on():
    assert np.isfinite(ENERGIES.liquid.coefficients(4000.0)).all()
