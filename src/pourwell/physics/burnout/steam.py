"""Pressure of the steam on its way out through the dry mould. SI: Pa, m2, kg/s, K.

Darcy's law for an ideal gas is linear in the square of the pressure: mass flux = -K M / (2 mu R T) grad p^2. Rings that boil give
off steam, dry ones let it through, wet ones hardly do. It leaves at both ends, and through the holes of a perforated wall.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.march import Course
from pourwell.physics.kernels.oven import solve_band
from pourwell.physics.mould import MOLAR_WATER, WATER_LATENT

Floats = NDArray[np.float64]

GAS_CONSTANT: Final = 8.314462618
"""J/(mol K), CODATA 2018."""
SOAKED: Final = 0.01
"""Share of its dry permeability that a mould keeps whose pores are mostly full of water: an estimate; hardly any flows there."""
WINDOW: Final = 300.0
"""Steam is taken as the mean over this long [s], over which the front crosses about a ring."""


def steam_viscosity(temperature: ArrayLike) -> Floats:
    """Of steam at one atmosphere [Pa s], at temperatures from 373 to 1100 K, of the same shape.

    Source: power law through the values of the International Association for the Properties of Water and Steam (2008); within 2 %.
    """
    return np.asarray(1.227e-5 * (np.asarray(temperature, dtype=np.float64) / 373.15) ** 1.15, dtype=np.float64)


def pressure_drop(flux: float, *, depth: float, permeability: float, density: float = 0.59, viscosity: float = 1.3e-5) -> float:
    """Overpressure [Pa] that drives the steam of a heat flux [W/m2] through a dry depth [m]; permeability [m2].

    Steam of one density and viscosity [kg/m3], [Pa s]. Source: Darcy's law, q / (L rho) mu l / K.
    """
    return flux / (WATER_LATENT * density) * viscosity * depth / permeability


def overpressure(
    course: Course, *, permeability: float, outside: float = 101325.0, window: float = WINDOW
) -> tuple[Floats, Floats]:
    """Greatest overpressure in the mould while it dries.

    Parameters
    ----------
    course
        A run.
    permeability
        Of the dry mould [m2].
    outside
        Air pressure [Pa].
    window
        Steam is taken as the mean over this long [s].

    Returns
    -------
    (w,) ends of the windows [s] and (w,) overpressures [Pa].

    Raises BadRequestError for a permeability, pressure or window that is not above zero. The cavities of the pattern and the sprue
    hole, through which steam leaves too, are not there: the figure is high. Nothing breaks by it here: that is for a limit to say.
    """
    if min(permeability, outside, window) <= 0:
        raise BadRequestError(
            "Steam has no way out.",
            why=f"Permeability {permeability:g} m2, air {outside:g} Pa and window {window:g} s must be above zero.",
            try_this="Give about 1e-13 m2 for a usual mould.",
        )
    begin, end = float(course.time[0]), float(course.time[-1])
    ends = np.linspace(begin, end, max(1, round((end - begin) / window)) + 1)
    water, temperature = _at(course.time, course.water, ends), _at(course.time, course.temperature, ends)
    lost = -np.diff(water, axis=0) / np.diff(ends)[:, None, None] * course.volume * course.mould.free_water
    found = np.zeros(ends.size - 1)
    for i, steam in enumerate(lost):
        if steam.max() > 0:
            square = _squares(course, steam, water[i + 1], temperature=temperature[i + 1], permeability=permeability)
            found[i] = np.sqrt(outside**2 + square) - outside
    return ends[1:], found


def _at(time: Floats, values: Floats, wanted: Floats) -> Floats:
    """Fields at some times, straight between the steps."""
    i = np.clip(np.searchsorted(time, wanted) - 1, 0, time.size - 2)
    part = ((wanted - time[i]) / (time[i + 1] - time[i]))[:, None, None]
    return np.asarray((1 - part) * values[i] + part * values[i + 1], dtype=np.float64)


def _squares(course: Course, steam: Floats, water: Floats, *, temperature: Floats, permeability: float) -> float:
    """Most by which the square of the pressure is over that outside [Pa2]; steam (layers, rings) [kg/s]."""
    layers, rings = steam.shape
    soaked = (water > 1 - 1e-9) & (steam <= 0)
    hot = np.maximum(temperature, course.mould.boiling)
    ease = permeability * MOLAR_WATER * 1e-3 / (2 * steam_viscosity(hot) * GAS_CONSTANT * hot)
    ease = ease * np.where(soaked, SOAKED, 1.0)
    deep = course.flask.height / layers
    edge = np.linspace(0.0, course.flask.radius, rings + 1)
    middle = course.rings.middle[:rings]
    around = 2 * np.pi * deep
    out, into = np.log(edge[1:] / middle) / around, np.log(middle[1:] / edge[1:-1]) / around
    across = 1 / (out[:-1] / ease[:, :-1] + into / ease[:, 1:])
    area = np.pi * (edge[1:] ** 2 - edge[:-1] ** 2)
    along = area / (deep / 2 / ease[:-1] + deep / 2 / ease[1:])
    band = np.zeros((layers, rings, rings + 1))
    band[:, :-1, 0] += across
    band[:, 1:, 0] += across
    band[:, :-1, 1] -= across
    band[:-1, :, 0] += along
    band[1:, :, 0] += along
    band[:-1, :, rings] -= along
    for end in (0, -1):
        band[end, :, 0] += area * ease[end] / (deep / 2)
    holes = course.flask.open_share if course.flask.wall else 1.0
    band[:, -1, 0] += holes * ease[:, -1] / out[-1]
    x = steam.ravel().copy()
    solve_band(band.reshape(layers * rings, rings + 1), x)
    return float(x.max())
