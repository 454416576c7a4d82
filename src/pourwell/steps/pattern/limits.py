"""When a measure of a mesh is told as less than a limit."""

from typing import Final

HUNDREDTHS: Final = 2
"""Decimals in which the findings tell millimetres: what a calliper shows."""

CHORD_MM: Final = 0.02
"""A measure short of its limit by no more than this is at the limit: by so much the facets of a mesh lie off the round surfaces
that they stand for, a hundredth on each of two sides. Own choice: less than a printer keeps or a calliper tells."""


def under(measure: float, limit: float) -> bool:
    """Whether a measure is told as less than a limit: to the hundredth, as it is written, and by more than facets explain."""
    return round(float(measure) + CHORD_MM, HUNDREDTHS) < round(limit, HUNDREDTHS)
