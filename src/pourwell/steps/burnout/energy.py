"""What a burnout draws: the mould with its water, the steel, the kiln's lining, and what the kiln loses meanwhile."""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from pourwell.physics.mould import compose, enthalpy
from pourwell.steps.burnout.dryness import course
from pourwell.steps.burnout.legs import Case, Leg
from pourwell.units import h_from_min, k_from_c, kg_per_m3_from_g_per_cm3, kwh_from_j, m3_from_mm3

STEEL_J_PER_M3_K: Final = 3.9e6
"""Density times heat capacity of steel, 7850 kg/m3 x 500 J/(kg K) (Incropera, appendix A)."""
HOLDING_AT_C: Final = 730.0
"""The level at which the studio says what its kiln draws."""


def energy_kwh(legs: Sequence[Leg], case: Case) -> tuple[float, float, float]:
    """Low end, value and high end of what the kiln draws; the ends are those of the kiln's draw and lining, and of the water."""
    library, investment = case.library, case.investment
    draw, lining = library.rules["kiln_draw_ratio"], library.rules["kiln_lining_kwh"]
    hours = _hours_at_full_loss(legs)
    low_water, high_water = investment.water_g_per_100_g.ends

    def total(water_g_per_100_g: float, draw_ratio: float, lining_kwh: float) -> float:
        held = case.kiln.holding_kw * draw_ratio * hours
        return _load_kwh(legs, case, water_g_per_100_g) + lining_kwh + held

    return (
        total(low_water, draw.low or draw.value, lining.low or lining.value),
        total(investment.water_g_per_100_g.value, draw.value, lining.value),
        total(high_water, draw.high or draw.value, lining.high or lining.value),
    )


def _hours_at_full_loss(legs: Sequence[Leg]) -> float:
    """Hours at 730 degC that would lose as much as this course: loss goes with the distance from the room."""
    times, levels = (np.asarray(values) for values in course(legs))
    start_c = legs[0].start_c
    over = (levels - start_c) / (HOLDING_AT_C - start_c)
    return h_from_min(float(np.trapezoid(over, times)))


def _load_kwh(legs: Sequence[Leg], case: Case, water_g_per_100_g: float) -> float:
    """Heat in mould, water and steel at the hottest level."""
    investment, flask = case.investment, case.flask
    peak_c = max(leg.target_c for leg in legs)
    mould = compose(
        water_ratio=water_g_per_100_g / 100,
        hemihydrate=investment.hemihydrate_fraction.value,
        powder_density=kg_per_m3_from_g_per_cm3(investment.powder_density_g_per_cm3.value),
    )
    volume = m3_from_mm3(math.pi / 4 * flask.diameter_mm**2 * flask.height_mm)
    steel = m3_from_mm3(math.pi * (flask.diameter_mm + flask.wall_mm) * flask.wall_mm * flask.height_mm)
    return kwh_from_j(volume * enthalpy(mould, k_from_c(peak_c)) + steel * STEEL_J_PER_M3_K * (peak_c - legs[0].start_c))
