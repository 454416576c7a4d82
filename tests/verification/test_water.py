"""Water and air against an independent equation of state and the published standard atmosphere."""

import pytest

from pourwell.physics.water import atmosphere, boiling_vacuum, liquid_density, vapour_pressure
from pourwell.units import inhg_from_pa, k_from_c, kpa_from_pa, pa_from_inhg


@pytest.fixture(scope="module")
def of_water():
    """A property of water by CoolProp, which takes a second to load."""
    from CoolProp.CoolProp import PropsSI

    return lambda wanted, celsius: PropsSI(wanted, "T", k_from_c(celsius), "Q", 0, "Water")


@pytest.mark.parametrize("celsius", [2, 10, 21, 24, 40, 60, 80, 100, 150])
def test_vapour_pressure_is_that_of_an_independent_equation_of_state(of_water, celsius):
    """CoolProp (IAPWS-95); ours is the auxiliary equation of Wagner & Pruss 1993, and 0.05 % is what parts the two."""
    assert vapour_pressure(k_from_c(celsius)) == pytest.approx(of_water("P", celsius), rel=5e-4)


@pytest.mark.parametrize("celsius", [2, 10, 20, 40, 60, 80, 100])
def test_density_of_water_is_that_of_an_independent_equation_of_state(of_water, celsius):
    """CoolProp (IAPWS-95), saturated liquid."""
    assert liquid_density(k_from_c(celsius)) == pytest.approx(of_water("D", celsius), rel=2e-5)


@pytest.mark.parametrize(("altitude", "pascal"), [(0, 101325), (1000, 89874.6), (1500, 84555.9), (3000, 70108.5), (5000, 54019.9)])
def test_air_pressure_is_that_of_the_standard_atmosphere(altitude, pascal):
    """ICAO Doc 7488 (icao-1993), its table of pressure over altitude, quoted from memory."""
    assert atmosphere(altitude) == pytest.approx(pascal, rel=1e-4)


@pytest.mark.parametrize(("altitude", "inhg", "tolerance"), [(0, 29.04, 0.03), (1500, 24.1, 0.1)])
def test_water_at_24_degrees_boils_at_the_gauge_that_the_trade_knows(altitude, inhg, tolerance):
    """Jewellers' vacuum threads ask for about 29 inHg at sea level (vacuum-threads); the figures are CoolProp's."""
    assert inhg_from_pa(boiling_vacuum(altitude, k_from_c(24))) == pytest.approx(inhg, abs=tolerance)


def test_26_inches_of_mercury_are_88_kilopascals():
    """vacuum-threads: 26 inHg at the pour; the unit by definition, 13.3 kPa are left."""
    assert kpa_from_pa(pa_from_inhg(26)) == pytest.approx(88.0, abs=0.2)
    assert kpa_from_pa(atmosphere(0) - pa_from_inhg(26)) == pytest.approx(13.3, abs=0.2)
