"""Logs that no solver of ours made: heat in cylinders by series, and the certified data of a society for least squares."""

import numpy as np
from scipy.special import j0, j1, jn_zeros

CAPACITY = 1050.0
"""J/(kg K), the same at every temperature: what the closed forms ask for."""

MISRA1A = np.array(
    [
        *((77.6, 10.07), (114.9, 14.73), (141.1, 17.94), (190.8, 23.93), (239.9, 29.61), (289.0, 35.18), (332.8, 40.02)),
        *((378.4, 44.82), (434.8, 50.76), (477.3, 55.05), (536.8, 61.01), (593.1, 66.40), (689.1, 75.47), (760.0, 81.78)),
    ]
)
"""(14, 2) volume and pressure: Misra (1978), in the Statistical Reference Datasets of NIST."""
MISRA1A_CERTIFIED = (238.94212918, 5.5015643181e-4)
MISRA1A_DEVIATIONS = (2.7070075241, 7.2668688436e-6)
"""y = b1 (1 - exp(-b2 x)): certified values and standard deviations of the estimates."""


def ramped(times, *, radius, at, diffusivity, pace, start, terms=40):
    """Temperature (n,) in a long cylinder whose surface climbs evenly from the start: Carslaw & Jaeger 1959, 7.7 (10)."""
    roots = jn_zeros(0, terms) / radius
    series = np.exp(-diffusivity * np.outer(times, roots**2)) * j0(at * roots) / (roots**3 * j1(radius * roots))
    settled = times - (radius**2 - at**2) / (4 * diffusivity)
    return start + pace * (settled + 2 / (radius * diffusivity) * series.sum(axis=1))


def convected(times, *, radius, at, diffusivity, biot, start, around, terms=30):
    """Temperature (n,) in a long cylinder put into a kiln that heats it by a film: Incropera & DeWitt, 6th ed., 5.47."""
    roots = film_roots(biot, terms)
    weights = 2 / roots * j1(roots) / (j0(roots) ** 2 + j1(roots) ** 2)
    fourier = diffusivity * times / radius**2
    left = (weights * np.exp(-np.outer(fourier, roots**2)) * j0(roots * at / radius)).sum(axis=1)
    return around + (start - around) * left


def film_roots(biot, terms):
    """The first roots of z J1(z) = Bi J0(z), by bisection between the zeros of J1 and those of J0."""

    def off(z):
        return z * j1(z) - biot * j0(z)

    low, high = np.concatenate([[0.0], jn_zeros(1, terms - 1)]), jn_zeros(0, terms)
    for _ in range(80):
        middle = (low + high) / 2
        beyond = off(middle) * off(high) > 0
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return (low + high) / 2
