"""What a set mould of gypsum-bonded investment is made of, and the heat it takes. SI: kg/m3, J/m3, K.

Source: stoichiometry of calcium sulphate hemihydrate setting to gypsum, and the budget of docs/physics.md, section 3.
"""

from dataclasses import dataclass
from typing import Final

MOLAR_WATER: Final = 18.015
MOLAR_ANHYDRITE: Final = 136.134
"""g/mol: H2O and CaSO4. IUPAC atomic weights 2013."""
MOLAR_HEMIHYDRATE: Final = MOLAR_ANHYDRITE + 0.5 * MOLAR_WATER
MOLAR_GYPSUM: Final = MOLAR_ANHYDRITE + 2.0 * MOLAR_WATER
WATER_DENSITY: Final = 1000.0

REFERENCE_TEMPERATURE: Final = 293.15
BOILING: Final = 373.15
WATER_HEAT_CAPACITY: Final = 4186.0
WATER_LATENT: Final = 2.257e6
FIRST_STEP: Final = (383.15, 423.15, 490e3)
"""Gypsum to hemihydrate: from, to [K], heat [J/kg of gypsum]. Kelley, Southard & Anderson 1941, from memory."""
SECOND_STEP: Final = (423.15, 473.15, 150e3)
"""Hemihydrate to soluble anhydrite, likewise."""
CRISTOBALITE: Final = (493.15, 543.15, 18e3)
QUARTZ: Final = (845.15, 847.15, 11e3)
"""Inversions: from, to [K], heat [J/kg of the mineral]; from memory."""
DRY_HEAT_CAPACITY: Final = (760.0, 0.62, 298.15, 1150.0)
"""c = 760 + 0.62 (T - 298.15), at most 1150 J/(kg K): silica with anhydrite, an estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """One cubic metre of mould [kg/m3], and how porous it is when burnt out [-]."""

    slurry: float
    powder: float
    free_water: float
    gypsum: float
    bound_water: float
    burnt: float
    porosity: float

    @property
    def silica(self) -> float:
        """Quartz and cristobalite together [kg/m3]."""
        return self.burnt - self.gypsum * MOLAR_ANHYDRITE / MOLAR_GYPSUM


def powder_in_slurry(*, water_ratio: float, powder_density: float) -> float:
    """Powder [kg] in a cubic metre of slurry, for a water to powder ratio by mass and the powder's true density [kg/m3].

    Source: volumes add.
    """
    return 1.0 / (1.0 / powder_density + water_ratio / WATER_DENSITY)


def compose(*, water_ratio: float, hemihydrate: float, powder_density: float) -> Composition:
    """What a cubic metre of set mould holds.

    Parameters
    ----------
    water_ratio : water to powder by mass [-]
    hemihydrate : share of the powder that is hemihydrate [-]
    powder_density : true density [kg/m3]

    Raises ValueError if the water does not suffice to set the binder.
    Source: CaSO4.1/2 H2O + 3/2 H2O -> CaSO4.2 H2O.
    """
    powder = powder_in_slurry(water_ratio=water_ratio, powder_density=powder_density)
    binder = powder * hemihydrate
    taken = binder * 1.5 * MOLAR_WATER / MOLAR_HEMIHYDRATE
    free = powder * water_ratio - taken
    if free < 0:
        raise ValueError(f"water ratio {water_ratio:g} is under the {taken / powder:.4f} that the binder takes up")
    gypsum = binder * MOLAR_GYPSUM / MOLAR_HEMIHYDRATE
    burnt = powder - binder * 0.5 * MOLAR_WATER / MOLAR_HEMIHYDRATE
    return Composition(
        slurry=powder * (1.0 + water_ratio),
        powder=powder,
        free_water=free,
        gypsum=gypsum,
        bound_water=gypsum * 2.0 * MOLAR_WATER / MOLAR_GYPSUM,
        burnt=burnt,
        porosity=1.0 - burnt / powder_density,
    )


def _passed(temperature: float, start: float, end: float) -> float:
    """How much of a step between two temperatures is done [0 to 1]."""
    return min(1.0, max(0.0, (temperature - start) / (end - start)))


def _dry_heat(temperature: float) -> float:
    """Heat of a kilogram of burnt mould from 20 degC [J/kg]."""
    base, slope, origin, cap = DRY_HEAT_CAPACITY
    bend = origin + (cap - base) / slope
    low, high = REFERENCE_TEMPERATURE, min(temperature, bend)
    curved = base * (high - low) + slope / 2.0 * ((high - origin) ** 2 - (low - origin) ** 2)
    return curved + cap * max(0.0, temperature - bend)


def enthalpy(composition: Composition, temperature: float, *, water: bool = True) -> float:
    """Heat [J/m3] to bring a cubic metre of mould from 20 degC to a temperature [K].

    At 100 degC exactly the free water counts as boiled off; `water=False` leaves it out. Half of the silica is taken as quartz.
    Source: budget of docs/physics.md, section 3.
    """
    liquid = min(temperature, BOILING) - REFERENCE_TEMPERATURE
    wet = composition.free_water * WATER_HEAT_CAPACITY * liquid
    boiled = composition.free_water * WATER_LATENT if temperature >= BOILING else 0.0
    steps = ((composition.gypsum, FIRST_STEP), (composition.gypsum, SECOND_STEP))
    inversions = ((composition.silica / 2.0, CRISTOBALITE), (composition.silica / 2.0, QUARTZ))
    latent = sum(mass * heat * _passed(temperature, start, end) for mass, (start, end, heat) in (*steps, *inversions))
    solid = composition.burnt + composition.bound_water * (1.0 - _passed(temperature, FIRST_STEP[0], SECOND_STEP[1]))
    return solid * _dry_heat(temperature) + (wet + boiled if water else 0.0) + latent


def heat_to_dry(composition: Composition) -> float:
    """Heat [J/m3] that must have gone in when the last free water leaves.

    All of it brought to 100 degC, the water boiled, and the gypsum behind the drying front turned to hemihydrate.
    """
    return enthalpy(composition, BOILING) + composition.gypsum * FIRST_STEP[2]
