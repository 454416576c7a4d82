"""A kiln set by hand in the day: the pour for which its holds can last through the nights, and which other pour could."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from pourwell.materials.library import Library
from pourwell.materials.studio import Studio
from pourwell.steps.burnout.legs import Case, Leg, legs_as_typed, total_min
from pourwell.steps.burnout.model import Programme
from pourwell.steps.burnout.nights import nights_of, through_the_night
from pourwell.steps.burnout.plan import relegged
from pourwell.steps.day.clock import after
from pourwell.steps.day.model import Hours, Work
from pourwell.steps.day.plan import SEARCH_STEP_MIN, Found, calm, held_longer, in_hours, pours, schedules

LOOKED_DAYS: Final = 2
"""A pour is looked for over so many days from the first that can be had: hours are the same every day. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ByHand:
    """A programme that is set by hand, and what its hours hang on."""

    programme: Programme
    case: Case
    works: tuple[Work, ...]
    """With this programme."""
    studio: Studio
    hours: Hours
    library: Library
    now: datetime

    def legs(self, pour_at: datetime) -> tuple[Leg, ...] | None:
        """Those that last through the nights before a pour then (aware); None: there are none."""
        sleeps = self.studio.sleep_from, self.studio.sleep_to
        return through_the_night(legs_as_typed(self.programme), nights_of(self.case, sleeps, self.studio.zone), end_at=pour_at)

    def begins(self, legs: Sequence[Leg], pour_at: datetime, *, asked: bool = False) -> tuple[bool, bool]:
        """Is all work still to come with these legs, and is all at hand in the hours.

        `asked`: for a pour that the user names only investing must be: his trees may stand ready.
        """
        held = held_longer(self.works, total_min(legs) - self.programme.total_min)
        days = schedules(held, pour_at=pour_at, hours=self.hours, library=self.library)
        first = min(e.starts_at for entries in days for e in entries if not asked or e.key == "wrap")
        return first >= self.now, calm(days, self.hours)


def slept(by_hand: ByHand, found: Found) -> tuple[Programme, Found]:
    """The programme with holds that last through the nights, and its pour: the one asked for, else the first that has such holds.

    As it was where there is none, or where investing would have had to begin before now: its settings in the night are then a stop.
    """
    made = by_hand.programme
    if found.asked:
        legs = by_hand.legs(found.pour_at)
        serves = legs is not None and by_hand.begins(legs, found.pour_at, asked=True)[0]
        return (relegged(made, by_hand.case, legs) if serves and legs else made), found
    second: tuple[tuple[Leg, ...], datetime] | None = None
    for moment in pours(found.pour_at, by_hand.hours):
        if moment > found.pour_at + timedelta(days=LOOKED_DAYS):
            break
        legs = by_hand.legs(moment) if in_hours(moment, by_hand.hours) else None
        if legs is None:
            continue
        begins, quiet = by_hand.begins(legs, moment)
        if begins and quiet:
            return relegged(made, by_hand.case, legs), Found(pour_at=moment, longer_min=0)
        if begins and second is None:
            second = legs, moment
    if second is None:
        return made, found
    return relegged(made, by_hand.case, second[0]), Found(pour_at=second[1], longer_min=0)


def calmer(by_hand: ByHand, pour_at: datetime) -> Found | None:
    """The pour nearest to this one (aware), within a day, with holds that last through the nights and all work in the hours."""
    for step in range(1, timedelta(days=1) // timedelta(minutes=SEARCH_STEP_MIN)):
        for sign in (1, -1):
            moment = after(pour_at, sign * step * SEARCH_STEP_MIN, zone=by_hand.hours.zone)
            legs = by_hand.legs(moment) if in_hours(moment, by_hand.hours) else None
            if legs is not None and all(by_hand.begins(legs, moment, asked=True)):
                return Found(pour_at=moment, longer_min=0, burnout_min=total_min(legs))
    return None


def course_min(by_hand: ByHand, pour_at: datetime) -> Callable[[int], int | None]:
    """How long the burnout takes before a pour so many minutes later, its holds lasting through the nights; None: none do."""

    def takes(by_min: int) -> int | None:
        legs = by_hand.legs(after(pour_at, by_min, zone=by_hand.hours.zone))
        return None if legs is None else total_min(legs)

    return takes
