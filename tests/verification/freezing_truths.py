"""Closed forms that the tests of the freezing solver are held against, worked out here, apart from the program. SI, degC."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erf, erfc, erfcx, j0, y0

SILVER = {"density": 9300.0, "heat_capacity": 283.0, "latent": 104.6e3, "melting": 961.8}
"""Pure silver near its melting point [kg/m3, J/(kg K), J/kg, degC]."""
SUPERHEAT_K = 88.2
DRY = {"conductivity": 0.45, "density": 1240.0, "heat_capacity": 1050.0}
"""Burnt plaster."""
MOULD_C = 500.0
DIFFUSIVITY = DRY["conductivity"] / (DRY["density"] * DRY["heat_capacity"])
EFFUSIVITY = math.sqrt(DRY["conductivity"] * DRY["density"] * DRY["heat_capacity"])
DROP_K = SILVER["melting"] - MOULD_C
HEAT = SILVER["density"] * (SILVER["latent"] + SILVER["heat_capacity"] * SUPERHEAT_K)
"""Of a cubic metre from the pour to solid, superheat counted as latent, as these closed forms do [J/m3]."""

REFERENCE_S = 6.132
"""Mean local end of freezing of a plain band, radii 8.5 and 10.5 mm, 3 mm wide, sterling at 1000 degC in plaster at 500 degC: a
cross-section at 0.0125 mm with short steps, by a program apart from this one; its own convergence says 0.1 %."""


def plate_time(width):
    """Chvorinov's rule with its constant from the half-space (Flemings 1974, chapter 1): both sides in mould held at melting."""
    return math.pi / 4 * (HEAT * width / 2 / (EFFUSIVITY * DROP_K)) ** 2


def film_time(width, film):
    """Plate at its melting point through a film h, no superheat: heat into a half-space behind it (Carslaw & Jaeger 1959, 2.7).

    Q = (k^2 dT / (h alpha)) (erfcx B - 1 + 2 B / sqrt pi), B = h sqrt(alpha t) / k, set equal to the latent heat.
    """
    k = DRY["conductivity"]

    def lack(t):
        b = film * math.sqrt(DIFFUSIVITY * t) / k
        given = k**2 * DROP_K / (film * DIFFUSIVITY) * (erfcx(b) - 1 + 2 * b / math.sqrt(math.pi))
        return given - SILVER["density"] * SILVER["latent"] * width / 2

    return brentq(lack, 1e-6, 1e4)


def superheat_time(width, film=None, *, pour=1000.0, liquidus=896.0, heat_capacity=300.0):
    """Lumped plate, film, half-space: T(s) = dT m / (m s + 1 / (1/h + 1 / (b sqrt s))), m = rho c w/2, by Talbot's inversion.

    Carslaw & Jaeger 1959, section 12.4; Abate & Whitt 2006 for the inversion.
    """
    body, resistance = SILVER["density"] * heat_capacity * width / 2, 1 / film if film else 0.0
    k = np.arange(1, 32)
    theta = k * math.pi / 32
    cot = 1 / np.tan(theta)

    def over(s):
        return (pour - MOULD_C) * body / (body * s + 1 / (resistance + 1 / (EFFUSIVITY * np.sqrt(s))))

    def still(t):
        r = 64 / (5 * t)
        s, bend = r * theta * (cot + 1j), theta + (theta * cot - 1) * cot
        terms = np.real(np.exp(t * s) * over(s) * (1 + 1j * bend)).sum()
        return r / 32 * (0.5 * math.exp(r * t) * over(r) + terms) - (liquidus - MOULD_C)

    return brentq(still, 1e-3, 100.0)


def ball_time(diameter):
    """Exact flux outside a ball, q = k dT (1/R + 1/sqrt(pi alpha t)) (Carslaw & Jaeger 1959, 9.10), and all its heat."""
    radius = diameter / 2

    def lack(t):
        given = DRY["conductivity"] * DROP_K * (t / radius + 2 * math.sqrt(t / (math.pi * DIFFUSIVITY)))
        return given - HEAT * radius / 3

    return brentq(lack, 1e-6, 1e4)


def cylinder_flux(fourier):
    """q R / (k dT) outside a cylinder held at a temperature: Jaeger's integral (Carslaw & Jaeger 1959, 13.5), over log u.

    Below u = e^-60 the integrand is (pi/2)^2 / (s - log 2 + 0.5772)^2, which is integrated by hand.
    """

    def density(s):
        u = math.exp(s)
        return math.exp(-fourier * u * u) / (j0(u) ** 2 + y0(u) ** 2)

    high = math.log(6 / math.sqrt(fourier))
    low = sum(quad(density, a, b, limit=400)[0] for a, b in ((-60, -20), (-20, -5), (-5, min(0, high)), (min(0, high), high)))
    return 4 / math.pi**2 * low + 1 / (60 + math.log(2) - 0.5772156649)


def rod_time(diameter):
    """The same flux, summed, against the heat of a rod: k dT / alpha times the sum over Fo is rho H / 2."""
    need = HEAT * DIFFUSIVITY / (2 * DRY["conductivity"] * DROP_K)
    roots = np.linspace(0, 1.2, 61)  # the sum over Fo = x^2, whose integrand 2 x q is smooth from 2 / sqrt pi on
    flux = np.array([2 / math.sqrt(math.pi), *(2 * x * cylinder_flux(x * x) for x in roots[1:])])
    total = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(roots) * (flux[1:] + flux[:-1]))])
    return float(np.interp(need, total, roots)) ** 2 * (diameter / 2) ** 2 / DIFFUSIVITY


@dataclass(frozen=True, kw_only=True)
class Chill:
    """A melt whose face is held: (conductivity, heat a cubic metre and kelvin), latent heat a cubic metre, temperatures [degC]."""

    solid: tuple[float, float]
    liquid: tuple[float, float]
    latent: float
    melting: float
    wall: float
    pour: float

    @property
    def front(self):
        """Neumann's lambda (Carslaw & Jaeger 1959, 11.2): the front stands at 2 lambda sqrt(alpha_solid t)."""
        (ks, cs), (kl, cl) = self.solid, self.liquid
        ratio, drop = math.sqrt((ks / cs) / (kl / cl)), self.melting - self.wall

        def lack(x):
            give = math.exp(-x * x) / erf(x)
            take = kl / ks * ratio * (self.pour - self.melting) / drop / erfcx(ratio * x)
            return give - take - x * self.latent * math.sqrt(math.pi) / (cs * drop)

        return brentq(lack, 1e-3, 4.0)

    def place(self, time):
        """Of the front [m]."""
        return 2 * self.front * math.sqrt(self.solid[0] / self.solid[1] * time)

    def temperature(self, x, time):
        """[degC] at a depth [m]."""
        solid, liquid = (c[0] / c[1] for c in (self.solid, self.liquid))
        share = x / (2 * math.sqrt(solid * time))
        if share < self.front:
            return self.wall + (self.melting - self.wall) * erf(share) / erf(self.front)
        far = erfc(x / (2 * math.sqrt(liquid * time))) / erfc(self.front * math.sqrt(solid / liquid))
        return self.pour - (self.pour - self.melting) * far


ALUMINIUM = Chill(solid=(210.0, 3.0e6), liquid=(95.0, 2.58e6), latent=1.08048e9, melting=660.0, wall=580.0, pour=740.0)
SILVER_CHILL = Chill(
    solid=(360.0, 9300 * 280.0), liquid=(175.0, 9300 * 283.0), latent=9300 * 104.6e3, melting=961.8, wall=700.0, pour=1050.0
)
ICE = Chill(solid=(2.22, 1.762e6), liquid=(0.556, 4.226e6), latent=338e6, melting=0.0, wall=-20.0, pour=10.0)


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """A plane wall in a fluid by the full series (Incropera & DeWitt 6th ed., 5.5): insulated face, exposed face, flux, heat."""

    biot: float
    fourier: float

    @property
    def terms(self):
        """Roots z of z tan z = Bi and their weights at this time."""
        roots = [brentq(lambda z: z * math.tan(z) - self.biot, n * math.pi + 1e-9, (n + 0.5) * math.pi - 1e-9) for n in range(20)]
        return [(z, 4 * math.sin(z) / (2 * z + math.sin(2 * z)) * math.exp(-z * z * self.fourier)) for z in roots]

    def excess(self, place):
        """What is left of the first difference, at a share of the depth from the insulated face."""
        return sum(weight * math.cos(z * place) for z, weight in self.terms)

    @property
    def mean(self):
        """The same of the whole wall."""
        return sum(weight * math.sin(z) / z for z, weight in self.terms)


def plate_corner(x, y, *, wide=0.6, tall=1.0, conductivity=52.0, film=750.0, base=100.0):
    """Steady plate: base held, one upright side insulated, the other and the upper in a fluid at 0 degC, by separation.

    T = sum c_n cos(b_n x) [cosh b_n (H - y) + (m / b_n) sinh b_n (H - y)] / [the same at y = 0], b tan(b W) = m = h / k.
    """
    m, total = film / conductivity, 0.0
    for n in range(60):
        b = brentq(lambda z: z * math.tan(z) - m * wide, n * math.pi + 1e-9, (n + 0.5) * math.pi - 1e-9) / wide
        c = base * 4 * math.sin(b * wide) / (2 * b * wide + math.sin(2 * b * wide))
        fall = (math.exp(-b * y) * (1 + m / b) + math.exp(-b * (2 * tall - y)) * (1 - m / b)) / (
            1 + m / b + math.exp(-2 * b * tall) * (1 - m / b)
        )
        total += c * math.cos(b * x) * fall
    return total
