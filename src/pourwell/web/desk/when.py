"""Moments and spans as pages say them."""

from datetime import date, datetime, timedelta, tzinfo
from typing import Final

from pourwell.steps.day.clock import local

DAYS_OF_WEEK: Final = 7
DAYS: Final = 15
"""So many can be chosen for a pour, from today on."""


def days(now: datetime, chosen: str = "") -> list[tuple[str, str]]:
    """Days to choose from, as ISO text and as people say them; one that was chosen earlier stays among them."""
    names = {0: "Today", 1: "Tomorrow"}
    said = [("", "Earliest")]
    for k in range(DAYS):
        one = now.date() + timedelta(days=k)
        said.append((one.isoformat(), f"{names[k]}, {day(one)}" if k in names else day(one)))
    if chosen and chosen not in dict(said):
        try:
            said.insert(1, (chosen, day(date.fromisoformat(chosen))))
        except ValueError:
            said.insert(1, (chosen, chosen))
    return said


def told(text: str, zone: tzinfo | None) -> datetime:
    """A kept moment on the studio's clock."""
    return local(datetime.fromisoformat(text), zone)


def clock(moment: datetime) -> str:
    """17:10."""
    return f"{moment:%H:%M}"


def day(moment: date | datetime) -> str:
    """Thu 3 Dec."""
    return f"{moment:%a} {moment.day} {moment:%b}"


def long_day(moment: datetime) -> str:
    """Thursday 3 December."""
    return f"{moment:%A} {moment.day} {moment:%B}"


def day_and_clock(moment: datetime, now: datetime) -> str:
    """17:10 today, Fri 17:10 within a week, else with its date."""
    if moment.date() == now.date():
        return clock(moment)
    near = abs((moment.date() - now.date()).days) < DAYS_OF_WEEK
    return f"{moment:%a} {clock(moment)}" if near else f"{day(moment)} {clock(moment)}"


def span(minutes: float) -> str:
    """1 h 36 min."""
    whole = round(minutes)
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"


def ahead(moment: datetime, now: datetime) -> str:
    """How long until then, or how long ago: "in 1 h 36"."""
    minutes = (moment - now).total_seconds() / 60
    return f"in {span(minutes)}" if minutes >= 0 else f"{span(-minutes)} ago"
