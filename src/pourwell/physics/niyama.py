"""How hard it is to feed the last of the freezing metal: the Niyama number, and its dimensionless form. SI. A secondary field.

The plain number was made for steel in sand; the dimensionless one says what share of pores a local pressure drop leaves.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
STEEL_LIMIT = 60**0.5 * 100
"""1 (K min)^0.5/cm, the historical limit for steel, in (K s)^0.5/m. Niyama, Uchida, Morikawa & Saito 1982."""


def niyama(gradient: ArrayLike, rate: ArrayLike) -> Floats:
    """Gradient [K/m] over the root of the cooling rate [K/s], at the end of freezing: (K s)^0.5/m; NaN where nothing cools."""
    g, r = np.asarray(gradient, dtype=np.float64), np.asarray(rate, dtype=np.float64)
    number: Floats = np.where(r > 0, g / np.sqrt(np.where(r > 0, r, 1.0)), np.nan)
    return number


@dataclass(frozen=True, slots=True, kw_only=True)
class Mush:
    """What feeds the mush: arm spacing [m], pressure that opens a pore [Pa], viscosity [Pa s], contraction [-], range [K]."""

    arm_spacing: float
    pressure: float
    viscosity: float
    contraction: float
    freezing_range: float


def dimensionless(gradient: ArrayLike, rate: ArrayLike, mush: Mush) -> Floats:
    """Ny* of Carlson & Beckermann, Met. Mat. Trans. A 40 (2009) 163."""
    factor = mush.arm_spacing * np.sqrt(mush.pressure / (mush.viscosity * mush.contraction * mush.freezing_range))
    number: Floats = niyama(gradient, rate) * factor
    return number


def critical(liquid_fraction: ArrayLike, temperature: ArrayLike, at: float) -> float:
    """Ny* at which pores open when the liquid fraction has fallen to `at`.

    liquid_fraction (n,) from 1 falling with temperature (n,) [K]. Ny*^2 is the integral of 180 (1 - g)^2/g^2 (d theta/d g) from
    `at` to 1, theta from 0 at the end to 1 at the beginning of freezing (same source).
    """
    g, t = np.asarray(liquid_fraction, dtype=np.float64), np.asarray(temperature, dtype=np.float64)
    order = np.argsort(g)
    g, theta = g[order], (t[order] - t.min()) / np.ptp(t)
    low = float(np.interp(at, g, theta))
    keep = g > at
    g, theta = np.concatenate([[at], g[keep]]), np.concatenate([[low], theta[keep]])
    weight = 180 * (1 - g) ** 2 / g**2
    return float(np.sqrt(np.trapezoid(weight, theta)))


def mush_pressure(liquid_fraction: float, *, arm_spacing: float, viscosity: float, speed: float, length: float) -> float:
    """Pressure drop [Pa] of liquid that seeps at `speed` [m/s] through a mush, K = spacing^2 g^3/(180 (1 - g)^2) (Carman)."""
    permeability = arm_spacing**2 * liquid_fraction**3 / (180 * (1 - liquid_fraction) ** 2)
    return viscosity * speed * length / permeability
