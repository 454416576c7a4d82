"""What a mould and an open face take and give, piece by piece: heats of single changes, domes, black faces, by hand sums.

The mould of these sums is water 40:100, 30 % hemihydrate, powder 2.55 g/cm3: 1238.9 kg/m3 when burnt, 449.2 of it once gypsum.
"""

import math

import numpy as np
import pytest

from pourwell.physics.drying import film, reached
from pourwell.physics.freezing import cap_shape, cap_volume, face_flux, freezing_time
from pourwell.physics.mould import BOILING, Composition, compose, enthalpy, heat_to_dry
from pourwell.physics.water import atmosphere, vapour_pressure
from pourwell.units import k_from_c
from tests.verification.test_freezing import SILVER, plaster

MOULD = compose(water_ratio=0.40, hemihydrate=0.30, powder_density=2550)
GYPSUM = Composition(slurry=1.0, powder=0.0, free_water=0.0, gypsum=1.0, bound_water=0.2093, burnt=0.7907, porosity=0.0)
"""One kilogram of pure gypsum in a cubic metre, dry: 20.93 % of it is water, by stoichiometry."""


def between(low_c, high_c, *, of=MOULD):
    """Heat from one temperature to another [J/m3]."""
    return enthalpy(of, k_from_c(high_c)) - enthalpy(of, k_from_c(low_c))


def test_silica_is_what_is_left_of_the_burnt_mould_without_its_anhydrite():
    """Hand sum: 449.2 kg of gypsum leave 449.2 x 136.13 / 172.16 = 355.2 kg of anhydrite; 1238.9 less that is 883.7 kg."""
    assert MOULD.silica == pytest.approx(883.7, abs=1.0)
    assert GYPSUM.silica == pytest.approx(0.0, abs=1e-4)


def test_cristobalite_turns_between_220_and_270():
    """Hand sum: half of 883.7 kg of silica x 18 kJ/kg = 7.95 MJ, and 1238.9 kg x 896.4 J/(kg K) x 50 K = 55.53 MJ.

    The specific heat in the middle is 760 + 0.62 x 220 J/(kg K); the 18 kJ are from memory.
    """
    assert between(220, 270) / 1e6 == pytest.approx(7.95 + 55.53, abs=0.1)
    assert between(215, 220) / 1e6 == pytest.approx(1238.9 * (760 + 0.62 * 192.5) * 5 / 1e6, abs=0.02)


def test_quartz_turns_at_573():
    """quartz-inversion: 573 degC. Hand sum, 570 to 576: 441.9 kg x 11 kJ/kg = 4.86 MJ, and 1238.9 x 1099.8 x 6 = 8.18 MJ."""
    assert between(570, 576) / 1e6 == pytest.approx(4.86 + 8.18, abs=0.05)
    assert between(576, 582) / 1e6 == pytest.approx(1238.9 * (760 + 0.62 * 554) * 6 / 1e6, abs=0.02)


def test_a_hot_mould_takes_heat_at_a_level_rate():
    """Hand sum: over 654 degC 1150 J/(kg K), so 30 K of 1238.9 kg are 42.74 MJ."""
    assert between(700, 730) / 1e6 == pytest.approx(42.74, abs=0.05)


def test_a_kilogram_of_gypsum_takes_756_kilojoules_to_be_burnt():
    """Hand sum to 200 degC: 490 + 150 kJ for its two waters (kelley-1941), and 0.7907 kg of what is left x 146.3 kJ/kg.

    146.3 kJ/kg: 760 x 180 + 0.31 x (175^2 - 5^2) J/kg.
    """
    assert enthalpy(GYPSUM, k_from_c(200)) / 1e3 == pytest.approx(490 + 150 + 0.7907 * 146.286, abs=0.1)


def test_the_first_water_of_gypsum_leaves_below_150_and_the_second_below_200():
    """Hand sums: 490 and 150 kJ, and what the solid holds: 70.6 kJ at 110, 0.907 kg x 103.6 kJ/kg at 150, 115.7 kJ at 200.

    The water that leaves takes its own warmth with it, so the solid's share is counted by what is left.
    """
    assert between(110, 150, of=GYPSUM) / 1e3 == pytest.approx(490 + 0.907 * 103.64 - 70.63, abs=0.2)
    assert between(150, 200, of=GYPSUM) / 1e3 == pytest.approx(150 + 115.67 - 0.907 * 103.64, abs=0.2)


def test_drying_asks_for_water_and_the_first_step_of_gypsum_and_no_more():
    """Hand sum: 434.5 kg of water x (335 + 2257) kJ = 1126 MJ; 1332.9 kg of mould x 62.3 kJ = 83 MJ; gypsum 449.2 x 490 = 220 MJ.

    62.3 kJ/kg: 760 x 80 + 0.31 x (75^2 - 5^2) J/kg.
    """
    assert heat_to_dry(MOULD) / 1e6 == pytest.approx(1126 + 83 + 220, abs=3)


@pytest.mark.parametrize(("radius_mm", "height_mm"), [(14.8, 10.0), (20.0, 6.0), (12.0, 12.0), (30.0, 2.0), (10.0, 15.0)])
def test_a_dome_is_the_cap_of_its_ball(radius_mm, height_mm):
    """Archimedes: the dome of a cap is 2 pi R h, its volume pi h^2 (3R - h) / 3; its base is 2 sqrt(h (2R - h)) wide."""
    base = 2 * math.sqrt(height_mm * (2 * radius_mm - height_mm))
    volume = math.pi * height_mm**2 * (3 * radius_mm - height_mm) / 3
    assert cap_volume(base, height_mm) == pytest.approx(volume, rel=1e-9)
    modulus, curvature = cap_shape(base, height_mm)
    assert modulus == pytest.approx(volume / (2 * math.pi * radius_mm * height_mm), rel=1e-9)
    assert curvature == pytest.approx(1 / radius_mm, rel=1e-9)


def test_a_very_shallow_dome_is_a_plate_cooled_on_one_side():
    """Geometry: of a shallow cap the mean depth is half its height, and its dome hardly bulges."""
    modulus, curvature = cap_shape(1.0, 1e-4)
    assert modulus == pytest.approx(0.5e-4, rel=1e-3)
    assert curvature < 1e-3


@pytest.mark.parametrize(("celsius", "kilowatt"), [(500, 20.26), (800, 75.19), (1000, 148.96)])
def test_a_black_face_radiates_by_the_law_of_stefan_and_boltzmann(celsius, kilowatt):
    """CODATA 2018: 5.6704e-8 W/(m2 K4); hand sums to a cold surrounding of 0 K, kW/m2."""
    assert face_flux(k_from_c(celsius), 0.0, emissivity=1.0, coefficient=0.0) / 1e3 == pytest.approx(kilowatt, rel=1e-3)


def test_a_grey_face_in_a_room_loses_its_share_and_what_the_air_takes():
    """Hand sum at 802 degC in a room of 20: 0.2 x (75.75 - 0.42) kW and 10 W/(m2 K) x 782 K."""
    got = face_flux(k_from_c(802), k_from_c(20), emissivity=0.2, coefficient=10.0)
    assert got == pytest.approx(0.2 * (75.77e3 - 0.4188e3) + 7820, rel=1e-3)


@pytest.mark.parametrize(("celsius", "watt"), [(150, 14.37), (370, 31.86), (730, 89.40)])
def test_a_kiln_reaches_a_wall_at_boiling_by_radiation_as_by_hand(celsius, watt):
    """Grey faces, linearised exactly: sigma (T1^4 - T2^4) / (T1 - T2) with T2 = 373.15 K; hand sums for black faces, W/(m2 K)."""
    kiln = k_from_c(celsius)
    by_hand = 5.670374e-8 * (kiln**4 - BOILING**4) / (kiln - BOILING)
    assert by_hand == pytest.approx(watt, abs=0.02)
    assert float(film(kiln, convection=0.0, emissivity=1.0)) == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize(("shape", "modulus_mm", "ratio"), [("plate of 2 mm", 1.0, 1.0), ("rod of 2 mm", 0.5, 0.25)])
def test_a_rod_freezes_in_a_quarter_of_the_time_of_a_plate_as_thick(shape, modulus_mm, ratio):
    """Chvorinov 1940 (Flemings 1974, chapter 1): t goes with (V/A)^2; V/A is w/2 of a plate and d/4 of a long rod."""
    plate = freezing_time(1e-3, **SILVER, mould=plaster())
    assert freezing_time(modulus_mm / 1000, **SILVER, mould=plaster()) / plate == pytest.approx(ratio), shape


def test_a_ball_in_plaster_beats_the_plain_rule_of_chvorinov():
    """Plain rule: (d/6)^2 C = 16.2 s for 8 mm of silver at C 9.1258 s/mm2; the bulge takes half of that off.

    By the exact flux q = k dT (1/R + 1/sqrt(pi alpha t)) a ball has t proportional to d^2, so 8 mm is four times 4 mm: 8.52 s.
    """
    plain = (8 / 6) ** 2 * 9.1258
    assert plain == pytest.approx(16.2, abs=0.05)
    got = freezing_time(8e-3 / 6, **SILVER, mould=plaster(), curvature=1 / 4e-3)
    assert got == pytest.approx(4 * 2.1293, rel=1e-3)
    assert got < 0.55 * plain


def test_a_core_that_dries_at_the_very_last_moment_is_dry():
    """Definition: the share reaches 1 there."""
    assert reached(np.array([0.0, 60.0]), np.array([0.0, 1.0])) == 60.0


@pytest.mark.parametrize(("altitude", "boils_c"), [(0, 100.0), (1500, 95.0), (2240, 92.6), (3000, 90.0), (-400, 101.3)])
def test_water_boils_up_the_mountain_as_the_tables_say(altitude, boils_c):
    """Boiling point over altitude as physics tables print it (rounded; from memory): about a degree lower for each 300 m."""
    low, high = 60.0, 120.0
    while high - low > 1e-4:
        middle = (low + high) / 2
        low, high = (middle, high) if vapour_pressure(k_from_c(middle)) < atmosphere(altitude) else (low, middle)
    assert low == pytest.approx(boils_c, abs=0.15)
