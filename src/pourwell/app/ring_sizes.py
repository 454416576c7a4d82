"""Ring sizes by hand: one size in every system, and what a band of some width wants. Nothing that measures is loaded here."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pourwell.app.shop import melts_if_asked, studio_folder
from pourwell.errors import BadRequestError
from pourwell.materials.library import load_library
from pourwell.steps.pattern.model import Sizes
from pourwell.steps.pattern.sizes import sizes
from pourwell.steps.pattern.wide_bands import wide_around

Row = tuple[str, str, str]
WIDEST_MM: Final = 40.0
"""No finger holds a wider band."""
MEASURE: Final = "A wide or a comfort-fit band may want another size: measure on the customer's finger."


@dataclass(frozen=True, slots=True, kw_only=True)
class OnABand:
    """What size a band wants on a finger that was measured with a gauge."""

    width_mm: float
    gauge_mm: float
    """Width of the gauge; 0: a narrow one."""
    around_mm: float
    """By how much it must be larger around."""
    around_low_mm: float
    around_high_mm: float
    diameter_mm: float
    """Its inside diameter then."""
    sizes: Sizes

    @property
    def rows(self) -> list[Row]:
        """The same for people: name, figure, remark."""
        band = f"{self.around_low_mm:.1f} to {self.around_high_mm:.1f}"
        said = f"US {self.sizes.us}, UK {self.sizes.uk}, ISO {self.sizes.iso}"
        return [(f"a band of {self.width_mm:g} mm", f"{self.around_mm + 0.0:+.1f} mm", f"around ({band}): {said}; common practice")]


def on_a_band(diameter_mm: float, width_mm: float, *, comfort: bool, gauge_mm: float = 0.0, folder: Path | None = None) -> OnABand:
    """The size that a band of this width wants, of an inside diameter [mm] that a gauge of its own width had.

    The rules are those of a studio's folder, of the usual one if none is given.

    Raises BadRequestError for a width that no band or gauge has.
    """
    for what, wide_mm in (("band", width_mm), *((("gauge", gauge_mm),) if gauge_mm != 0 else ())):
        if not 0 < wide_mm <= WIDEST_MM:
            raise BadRequestError(f"No {what} is {wide_mm:g} mm wide.", try_this=f"Say a width up to {WIDEST_MM:g} mm.")
    library = load_library(folder or studio_folder(), melts=melts_if_asked)
    value, low, high = wide_around(width_mm, library, comfort=comfort, gauge_mm=gauge_mm)
    wide = diameter_mm + value / math.pi
    return OnABand(
        width_mm=width_mm,
        gauge_mm=gauge_mm,
        around_mm=value,
        around_low_mm=low,
        around_high_mm=high,
        diameter_mm=wide,
        sizes=sizes(wide),
    )


def size_rows(diameter_mm: float) -> list[Row]:
    """An inside diameter [mm] in every system, for people: name, figure, remark."""
    said = sizes(diameter_mm)
    return [
        ("inside diameter", f"{diameter_mm:.2f} mm", ""),
        ("inside circumference", f"{diameter_mm * math.pi:.1f} mm", ""),
        ("ISO 8653", said.iso, ""),
        ("US, Canada", said.us, "quarter sizes; charts differ by up to 0.3 mm of circumference"),
        ("UK, Ireland, Australia", said.uk, "BS 6820; trade charts differ by up to half a letter: ask which stick"),
        ("Japan", said.jp, "whole sizes"),
        ("Switzerland, Italy, Spain", said.ch, ""),
    ]
