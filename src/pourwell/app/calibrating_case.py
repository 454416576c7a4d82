"""The flask of a firing as the burnout takes it, at its likely values, and how far each of these may be off."""

import math
from dataclasses import dataclass

from pourwell.materials.library import Library
from pourwell.materials.model import FlaskRow, Investment
from pourwell.physics.boundary import STEFAN_BOLTZMANN
from pourwell.physics.burnout.fit import Factors
from pourwell.physics.burnout.setting import Flask, Place, standing
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.mould import Composition, compose
from pourwell.units import k_from_c, kg_per_m3_from_g_per_cm3, m_from_mm

WET_W_PER_M_K = 1.1
COOL_RATIO, HOT_RATIO = 0.89, 1.11
COOL_C, HOT_C = 150.0, 600.0
"""Conductivity of a mould full of water; that of the dry one at two temperatures over its mean. Own estimates."""
OPEN_FRACTION = 0.35
SHELF_AIR_RATIO, SHELF_VIEW_FRACTION = 0.5, 0.5
"""Holes of a perforated wall; what the shelf leaves of air and view to the lower end. Own estimates."""
FILM_AT_K = 600.0
"""Films are compared where a mould dries and chars."""
WATER_BAND = (0.6, 1.0)
"""Steamed out or stood for long, to just set; own estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Default:
    """A flask at its likely values, and what is known of the three factors before anything is measured."""

    flask: Flask
    mould: Mould
    place: Place
    factors: Factors
    doubt: Factors
    """Standard deviations: the bands of the library as even chances."""
    film_band_ratio: tuple[float, float]
    """Ends of the film over its likely value."""


def default_of(row: FlaskRow, investment: Investment, library: Library) -> Default:
    """The default for a flask alone in the kiln. Raises BadRequestError for one that cannot be."""
    rules = library.rules
    mean = investment.conductivity_dry_w_per_m_k
    low, high = mean.ends
    air, grey = rules["kiln_convection_w_per_m2_k"], rules["kiln_emissivity_fraction"]
    ends = [_film(air.low or air.value, grey.low or grey.value), _film(air.high or air.value, grey.high or grey.value)]
    likely = _film(air.value, grey.value)
    band = (ends[0] / likely, ends[1] / likely)
    dry = ((k_from_c(COOL_C), mean.value * COOL_RATIO), (k_from_c(HOT_C), mean.value * HOT_RATIO))
    return Default(
        flask=Flask(
            radius=m_from_mm(row.diameter_mm / 2),
            height=m_from_mm(row.height_mm),
            wall=m_from_mm(row.wall_mm),
            open_share=OPEN_FRACTION if row.perforated else 0.0,
        ),
        mould=Mould(composition=made_of(investment), wet=WET_W_PER_M_K, dry=dry),
        place=standing(
            convection=air.value,
            emissivity=grey.value,
            shelf_convection=air.value * SHELF_AIR_RATIO,
            shelf_view=SHELF_VIEW_FRACTION,
        ),
        factors=Factors(water=sum(WATER_BAND) / 2),
        doubt=Factors(conductivity=even(low, high) / mean.value, film=even(*band), water=even(*WATER_BAND)),
        film_band_ratio=band,
    )


def made_of(investment: Investment, *, water_g: float | None = None, binder_fraction: float | None = None) -> Composition:
    """The mould of an investment as its row says, or with another water ratio [g per 100 g] or share of hemihydrate."""
    return compose(
        water_ratio=(investment.water_g_per_100_g.value if water_g is None else water_g) / 100,
        hemihydrate=investment.hemihydrate_fraction.value if binder_fraction is None else binder_fraction,
        powder_density=kg_per_m3_from_g_per_cm3(investment.powder_density_g_per_cm3.value),
    )


def even(low: float, high: float) -> float:
    """Standard deviation of a value that may be anywhere in a band. Source: JCGM 100:2008, 4.3.7."""
    return (high - low) / math.sqrt(12)


def _film(convection: float, emissivity: float) -> float:
    """Film coefficient of both at one temperature [W/(m2 K)]."""
    return convection + 4 * emissivity * STEFAN_BOLTZMANN * FILM_AT_K**3
