"""The flask of a firing as the burnout takes it, at its likely values, and how far each of these may be off."""

import math
from dataclasses import dataclass, replace

from pourwell.materials.library import Library
from pourwell.materials.model import FlaskRow, Investment
from pourwell.materials.studio import Kiln, Studio
from pourwell.physics.boundary import STEFAN_BOLTZMANN
from pourwell.physics.burnout.fit import Factors
from pourwell.physics.burnout.setting import Flask, Place
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.mould import Composition, compose
from pourwell.steps.burnout.inside import LIKELY, ends_of
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.model import Measured
from pourwell.steps.flask.plan import fit_out
from pourwell.units import kg_per_m3_from_g_per_cm3

FILM_AT_K = 600.0
"""Films are compared where a mould dries and chars."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Default:
    """A flask at its likely values, and what is known of the three factors before anything is measured."""

    flask: Flask
    mould: Mould
    """With all the water that it was mixed with: the share that is left is a factor."""
    place: Place
    factors: Factors
    doubt: Factors
    """Standard deviations: the bands of the library as even chances."""
    film_band_ratio: tuple[float, float]
    """Ends of the film over its likely value."""
    water_band_ratio: tuple[float, float]
    """Ends of the water that is left over that of the mould as mixed."""


def default_of(row: FlaskRow, investment: Investment, library: Library) -> Default:
    """The default for a flask alone in the kiln, nothing measured. Raises BadRequestError for one that cannot be."""
    flask, peak_c = fit_out(row, Studio(), library), investment.peak_c.value  # at which it is poured plays no part in what it is
    case = Case(investment=investment, flask=flask, flask_c=peak_c, kiln=Kiln(), library=library, measured=Measured())
    end = ends_of(case)[LIKELY]
    mean = investment.conductivity_dry_w_per_m_k
    film, water = _film_band(library), water_band(library)
    return Default(
        flask=end.flask,
        mould=replace(end.mould, water_share=1.0),
        place=end.place,
        factors=Factors(water=sum(water) / 2),
        doubt=Factors(conductivity=even(*mean.ends) / mean.value, film=even(*film), water=even(*water)),
        film_band_ratio=film,
        water_band_ratio=water,
    )


def water_band(library: Library) -> tuple[float, float]:
    """Ends of the free water that goes into the kiln, over that of the mould as mixed."""
    share = library.rules["water_share_fraction"]
    return share.low or share.value, share.high or share.value


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


def _film_band(library: Library) -> tuple[float, float]:
    """Ends of air and radiation together, over what is likely."""
    air, grey = library.rules["kiln_convection_w_per_m2_k"], library.rules["kiln_emissivity_fraction"]
    likely = _film(air.value, grey.value)
    return _film(air.low or air.value, grey.low or grey.value) / likely, _film(
        air.high or air.value, grey.high or grey.value
    ) / likely


def _film(convection: float, emissivity: float) -> float:
    """Film coefficient of both at one temperature [W/(m2 K)]."""
    return convection + 4 * emissivity * STEFAN_BOLTZMANN * FILM_AT_K**3
