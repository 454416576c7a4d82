"""How a quantity is written for the reader: metric or imperial. Every conversion is asked of `units`."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from pourwell.materials.studio import Studio
from pourwell.units import G_PER_OUNCE, G_PER_PENNYWEIGHT, G_PER_TROY_OUNCE, f_from_c, inch_from_mm, inhg_from_pa, pa_from_kpa

Shown = Literal["metric", "imperial"]

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
FINE_UNDER = 10.0
COARSE_FROM = 1000.0
"""A weight of metal is written to 0.01 below the first, to 0.1 between them, whole from the second on; a difference of temperature
inside a sentence to 0.1 K below the first."""
QUARTER_INCH_MM = 6.0
NO_BREAK = "\u00a0"
MINUS = "\u2212"
DASH = "\u2014"

TIMES = "\u00d7"
G_PER = {"g": 1.0, "dwt": G_PER_PENNYWEIGHT, "ozt": G_PER_TROY_OUNCE}
NUMBER = re.compile(r"(?<![\w.,:/-])(\d+(?:,\d{3})*)(\.\d+)?(?!\w|[.,:]\w)")
"""A number that stands by itself: no part of a name, a version, a clock time."""
THIN = "\u202f"
QUANTITY = re.compile(r"\{([tmklpg]):(-?[\d.]+(?:e[+-]?\d+)?)\}")


@dataclass(frozen=True, slots=True)
class Display:
    """Writes figures without their unit, and knows the unit's short name."""

    shown: Shown = "metric"
    length_in: Literal["", "mm", "inch"] = field(default="", kw_only=True)
    temperature_in: Literal["", "C", "F"] = field(default="", kw_only=True)
    weight_in: Literal["", "g", "dwt", "ozt"] = field(default="", kw_only=True)
    """Each empty: by `shown`."""
    comma: bool = field(default=False, kw_only=True)
    """Decimals behind a comma."""

    @property
    def imperial(self) -> bool:
        """A clock of twelve hours, inches of mercury; and where nothing else is said, inches, degrees Fahrenheit, pennyweights."""
        return self.shown == "imperial"

    @property
    def inches(self) -> bool:
        """Lengths in inches."""
        return self.length_in == "inch" if self.length_in else self.imperial

    @property
    def fahrenheit(self) -> bool:
        """Temperatures in degrees Fahrenheit."""
        return self.temperature_in == "F" if self.temperature_in else self.imperial

    @property
    def ounces(self) -> bool:
        """Powder and water in ounces: beside pennyweights, never beside troy ounces, which are a tenth heavier."""
        return self.metal_unit == "dwt"

    @property
    def temperature_unit(self) -> str:
        """Of `temperature` and `difference`."""
        return "°F" if self.fahrenheit else "°C"

    @property
    def length_unit(self) -> str:
        """Of `length`."""
        return "in" if self.inches else "mm"

    @property
    def bulk_unit(self) -> str:
        """Of `bulk`: powder and water."""
        return "oz" if self.ounces else "g"

    @property
    def metal_unit(self) -> str:
        """Of `metal`."""
        return self.weight_in or ("dwt" if self.imperial else "g")

    def temperature(self, c: float) -> str:
        """A temperature [degC]."""
        return whole(f_from_c(c) if self.fahrenheit else c)

    def at_most(self, c: float) -> str:
        """A temperature that must not be passed [degC]: in whole degrees, never rounded up."""
        return whole(math.floor(round(f_from_c(c) if self.fahrenheit else c, 6)))

    def difference(self, k: float) -> str:
        """A difference of temperature [K], or a ramp an hour."""
        return whole(f_from_c(k) - f_from_c(0.0) if self.fahrenheit else k)

    def difference_said(self, k: float) -> str:
        """The same inside a sentence: one under ten kelvins that is no whole number is written to a tenth."""
        if abs(k) >= FINE_UNDER or k == round(k):
            return self.difference(k)
        return f"{f_from_c(k) - f_from_c(0.0) if self.fahrenheit else k:.1f}".replace("-", MINUS)

    def length(self, mm: float, digits: int = 1) -> str:
        """A length [mm]; an inch takes two digits more."""
        return f"{inch_from_mm(mm):.{digits + 2}f}" if self.inches else f"{mm:.{digits}f}"

    def height(self, mm: float) -> str:
        """A length [mm] without digits that say nothing: 48, but 73.4."""
        return self.length(mm, 0 if self.inches or abs(mm - round(mm)) < 0.05 else 1)

    def spoken(self, mm: float) -> str:
        """A length [mm] inside a sentence, as finely as it was said; in inches to a hundredth, under a quarter to a thousandth."""
        return self.length(mm, 1 if mm < QUARTER_INCH_MM else 0) if self.inches else f"{mm:g}"

    def bulk(self, g: float) -> str:
        """Powder or water [g]."""
        return f"{g / G_PER_OUNCE:.1f}" if self.ounces else f"{g:.0f}"

    def metal(self, g: float, *, beside_g: float | None = None) -> str:
        """A weight of metal or pattern [g], written as finely as a bench scale shows it, or as finely as the one beside it."""
        per = G_PER[self.metal_unit]
        scale = (g if beside_g is None else beside_g) / min(per, G_PER_PENNYWEIGHT)
        digits = 2 if scale < FINE_UNDER else 1 if scale < COARSE_FROM else 0
        digits += 2 if per == G_PER_TROY_OUNCE else 0  # a hundredth of one is a third of a gram
        return f"{g / per:.{digits}f}"

    def metals(self, low_g: float, high_g: float) -> str:
        """A band of weights, without a unit."""
        return f"{self.metal(low_g)} to {self.metal(high_g)}"

    def lengths(self, low_mm: float, high_mm: float) -> str:
        """A band of lengths to 0.01 mm, without a unit."""
        return f"{self.length(low_mm, 2)} to {self.length(high_mm, 2)}"

    def pressure(self, kpa: float) -> str:
        """A gauge vacuum [kPa], with its unit."""
        return f"{inhg_from_pa(pa_from_kpa(kpa)):.1f} inHg" if self.imperial else f"{kpa:g} kPa"

    def clock(self, moment: datetime) -> str:
        """The hour on the clock that the moment carries."""
        if self.imperial:
            return f"{(moment.hour - 1) % 12 + 1}:{moment.minute:02d} {'am' if moment.hour < 12 else 'pm'}"
        return f"{moment.hour:02d}:{moment.minute:02d}"

    def temperatures(self, low_c: float, high_c: float, *, unit: bool = True) -> str:
        """A band of temperatures, one figure where its ends are the same."""
        low, high = self.temperature(low_c), self.temperature(high_c)
        return (low if low == high else f"{low} to {high}") + (f" {self.temperature_unit}" if unit else "")

    def text(self, sentence: str) -> str:
        """A sentence of the plan with its quantities written out, as `Finding` says how; pages stay for the template."""

        def written(found: re.Match[str]) -> str:
            value = float(found[2])
            words = {
                "t": lambda: f"{self.temperature(value)} {self.temperature_unit}",
                "m": lambda: f"{self.at_most(value)} {self.temperature_unit}",
                "k": lambda: f"{self.difference_said(value)} {self.temperature_unit}",
                "l": lambda: f"{self.spoken(value)} {self.length_unit}",
                "p": lambda: self.pressure(value),
                "g": lambda: f"{self.metal(value)} {self.metal_unit}",
            }[found[1]]()
            return words.replace(" ", NO_BREAK)

        return QUANTITY.sub(written, sentence)


def with_comma(text: str) -> str:
    """A text with its decimals behind a comma, and thousands apart by a thin gap; names, versions and clock times stay."""
    return NUMBER.sub(lambda found: found[1].replace(",", THIN) + (found[2] or "").replace(".", ","), text)


def localised(value: Any, show: Display) -> Any:
    """All texts in a table for a template as the reader writes numbers."""
    if not show.comma:
        return value
    if isinstance(value, str):
        return with_comma(value)
    if isinstance(value, Mapping):
        return {key: localised(inner, show) for key, inner in value.items()}
    return [localised(inner, show) for inner in value] if isinstance(value, list | tuple) else value


def as_display(shown: "Shown | Display") -> Display:
    """Either of both as a Display."""
    return shown if isinstance(shown, Display) else Display(shown)


def display_of(studio: Studio) -> Display:
    """How a studio wants its figures."""
    one = studio.shown
    return Display(
        studio.display,
        length_in=one.length or "",
        temperature_in=one.temperature or "",
        weight_in=one.weight or "",
        comma=one.decimal == "comma",
    )


def whole(value: float) -> str:
    """A whole number, with a true minus."""
    return f"{round(value)}".replace("-", MINUS)


def day(moment: datetime) -> str:
    """Weekday and date, as Thu 3 Dec."""
    return f"{DAYS[moment.weekday()]} {moment.day} {MONTHS[moment.month - 1]}"


def span(minutes: float) -> str:
    """A duration as hours and minutes, as 16:22."""
    total = round(minutes)
    return f"{total // 60}:{total % 60:02d}"


def pieces(count: int) -> str:
    """So many pieces, with the plural where it belongs."""
    return f"{count} piece{'' if count == 1 else 's'}"
