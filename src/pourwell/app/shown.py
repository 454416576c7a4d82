"""In which units the desk shows figures and reads fields: one place for all pages. Kept figures stay in workshop units.

A figure comes as a page has it, as text in mm, degC or g, and is shown in the unit that the studio chose. What is typed is
kept as it was typed, with its unit behind it where that is not the workshop's ("26.5 dwt"), and converted only where it is
used; so nothing is lost by switching to and fro.
"""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pourwell.findings import spelt_out
from pourwell.materials.studio import load_studio
from pourwell.sheets.display import QUANTITY, Display, display_of, with_comma
from pourwell.units import G_PER_OUNCE, G_PER_PENNYWEIGHT, G_PER_TROY_OUNCE, MM_PER_INCH, c_from_f, f_from_c

DEGREES_F: Final = f_from_c(1.0) - f_from_c(0.0)
"""Of a difference of one kelvin."""
PER: Final = {
    ("g", "dwt"): G_PER_PENNYWEIGHT,
    ("g", "ozt"): G_PER_TROY_OUNCE,
    ("g", "oz"): G_PER_OUNCE,
    ("mm", "in"): MM_PER_INCH,
    ("K", "°F"): 1 / DEGREES_F,
    ("K", "°C"): 1.0,
    ("°C/h", "°F/h"): 1 / DEGREES_F,
    ("K/s", "°F/s"): 1 / DEGREES_F,
}
"""(workshop unit, other unit): so many of the first are one of the second."""
MORE_DIGITS: Final = {"in": 2, "ozt": 2}
"""A figure in such a unit takes so many digits more to say as much."""
FIELDS: Final = ("mm", "°C", "K/s")
"""Workshop units in which fields and measures of a solid come."""
ALIASES: Final = {"inch": "in", "inches": "in", '"': "in", "F": "°F", "C": "°C", "deg F": "°F", "deg C": "°C", "oz t": "ozt"}
SIGNIFICANT: Final = 7
"""Figures of a field that is shown in another unit than it was typed in."""
MINUS: Final = "\u2212"
FIGURE: Final = re.compile(r"[\u2212-]?\d[\d,]*(?:\.\d+)?")
"""A number as pages write it."""
SAID: Final = re.compile(
    rf"(?<![\w.,:/-])(?P<first>{FIGURE.pattern})(?P<between> to | [\u00d7x] |, )?(?(between)(?P<second>{FIGURE.pattern}))"
    r"(?P<third> [\u00d7x] [\d.]+)?(?P<gap>[ \u00a0\u202f])(?P<unit>°C/h|°C|mm|g)(?![\w/³²])"
)
"""One or several figures with a unit behind them, in a sentence."""


def to_base(value: float, unit: str, base: str) -> float:
    """A value in the workshop unit `base` from one in another unit of the same kind. Raises KeyError if it is of another kind."""
    unit = ALIASES.get(unit, unit)
    if unit in ("", base):
        return value
    if (base, unit) == ("°C", "°F"):
        return c_from_f(value)
    return value * PER[base, unit]


def from_base(value: float, base: str, unit: str) -> float:
    """A value in another unit from one in the workshop unit `base`. Raises KeyError if that is of another kind."""
    if unit == base:
        return value
    if (base, unit) == ("°C", "°F"):
        return f_from_c(value)
    return value / PER[base, unit]


def split(text: str) -> tuple[str, str]:
    """What was typed, as figure and unit: "26.5 dwt" is ("26.5", "dwt"); without a unit it is ("26.5", "")."""
    found = re.fullmatch(r"\s*([\u2212+-]?[\d.,\s\u202f\u00a0]*\d[.,]?)\s*([^\d\s.,].*?)\s*", text)
    return (found[1].strip(), ALIASES.get(found[2], found[2])) if found else (text.strip(), "")


def plain_number(text: str) -> float:
    """A number as people type it: a comma for the point, gaps between thousands. Raises ValueError."""
    said = re.sub(r"[\s\u202f\u00a0]", "", text).replace(MINUS, "-")
    if said.count(",") == 1 and "." not in said:
        said = said.replace(",", ".")
    return float(said)


@dataclass(frozen=True, slots=True)
class Shown:
    """How one studio wants its figures on pages."""

    display: Display = field(default_factory=Display)

    def unit(self, base: str) -> str:
        """In which unit a figure in mm, degC, K, degC/h or g is shown; all others stay."""
        show = self.display
        return {
            "mm": show.length_unit,
            "°C": show.temperature_unit,
            "K": "°F" if show.fahrenheit else "K",
            "°C/h": f"{show.temperature_unit}/h",
            "K/s": "°F/s" if show.fahrenheit else "K/s",
            "g": show.metal_unit,
        }.get(base, base)

    def scales(self) -> dict[str, dict[str, Any]]:
        """Of each workshop unit of a solid's fields that is shown in another: `shown = factor x kept + shift`, `more` digits."""
        found = {}
        for base in FIELDS:
            unit = self.unit(base)
            if unit != base:
                shift = from_base(0.0, base, unit)
                factor = from_base(1.0, base, unit) - shift
                found[base] = {"unit": unit, "factor": factor, "shift": shift, "more": MORE_DIGITS.get(unit, 0)}
        return found

    def figure(self, text: str, base: str) -> tuple[str, str]:
        """Figures in a text with their unit, as they are shown: ("75.1", "g") may become ("48.3", "dwt")."""
        unit = self.unit(base)
        if unit == base:
            return self.number(text), self.number(unit)  # a band may stand behind a unit
        return self.number(FIGURE.sub(lambda found: _converted(found[0], base, unit), text)), unit

    def bulk(self, g: float) -> tuple[str, str]:
        """Powder or water [g]: to 0.1 g, or in ounces where the run sheet has them."""
        return (self.number(f"{g / G_PER_OUNCE:.2f}"), "oz") if self.display.ounces else (self.number(f"{g:.1f}"), "g")

    def degrees(self, c: float) -> tuple[str, str]:
        """A temperature [degC] in whole degrees, as the run sheet has it."""
        return self.display.temperature(c), self.display.temperature_unit

    def ramp(self, c_per_h: float) -> tuple[str, str]:
        """A ramp [degC/h] in whole degrees, as the run sheet has it."""
        return self.display.difference(c_per_h), f"{self.display.temperature_unit}/h"

    def grid_c(self, top_c: float) -> list[tuple[float, str]]:
        """Lines of a chart of temperatures at round degrees of the reader: where [degC], and what it says."""
        step, top = (300, f_from_c(top_c)) if self.display.fahrenheit else (200, top_c)
        rounds = range(step, int(top) + 1, step)
        return [(c_from_f(t) if self.display.fahrenheit else float(t), str(t)) for t in rounds]

    def number(self, text: str) -> str:
        """Decimals as the reader writes them."""
        return with_comma(text) if self.display.comma else text

    def text(self, sentence: str) -> str:
        """A sentence with its quantities in the units shown, both marked ones (`{t:500}`) and plain ones ("0.60 mm")."""
        marked = self.display.text(sentence) if QUANTITY.search(sentence) else sentence
        return self.number(SAID.sub(self._said, spelt_out(marked)))

    def field(self, kept: str, base: str) -> str:
        """What stands in a field whose kept text is this, beside the unit that is shown."""
        figure, unit = split(kept)
        unit, wanted = unit or base, self.unit(base)
        try:
            value = plain_number(figure)
            if unit != wanted:
                value = from_base(to_base(value, unit, base), base, wanted)
                figure = f"{value:.{SIGNIFICANT}g}" if "e" not in f"{value:.{SIGNIFICANT}g}" else f"{value:.0f}"
                return figure.replace(".", ",") if self.display.comma else figure
        except (ValueError, KeyError):
            return kept
        if self.display.comma and FIGURE.fullmatch(figure) and "," not in figure:
            return figure.replace(".", ",")
        return figure

    def kept(self, typed: str, base: str) -> str:
        """The text to keep for what was typed beside the unit that is shown."""
        figure, unit = split(typed)
        wanted = self.unit(base)
        return f"{figure} {wanted}" if wanted != base and figure and not unit and _is_number(figure) else typed

    def _said(self, found: re.Match[str]) -> str:
        base = found["unit"]
        unit = self.unit(base)
        if unit == base:
            return found[0]
        figures = found[0][: found.start("gap") - found.start()]
        return f"{FIGURE.sub(lambda one: _converted(one[0], base, unit), figures)}{found['gap']}{unit}"


def _converted(text: str, base: str, unit: str) -> str:
    """One number with a decimal point in another unit, as finely as it was said."""
    said = text.replace(",", "").replace(MINUS, "-")
    digits = len(said.partition(".")[2]) + MORE_DIGITS.get(unit, 0)
    value = from_base(float(said), base, unit)
    return (f"{value:,.{digits}f}" if "," in text else f"{value:.{digits}f}").replace("-", MINUS)


def _is_number(text: str) -> bool:
    try:
        plain_number(text)
    except ValueError:
        return False
    return True


def shown_of(folder: Path) -> Shown:
    """How the studio of a folder wants its figures. Raises BadDataError."""
    return Shown(display_of(load_studio(folder)))
