"""Curves of substances, films and rooms of the freezing solver: what they hold, and what they refuse."""

import math

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.physics.boundary import Contact, Film, Surroundings, Wall, film_rows, outer_films
from pourwell.physics.domain import Box, Cylinder, lattice
from pourwell.physics.mesh import ABOVE, SIDE, WALL, with_wall
from pourwell.physics.niyama import STEEL_LIMIT, Mush, critical, dimensionless, mush_pressure, niyama
from pourwell.physics.properties import Melt, Substance, freezing, inert, pure, ranged, tables, tabulated
from tests.verification.freezing_cases import line

MELT = Melt(
    density=9700, solid_heat_capacity=282, liquid_heat_capacity=300, latent=112e3, solid_conductivity=330, liquid_conductivity=170
)


def test_a_ranged_metal_takes_the_latent_heat_over_its_range():
    metal = ranged(MELT, solidus=1075.0, liquidus=1169.0)
    between = metal.liquid_heat - metal.solid_heat
    assert between == pytest.approx(9700 * (112e3 + 0.5 * (282 + 300) * 94), rel=1e-9)
    assert metal.solidus == 1075.0
    assert metal.liquidus == 1169.0
    assert metal.heat_at(1500.0) - metal.heat_at(1400.0) == pytest.approx(9700 * 300 * 100)
    assert metal.heat_at(900.0) - metal.heat_at(800.0) == pytest.approx(9700 * 282 * 100)


def test_a_pure_metal_has_a_step_at_its_melting_point():
    metal = pure(MELT, at=1235.0)
    assert metal.solidus == metal.liquidus == 1235.0
    assert metal.liquid_heat - metal.solid_heat == pytest.approx(9700 * 112e3)
    assert metal.heat_at(1235.0) == pytest.approx(metal.liquid_heat)
    assert metal.heat_at(1234.9999) == pytest.approx(metal.solid_heat, rel=1e-4)


def test_the_scheil_curve_of_sterling_takes_the_heat_of_the_published_account():
    """Scheil: eutectic fraction (28.1/7.5)^(1/(0.313 - 1)) = 0.1462; from 1000 degC to just solid 177.1 kJ/kg, evaluated apart."""
    left = (28.1 / 7.5) ** (1 / (0.313 - 1))
    assert left == pytest.approx(0.1462, abs=2e-4)
    t = np.linspace(779, 896, 400) + 273.15
    liquid = ((938.60 + 273.15 - t) / (938.60 - 896)) ** (1 / (0.313 - 1))
    melt = Melt(
        density=1, solid_heat_capacity=282, liquid_heat_capacity=300, latent=112e3, solid_conductivity=1, liquid_conductivity=1
    )
    fractions = np.concatenate([[1.0], np.clip(1 - liquid, 0, 1)])
    fractions[-1] = 0.0
    metal = freezing(melt, temperature=np.concatenate([t[:1], t]), solid_fraction=fractions)
    assert metal.solid_fraction[np.searchsorted(metal.heat, metal.solid_heat) + 1] == pytest.approx(1 - 0.1462, abs=1e-3)
    heat = float(metal.heat_at(1000 + 273.15)) - metal.solid_heat
    assert heat == pytest.approx(177.1e3, rel=5e-3), f"observed {heat / 1e3:.2f} kJ/kg"


def test_what_does_not_melt_is_solid_at_all_temperatures():
    steel = inert(density=7850, heat_capacity=500, conductivity=25)
    assert math.isinf(steel.solidus)
    assert math.isinf(steel.liquidus)
    assert math.isinf(steel.solid_heat)
    assert math.isinf(steel.liquid_heat)
    assert steel.steady
    assert not ranged(MELT, solidus=1000.0, liquidus=1100.0).steady


def test_a_tabulated_heat_capacity_is_integrated():
    mould = tabulated(density=1200, temperature=[300, 700, 1300], heat_capacity=[800, 1000, 1000], conductivity=[0.4, 0.5, 0.6])
    assert mould.heat_at(700.0) == pytest.approx(1200 * 900 * 400)
    assert mould.heat_at(1000.0) == pytest.approx(1200 * (900 * 400 + 1000 * 300))


GOOD = {"heat": [0.0, 1.0, 2.0], "temperature": [0.0, 1.0, 2.0], "conductivity": [1.0] * 3, "solid_fraction": [1.0, 0.5, 0.0]}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"heat": [0.0, 1.0, 1.0]}, "does not rise"),
        ({"temperature": [0.0, 1.0, 0.5]}, "falls"),
        ({"temperature": [0.0, 0.0, 1.0]}, "stands still at an end"),
        ({"conductivity": [1.0, 0.0, 1.0]}, "not above zero"),
        ({"solid_fraction": [1.0, 0.5, 0.6]}, "rises"),
        ({"solid_fraction": [1.5, 0.5, 0.0]}, "leaves 0 to 1"),
    ],
)
def test_a_curve_that_no_substance_has_is_refused(changes, said):
    Substance(**{key: np.array(values) for key, values in GOOD.items()})
    with pytest.raises(BadRequestError, match="no proper curve") as caught:
        Substance(**{key: np.array(values) for key, values in {**GOOD, **changes}.items()})
    assert said in caught.value.why


@pytest.mark.parametrize("fractions", [[0.9, 0.0], [1.0, 0.1], [1.0]])
def test_a_freezing_curve_must_go_from_solid_to_liquid(fractions):
    with pytest.raises(BadRequestError, match="does not freeze it"):
        freezing(MELT, temperature=np.linspace(1000, 1100, len(fractions)), solid_fraction=fractions)


def test_curves_of_different_length_are_padded_and_counted():
    made = tables((inert(density=1, heat_capacity=1, conductivity=1), ranged(MELT, solidus=1000, liquidus=1100)))
    assert made.heat.shape == (2, 4)
    assert list(made.knots) == [2, 4]


def test_a_substance_s_arrays_are_closed_to_writing():
    with pytest.raises(ValueError, match="read-only"):
        pure(MELT, at=1000.0).heat[0] = 0.0


@pytest.mark.parametrize("changes", [{"coefficient": -1.0}, {"emissivity": 1.2}, {"outside": 0.0}, {"coefficient": math.inf}])
def test_a_film_that_no_face_has_is_refused(changes):
    with pytest.raises(BadRequestError, match="does not exist"):
        Film(**{"coefficient": 10.0, "outside": 300.0, "emissivity": 0.8, **changes})


@pytest.mark.parametrize(("x", "h"), [((0.0, 0.0), (1.0, 2.0)), ((0.0,), (0.0,)), ((0.0, 1.0), (1.0,)), ((), ())])
def test_a_contact_that_is_no_curve_is_refused(x, h):
    with pytest.raises(BadRequestError, match="no proper curve"):
        Contact(solid_fraction=x, coefficient=h)


def test_film_rows_hold_the_contact_and_the_wall():
    wall = Wall(thickness=2e-3, substance=inert(density=7850, heat_capacity=500, conductivity=25), contact=500.0)
    rows = film_rows(Contact(solid_fraction=(0.0, 0.5), coefficient=(1500.0, 600.0)), wall)
    assert list(rows[0, 1]) == [1500.0, 600.0, 600.0]
    assert set(rows[1, 1]) == {500.0}


def test_a_face_without_film_loses_nothing():
    mesh = line([0, 1e-3, 2e-3], lambda x: x < -1)
    start = np.full(2, 500.0)
    assert len(outer_films(mesh, Surroundings(), start)[0]) == 0
    cells, rows = outer_films(mesh, Surroundings(above=Film(coefficient=7.0, outside=290.0)), start)
    assert list(cells) == [1]
    assert rows[0, :3] == pytest.approx([1.0, 0.5e-3, 7.0])


def test_a_wall_stands_between_the_side_and_the_room():
    mesh = line([0, 1e-3, 2e-3], lambda x: x < -1)
    assert with_wall(mesh, 2e-3) is mesh
    side = line([0, 1e-3, 2e-3], lambda x: x < -1)
    object.__setattr__(side, "outer_face", np.array([SIDE, ABOVE], dtype=np.int8))
    made = with_wall(side, 2e-3)
    assert list(made.kind) == [0, 0, WALL]
    assert made.volume[-1] == pytest.approx(2e-3)
    assert list(made.outer_cell) == [2, 1]
    assert (made.first[-1], made.second[-1]) == (0, 2)


def test_a_lattice_fills_the_height_with_whole_cells():
    made = lattice(Cylinder(radius=38e-3, height=100e-3), 0.25e-3, finer=0)
    assert made.roots[2] * made.size(made.top) == pytest.approx(0.1)
    assert made.step == pytest.approx(0.25e-3, rel=0.03)
    assert made.shape(0)[2] * made.step == pytest.approx(0.1)
    odd = lattice(Box(lower=(0, 0, 0), upper=(1e-2, 1e-2, 0.97e-2)), 1e-3, finer=1)
    assert odd.shape(0)[2] * odd.step == pytest.approx(0.97e-2)


@pytest.mark.parametrize("spacing", [0.0, -1e-3, 1.0])
def test_a_spacing_that_does_not_fit_is_refused(spacing):
    with pytest.raises(BadRequestError, match="do not fit"):
        lattice(Cylinder(radius=38e-3, height=100e-3), spacing, finer=0)


def test_depths_and_volumes_of_the_rooms():
    points = np.array([[0.0, 0.0, 0.01], [0.03, 0.0, 0.05], [0.05, 0.0, 0.05]])
    round_room = Cylinder(radius=0.04, height=0.1)
    assert round_room.depths(points)[:, 0] == pytest.approx([0.04, 0.01, -0.01])
    assert round_room.depths(points)[0, 1:] == pytest.approx([0.01, 0.09])
    assert round_room.volume == pytest.approx(math.pi * 0.04**2 * 0.1)
    box = Box(lower=(-0.04, -0.04, 0), upper=(0.04, 0.04, 0.1))
    assert box.depths(points)[:, 0] == pytest.approx([0.04, 0.01, -0.01])
    assert box.volume == pytest.approx(0.08 * 0.08 * 0.1)


def test_the_niyama_number_in_the_unit_of_steel():
    """1 (K min)^0.5/cm is 0.7746 (K s)^0.5/mm."""
    assert pytest.approx(0.7746, rel=1e-4) == STEEL_LIMIT / 1e3
    assert niyama(500.0, 25.0) == pytest.approx(100.0)
    assert np.isnan(niyama(500.0, 0.0))


@pytest.mark.parametrize(
    ("at", "number"), [(0.2, 25.07), (0.3, 11.83), (0.4, 6.339), (0.5, 3.554), (0.6, 1.981), (0.7, 1.041), (0.8, 0.471)]
)
def test_the_dimensionless_number_follows_its_curve(at, number):
    """Carlson & Beckermann 2009, I(g) for the effective Scheil curve of sterling, integrated apart from this code."""
    t = np.linspace(779, 896, 4001)
    liquid = ((938.60 - t) / (938.60 - 896)) ** (1 / (0.313 - 1))
    assert critical(liquid, t, at) == pytest.approx(number, rel=0.01)


def test_the_dimensionless_number_by_hand():
    mush = Mush(arm_spacing=15e-6, pressure=1e5, viscosity=4e-3, contraction=0.05, freezing_range=117.0)
    by_hand = 500 * 15e-6 * math.sqrt(1e5) / (math.sqrt(4e-3 * 0.05 * 117) * math.sqrt(20))
    assert dimensionless(500.0, 20.0, mush) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize(("liquid", "kpa"), [(0.30, 14.0), (0.15, 172.0)])
def test_the_mush_takes_the_pressure_of_carman_s_permeability(liquid, kpa):
    """10 mm of mush with arms of 15 um, 25 um/s of liquid of 4 mPa s: 14 and 172 kPa (evaluated apart); 3 %."""
    got = mush_pressure(liquid, arm_spacing=15e-6, viscosity=4e-3, speed=25e-6, length=10e-3) / 1e3
    assert got == pytest.approx(kpa, rel=0.04), f"observed {got:.1f} kPa"
