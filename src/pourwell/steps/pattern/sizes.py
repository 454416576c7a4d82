"""Ring sizes: one inside diameter in five systems, each as the trade writes it, and back.

Sources: ISO 8653 (size is the inside circumference in mm), BS 6820 and JIS S 4700 as tabulated by Rowlett (how-many-ring-size);
US and Swiss sizes by the linear rules of encyclopaedia-ring-size. UK trade charts differ from BS 6820 by up to half a letter,
US charts from one another by up to 0.3 mm of circumference.
"""

import math
import re
from collections.abc import Callable
from string import ascii_uppercase
from typing import Final

from pourwell.errors import BadRequestError, shown
from pourwell.steps.pattern.model import Sizes
from pourwell.units import mm_from_inch

US_ZERO_MM: Final = 11.63
US_STEP_MM: Final = 0.8128
"""Diameter at US size 0 and per size: 0.458 in + 0.032 in (encyclopaedia-ring-size)."""

UK_BASE_MM: Final = 36.25
UK_STEP_MM: Final = 1.25
"""Circumference is 36.25 mm + 1.25 mm a letter, A being 1 (bs-6820-1987)."""

JP_OFFSET: Final = 38
JP_THIRDS: Final = 3
"""Diameter is (size + 38) / 3 mm (jis-s-4700)."""

CH_OFFSET_MM: Final = 40
"""The Swiss size is the circumference less 40 mm (encyclopaedia-ring-size)."""

CH_RANGE: Final = (1.0, 36.0)
"""What the gauge stick of ISO 8653 reaches (iso-8653-2014: 41 to 76), in Swiss sizes."""

TENTHS: Final = 10  # ISO and Swiss sizes are written to a tenth

US_RANGE: Final = (0.0, 16.0)
"""Sizes that US sticks carry: common practice, no source."""

UK_LAST: Final = 32.5
"""Z+6 1/2, the last that UK sticks carry: common practice, no source."""

JP_RANGE: Final = (1, 30)
"""Sizes that Japanese sticks carry: common practice, no source."""

DIAMETER_RANGE_MM: Final = (10.0, 27.0)
"""A size outside this is a slip of the pen: a little wider than all sticks."""

QUARTERS: Final = {0: "", 1: "¼", 2: "½", 3: "¾"}
GLYPHS: Final = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4"}
LETTERS: Final = len(ascii_uppercase)
TRY: Final = 'Write it as "ISO 54", "US 7", "US 6 1/2", "UK N", "UK N 1/2", "JP 14", "CH 14" or "17.3 mm".'


def sizes(diameter_mm: float) -> Sizes:
    """An inside diameter [mm] in five systems: ISO and Swiss to a tenth, US to a quarter, UK to a half letter, Japan whole.

    Where a system has no such size it says so ("under A", "over 30").
    """
    around = math.pi * diameter_mm
    return Sizes(
        iso=_tenth(around),
        us=_us((diameter_mm - US_ZERO_MM) / US_STEP_MM),
        uk=_uk((around - UK_BASE_MM) / UK_STEP_MM),
        jp=_within(diameter_mm * JP_THIRDS - JP_OFFSET, JP_RANGE, steps=1, write=str),
        ch=_within(around - CH_OFFSET_MM, CH_RANGE, steps=TENTHS, write=lambda tenths: _tenth(tenths / TENTHS)),
    )


def _within(size: float, ends: tuple[float, float], *, steps: int, write: Callable[[int], str]) -> str:
    """A size in whole steps, so many to one, as written; or that it lies under or over what the system has."""
    rounded = round(size * steps)
    low, high = (round(end * steps) for end in ends)
    if rounded < low:
        return f"under {write(low)}"
    return f"over {write(high)}" if rounded > high else write(rounded)


def _tenth(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")


def _us(size: float) -> str:
    return _within(size, US_RANGE, steps=len(QUARTERS), write=_fraction)


def _fraction(quarters: int) -> str:
    whole, part = divmod(quarters, len(QUARTERS))
    return f"{whole or ''}{QUARTERS[part]}" if whole or part else "0"


def _uk(size: float) -> str:
    return _within(size, (1.0, UK_LAST), steps=2, write=_letter)


def _letter(halves: int) -> str:
    """A letter from twice its number: 2 is A, 3 is A½, 54 is Z+1."""
    number, half = divmod(halves, 2)
    beyond = number - LETTERS
    name = f"Z+{beyond}" if beyond > 0 else ascii_uppercase[number - 1]
    return name + ("½" if half else "")


SYSTEMS: Final = ("ISO", "EU", "US", "CA", "UK", "IE", "AU", "NZ", "JP", "CH")
_FORM: Final = re.compile(rf"(?P<system>{'|'.join(SYSTEMS)}|Ø)?\s*(?P<size>.+?)\s*(?P<mm>mm)?", re.IGNORECASE)
_INCH: Final = re.compile(r"Ø?\s*(?P<size>\d*\.?\d+)\s*(inch(es)?|in|\")", re.IGNORECASE)
_WORD_FIRST: Final = re.compile(r"\s*(?P<word>[^\W\d_]+)(?=[\s\d]|$)")
_WORD_LAST: Final = re.compile(r"(?<![^\W\d_])(?P<word>[^\W\d_]+)\s*$")
_NUMBER: Final = re.compile(r"(?P<whole>\d+(?:\.\d+)?)?(?:\s*(?P<top>[1-3])/(?P<under>[24]))?")
_UK_SIZE: Final = re.compile(r"(?P<letter>[A-Z])\s*(?:\+\s*(?P<beyond>\d))?\s*(?P<half>1/2)?", re.IGNORECASE)


def diameter_of(text: str) -> float:
    """The inside diameter [mm] of a size with its system, or of a diameter in mm.

    Raises BadRequestError with examples.
    """
    text = shown(text)
    plain = text.strip().replace(",", ".")
    for glyph, words in GLYPHS.items():
        plain = plain.replace(glyph, words)
    form = _FORM.fullmatch(plain)
    diameter = _diameter(form) if form else None
    if diameter is None:
        raise BadRequestError(f'"{text}" is no ring size.', why=_why(plain), try_this=TRY)
    low, high = DIAMETER_RANGE_MM
    if not low <= diameter <= high:
        raise BadRequestError(
            f'"{text}" is no size of a finger.',
            why=f"It would be {diameter:.1f} mm across; fingers take {low:g} to {high:g} mm.",
            try_this=TRY,
        )
    return diameter


def _why(plain: str) -> str:
    """What of a text that is no size is not understood."""
    inch = _INCH.fullmatch(plain)
    if inch:
        return f"A diameter is written in mm: this one is {mm_from_inch(float(inch['size'])):.2f} mm."
    first, last = _WORD_FIRST.match(plain), _WORD_LAST.search(plain)
    before, after = (found["word"].upper() if found else "" for found in (first, last))
    if first and before in SYSTEMS:
        size = plain[first.end() :].strip()
        if after == "MM" and size:
            number = size[: -len("mm")].strip()
            return f'It names a system and mm: write "{before} {number}" for a size, or "{number} mm" for a diameter.'
        return f'"{size}" is no size of {before}.' if size else f"After {before} there is no size."
    if last and after in SYSTEMS and plain[: last.start()].strip():
        return f'The system comes first: "{after} {plain[: last.start()].strip()}".'
    unknown = first or last
    if unknown and len(unknown["word"]) > 1:
        return f'"{unknown["word"]}" is no system known here; known are {", ".join(SYSTEMS)}.'
    return "A size needs its system."


def _diameter(form: re.Match[str]) -> float | None:
    """The diameter that a matched text means, or None."""
    system, size = (form["system"] or "").upper(), form["size"]
    if system in ("UK", "IE", "AU", "NZ") and not form["mm"]:
        letter = _uk_number(size)
        return None if letter is None else (UK_BASE_MM + UK_STEP_MM * letter) / math.pi
    number = _number(size)
    if number is None or (form["mm"] and system not in ("", "Ø", "ISO")) or (not system and not form["mm"]):
        return None
    if system in ("ISO", "EU"):
        return number / math.pi
    if system in ("US", "CA"):
        return US_ZERO_MM + US_STEP_MM * number
    if system == "JP":
        return (number + JP_OFFSET) / JP_THIRDS
    return (number + CH_OFFSET_MM) / math.pi if system == "CH" else number


def _number(size: str) -> float | None:
    """A number with a fraction after it, as "6 1/2"."""
    found = _NUMBER.fullmatch(size)
    if not found or not size:
        return None
    part = int(found["top"]) / int(found["under"]) if found["top"] else 0.0
    return float(found["whole"] or 0) + part


def _uk_number(size: str) -> float | None:
    """The number of a letter, A being 1, with a half added."""
    found = _UK_SIZE.fullmatch(size)
    if not found:
        return None
    letter, beyond = found["letter"].upper(), int(found["beyond"] or 0)
    if beyond and letter != ascii_uppercase[-1]:
        return None
    return ascii_uppercase.index(letter) + 1 + beyond + (0.5 if found["half"] else 0.0)
