"""Water and air: how they behave at their ends."""

import pytest

from pourwell.physics.water import atmosphere, boiling_vacuum, liquid_density, vapour_pressure
from pourwell.units import k_from_c


def test_water_boils_where_its_vapour_pressure_is_that_of_the_air():
    assert vapour_pressure(k_from_c(99.974)) == pytest.approx(101325, rel=1e-4)


def test_the_vapour_pressure_climbs_with_the_temperature():
    pressures = [vapour_pressure(k_from_c(c)) for c in range(1, 370, 3)]
    assert pressures == sorted(pressures)


def test_water_is_lighter_when_it_is_warmer():
    densities = [liquid_density(k_from_c(c)) for c in range(5, 100, 5)]
    assert densities == sorted(densities, reverse=True)


def test_the_air_is_thinner_higher_up():
    assert atmosphere(0) == 101325
    assert atmosphere(3000) < atmosphere(1500) < atmosphere(0) < atmosphere(-400)


@pytest.mark.parametrize("altitude", [0, 800, 2500])
def test_warmer_water_boils_under_less_vacuum(altitude):
    assert boiling_vacuum(altitude, k_from_c(30)) < boiling_vacuum(altitude, k_from_c(20)) < atmosphere(altitude)


def test_water_boils_under_less_vacuum_higher_up():
    assert boiling_vacuum(1500, 295.15) < boiling_vacuum(0, 295.15)
