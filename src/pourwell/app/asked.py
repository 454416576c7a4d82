"""One field of the studio's own files on a page: what it is called, in which unit it is asked, and what may stand in it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import time
from typing import Any, Final, Literal

from pourwell.app.typed import NotYetError, Span, hour, number
from pourwell.errors import PourwellError
from pourwell.files.own_toml import ABSENT, Key
from pourwell.materials.model import Quantity, Words
from pourwell.materials.weekdays import day_off

Kind = Literal["number", "count", "figure", "words", "sentence", "choice", "yes", "hour", "recipe", "days"]
DIGITS: Final = 10
"""Significant figures of a number in a field."""
DECIMALS: Final = 6
"""A figure typed in another unit is kept to a millionth of the workshop's, so it shows again as it was typed."""
WHOLE_PERCENT: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A field."""

    key: Key
    label: str
    kind: Kind
    span: Span | None = None
    """Of numbers; its unit is that of the field."""
    share: bool = False
    """It is asked in percent and kept as a fraction."""
    options: tuple[tuple[str, str], ...] = ()
    help: str = ""
    needed: bool = False
    """May it be empty: what is empty falls back to what is assumed or taken over."""

    @property
    def unit(self) -> str:
        """In which unit its text is."""
        return self.span.unit if self.span is not None else ""


def value_of(asked: Asked, text: str) -> Any:
    """What goes into the file for what was typed; ABSENT for an empty field. Raises NotYetError."""
    said = text.strip()
    if not said:
        if asked.needed:
            raise NotYetError(f"{asked.label} must be said.")
        return ABSENT
    if asked.kind in ("number", "figure", "count"):
        assert asked.span is not None
        value = round(number(said, asked.span), DECIMALS)
        if asked.kind == "count":
            if value != int(value):
                raise NotYetError(f"{said} is no whole number.")
            return int(value)
        return round(value / WHOLE_PERCENT, DECIMALS + 2) if asked.share else value
    if asked.kind == "hour":
        return f"{hour(said):%H:%M}"
    if asked.kind == "yes":
        return said == "yes"
    if asked.kind == "recipe":
        return recipe_of(said)
    if asked.kind == "days":
        return days_of(said)
    return said


def text_of(asked: Asked, value: Any) -> str:
    """What stands in the field for a value of the file or of a model, in the field's unit."""
    if value is ABSENT or value is None:
        return ""
    if isinstance(value, Quantity):
        value = value.value
    if isinstance(value, Words):
        return value.text
    if isinstance(value, Mapping) and asked.kind == "figure":
        value = value.get("value", "")
    if isinstance(value, Mapping) and asked.kind == "sentence":
        return str(value.get("text", ""))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value * WHOLE_PERCENT if asked.share else value:.{DIGITS}g}"
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, Mapping):
        return ", ".join(f"{symbol} {part:g}" for symbol, part in value.items())
    return ", ".join(str(one) for one in value) if isinstance(value, list | tuple) else str(value)


def recipe_of(text: str) -> dict[str, float]:
    """A recipe as "Ag 92.5, Cu 7.5". Raises NotYetError."""
    parts: dict[str, float] = {}
    for piece in re.sub(r"(?<=\d),(?=\d)", ".", text).replace("%", " ").replace(";", " ").replace(",", " ").split():
        if piece.isalpha():
            if piece in parts:
                raise NotYetError(f"{piece} stands twice.")
            parts[piece] = -1.0
            continue
        name = next((symbol for symbol, part in parts.items() if part < 0), None)
        try:
            share = float(piece)
        except ValueError:
            raise NotYetError(f'"{piece}" is neither an element nor a number. Enter it as Ag 92.5, Cu 7.5.') from None
        if name is None or not 0 < share <= WHOLE_PERCENT:
            raise NotYetError(f"{piece} does not fit. Enter each element and its percent, as Ag 92.5, Cu 7.5.")
        parts[name] = share
    missing = [symbol for symbol, part in parts.items() if part < 0]
    if missing or not parts:
        raise NotYetError(f"{' and '.join(missing) or 'The recipe'} has no percent. Enter it as Ag 92.5, Cu 7.5.")
    return parts


def days_of(text: str) -> list[str]:
    """Days as "Sunday, 2026-12-24". Raises NotYetError."""
    names = [name.strip() for name in text.split(",") if name.strip()]
    for name in names:
        try:
            day_off(name)
        except (ValueError, PourwellError) as err:
            raise NotYetError(str(err)) from err
    return names


def choice_of(names: Sequence[str], words: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Options by name with how people say them."""
    return tuple((name, words.get(name, name)) for name in names)
