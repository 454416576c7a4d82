"""The units that a file may be in, where its size or its warnings make the one that was taken doubtful."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pourwell.steps.pattern.model import Point
from pourwell.steps.pattern.soundness_checks import digits

SLACK_RATIO: Final = 1.1
"""A unit is offered where the piece would be so much larger or smaller yet than jewellery is: a limit of a size is no wall, and the
true unit is not to be missed for a hair. Own choice."""
COMMONEST: Final = " Inches are the commonest slip."
"""Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """A unit in which the numbers of a file would be as large as a piece of jewellery."""

    unit: str
    size_mm: Point
    bore_mm: float | None = None
    """Of the ring that it looks like; None if it looks like none."""
    wearable: bool = True
    """It looks like no ring, or a finger goes through it."""


def sized(size: Point) -> str:
    """The three sides of an envelope, as quantities."""
    return " x ".join(f"{{l:{digits(side)}}}" for side in size)


def offered(guesses: Sequence[Guess]) -> str:
    """The units that would make it a piece to wear; where none does, how to find the scale."""
    fit = [guess for guess in guesses if guess.wearable]
    if fit:
        said = COMMONEST if len(fit) > 1 and any(guess.unit == "inch" for guess in fit) else ""
        return f"Say the unit of the file with --units: {'; '.join(map(_offer, fit))}.{said}"
    if not guesses:
        return "No other unit makes it one either: check what was exported."
    return (
        f"No unit fits: {'; '.join(map(_offer, guesses))}, and no finger goes through that. Measure one dimension in the drawing "
        "that you know, and scale the piece by it."
    )


def _offer(guess: Guess) -> str:
    bore = f" with a bore of {{l:{digits(guess.bore_mm)}}}" if guess.bore_mm is not None else ""
    return f"{guess.unit} would make it {sized(guess.size_mm)}{bore}"
