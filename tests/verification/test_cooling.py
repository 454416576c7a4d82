"""The lump with a resistance inside against exact answers."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1

from pourwell.physics.cooling import Lump, cooling_time, inner_resistance

ROOM = 293.15


def test_a_lump_without_resistance_follows_newton():
    """Newton's law, T excess = exp(-t h A / C): exact without radiation."""
    body = Lump(capacity=400.0, surface=0.015, inner=0.0)
    observed = cooling_time(body, start=ROOM + 500, end=ROOM + 40, room=ROOM, film=9.0, emissivity=0.0)
    assert observed == pytest.approx(400.0 / (9.0 * 0.015) * math.log(500 / 40), rel=1e-8)


def test_a_black_lump_in_the_cold_follows_the_fourth_power():
    """dT/dt = -s A T^4 / C from T1 to T2 takes C / (3 s A) (1/T2^3 - 1/T1^3): exact for a room at 0 K."""
    body = Lump(capacity=400.0, surface=0.015, inner=0.0)
    observed = cooling_time(body, start=900.0, end=400.0, room=1e-6, film=0.0, emissivity=1.0)
    assert observed == pytest.approx(400.0 / (3 * 5.670374419e-8 * 0.015) * (400.0**-3 - 900.0**-3), rel=1e-6)


def _mean_excess(biot: float, fourier: float) -> float:
    """Mean of a long cylinder: sum of 4 Bi^2 / (z^2 (z^2 + Bi^2)) exp(-z^2 Fo), where z J1(z) = Bi J0(z)."""
    edges = np.arange(1e-9, 120.0, 0.01)
    values = edges * j1(edges) - biot * j0(edges)
    roots = [
        brentq(lambda z: z * j1(z) - biot * j0(z), a, b)
        for a, b, u, v in zip(edges, edges[1:], values, values[1:], strict=False)
        if u * v < 0
    ]
    return sum(4 * biot**2 / (z**2 * (z**2 + biot**2)) * math.exp(-(z**2) * fourier) for z in roots)


@pytest.mark.parametrize("biot", [0.1, 0.5, 1.0, 2.0])
def test_a_long_cylinder_cools_as_the_series_says(biot):
    """Carslaw & Jaeger 1959, section 7.7, mean temperature of a cylinder with a film, down to a twelfth of its excess.

    A flask in air has a Biot number of 0.5 to 1.5. Tolerance 4 %: the resistance is that of an even cooling.
    """
    radius, k, rho_c = 0.038, 0.4, 1.0e6
    film = biot * k / radius
    exact = brentq(lambda s: _mean_excess(biot, k / rho_c * s / radius**2) - 1 / 12, 60.0, 60000.0)
    body = Lump(capacity=rho_c * radius / 2, surface=1.0, inner=inner_resistance(radius / 2, k))
    observed = cooling_time(body, start=ROOM + 480, end=ROOM + 40, room=ROOM, film=film, emissivity=0.0)
    assert observed == pytest.approx(exact, rel=0.04), f"observed {observed:.0f} s, exact {exact:.0f} s"
