"""Substances as curves against heat: temperature, conductivity and solid fraction. SI: J/m3, K, W/(m K).

Heat, not temperature, is the state, so that a pure metal or a eutectic, whose temperature stands still while it freezes, is a curve
like any other.
"""

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.kernels.state import Tables

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Substance:
    """Curves of one substance, straight between their knots.

    Beyond the ends temperature goes straight on, conductivity and solid fraction stay level.
    """

    heat: Floats
    """(n,) [J/m3], rising."""
    temperature: Floats
    """(n,) [K], never falling, and rising in its first and its last piece."""
    conductivity: Floats
    """(n,) [W/(m K)], above zero."""
    solid_fraction: Floats
    """(n,) [-], never rising; 1 throughout for what does not melt."""

    def __post_init__(self) -> None:
        """Refuse what is no curve, and close the arrays to writing."""
        for field in fields(self):
            values = np.array(getattr(self, field.name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, field.name, values)
        rising, warming = np.diff(self.heat), np.diff(self.temperature)
        faults = {
            "its curves have not all the same length, of two knots at least": len({f.shape for f in self._curves()}) > 1
            or self.heat.size < 2,
            "its heat does not rise from knot to knot": bool(np.any(rising <= 0)),
            "its temperature falls, or stands still at an end": bool(
                np.any(warming < 0) or warming[:1].min(initial=1) <= 0 or warming[-1:].min(initial=1) <= 0
            ),
            "its conductivity is not above zero": not bool(np.all(self.conductivity > 0)),
            "its solid fraction rises, or leaves 0 to 1": bool(
                np.any(np.diff(self.solid_fraction) > 0) or np.any((self.solid_fraction < 0) | (self.solid_fraction > 1))
            ),
            "one of its numbers is not finite": not all(bool(np.all(np.isfinite(curve))) for curve in self._curves()),
        }
        for why, wrong in faults.items():
            if wrong:
                raise BadRequestError("A substance has no proper curve.", why=f"In it {why}.", try_this="Mend its table.")

    def _curves(self) -> tuple[Floats, ...]:
        return self.heat, self.temperature, self.conductivity, self.solid_fraction

    @property
    def solidus(self) -> float:
        """Highest temperature at which it is wholly solid [K]; infinite for what does not melt."""
        melting = np.flatnonzero(self.solid_fraction < 1)
        return float(self.temperature[melting[0] - 1]) if melting.size else math.inf

    @property
    def liquidus(self) -> float:
        """Lowest temperature at which it is wholly liquid [K]; infinite for what does not melt."""
        liquid = np.flatnonzero(self.solid_fraction <= 0)
        return float(self.temperature[liquid[0]]) if liquid.size else math.inf

    @property
    def solid_heat(self) -> float:
        """Heat at the end of freezing [J/m3]."""
        melting = np.flatnonzero(self.solid_fraction < 1)
        return float(self.heat[melting[0] - 1]) if melting.size else math.inf

    @property
    def liquid_heat(self) -> float:
        """Heat at the beginning of freezing [J/m3]."""
        liquid = np.flatnonzero(self.solid_fraction <= 0)
        return float(self.heat[liquid[0]]) if liquid.size else math.inf

    def heat_at_solid(self, fraction: ArrayLike) -> Floats:
        """Heat [J/m3] at solid fractions [-], falling from the liquidus to the solidus; for what melts."""
        wanted = np.asarray(fraction, dtype=np.float64)
        begin = int(np.searchsorted(-self.solid_fraction, -1.0, side="right")) - 1
        end = int(np.searchsorted(-self.solid_fraction, 0.0, side="left"))
        span = slice(begin, end + 1)
        heat: Floats = np.interp(-wanted, -self.solid_fraction[span], self.heat[span])
        return heat

    @property
    def steady(self) -> bool:
        """Whether its conductivity is the same at all temperatures."""
        return bool(np.ptp(self.conductivity) == 0)

    def heat_at(self, temperature: ArrayLike) -> Floats:
        """Heat [J/m3] at temperatures [K]; where it melts at one temperature, that of the liquid."""
        wanted = np.asarray(temperature, dtype=np.float64)
        knot = np.clip(np.searchsorted(self.temperature, wanted, side="right") - 1, 0, self.heat.size - 2)
        wide = np.diff(self.temperature)[knot]
        share = np.where(wide > 0, (wanted - self.temperature[knot]) / np.where(wide > 0, wide, 1.0), 1.0)
        heat: Floats = self.heat[knot] + share * np.diff(self.heat)[knot]
        return heat


def inert(*, density: float, heat_capacity: float, conductivity: float) -> Substance:
    """What neither melts nor changes: kg/m3, J/(kg K), W/(m K)."""
    knots = np.array([0.0, 1000.0])
    return Substance(
        heat=knots * density * heat_capacity,
        temperature=knots,
        conductivity=np.full(2, conductivity),
        solid_fraction=np.ones(2),
    )


def tabulated(*, density: float, temperature: ArrayLike, heat_capacity: ArrayLike, conductivity: ArrayLike) -> Substance:
    """What does not melt, with heat capacity [J/(kg K)] and conductivity [W/(m K)] at temperatures [K]: integrated by trapezia."""
    t, c = np.asarray(temperature, dtype=np.float64), np.asarray(heat_capacity, dtype=np.float64)
    heat = np.concatenate([[0.0], np.cumsum(density * np.diff(t) * 0.5 * (c[1:] + c[:-1]))])
    return Substance(
        heat=heat, temperature=t, conductivity=np.asarray(conductivity, dtype=np.float64), solid_fraction=np.ones_like(heat)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Melt:
    """What a metal takes to melt: density [kg/m3], heat capacities [J/(kg K)], latent heat [J/kg], conductivities [W/(m K)]."""

    density: float
    solid_heat_capacity: float
    liquid_heat_capacity: float
    latent: float
    solid_conductivity: float
    liquid_conductivity: float


def freezing(melt: Melt, *, temperature: ArrayLike, solid_fraction: ArrayLike) -> Substance:
    """A metal that freezes along a curve of solid fraction against temperature.

    Parameters
    ----------
    temperature : (n,) [K]
        From solidus to liquidus; a temperature twice in a row is an isothermal part. One temperature alone: see `pure`.
    solid_fraction : (n,) [-]
        From 1 to 0, never rising.

    Raises
    ------
    BadRequestError
        If the fractions do not run from 1 to 0, or the temperatures fall.

    Source: heat is the integral of c dT plus the latent heat of what has melted; c and k by solid fraction.
    """
    t, fs = np.asarray(temperature, dtype=np.float64), np.asarray(solid_fraction, dtype=np.float64)
    if t.size < 2 or fs[0] != 1.0 or fs[-1] != 0.0 or melt.latent <= 0:
        raise BadRequestError(
            "A metal's freezing curve does not freeze it.",
            why="The solid fraction must run from 1 at the solidus to 0 at the liquidus, with a latent heat above zero.",
            try_this="Mend the table.",
        )
    reach = 100.0  # K below the solidus and above the liquidus, to say how it goes on
    t, fs = np.concatenate([[t[0] - reach], t, [t[-1] + reach]]), np.concatenate([[1.0], fs, [0.0]])
    middle = 0.5 * (fs[1:] + fs[:-1])
    capacity = middle * melt.solid_heat_capacity + (1 - middle) * melt.liquid_heat_capacity
    gained = melt.density * (capacity * np.diff(t) - melt.latent * np.diff(fs))
    heat = melt.density * melt.solid_heat_capacity * t[0] + np.concatenate([[0.0], np.cumsum(gained)])
    keep = np.concatenate([[True], gained > 0])
    conductivity = fs * melt.solid_conductivity + (1 - fs) * melt.liquid_conductivity
    return Substance(heat=heat[keep], temperature=t[keep], conductivity=conductivity[keep], solid_fraction=fs[keep])


def pure(melt: Melt, *, at: float) -> Substance:
    """A metal or eutectic that freezes at one temperature [K]."""
    return freezing(melt, temperature=[at, at], solid_fraction=[1.0, 0.0])


def ranged(melt: Melt, *, solidus: float, liquidus: float) -> Substance:
    """A metal whose solid fraction falls straight from solidus to liquidus [K]."""
    return freezing(melt, temperature=[solidus, liquidus], solid_fraction=[1.0, 0.0])


def tables(substances: tuple[Substance, ...]) -> Tables:
    """The curves of several substances for the compiled loops, padded to one length with the last knot."""
    longest = max(s.heat.size for s in substances)

    def padded(name: str) -> Floats:
        return np.array([np.pad(getattr(s, name), (0, longest - s.heat.size), mode="edge") for s in substances])

    slopes = [np.diff(s.temperature) / np.diff(s.heat) for s in substances]
    return Tables(
        heat=padded("heat"),
        temperature=padded("temperature"),
        slope=np.array([np.pad(slope, (0, longest - 1 - slope.size), mode="edge") for slope in slopes]),
        conductivity=padded("conductivity"),
        solid=padded("solid_fraction"),
        knots=np.array([s.heat.size for s in substances], dtype=np.int64),
    )
