"""Water and the air above it: vapour pressure, density, the standard atmosphere. SI: K, Pa, m, kg/m3."""

import math
from typing import Final

CRITICAL_TEMPERATURE: Final = 647.096
CRITICAL_PRESSURE: Final = 22.064e6
CRITICAL_DENSITY: Final = 322.0
"""Wagner W., Pruss A., J. Phys. Chem. Ref. Data 22 (1993) 783: critical point of water."""

_VAPOUR = ((1.0, -7.85951783), (1.5, 1.84408259), (3.0, -11.7866497), (3.5, 22.6807411), (4.0, -15.9618719), (7.5, 1.80122502))
"""Power and coefficient, the same paper, equation 1 (saturation pressure)."""

_LIQUID = (
    (1 / 3, 1.99274064),
    (2 / 3, 1.09965342),
    (5 / 3, -0.510839303),
    (16 / 3, -1.75493479),
    (43 / 3, -45.5170352),
    (110 / 3, -6.74694450e5),
)
"""Power and coefficient, the same paper, equation 2 (density of saturated liquid)."""

SEA_LEVEL_PRESSURE: Final = 101325.0
SEA_LEVEL_TEMPERATURE: Final = 288.15
LAPSE_RATE: Final = 0.0065
LAPSE_EXPONENT: Final = 5.255880
"""ICAO Doc 7488 (1993): the standard atmosphere up to 11 km, K/m and g M / (R lapse rate)."""


def vapour_pressure(temperature: float) -> float:
    """Saturation pressure of water [Pa] at a temperature [K] between its triple and its critical point.

    Source: Wagner & Pruss 1993, equation 1.
    """
    theta = 1.0 - temperature / CRITICAL_TEMPERATURE
    series = sum(a * math.pow(theta, n) for n, a in _VAPOUR)
    return CRITICAL_PRESSURE * math.exp(CRITICAL_TEMPERATURE / temperature * series)


def liquid_density(temperature: float) -> float:
    """Density of liquid water [kg/m3] at a temperature [K], at its own vapour pressure.

    Source: Wagner & Pruss 1993, equation 2.
    """
    theta = 1.0 - temperature / CRITICAL_TEMPERATURE
    return CRITICAL_DENSITY * (1.0 + sum(b * math.pow(theta, n) for n, b in _LIQUID))


def atmosphere(altitude: float) -> float:
    """Standard air pressure [Pa] at an altitude [m] below 11 km. Source: ICAO Doc 7488 (1993)."""
    return SEA_LEVEL_PRESSURE * math.pow(1.0 - LAPSE_RATE * altitude / SEA_LEVEL_TEMPERATURE, LAPSE_EXPONENT)


def boiling_vacuum(altitude: float, temperature: float) -> float:
    """Gauge vacuum [Pa] at which water of a temperature [K] boils at an altitude [m]: a pump must pass it.

    Source: definition; air pressure less vapour pressure.
    """
    return atmosphere(altitude) - vapour_pressure(temperature)
