"""When the mould is looked at for carbon: at the end of the peak hold, where somebody is at the bench then."""

from datetime import datetime
from typing import Final

from pourwell.materials.studio import Studio
from pourwell.materials.weekdays import day_off
from pourwell.steps.burnout.legs import typed_fall_c_per_h
from pourwell.steps.burnout.model import Programme
from pourwell.steps.day.clock import after
from pourwell.steps.day.model import Hours
from pourwell.steps.day.plan import in_hours

LOOK_MIN: Final = 10
"""How long a look for carbon takes from mains off to mains on, at the most: own choice."""


def look_at(programme: Programme, studio: Studio, *, on_at: datetime) -> datetime | None:
    """When carbon is looked for before the kiln falls: at the end of the peak hold.

    Parameters
    ----------
    on_at : when the programme begins (aware)

    Returns
    -------
    the moment (aware); None where nobody is at the bench then, or where more than one fall, as the kiln falls by itself with its
    door shut, follows: a kiln that is set by hand could not follow it.
    """
    segments, kiln = programme.segments, studio.kiln
    top = max(range(len(segments)), key=lambda i: segments[i].target_c)
    if top != len(segments) - 2:
        return None
    last = segments[-1]
    by_itself = typed_fall_c_per_h(segments[top].target_c, last.target_c, fall_c_per_h=kiln.fall_c_per_h)
    if not programme.by_hand and abs(last.ramp_c_per_h) < by_itself:
        return None
    moment = after(on_at, sum(s.ramp_min + s.hold_min for s in segments[:-1]), zone=studio.zone)
    if {moment.weekday(), moment.date()} & {day_off(name) for name in studio.days_off}:
        return None
    hours = Hours(work_from=studio.work_from, work_to=studio.work_to, zone=studio.zone)
    ends = after(moment, LOOK_MIN, zone=studio.zone)
    return moment if in_hours(moment, hours) and in_hours(ends, hours) and ends.date() == moment.date() else None
