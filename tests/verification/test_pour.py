"""The pour by hand: the button's freezing against a march in time, what drives the metal, the wait by the flask's size."""

import math

import pytest

from pourwell.materials.studio import Base, Studio
from pourwell.steps.pour.plan import heat_to_solid, vacuum_kpa
from tests.unit.burnout.case import altered, library, run

STERLING = library().alloy("sterling-925")
GERMANIUM = library().alloy("silver-935-germanium")
BLACK = 5.670374e-8


def marched_s(dome, *, metal_c, flask_c, alloy, conductivity, emissivity, air):
    """Freezing time [s] of a button by adding up, moment by moment, what its dome gives to the mould and its face to the room.

    Dome by Archimedes; mould side k dT (1/R + 1/sqrt(pi alpha t)) (Carslaw & Jaeger 1959, section 9.10); standard grade at 39:100,
    28 % hemihydrate: 1278.5 kg/m3 of powder, 1256.3 when burnt (stoichiometry), 1050 J/(kg K). `dome` is (diameter, height) in mm.
    """
    diameter, height = (mm / 1000 for mm in dome)
    radius = (diameter**2 / 4 + height**2) / (2 * height)
    volume, area = math.pi * height**2 * (3 * radius - height) / 3, 2 * math.pi * radius * height
    solidus, liquidus = alloy.solidus_c.value, alloy.liquidus_c.value
    heat = 325 * max(0, metal_c - liquidus) + 313 * (liquidus - solidus) + 112.5e3
    left = 9270 * volume * heat
    face = math.pi / 4 * diameter**2
    open_watt = face * (emissivity * BLACK * ((solidus + 273.15) ** 4 - 293.15**4) + air * (solidus - 20))
    alpha = conductivity / (1256.3 * 1050)
    root, step = 0.0, 0.002  # in sqrt(t), where the flux is smooth: t grows by 2 root step
    while left > 0:
        root += step
        seconds = 2 * (root - step / 2) * step
        into_mould = conductivity * (solidus - flask_c) * (1 / radius + 1 / math.sqrt(math.pi * alpha * (root - step / 2) ** 2))
        left -= seconds * (area * into_mould + open_watt)
    return root**2


ENDS = {"mid": (0.45, 0.2, 10), "low": (0.6, 0.5, 15), "high": (0.3, 0.05, 5)}
"""Conductivity of the mould, emissivity and air of the face: as they are, and at the ends for sooner and for later."""


@pytest.mark.parametrize(("metal_c", "flask_c"), [(970, 540), (1010, 480), (930, 620)])
@pytest.mark.parametrize("dome", [(28.0, 10.0), (20.0, 12.0), (14.0, 3.0)])
def test_the_button_is_solid_when_a_march_in_time_says(metal_c, flask_c, dome):
    """Of sterling (325, 313 J/(kg K), 112.5 kJ/kg, 9.27 g/cm3, 802 to 896 degC), and both ends of the band; to 1 s or 1 %."""
    studio = Studio(bases=(Base(dome_diameter_mm=dome[0], dome_height_mm=dome[1]),))
    made = run(studio=studio, metal_c=metal_c, flask_c=flask_c).pour
    got = {"mid": made.button_solid_s, "low": made.button_solid_low_s, "high": made.button_solid_high_s}
    for end, (conductivity, emissivity, air) in ENDS.items():
        by_hand = marched_s(
            dome,
            metal_c=metal_c,
            flask_c=flask_c,
            alloy=STERLING,
            conductivity=conductivity,
            emissivity=emissivity,
            air=air,
        )
        assert got[end] == pytest.approx(by_hand, rel=0.01, abs=1.0), end


def test_the_usual_button_of_sterling_takes_two_minutes_and_a_third():
    """Hand sum: cap 28 x 10 mm, V/A 3.874 mm, R 14.8 mm; 165.97 kJ/kg; 23.1 kW/m2 steady, 227.8 kW s^0.5/m2: sqrt(t) = 11.87."""
    assert run().pour.button_solid_s == pytest.approx(11.868**2, abs=1.0)


def test_heat_to_solid_of_sterling_by_hand():
    """Hand sum at 970 degC: 74 x 325 + 94 x 313 + 112 500 = 165 972 J/kg; under the liquidus no superheat: 141 922."""
    assert heat_to_solid(STERLING, 970) == pytest.approx(74 * 325 + 94 * 313 + 112500, rel=1e-9)
    assert heat_to_solid(STERLING, 896) == heat_to_solid(STERLING, 850) == pytest.approx(141922, rel=1e-9)


@pytest.mark.parametrize(("way", "kpa"), [("gravity", 4.55), ("centrifuge", 74.55), ("vacuum", 92.55)])
def test_what_drives_the_metal_is_its_head_and_what_the_machine_adds(way, kpa):
    """Hydrostatics: 9270 x 9.80665 x 0.05 = 4545 Pa for 50 mm of sterling; the vacuum adds 88, the centrifuge 70 kPa (rules)."""
    assert run(studio=Studio(casting={"way": way})).pour.head_kpa == pytest.approx(kpa, abs=0.006)


@pytest.mark.parametrize(("altitude_m", "kpa"), [(0, 88.0), (1000, 78.1), (1500, 73.4), (3000, 60.9)])
def test_an_assumed_vacuum_falls_with_the_published_air(altitude_m, kpa):
    """ICAO Doc 7488 (icao-1993): 101.325, 89.875, 84.556, 70.109 kPa; 88 kPa in proportion."""
    assert vacuum_kpa(Studio(altitude_m=altitude_m)) == pytest.approx(kpa, abs=0.06)


def test_a_thin_wire_is_told_how_thick_it_must_be_for_its_own_metal_head():
    """washburn-1921: 4 x 0.92 / 0.0005 = 7.36 kPa against 4.545 of 50 mm of sterling: in at 0.5 x 7.36 / 4.545 = 0.81 mm."""
    found = run(studio=Studio(casting={"way": "gravity"}), thinnest_mm=0.5).finding("entry-short")
    assert "{l:0.8}" in found.do
    assert (found.measure, found.limit) == ("4.5 kPa", "7.4 kPa")


@pytest.mark.parametrize(
    ("diameter_mm", "minutes"), [(64, (8, 9)), (76, (11, 12)), (89, (14, 15)), (102, (17, 19)), (127, (23, 26))]
)
def test_the_wait_of_sterling_grows_with_the_power_of_one_and_a_half(diameter_mm, minutes):
    """t0 (D/64)^1.5 by hand, up to the whole minute: factors 1, 1.294, 1.640, 2.012, 2.795 on 8 and 9 min."""
    made = run(size=(diameter_mm, 120)).quench
    assert (made.low_min, made.wait_min) == minutes
    assert made.high_min >= 10 * (diameter_mm / 64) ** 1.5


def test_a_button_that_is_slow_to_freeze_holds_back_the_whole_wait():
    """Hand sum: the wait begins at 1.3 times the slow end of the button's freezing, and keeps the width of 9 (8 to 15) min."""
    slow = altered(STERLING, liquid_density_g_per_cm3=30, latent_kj_per_kg=400)
    made = run(alloy=slow, size=(64, 80))
    least = 1.3 * made.pour.button_solid_high_s / 60
    assert least > 10
    hand = tuple(math.ceil(least + more - 1e-3) for more in (0, 1, 7))
    assert (made.quench.low_min, made.quench.wait_min, made.quench.high_min) == hand


def test_germanium_silver_stands_as_much_longer_as_its_own_row_says():
    """The row's wait in a flask of 64 mm, and the same power by size: 76 mm is 1.294 times that."""
    rule = GERMANIUM.quench.wait_64_mm_min
    made = run(alloy=GERMANIUM, size=(76, 100)).quench
    assert made.wait_min == math.ceil(rule.value * (76 / 64) ** 1.5 - 1e-3)
    assert made.low_min == math.ceil(rule.ends[0] * (76 / 64) ** 1.5 - 1e-3)
