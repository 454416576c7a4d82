"""What a burnout draws: what the flasks take up, the kiln's lining, and what the kiln loses meanwhile."""

from typing import Final

import numpy as np

from pourwell.steps.burnout.inside import Corners
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.model import Band
from pourwell.units import h_from_min

STEEL_J_PER_M3_K: Final = 3.9e6
"""Density times heat capacity of steel, 7850 kg/m3 x 500 J/(kg K) (Incropera, appendix A)."""
HOLDING_AT_C: Final = 730.0
"""The level at which the studio says what its kiln draws."""


def energy_kwh(corners: Corners, case: Case, heat_kwh: Band) -> tuple[float, float, float]:
    """Low end, value and high end of what the kiln draws on a course, for flasks that take up so much each.

    The ends are those of the kiln's draw and lining, and of the flask's own heat.
    """
    library = case.library
    draw, lining = library.rules["kiln_draw_ratio"], library.rules["kiln_lining_kwh"]
    hours = _hours_at_full_loss(corners)

    def total(load_kwh: float, draw_ratio: float, lining_kwh: float) -> float:
        return case.flasks_count * load_kwh + lining_kwh + case.kiln.holding_kw * draw_ratio * hours

    return (
        total(heat_kwh.low, draw.low or draw.value, lining.low or lining.value),
        total(heat_kwh.likely, draw.value, lining.value),
        total(heat_kwh.high, draw.high or draw.value, lining.high or lining.value),
    )


def _hours_at_full_loss(corners: Corners) -> float:
    """Hours at 730 degC that would lose as much as this course: loss goes with the distance from the room."""
    times, levels = np.array(corners).T
    over = (levels - levels[0]) / (HOLDING_AT_C - levels[0])
    return h_from_min(float(np.trapezoid(over, times)))
