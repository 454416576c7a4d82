"""The melting range and the heat of an alloy of given parts: what a plan and a solver take. SI: K, J/kg."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.errors import BadRequestError
from pourwell.physics.alloy.cooling import FROZEN_IN, cool
from pourwell.physics.alloy.freeze import Point, Way, freeze, liquidus
from pourwell.physics.alloy.gibbs import Assessment, Floats, Ints
from pourwell.physics.alloy.phases import NoEquilibriumError

NONE_OF_IT: Final = 1e-6
"""A smaller share of the moles is left out: a part in a million moves a melting point by about a millikelvin."""
COLDEST: Final = 298.15
"""[K]: where the Gibbs energies of the elements begin."""
HOTTEST: Final = 1700.0
LIQUID_STEP_K: Final = 25.0
SOLID_STEP_K: Final = 20.0
OVERSHOOT_K: Final = 1.0
"""So much the temperature may rise from one point of a path to the next. It does so only beside the point where silver-rich and
copper-rich solid become one: there the second solid is seen a little late."""
OVERSHOOT_HEAT: Final = 40.0
"""[J/mol]: what a kelvin of it takes at the most."""
ALIKE: Final = 1e-9
"""Of the whole heat: points that differ by less are one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Melting:
    """How one alloy freezes by one rule, and its heat.

    Attributes
    ----------
    way : by which rule, see `freeze.Way`
    liquidus : [K]
    last_liquid : where the last of it freezes [K]: by the lever rule the solidus
    path_temperature : (k,) [K], falling from the liquidus to the last liquid
    path_solid : (k,) fraction solid by mass
    path_liquid, path_forming : (k, n) mole fractions of the liquid left and of the solid, see `freeze.Point`
    temperature, enthalpy : (m,) [K], [J/kg] rising from `COLDEST`, where it is nought, to `HOTTEST`; two points with one
        temperature are metal that freezes there without getting colder
    together_fraction : share of the mass that freezes as two solids side by side: the eutectic
    latent : heat that is given off between liquidus and last liquid beside what cooling alone would give [J/kg]
    liquid_capacity, solid_capacity : at the liquidus; of the solid at the last liquid, as it froze [J/(kg K)]
    """

    way: Way
    liquidus: float
    last_liquid: float
    path_temperature: Floats
    path_solid: Floats
    path_liquid: Floats
    path_forming: Floats
    temperature: Floats
    enthalpy: Floats
    together_fraction: float
    latent: float
    liquid_capacity: float
    solid_capacity: float

    def __post_init__(self) -> None:
        for array in (
            self.path_temperature,
            self.path_solid,
            self.path_liquid,
            self.path_forming,
            self.temperature,
            self.enthalpy,
        ):
            array.setflags(write=False)

    def temperature_at_solid(self, fraction: float) -> float:
        """The temperature [K] at which this fraction of the mass is solid, the first time on cooling."""
        return float(np.interp(fraction, self.path_solid, self.path_temperature))

    def solid_at(self, temperature: float) -> float:
        """The fraction of the mass that is solid at a temperature [K]; at that of a eutectic, all that freezes there counts."""
        return float(np.interp(-temperature, -self.path_temperature, self.path_solid, left=0.0, right=1.0))

    def enthalpy_at(self, temperature: float) -> float:
        """Heat content [J/kg] at a temperature [K]; at an isothermal part, that of the solid end or between."""
        return float(np.interp(temperature, self.temperature, self.enthalpy))


def mole_fractions(masses: Floats, molar_masses: Floats) -> Floats:
    """(n,) mole fractions from parts by mass (n,) of any sum. Raises BadRequestError where they are no recipe."""
    masses = np.asarray(masses, dtype=float)
    if masses.shape != molar_masses.shape or not np.isfinite(masses).all() or masses.min() < 0.0 or masses.sum() <= 0.0:
        raise BadRequestError(
            "These parts are no recipe.", why=f"{masses.tolist()}: each is nought or more, and not all are nought."
        )
    moles = masses / molar_masses
    return np.asarray(moles / moles.sum())


def melting(assessment: Assessment, moles: Floats, way: Way) -> Melting:
    """Freeze an alloy of mole fractions (n,) and take its heat from `COLDEST` to `HOTTEST`.

    Raises BadRequestError where the fractions are none, NoEquilibriumError (not seen anywhere among silver, gold and copper)
    where no path is found.
    """
    moles = mole_fractions(moles, np.ones(len(assessment.molar_masses)))
    kept = np.flatnonzero(moles >= NONE_OF_IT)
    some, x = assessment.among(kept), moles[kept] / moles[kept].sum()
    path = freeze(some, x, way)
    mass, liquid_masses = float(x @ some.molar_masses), np.array([p.liquid_moles * (p.liquid @ some.molar_masses) for p in path])
    end = path[-1]
    frozen = end.features + end.liquid_moles * some.fcc.features(end.liquid)
    temperature, enthalpy = _table(some, x, path=path, way=way, frozen=frozen)
    start, last = path[0].temperature, end.temperature
    capacities = [
        float(some.liquid.features(x) @ some.liquid.coefficients(start, "capacity")) / mass,
        float(frozen @ some.fcc.coefficients(last, "capacity")) / mass,
    ]
    given_off = float(
        some.liquid.features(x) @ some.liquid.coefficients(start, "enthalpy") - frozen @ some.fcc.coefficients(last, "enthalpy")
    )
    return Melting(
        way=way,
        liquidus=start,
        last_liquid=last,
        path_temperature=np.minimum.accumulate([p.temperature for p in path]),
        path_solid=_to_the_end(1.0 - liquid_masses / mass),
        path_liquid=_spread(np.array([p.liquid for p in path]), kept, len(moles)),
        path_forming=_spread(np.array([p.forming for p in path]), kept, len(moles)),
        temperature=temperature,
        enthalpy=enthalpy / mass,
        together_fraction=_together(path, liquid_masses / mass) if len(x) > 1 else 0.0,
        latent=given_off / mass - 0.5 * sum(capacities) * (start - last),
        liquid_capacity=capacities[0],
        solid_capacity=capacities[1],
    )


def liquidus_temperature(assessment: Assessment, moles: Floats) -> float:
    """The liquidus [K] alone of mole fractions (n,): a few milliseconds. Raises as `melting`."""
    moles = mole_fractions(moles, np.ones(len(assessment.molar_masses)))
    kept = np.flatnonzero(moles >= NONE_OF_IT)
    return liquidus(assessment.among(kept), moles[kept] / moles[kept].sum()).temperature


def _to_the_end(solid: Floats) -> Floats:
    """Fractions solid, none of them out of 0 to 1 by rounding, none falling, the first nought and the last one."""
    solid = np.clip(solid, 0.0, 1.0)
    solid[0], solid[-1] = 0.0, 1.0
    return np.asarray(solid)


def _spread(parts: Floats, kept: Ints, n: int) -> Floats:
    """(k, n) array of all elements, nought where an element was left out."""
    whole = np.zeros((len(parts), n))
    whole[:, kept] = parts
    return whole


def _together(path: list[Point], liquid: Floats) -> float:
    """Share of the mass still liquid when a second solid begins to freeze beside the first; nought where none does."""
    for i, point in enumerate(path):
        if len(point.solids) > 1:
            return float(liquid[max(0, i - 1)])
    return 0.0


def _table(some: Assessment, x: Floats, *, path: list[Point], way: Way, frozen: Floats) -> tuple[Floats, Floats]:
    """Temperatures [K] and enthalpies [J/mol] over `COLDEST`, both rising."""
    whole = some.liquid.features(x)
    end = path[-1]
    rows: list[tuple[float, float]] = []

    def solid(temperature: float, features: Floats) -> None:
        rows.append((temperature, float(features @ some.fcc.coefficients(temperature, "enthalpy"))))

    for t in np.linspace(HOTTEST, path[0].temperature, 2 + int((HOTTEST - path[0].temperature) / LIQUID_STEP_K)):
        rows.append((float(t), float(whole @ some.liquid.coefficients(float(t), "enthalpy"))))
    for p in path[1:]:
        heat = p.features @ some.fcc.coefficients(p.temperature, "enthalpy")
        rows.append((p.temperature, float(p.liquid_moles * some.liquid.enthalpy(p.liquid, p.temperature) + heat)))
    if end.liquid_moles > 0.0:
        solid(end.temperature, frozen)
    coldest = end.temperature
    if way == "lever":
        for t, features in zip(*cool(some, x, temperature=end.temperature, solids=end.solids), strict=True):
            solid(float(t), features)
            frozen, coldest = features, FROZEN_IN
    for t in np.linspace(coldest, COLDEST, 2 + int((coldest - COLDEST) / SOLID_STEP_K))[1:]:
        solid(float(t), frozen)
    return _rising(np.array(rows))


def _rising(rows: Floats) -> tuple[Floats, Floats]:
    """Turn a cooling path about; points that lost no heat are left out, a small rise is levelled.

    Raises NoEquilibriumError where the path got warmer by more than `OVERSHOOT_K`, or took up more heat.
    """
    temperature, heat = rows.T
    if float(np.diff(temperature).max()) > OVERSHOOT_K:
        raise NoEquilibriumError("The freezing of this alloy was not found.", why="its temperature rose on cooling")
    if float(np.diff(heat).max()) > OVERSHOOT_HEAT:
        raise NoEquilibriumError("The freezing of this alloy was not found.", why="it took up heat on cooling")
    lowest = np.minimum.accumulate(heat)
    fresh = np.concatenate([[True], np.diff(lowest) < -ALIKE * (heat[0] - heat[-1])])
    return np.minimum.accumulate(temperature)[fresh][::-1].copy(), (heat[fresh] - heat[-1])[::-1].copy()
