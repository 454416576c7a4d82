"""Bookkeeping of the drying front: how far a flask has dried under a kiln's course. SI: s, m, K, W/(m K), J/m3.

A front at 100 degC moves from the rim to the core; heat crosses the film on the wall and the dry zone behind the front, in
steady state at each moment. For a cylinder of radius R with the front at r, s = (r/R)^2 and b = 2 k / (h R):

    dry share of the time needed = [(1 - s)(1 + b) + s ln s] / (1 + b),   rate = 4 k (T - 100 degC) / (Q R^2 (1 + b))

Integrated over the kiln's course, the share reaches 1 when the core is dry.
Source: quasi-steady freezing of a cylinder turned to drying (Carslaw & Jaeger 1959, chapter 11); docs/physics.md, section 4.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.physics.mould import BOILING

STEFAN_BOLTZMANN: Final = 5.670374419e-8
STEP: Final = 30.0
"""s: the course is read at this spacing, besides its own corners."""

Floats = NDArray[np.float64]


def film(kiln: ArrayLike, *, convection: float, emissivity: float) -> Floats:
    """Coefficient between kiln and wall [W/(m2 K)] while the wall is near 100 degC, shape of `kiln` [K].

    Source: convection plus the radiation between two grey faces, linearised exactly.
    """
    hot = np.asarray(kiln, dtype=np.float64)
    radiation: Floats = emissivity * STEFAN_BOLTZMANN * (hot**2 + BOILING**2) * (hot + BOILING)
    return convection + radiation


def dry_time(*, kiln: float, radius: float, conductivity: float, heat: float, coefficient: float) -> float:
    """Time [s] to dry a cylinder in a kiln at one temperature [K].

    `heat` [J/m3] is what a volume takes until it is dry, `coefficient` [W/(m2 K)] the film.
    """
    slow = 1.0 + 2.0 * conductivity / (coefficient * radius)
    return heat * radius**2 * slow / (4.0 * conductivity * (kiln - BOILING))


def rate(kiln: ArrayLike, *, radius: float, conductivity: float, heat: float, convection: float, emissivity: float) -> Floats:
    """Dry share gained in a second [1/s], shape of `kiln` [K]; nothing below 100 degC."""
    hot = np.asarray(kiln, dtype=np.float64)
    slow = 1.0 + 2.0 * conductivity / (film(hot, convection=convection, emissivity=emissivity) * radius)
    gained: Floats = 4.0 * conductivity * np.maximum(hot - BOILING, 0.0) / (heat * radius**2 * slow)
    return gained


def sampled(times: ArrayLike, kiln: ArrayLike) -> tuple[Floats, Floats]:
    """A course of straight lines, read closely: (n,) times [s] and (n,) temperatures [K].

    `times` ascend; two equal ones make a jump.
    """
    corners, levels = np.asarray(times, dtype=np.float64), np.asarray(kiln, dtype=np.float64)
    fine = np.union1d(np.arange(corners[0], corners[-1], STEP), corners)
    return fine, np.interp(fine, corners, levels)


def shares(
    times: ArrayLike,
    kiln: ArrayLike,
    *,
    radius: float,
    conductivity: float,
    heat: float,
    convection: float,
    emissivity: float,
) -> tuple[Floats, Floats]:
    """Dry share along a course: (n,) times [s] and (n,) shares [-], which go on past 1.

    Parameters
    ----------
    times, kiln : (m,) corners of the course [s], [K]
    radius : of the mould [m]
    conductivity : of the dry mould [W/(m K)]
    heat : see `dry_time` [J/m3]
    convection, emissivity : see `film`
    """
    fine, hot = sampled(times, kiln)
    gained = rate(hot, radius=radius, conductivity=conductivity, heat=heat, convection=convection, emissivity=emissivity)
    steps = np.diff(fine) * (gained[1:] + gained[:-1]) / 2.0
    return fine, np.concatenate([[0.0], np.cumsum(steps)])


def reached(times: Floats, share: Floats) -> float:
    """When the share reaches 1 [s]; inf if it never does. Arrays as `shares` gives them."""
    if share[-1] < 1.0:
        return math.inf
    return float(np.interp(1.0, share, times))


def wet_volume(share: float, *, film_ratio: float) -> float:
    """What part of the volume is still wet [-] when the dry share of the time has passed; `film_ratio` is 2 k / (h R).

    Inverts the relation at the head of this module by bisection.
    """
    if share <= 0.0:
        return 1.0
    if share >= 1.0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(60):
        s = (low + high) / 2.0
        spent = ((1.0 - s) * (1.0 + film_ratio) + (s * math.log(s) if s > 0.0 else 0.0)) / (1.0 + film_ratio)
        low, high = (s, high) if spent > share else (low, s)
    return (low + high) / 2.0
