"""A kiln that fires while nobody is awake: when that is, and the usual cautions of it."""

from datetime import datetime, time, timedelta, tzinfo
from typing import Final

from pourwell.steps.day.clock import at

OVERNIGHT: Final = (
    "Extraction on and outdoors, a smoke alarm and a carbon monoxide alarm that sleepers hear, nothing flammable near the kiln, "
    "solvent in another room, the kiln's over-temperature guard set. Local rules and the insurer come first."
)
BRIEFLY: Final = (
    "It fires while you sleep: smoke and carbon monoxide alarms that sleepers hear, nothing flammable near, solvent in another "
    "room; local rules first."
)
IN_A_LINE: Final = (
    "It fires overnight: extraction on, smoke and carbon monoxide alarms that sleepers hear, nothing flammable near; "
    "local rules first."
)
"""Common practice, no source; at length, beside a caution of the fumes, and in one line of a front."""


def rises_at(moment: datetime, rise: time, *, zone: tzinfo | None) -> datetime:
    """When somebody who sleeps at a moment (aware) next rises."""
    day = moment.astimezone(zone).date()
    today = at(day, rise, zone=zone)
    return today if today > moment else at(day + timedelta(days=1), rise, zone=zone)


def fires_overnight(on_at: datetime, off_at: datetime, *, awake: tuple[time, time], zone: tzinfo | None) -> bool:
    """Is somebody asleep at any moment between the two (aware)."""
    today = on_at.astimezone(zone).date()
    for day in (today - timedelta(days=1), today):
        opens = at(day, awake[0], zone=zone)
        closes = at(day + timedelta(days=awake[1] <= awake[0]), awake[1], zone=zone)
        if opens <= on_at and off_at <= closes:
            return False
    return True
