"""The mould as curves for the loops: what it takes to heat it once, and what it takes when it has lost its water. SI."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.kernels.oven import Curves, Stages, Turn, turned
from pourwell.physics.mould import (
    BOILING,
    CRISTOBALITE,
    DRY_HEAT_CAPACITY,
    FIRST_STEP,
    QUARTZ,
    REFERENCE_TEMPERATURE,
    SECOND_STEP,
    WATER_HEAT_CAPACITY,
    WATER_LATENT,
    Composition,
)

Floats = NDArray[np.float64]

PLATEAU: Final = 0.5
"""Water boils over this span, centred on the boiling point [K]: none would do, but a little keeps every curve rising. Under the 2 K
at which a span begins to smear the front."""
LOWEST, HIGHEST, SPACING = 240.0, 1400.0, 10.0
"""Ends and spacing of the curves' knots, besides the corners [K]; the parabola strays by 0.01 K between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laws:
    """Heat that the solid takes: c = base + rise (T - origin), at most cap [J/(kg K)]; and what it takes at certain temperatures.

    Steps and inversions are (from, to [K], heat). Source: those of `physics.mould`.
    """

    base: float = DRY_HEAT_CAPACITY[0]
    rise: float = DRY_HEAT_CAPACITY[1]
    origin: float = DRY_HEAT_CAPACITY[2]
    cap: float = DRY_HEAT_CAPACITY[3]
    steps: tuple[tuple[float, float, float], ...] = (FIRST_STEP, SECOND_STEP)
    """Of the gypsum, for good [J/kg of gypsum]; its water leaves evenly from the first's beginning to the last's end."""
    inversions: tuple[tuple[float, float, float], ...] = (CRISTOBALITE, QUARTZ)
    """Of the silica, an equal part of it each, to and fro [J/kg of the mineral]."""

    @property
    def bend(self) -> float:
        """Temperature from which the heat capacity is level [K]."""
        return self.origin + (self.cap - self.base) / self.rise if self.rise else HIGHEST

    def solid(self, temperature: Floats) -> Floats:
        """Heat of a kilogram from 20 degC [J/kg], shape of `temperature` [K]."""
        low, high = REFERENCE_TEMPERATURE, np.minimum(temperature, self.bend)
        curved = self.base * (high - low) + self.rise / 2 * ((high - self.origin) ** 2 - (low - self.origin) ** 2)
        level: Floats = curved + self.cap * np.maximum(0.0, temperature - self.bend)
        return level


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould:
    """What the kiln has to heat.

    Raises BadRequestError for conductivities that are not above zero, or a share of water outside 0 to 1.
    """

    composition: Composition
    """Of the mould as mixed; its free water fills it."""
    water_share: float = 1.0
    """Free water at the start over that of the mould as mixed [-]: steaming, draining and standing take some."""
    wet: float = 1.1
    """Conductivity when filled with water [W/(m K)]."""
    dry: tuple[tuple[float, float], ...] = ((BOILING, 0.45),)
    """Conductivity when dry: temperature [K] and [W/(m K)], straight between the knots and level beyond."""
    boiling: float = BOILING
    """Where its water boils [K]: lower at altitude."""
    laws: Laws = Laws()

    def __post_init__(self) -> None:
        """Refuse what is no mould."""
        if not 0 <= self.water_share <= 1 or self.wet <= 0 or min((k for _, k in self.dry), default=0.0) <= 0:
            raise BadRequestError(
                "A mould has no proper water or conductivity.",
                why=f"Its share of water is {self.water_share:g}, its conductivities are {self.wet:g} and {self.dry}.",
                try_this="Give a share from 0 to 1 and conductivities above zero.",
            )

    @property
    def free_water(self) -> float:
        """At the start [kg/m3]."""
        return self.composition.free_water * self.water_share

    def dry_conductivity(self, temperature: ArrayLike) -> Floats:
        """[W/(m K)] at temperatures [K], of the same shape."""
        knots = np.array(self.dry)
        return np.asarray(np.interp(np.asarray(temperature), knots[:, 0], knots[:, 1]), dtype=np.float64)

    def binder_water(self, temperature: Floats) -> Floats:
        """Bound water left [kg/m3] in a mould that has been at most at `temperature` [K], of the same shape."""
        if not self.laws.steps:
            return np.zeros_like(temperature)
        return self.composition.bound_water * (1 - _passed(temperature, self.laws.steps[0][0], self.laws.steps[-1][1]))

    def heat(self, temperature: ArrayLike, *, burnt: bool = False) -> Floats:
        """Heat [J/m3] from 20 degC to temperatures [K], of the same shape: the first time, or as it is once `burnt`.

        At the boiling point the free water counts as boiled off. The two agree from the end of the last step. Source: the budget of
        docs/physics.md, section 3.
        """
        t, made, laws = np.asarray(temperature, dtype=np.float64), self.composition, self.laws
        end = laws.steps[-1][1] if laws.steps else self.boiling
        reached = np.maximum(t, end) if burnt else t
        liquid = np.minimum(reached, self.boiling) - REFERENCE_TEMPERATURE
        water = self.free_water * (WATER_HEAT_CAPACITY * liquid + WATER_LATENT * (reached >= self.boiling))
        for low, high, heat in laws.steps:
            water = water + made.gypsum * heat * _passed(reached, low, high)
        share = made.silica / max(1, len(laws.inversions))
        for low, high, heat in laws.inversions:
            water = water + share * heat * _passed(t, low, high)
        solid = made.burnt + self.binder_water(reached)
        total: Floats = solid * laws.solid(t) + water
        return total


def _passed(temperature: Floats, start: float, end: float) -> Floats:
    """How much of a step between two temperatures is done [0 to 1]."""
    return np.clip((temperature - start) / (end - start), 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel:
    """The wall of the flask: heat capacity [J/(m3 K)] and conductivity [W/(m K)].

    Plain carbon and stainless steels have 7800 to 8000 kg/m3 and 480 to 600 J/(kg K) below 730 degC; stainless conducts 15 to 25.
    Source: Incropera & DeWitt, appendix A.
    """

    capacity: float = 3.925e6
    conductivity: float = 25.0


def _knots(mould: Mould) -> Floats:
    """Temperatures at which the curves bend, and enough between them [K]; the two ends of boiling among them, and none within."""
    laws = mould.laws
    corners = {t for start, end, _ in (*laws.steps, *laws.inversions) for t in (start, end)}
    corners |= {laws.bend, *(t for t, _ in mould.dry), *np.arange(LOWEST, HIGHEST + 1, SPACING)}
    low, high = mould.boiling - PLATEAU / 2, mould.boiling + PLATEAU / 2
    return np.array(sorted({low, high} | {t for t in corners if not low <= t <= high and LOWEST <= t <= HIGHEST}))


def stages_of(mould: Mould) -> Stages:
    """Where on its curve the mould boils, is dry and is burnt."""
    laws = mould.laws
    low, high = mould.boiling - PLATEAU / 2, mould.boiling + PLATEAU / 2
    wet, dry = (float(h) for h in mould.heat([low, high]))
    watery = mould.free_water > 0
    return Stages(
        wet=wet,
        dry=dry if watery else wet,
        burnt=float(mould.heat(laws.steps[-1][1])) if laws.steps else dry,
        share=mould.water_share if watery else 0.0,
        extra=mould.wet - float(mould.dry_conductivity(mould.boiling)),
        base=laws.base,
        rise=laws.rise,
        origin=laws.origin,
        water=mould.free_water * WATER_HEAT_CAPACITY,
        solid=mould.composition.burnt,
        bound=mould.composition.bound_water if laws.steps else 0.0,
        loosens=laws.steps[0][0] if laws.steps else LOWEST,
        loose=laws.steps[-1][1] if laws.steps else HIGHEST,
    )


def curves_of(mould: Mould, steel: Steel) -> Curves:
    """The three curves, padded to one length with the last knot."""
    t = _knots(mould)
    k = mould.dry_conductivity(t)
    ends = np.array([0.0, HIGHEST])
    rows = (
        (mould.heat(t), t, k),
        (mould.heat(t, burnt=True), t, k),
        (steel.capacity * ends, ends, np.full(2, steel.conductivity)),
    )

    def pad(values: Floats, to: int) -> Floats:
        return np.pad(values, (0, to - values.size), mode="edge")

    longest = t.size
    return Curves(
        heat=np.array([pad(heat, longest) for heat, _, _ in rows]),
        temperature=np.array([pad(t, longest) for _, t, _ in rows]),
        slope=np.array([pad(np.diff(t) / np.diff(heat), longest - 1) for heat, t, _ in rows]),
        conductivity=np.array([pad(k, longest) for _, _, k in rows]),
        knots=np.array([heat.size for heat, _, _ in rows], dtype=np.int64),
    )


def water_left(stages: Stages, hottest: Floats) -> Floats:
    """Share [-] of the water at the start left in cells that have held at most these heats [J/m3]; zero if there was none."""
    if stages.dry <= stages.wet:
        return np.zeros_like(hottest)
    return np.clip((stages.dry - hottest) / (stages.dry - stages.wet), 0.0, 1.0)


def turn_of(hottest: Floats, *, stages: Stages, curves: Curves) -> Turn:
    """Where cells turn that have held at most these heats (n,) [J/m3]."""
    turn = Turn(heat=hottest.copy(), temperature=np.empty_like(hottest), solid=np.empty_like(hottest), water=np.empty_like(hottest))
    turned(curves, stages, turn)
    return turn
