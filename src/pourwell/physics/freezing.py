"""How long metal stays liquid in a mould that takes the heat up by conduction. SI: s, m, K, kg/m3, J/kg, W/(m K).

The mould is taken as endless and the metal as equally hot throughout: closed forms that are exact for plates and spheres.
"""

import math
from dataclasses import dataclass

from scipy.special import erfcx


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
    modulus: float, *, heat: float, density: float, front: float, mould: MouldSide, curvature: float = 0.0
) -> float:
    """Time [s] until metal of a modulus V/A [m] has frozen against a mould.

    `curvature` [1/m] is 1/R where the metal bulges as a sphere of radius R, 0 for a plate; otherwise as `freezing_constant`.
    The flux of a sphere's outside is exact: q = k (T_m - T_0) [1/R + 1/sqrt(pi alpha t)] (Carslaw & Jaeger 1959, section 9.10);
    its integral set equal to the metal's heat is a quadratic in sqrt(t).
    """
    need = density * modulus * heat / (mould.conductivity * (front - mould.temperature))
    flat = 2.0 / math.sqrt(math.pi * mould.diffusivity)
    # t curvature + sqrt(t) flat = need, by the root that stays finite when the curvature vanishes
    root = 2.0 * need / (flat + math.sqrt(flat**2 + 4.0 * curvature * need))
    return root**2


def superheat_time(
    width: float, *, heat_capacity: float, density: float, pour: float, liquidus: float, mould: MouldSide
) -> float:
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
