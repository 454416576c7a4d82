"""Fronts of freezing behind a held face, computed by the freezing solver: Stefan, Neumann, and a corner. Closed forms."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from pourwell.physics.boundary import Surroundings
from pourwell.physics.march import Pace
from pourwell.physics.properties import Melt
from pourwell.physics.solidify import Watch, solidify
from pourwell.units import c_from_k, k_from_c
from tests.verification.freezing_cases import PLASTER, flat, growing, held, line, melted_at, setting
from tests.verification.freezing_truths import ALUMINIUM, ICE, SILVER_CHILL, Chill


def molten(chill):
    """A metal of the truth's properties that freezes at one temperature; a kilogram a litre, the sums alone matter."""
    return melted_at(
        chill.melting,
        Melt(
            density=1000,
            solid_heat_capacity=chill.solid[1] / 1000,
            liquid_heat_capacity=chill.liquid[1] / 1000,
            latent=chill.latent / 1000,
            solid_conductivity=chill.solid[0],
            liquid_conductivity=chill.liquid[0],
        ),
    )


def behind_a_wall(chill, time, *, step, depths=()):
    """Place of the front [m], from the volume that is solid, and temperatures [degC] at depths."""
    reach = chill.place(time)
    deep = 2 * reach + 8 * math.sqrt(max(chill.liquid[0] / chill.liquid[1], chill.solid[0] / chill.solid[1]) * time)
    mesh = line(growing((0, 2 * reach), 0, deep, step=step, factor=1.05), lambda x: x >= 0)
    seen = []
    got = solidify(
        mesh,
        setting(molten(chill), PLASTER, around=Surroundings(below=held(chill.wall))),
        np.full(mesh.volume.size, k_from_c(chill.pour)),
        pace=Pace(first=1e-4 * time, growth=0.01),
        watch=Watch(times=(time,), see=lambda _, solid: seen.append(float(solid @ mesh.volume))),
        until=time * (1 + 1e-9),
    )
    return seen[0], [c_from_k(float(np.interp(x, mesh.centre[:, 0], got.temperature))) for x in depths]


STEFAN = {0.1: 0.22001627, 0.2: 0.30642391, 0.5: 0.46478592, 1: 0.62006263, 2: 0.80060136, 3: 0.91375127}


@pytest.mark.parametrize("stefan", STEFAN)
def test_the_front_without_superheat_is_stefan_s(stefan):
    """lambda exp(lambda^2) erf lambda = Ste / sqrt(pi) (Carslaw & Jaeger 1959, 11.2), table to 1e-7; the solver to 0.2 %."""
    even = (1.0, 1e6)
    chill = Chill(solid=even, liquid=even, latent=1e8 / stefan, melting=100.0, wall=0.0, pour=100.0)
    assert chill.front == pytest.approx(STEFAN[stefan], abs=1e-7)
    barely = Chill(solid=even, liquid=even, latent=1e8 / stefan, melting=100.0, wall=0.0, pour=100.000001)
    front, _ = behind_a_wall(barely, 100.0, step=0.2e-3)
    assert front == pytest.approx(2 * STEFAN[stefan] * math.sqrt(1e-6 * 100), rel=2e-3), f"observed {front * 1e3:.4f} mm"


@pytest.mark.parametrize(
    ("chill", "number", "time", "step", "depths"),
    [
        (ALUMINIUM, 0.27296013, 2.0, 0.20e-3, (5e-3, 10e-3)),
        (SILVER_CHILL, 0.46915323, 0.1, 0.10e-3, (2e-3, 5e-3)),
        (ICE, 0.20542693, 3600.0, 0.40e-3, (5e-3, 40e-3)),
    ],
    ids=["aluminium", "silver", "ice"],
)
def test_a_front_in_overheated_liquid_is_neumann_s(chill, number, time, step, depths):
    """Two phases (Carslaw & Jaeger 1959, 11.2): place of the front to 1 %, temperatures to 0.5 % of the whole drop.

    The front lags by a quarter of a cell, whatever the time, since liquid ahead of it is of one temperature in each cell; so the
    cells are a thirtieth of its way and less.
    """
    assert chill.front == pytest.approx(number, abs=1e-8)
    front, seen = behind_a_wall(chill, time, step=step, depths=depths)
    exact = chill.place(time)
    assert front == pytest.approx(exact, rel=0.01), f"observed {front * 1e3:.4f} mm, exact {exact * 1e3:.4f}"
    for x, t in zip(depths, seen, strict=True):
        assert t == pytest.approx(chill.temperature(x, time), abs=0.005 * (chill.pour - chill.wall)), f"observed {t:.2f} at {x}"


FAR, CURVE, POWER = 0.70766, 0.159, 5.02


def corner_front(x):
    """y* of the front in a corner at x*, both over 2 sqrt(alpha t): the correlation of Rathjen & Jiji 1971, from memory."""
    return (FAR**POWER + CURVE / (x**POWER - FAR**POWER)) ** (1 / POWER)


def test_the_front_in_a_corner_is_that_of_rathjen_and_jiji():
    """J. Heat Transfer 93 (1971) 101: both faces held, equal properties, superheat 0.3 and latent heat 0.25 of c dT. 1.5 %.

    On the diagonal x* = 0.8956; at x* = 1, 1.2, 1.5, 2: 0.8200, 0.7555, 0.7239, 0.7116.
    """
    even = (1.0, 1e6)
    chill = Chill(solid=even, liquid=even, latent=25e6, melting=900.0, wall=800.0, pour=930.0)
    assert chill.front == pytest.approx(FAR, abs=1e-5)
    unit = 2 * math.sqrt(1e-6 * 1.0)
    edges = growing((0, 2 * unit), 0, 8 * unit, step=unit / 40, factor=1.1)
    mesh = flat(-edges[::-1], edges, lambda a, b: np.full(np.broadcast(a, b).shape, True))
    seen = []
    solidify(
        mesh,
        setting(molten(chill), PLASTER, around=Surroundings(side=held(chill.wall), below=held(chill.wall))),
        np.full(mesh.volume.size, k_from_c(chill.pour)),
        pace=Pace(first=1e-4, growth=0.03),
        watch=Watch(times=(1.0,), see=lambda _, solid: seen.append(solid.copy())),
        until=1.0 + 1e-9,
    )
    solid = seen[0].reshape(edges.size - 1, edges.size - 1)[::-1]
    x, front = 0.5 * (edges[1:] + edges[:-1]) / unit, solid @ np.diff(edges) / unit
    for place in (1.0, 1.2, 1.5, 2.0):
        y = float(np.interp(place, x, front))
        assert y == pytest.approx(corner_front(place), rel=0.015), f"observed {y:.4f} at {place}"
    beyond = int(np.flatnonzero((x > FAR * 1.1) & (front < x))[0])
    lead = front - x
    diagonal = np.interp(0.0, -lead[[beyond - 1, beyond]], x[[beyond - 1, beyond]])
    assert brentq(lambda s: corner_front(s) - s, 0.75, 1.2) == pytest.approx(0.8956, abs=1e-4)
    assert diagonal == pytest.approx(0.8956, rel=0.015), f"observed {diagonal:.4f}"
