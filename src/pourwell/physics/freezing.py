"""How long metal stays liquid in a mould that takes the heat up by conduction. SI: s, m, K, kg/m3, J/kg, W/(m K).

The mould is taken as endless and the metal as equally hot throughout: closed forms that are exact for plates and spheres.
"""

import math
from dataclasses import dataclass

from scipy.special import erfcx

from pourwell.physics.drying import STEFAN_BOLTZMANN


@dataclass(frozen=True, slots=True, kw_only=True)
class MouldSide:
    """The mould that takes up the heat."""

    conductivity: float
    density: float
    heat_capacity: float
    temperature: float

    @property
    def diffusivity(self) -> float:
        """[m2/s]."""
        return self.conductivity / (self.density * self.heat_capacity)

    @property
    def effusivity(self) -> float:
        """[W s^0.5 / (m2 K)]."""
        return math.sqrt(self.conductivity * self.density * self.heat_capacity)


def freezing_constant(*, heat: float, density: float, front: float, mould: MouldSide) -> float:
    """Chvorinov's constant C [s/m2] in t = C (V/A)^2.

    Parameters
    ----------
    heat : given off by a kilogram from the pour to the end of freezing [J/kg]
    density : of the metal [kg/m3]
    front : temperature at which it freezes [K]

    Source: Flemings 1974, chapter 1: C = (pi/4) [rho H / (b (T_m - T_0))]^2.
    """
    return math.pi / 4.0 * (density * heat / (mould.effusivity * (front - mould.temperature))) ** 2


def freezing_time(
    modulus: float,
    *,
    heat: float,
    density: float,
    front: float,
    mould: MouldSide,
    curvature: float = 0.0,
    aside: float = 0.0,
) -> float:
    """Time [s] until metal of a modulus V/A [m] has frozen against a mould; A is its face on the mould alone.

    `curvature` [1/m] is 1/R where the metal bulges as a sphere of radius R, 0 for a plate; `aside` [W/m2] what is lost elsewhere,
    per area of mould face; otherwise as `freezing_constant`. A mould hotter than the front takes no heat; inf if nothing does.
    The flux of a sphere's outside is exact: q = k (T_m - T_0) [1/R + 1/sqrt(pi alpha t)] (Carslaw & Jaeger 1959, section 9.10);
    its integral set equal to the metal's heat is a quadratic in sqrt(t).
    """
    need = density * modulus * heat
    drive = mould.conductivity * max(0.0, front - mould.temperature)
    steady = drive * curvature + aside
    flat = 2.0 * drive / math.sqrt(math.pi * mould.diffusivity)
    if steady <= 0.0 and flat <= 0.0:
        return math.inf
    # steady t + flat sqrt(t) = need, by the root that stays finite when the steady part vanishes
    root = 2.0 * need / (flat + math.sqrt(flat**2 + 4.0 * steady * need))
    return root**2


def face_flux(face: float, room: float, *, emissivity: float, coefficient: float) -> float:
    """What an open face [K] loses to a room [K] by radiation and air [W/m2]; `coefficient` is that of the air [W/(m2 K)].

    Source: grey body in large surroundings.
    """
    return emissivity * STEFAN_BOLTZMANN * (face**4 - room**4) + coefficient * (face - room)


def superheat_time(width: float, *, heat_capacity: float, density: float, pour: float, liquidus: float, mould: MouldSide) -> float:
    """Time [s] in which a plate [m wide] falls from the pour to its liquidus [K], in perfect contact with the mould on both sides.

    Source: a lumped plate against half-spaces, theta = erfcx(sqrt(tau)), sqrt(tau) = 2 b sqrt(t) / (rho c w)
    (Carslaw & Jaeger 1959, section 12.4).
    """
    theta = (liquidus - mould.temperature) / (pour - mould.temperature)
    if theta >= 1.0:
        return 0.0
    low, high = 0.0, 1.0
    while erfcx(high) > theta:
        high *= 2.0
    for _ in range(80):
        middle = (low + high) / 2.0
        low, high = (middle, high) if erfcx(middle) > theta else (low, middle)
    return float((low * density * heat_capacity * width / (2.0 * mould.effusivity)) ** 2)


def cap_volume(diameter: float, height: float) -> float:
    """Volume [m3] of a spherical cap with a base [m] and a height [m]. Source: geometry."""
    return math.pi * height / 24.0 * (3.0 * diameter**2 + 4.0 * height**2)


def cap_shape(diameter: float, height: float) -> tuple[float, float]:
    """Modulus [m] of a cap that loses heat through its dome alone, and the curvature [1/m] of that dome. Source: geometry."""
    area = math.pi * (diameter**2 / 4.0 + height**2)
    radius = (diameter**2 / 4.0 + height**2) / (2.0 * height)
    return cap_volume(diameter, height) / area, 1.0 / radius
