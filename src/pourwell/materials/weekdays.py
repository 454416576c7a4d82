"""Names of the days of the week, as a studio writes them."""

from datetime import date
from difflib import get_close_matches
from typing import Final

NAMES: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
SHORT: Final = 3
"""So many letters of a name are enough."""


def weekday(text: str) -> int:
    """The number of a day from its name or its first three letters; Monday is 0. Raises ValueError with the nearest name."""
    said = text.strip().lower()
    for number, name in enumerate(NAMES):
        if said == name or (len(said) >= SHORT and name.startswith(said)):
            return number
    near = get_close_matches(said, NAMES, n=1)
    ask = f"the nearest is {near[0].capitalize()}" if near else "write Monday, Tuesday and so on"
    raise ValueError(f'"{text.strip()}" is no day of the week; {ask}')


def day_off(text: str) -> int | date:
    """A day off: a day of every week by its name, or one day as "2027-03-05". Raises ValueError for anything else."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        if any(letter.isdigit() for letter in text):
            raise ValueError(f'"{text.strip()}" is no date; write it as "2027-03-05", or the name of a day') from None
        return weekday(text)
