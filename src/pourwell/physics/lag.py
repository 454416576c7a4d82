"""How far the core of a dry cylinder lags behind its rim. SI: s, m, K, m2/s."""

from typing import Final

FIRST_ROOT_SQUARED: Final = 5.783185962946785
"""Square of the first root of the Bessel function J0 (Abramowitz & Stegun, table 9.5)."""


def ramp_lag(ramp: float, *, radius: float, diffusivity: float) -> float:
    """Rim less core [K] on a steady ramp [K/s], once it has gone on a while.

    Source: Carslaw & Jaeger 1959, section 7.7: beta R^2 / (4 alpha).
    """
    return ramp * radius**2 / (4.0 * diffusivity)


def ramp_limit(lag: float, *, radius: float, diffusivity: float) -> float:
    """The ramp [K/s] at which rim and core differ by `lag` [K]: `ramp_lag` turned round."""
    return 4.0 * diffusivity * lag / radius**2


def settling_time(*, radius: float, diffusivity: float) -> float:
    """Time [s] in which the core's distance from a held rim falls to 1/e.

    Source: slowest term of the cylinder's series, Carslaw & Jaeger 1959, section 7.6: R^2 / (5.783 alpha).
    """
    return radius**2 / (FIRST_ROOT_SQUARED * diffusivity)
