"""Words of the flask step."""

import math
from dataclasses import dataclass
from typing import Final

FIGURES_WIN: Final = "The bag of your investment and your refiner's sheet win over every figure here."
MAKERS_LIQUID: Final = (
    "Phosphate-bonded: liquid and ratio are its maker's, and the liquid may be no water: read the bag before you weigh any."
)
"""Common practice, no source."""


def who_wins(binder: str) -> tuple[str, ...]:
    """What stands before the figures, by the binder of the investment: the gravest last."""
    return (FIGURES_WIN, MAKERS_LIQUID) if binder == "phosphate" else (FIGURES_WIN,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flask:
    """The flask of this run, and the room in it."""

    id: str
    mark: str
    diameter_mm: float
    height_mm: float
    wall_mm: float
    perforated: bool
    flange: bool
    volume_cm3: float
    base_depth_mm: float
    dome_diameter_mm: float
    dome_height_mm: float
    socket_mm: float
    base_assumed: bool
    cover_mm: float
    headspace_mm: float
    usable_mm: float
    """Height less base, cover and headspace."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockStep:
    """One moment of the working clock, counted from the first powder on the water."""

    key: str
    at_s: int
    until_s: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """What to weigh and mix for one flask."""

    id: str
    name: str
    powder_g: float
    water_g: float
    water_ml: float
    ratio_g_per_100_g: float
    ratio_from: str
    """"bag" when the studio's own figure was used, else "library"."""
    slurry_cm3: float
    bowl_cm3: float
    """The bowl must hold at least this."""
    bowl_left_g: float
    """Powder that stays in the bowl as slurry."""
    collar_mm: float
    water_low_c: float
    water_high_c: float
    gloss_off_min: float
    finish_min: float
    """All must be done by then."""
    still_min: float
    set_h: float
    stand_max_h: float
    vacuum: bool
    """Is bowl or flask put under vacuum."""
    boil_kpa: float
    """Gauge vacuum at which the water boils at this altitude: the pump must pass it."""
    clock: tuple[ClockStep, ...]
    wetting_min: float = 0.0
    """To dip the tree in wetting agent and dry it, before the clock; 0 where bowl and flask go under vacuum."""
    binder: str = "gypsum"
    """Of the investment."""
    bag_after_h: float = math.inf
    """If it stands longer than this, it is bagged damp meanwhile."""
