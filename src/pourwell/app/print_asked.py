"""What is asked of a print, in words of its user: which way up, how thick a layer. Nothing that computes is loaded here."""

from math import hypot, isfinite
from typing import Final

from pourwell.app.shown import plain_number
from pourwell.app.typed import Span
from pourwell.errors import BadRequestError

Direction = tuple[float, float, float]
LAYER: Final = Span(low=0.005, high=0.5, unit="mm")
"""What a layer can be, as among the equipment: thinner ones nobody makes (common practice, no source)."""
TRY: Final = "Write three numbers such as 0,0,1: away from the plate."


def direction_of(text: str | None) -> Direction | None:
    """A direction from words such as "0,0,1", or "0,5; 0; 1" with decimal commas. Raises BadRequestError."""
    if text is None:
        return None
    try:
        x, y, z = map(plain_number, text.split(";")) if ";" in text else map(float, text.split(","))
    except ValueError as err:
        raise BadRequestError(f'"{text}" is no direction.', try_this=TRY) from err
    return x, y, z


def points_somewhere(direction: Direction) -> bool:
    """Has a direction a length."""
    return all(map(isfinite, direction)) and hypot(*direction) > 0


def numbers(direction: Direction) -> str:
    """A direction as `direction_of` takes it."""
    return ",".join(f"{round(value, 3) + 0.0:.3f}" for value in direction)  # + 0: no minus zero


def hours(minutes: float) -> str:
    """A time as people say it: 45 min, 3 h 05 min."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"
