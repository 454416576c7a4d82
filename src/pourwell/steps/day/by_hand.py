"""A week with a kiln set by hand: which hours of the pour are tried, and its runs with holds that last through the nights."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from pourwell.materials.studio import Studio
from pourwell.steps.burnout import plan as burnout
from pourwell.steps.day.clock import after, at
from pourwell.steps.day.open_hours import Terms
from pourwell.steps.day.week_plan import Candidate

DAYS_ON: Final = 3
"""A pour so many days on is far enough from a clock change of today; the hours of the day are what counts. Own choice."""
ALONE_APART_MIN: Final = 30
"""Pours of a run by itself are tried so far apart: holds that reach to bedtime bear a pour so much later, so none is missed."""
APART_MIN: Final = 120
"""... and of several, where each try takes longer. Own choice."""


def apart_min(runs_count: int) -> int:
    """How far apart the pours lie that are tried."""
    return ALONE_APART_MIN if runs_count == 1 else APART_MIN


def hours_tried(terms: Terms, *, melt_min: float, runs_count: int) -> Iterator[datetime]:
    """The hours of a day for which holds are fitted to the nights: from the first melt that the day allows to its end."""
    opened = at(terms.start_at.date() + timedelta(days=DAYS_ON), terms.work[0], zone=terms.zone)
    closes = at(opened.date(), terms.work[1], zone=terms.zone)
    pour_at = after(opened, melt_min, zone=terms.zone)
    while pour_at < closes:
        yield pour_at
        pour_at = after(pour_at, apart_min(runs_count), zone=terms.zone)


def slept_until(candidate: Candidate, pour_at: datetime, *, studio: Studio, judged: bool) -> Candidate:
    """A run with no set-point between bedtime and rising before a pour then (aware); a programme of the user's own stays."""
    if candidate.own_programme:
        return candidate
    sleeps, zone = (studio.sleep_from, studio.sleep_to), studio.zone
    fired = tuple(
        replace(one, programme=burnout.slept(one.programme, one.case, pour_at=pour_at, sleeps=sleeps, zone=zone, judged=judged))
        if one.programme.by_hand
        else one
        for one in candidate.fired
    )
    return replace(candidate, fired=fired, work=replace(candidate.work, programme=fired[0].programme))
