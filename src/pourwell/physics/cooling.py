"""How a hot body cools in still air, taken as one lump with a resistance inside. SI: s, m, K, kg/m3, J/kg, W/(m K)."""

from dataclasses import dataclass

import numpy as np

from pourwell.physics.drying import STEFAN_BOLTZMANN


@dataclass(frozen=True, slots=True, kw_only=True)
class Lump:
    """A body that gives its heat to the air through its free surface."""

    capacity: float
    """Heat that it gives off by a kelvin [J/K]."""
    surface: float
    """Free surface [m2]."""
    inner: float
    """From its mean temperature to its surface [m2 K/W]."""


def inner_resistance(modulus: float, conductivity: float) -> float:
    """From the mean temperature of a cylinder to its surface [m2 K/W]; `modulus` is V/A [m].

    A long cylinder that cools evenly throughout has a parabola inside: its mean lies q R/(4k) over its surface, and V/A = R/2.
    Without this a lump is right only for Biot numbers under 0.1; a flask in air has about 1. Source: definition of the parabola.
    """
    return modulus / (2.0 * conductivity)


def surface_flux(mean: float, room: float, *, inner: float, film: float, emissivity: float) -> float:
    """What leaves a square metre [W/m2] of a body of this mean temperature [K]: through the inside, then by air and radiation.

    The surface temperature is where both are equal, found by halving.
    """
    low, high = room, mean
    for _ in range(60):
        face = 0.5 * (low + high)
        out = film * (face - room) + emissivity * STEFAN_BOLTZMANN * (face**4 - room**4)
        if out * inner > mean - face:
            high = face
        else:
            low = face
    return out


def cooling_time(lump: Lump, *, start: float, end: float, room: float, film: float, emissivity: float) -> float:
    """Time [s] until the mean temperature has fallen from start to end [K]; 0 if it is there already.

    Balance of the lump, C dT/dt = -A q(T). Raises ValueError for an end that is not above the room's temperature.
    """
    from scipy.integrate import quad  # a tenth of a second to load, and most commands need none

    if end <= room:
        raise ValueError("nothing cools to its room, or below it, in a finite time")
    if start <= end:
        return 0.0

    def slowness(log_over: float) -> float:  # by the logarithm of the excess, in which cooling is nearly even
        over = float(np.exp(log_over))
        return over / surface_flux(room + over, room, inner=lump.inner, film=film, emissivity=emissivity)

    whole, _ = quad(slowness, float(np.log(end - room)), float(np.log(start - room)))
    return float(lump.capacity / lump.surface * whole)
