"""The mould as curves for the loops: what it takes to heat it once, and what it takes when it has lost its water. SI."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.kernels.oven import Curves, Stages, Turn
from pourwell.physics.mould import (
    BOILING,
    CRISTOBALITE,
    DRY_HEAT_CAPACITY,
    FIRST_STEP,
    QUARTZ,
    SECOND_STEP,
    WATER_HEAT_CAPACITY,
    Composition,
    enthalpy,
)

Floats = NDArray[np.float64]

PLATEAU: Final = 0.5
"""Water boils over this span, centred on 100 degC [K]: none would do, but a little keeps every curve rising. Under the 2 K at which
a span begins to smear the front."""
LOWEST, HIGHEST, SPACING = 240.0, 1400.0, 10.0
"""Ends and spacing of the curves' knots, besides the corners [K]; a parabola strays by 0.01 K between them."""


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

    def __post_init__(self) -> None:
        """Refuse what is no mould."""
        if not 0 <= self.water_share <= 1 or self.wet <= 0 or min((k for _, k in self.dry), default=0.0) <= 0:
            raise BadRequestError(
                "A mould has no proper water or conductivity.",
                why=f"Its share of water is {self.water_share:g}, its conductivities are {self.wet:g} and {self.dry}.",
                try_this="Give a share from 0 to 1 and conductivities above zero.",
            )

    @property
    def at_start(self) -> Composition:
        """The mould with the water that it has at the start."""
        return replace(self.composition, free_water=self.composition.free_water * self.water_share)

    def dry_conductivity(self, temperature: float) -> float:
        """[W/(m K)] at a temperature [K]."""
        knots = np.array(self.dry)
        return float(np.interp(temperature, knots[:, 0], knots[:, 1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel:
    """The wall of the flask: heat capacity [J/(m3 K)] and conductivity [W/(m K)].

    Plain carbon and stainless steels have 7800 to 8000 kg/m3 and 480 to 600 J/(kg K) below 730 degC; stainless conducts 15 to 25.
    Source: Incropera & DeWitt, appendix A.
    """

    capacity: float = 3.925e6
    conductivity: float = 25.0


def heat_curve(made: Composition) -> tuple[Floats, Floats]:
    """Temperatures [K] and heats [J/m3] (n,) of a mould that heats up for the first time; water boils over `PLATEAU`."""
    corners = {t for start, end, _ in (FIRST_STEP, SECOND_STEP, CRISTOBALITE, QUARTZ) for t in (start, end)}
    base, slope, origin, cap = DRY_HEAT_CAPACITY
    corners |= {origin + (cap - base) / slope, *np.arange(LOWEST, HIGHEST + 1, SPACING)}
    low, high = BOILING - PLATEAU / 2, BOILING + PLATEAU / 2
    if made.free_water <= 0:
        below, above = sorted(t for t in corners if t < BOILING), sorted(t for t in corners if t >= BOILING)
    else:
        below, above = [*sorted(t for t in corners if t < low), low], [high, *sorted(t for t in corners if t > high)]
    heats = [enthalpy(made, t) for t in (*below, *above)]
    return np.array([*below, *above]), np.array(heats)


def stages_of(mould: Mould) -> Stages:
    """Where on its curve the mould boils, is dry and is burnt."""
    made = mould.at_start
    base, rise, origin, _ = DRY_HEAT_CAPACITY
    wet, dry = enthalpy(made, BOILING - PLATEAU / 2), enthalpy(made, BOILING + PLATEAU / 2)
    return Stages(
        wet=wet,
        dry=dry if made.free_water > 0 else wet,
        burnt=enthalpy(made, SECOND_STEP[1]),
        share=mould.water_share if made.free_water > 0 else 0.0,
        extra=mould.wet - mould.dry_conductivity(BOILING),
        base=base,
        rise=rise,
        origin=origin,
    )


def curves_of(mould: Mould, steel: Steel) -> Curves:
    """The three curves, padded to one length with the last knot."""
    made = mould.at_start
    temperature, heat = heat_curve(made)
    burnt = replace(made, free_water=0.0, bound_water=0.0)
    lost = enthalpy(made, SECOND_STEP[1]) - enthalpy(burnt, SECOND_STEP[1])
    steps = made.gypsum * (FIRST_STEP[2] + SECOND_STEP[2])
    hot = np.array([t for t in temperature if t > SECOND_STEP[1]])
    cold = np.append(np.arange(LOWEST, SECOND_STEP[1], SPACING), SECOND_STEP[1])
    again = np.concatenate([cold, hot])
    light = replace(burnt, gypsum=0.0)
    silica = np.array([enthalpy(burnt, t) for t in hot]) + lost
    sensible = np.array([enthalpy(light, t) for t in cold]) + steps + lost
    k = np.array([mould.dry_conductivity(t) for t in temperature])
    k_again = np.array([mould.dry_conductivity(t) for t in again])
    ends = np.array([0.0, HIGHEST])
    rows = (
        (heat, temperature, k),
        (np.concatenate([sensible, silica]), again, k_again),
        (steel.capacity * ends, ends, np.full(2, steel.conductivity)),
    )
    return _padded(rows)


def _padded(rows: tuple[tuple[Floats, Floats, Floats], ...]) -> Curves:
    """Rows of heat, temperature and conductivity, made one length."""
    longest = max(heat.size for heat, _, _ in rows)

    def pad(values: Floats, to: int) -> Floats:
        return np.pad(values, (0, to - values.size), mode="edge")

    return Curves(
        heat=np.array([pad(heat, longest) for heat, _, _ in rows]),
        temperature=np.array([pad(t, longest) for _, t, _ in rows]),
        slope=np.array([pad(np.diff(t) / np.diff(heat), longest - 1) for heat, t, _ in rows]),
        conductivity=np.array([pad(k, longest) for _, _, k in rows]),
        knots=np.array([heat.size for heat, _, _ in rows], dtype=np.int64),
    )


def water_left(stages: Stages, hottest: Floats) -> Floats:
    """Free water left, as a share of that at the start, of cells that have held at most these heats [J/m3]; zero if there was none."""
    if stages.dry <= stages.wet:
        return np.zeros_like(hottest)
    return np.clip((stages.dry - hottest) / (stages.dry - stages.wet), 0.0, 1.0)


def turned(mould: Mould, stages: Stages, curves: Curves, hottest: Floats) -> Turn:
    """Where cells turn that have held at most these heats (n,) [J/m3]."""
    made = mould.at_start
    knots = int(curves.knots[0])
    temperature = np.interp(hottest, curves.heat[0, :knots], curves.temperature[0, :knots])
    done = np.clip((temperature - FIRST_STEP[0]) / (SECOND_STEP[1] - FIRST_STEP[0]), 0.0, 1.0)
    return Turn(
        heat=hottest.copy(),
        temperature=temperature,
        solid=made.burnt + made.bound_water * (1.0 - done),
        water=made.free_water * water_left(stages, hottest) * WATER_HEAT_CAPACITY,
    )
