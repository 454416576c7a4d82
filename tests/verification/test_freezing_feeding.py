"""Pools, hollows, the mush's resistance and sterling's Scheil curve: numbers of the freezing page against closed forms."""

import math

import numpy as np
import pytest

from pourwell.materials.library import load_library
from pourwell.physics import feeding as flow
from pourwell.physics.alloy.freeze import freeze
from pourwell.physics.alloy.heat import mole_fractions
from pourwell.physics.domain import Cylinder
from pourwell.physics.grid import build
from pourwell.physics.niyama import STEEL_LIMIT, Mush, critical, dimensionless, mush_pressure
from pourwell.physics.octree import Grading
from pourwell.physics.solidify import solidify
from pourwell.steps.melt.computed import assessment
from pourwell.units import c_from_k, k_from_c
from tests.verification.freezing_cases import ball, poured, setting
from tests.verification.test_freezing_orders import rod
from tests.verification.test_freezing_sections import scheil

UP = np.array([0.0, 0.0, 1.0])
BETA = 0.05
"""Contraction of silver as it freezes, by volume (Kawai 1982)."""


def lost_pools(*, neck):
    """Pools of a ball of 4 mm 9 mm under a button of 10 mm, joined by a rod of a diameter [m] or not at all."""

    def away(points):
        both = np.minimum(ball(points, radius=2e-3, middle=(0, 0, 6e-3)), ball(points, radius=5e-3, middle=(0, 0, 22e-3)))
        return np.minimum(both, rod(points, 6e-3 * UP, UP, length=16e-3, radius=neck / 2)) if neck else both

    def body(points):
        return (points[:, 2] < 12e-3).astype(int)

    grid = build(Cylinder(radius=12e-3, height=30e-3), away, 0.5e-3, body=body, grading=Grading(across=1e9))
    got = solidify(grid.mesh, setting(), poured(grid.mesh))
    net, times = flow.web(grid.mesh), flow.Freeze(levels=got.levels, passed=got.passed)
    end = times.when(0.7)
    button = np.flatnonzero(net.body == 0)
    return flow.pools(net, times, limit=0.7, feeder=int(button[np.argmax(end[button])]))


def test_a_ball_that_nothing_feeds_leaves_the_hollow_of_its_contraction():
    """Closed form: 5 % of pi/6 (4 mm)^3 = 1.676 mm3. From a run on cells of 0.5 mm, which hold the ball to 0.5 %."""
    (pool,) = lost_pools(neck=0.0)
    void = 1e9 * pool.void(BETA)
    assert 1e9 * BETA * math.pi / 6 * 4e-3**3 == pytest.approx(1.6755, abs=1e-4)
    assert void == pytest.approx(1.6755, rel=5e-3), f"observed {void:.4f} mm3"
    assert pool.starved == pytest.approx(1.0)


def test_with_an_open_way_to_the_button_it_leaves_none():
    """A neck of 3.5 mm outlasts the ball; one of 1 mm is shut first, and what it loses is less than the whole ball."""
    assert lost_pools(neck=3.5e-3) == ()
    (pool,) = lost_pools(neck=1e-3)
    assert 0.2 * 1.6755 < 1e9 * pool.void(BETA) < 1.6755, f"observed {1e9 * pool.void(BETA):.3f} mm3"


def test_the_scheil_curve_of_sterling_has_its_eutectic_and_its_heat():
    """Scheil: (28.1/7.5)^(1/(0.313 - 1)) = 0.1462 at 779 degC; 1000 degC to just solid 31.2 + 145.9 = 177.1 kJ/kg. 0.5 %."""
    metal = scheil()
    left = 1 - metal.solid_fraction[np.searchsorted(metal.heat, metal.solid_heat) + 1]
    above = (metal.heat_at(k_from_c(1000)) - metal.liquid_heat) / 9300
    within = (metal.liquid_heat - metal.solid_heat) / 9300
    by_hand = (28.1 / 7.5) ** (1 / (0.313 - 1))
    assert by_hand == pytest.approx(0.1462, abs=1e-4)
    assert left == pytest.approx(0.1462, rel=5e-3), f"observed {left:.4f}"
    assert (above / 1e3, within / 1e3) == pytest.approx((31.2, 145.9), rel=5e-3), f"observed {above:.0f} and {within:.0f} J/kg"
    assert (above + within) / 1e3 == pytest.approx(177.1, rel=5e-3)


def test_by_the_lever_rule_sterling_has_no_eutectic():
    """7.5 % of copper lies within what silver holds at the eutectic (8.3 to 8.8 %): the last liquid is gone above 779 degC."""
    energies = assessment(load_library()).among(np.array([0, 2]))
    parts = mole_fractions(np.array([92.5, 7.5]), energies.molar_masses)
    end = freeze(energies, parts, "lever")[-1]
    assert c_from_k(end.temperature) > 779 + 10, f"observed {c_from_k(end.temperature):.1f} degC"
    assert end.liquid_moles == pytest.approx(0.0, abs=1e-6)
    cast = freeze(energies, parts, "scheil")[-1]
    assert c_from_k(cast.temperature) == pytest.approx(779.1, abs=0.1), "cast, it has"


NY = {0.146: 42.26, 0.2: 25.07, 0.3: 11.83, 0.4: 6.339, 0.5: 3.554, 0.6: 1.981, 0.7: 1.041, 0.8: 0.471}


@pytest.mark.parametrize("at", NY)
def test_the_dimensionless_number_follows_its_curve(at):
    """Carlson & Beckermann 2009, I(g) along the effective Scheil curve of sterling, integrated apart from this code. 1 %."""
    celsius = np.linspace(779, 896, 4001)
    liquid = ((938.60 - celsius) / (938.60 - 896)) ** (1 / (0.313 - 1))
    seen = critical(liquid, celsius, max(at, float(liquid.min())))
    assert seen == pytest.approx(NY[at], rel=0.01), f"observed {seen:.4f}"


def test_the_unit_of_steel_in_ours():
    """1 (K min)^0.5/cm = 0.7746 (K s)^0.5/mm (Niyama 1982); a silver wall of 500 K/m at 20 K/s is an order below it. 1 %."""
    steel = STEEL_LIMIT / 1e3
    assert steel == pytest.approx(0.7746, rel=1e-4)
    mush = Mush(arm_spacing=15e-6, pressure=1e5, viscosity=4e-3, contraction=0.05, freezing_range=117.0)
    plain = dimensionless(500.0, 20.0, mush) / (15e-6 * math.sqrt(1e5 / (4e-3 * 0.05 * 117.0)))
    assert 0.08 < plain / 1e3 < 0.13


@pytest.mark.parametrize(("liquid", "permeability", "kpa"), [(0.30, 6.9e-14, 14.5), (0.15, 5.8e-15, 171.3)])
def test_the_mush_takes_the_pressure_of_carman_s_permeability(liquid, permeability, kpa):
    """10 mm of mush with arms of 15 um, 25 um/s of liquid of 4 mPa s, K = arms^2 g^3 / (180 (1 - g)^2). 1 %.

    The list prints 14 and 172 kPa: 14.5 cut to two digits, and 172 by a permeability rounded to 5.8e-15 m2.
    """
    seen = mush_pressure(liquid, arm_spacing=15e-6, viscosity=4e-3, speed=25e-6, length=10e-3)
    by_hand = 4e-3 * 25e-6 * 10e-3 * 180 * (1 / liquid - 1) ** 2 / (liquid * 15e-6**2)
    assert seen == pytest.approx(by_hand, rel=1e-12)
    assert seen / 1e3 == pytest.approx(kpa, rel=0.01), f"observed {seen / 1e3:.2f} kPa"
    assert 4e-3 * 25e-6 * 10e-3 / seen / permeability == pytest.approx(1.0, rel=0.01)
