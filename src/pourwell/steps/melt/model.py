"""Words of the melt step."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """What to weigh for the melt."""

    total_g: float
    low_g: float
    high_g: float
    """At the ends of densities and melt loss."""
    fresh_g: float
    returns_g: float
    returns_limit_fraction: float
    melt_loss_g: float
    crucible_cm3: float | None
    """None: not known."""
    liquid_cm3: float
    """Room that the molten charge takes."""
    parts_g: Mapping[str, float]
    """Fresh metal by element when the user alloys his own; else empty."""
    fine: str
    """The element that the fineness counts, or empty."""
    fine_g: float
    master_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Temperatures:
    """Metal and flask temperature at the pour."""

    metal_c: float
    metal_low_c: float
    metal_high_c: float
    flask_c: float
    flask_low_c: float
    flask_high_c: float
    liquidus_c: float
    section_mm: float | None
    """The section they are chosen for; None: not known, taken as medium."""
    section: str
    """"thin", "medium" or "heavy"."""
    metal_from: str
    flask_from: str
    """"user" or "library"."""
    signs: str
    """What a torch user sees."""
