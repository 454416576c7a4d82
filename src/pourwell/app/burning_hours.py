"""The hours of a burnout: a course placed between start and ready, outside the nights where the kiln is set by hand."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from pourwell.app.shop import Shop
from pourwell.errors import BadRequestError
from pourwell.materials.studio import Studio
from pourwell.steps.burnout.hour_checks import Hours, later_by_min
from pourwell.steps.burnout.legs import Case, Leg, legs_as_typed
from pourwell.steps.burnout.load import Served
from pourwell.steps.burnout.model import Programme
from pourwell.steps.burnout.nights import Nights, after_the_night, from_to, nights_of, through_the_night
from pourwell.steps.burnout.plan import relegged
from pourwell.steps.burnout.synthesis import most_spare_min, with_last, with_spare
from pourwell.steps.day.clock import after, at, local, minutes_between
from pourwell.steps.day.night import OVERNIGHT, fires_overnight, rises_at

MINUTES: Final = 60
"""By definition."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """A programme, the flasks that come out of it, the flask that it is worked out for, and whether it is the user's own."""

    programme: Programme
    out: tuple[Served, ...]
    worst: Case
    fixed: bool

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Of the programme."""
        return legs_as_typed(self.programme)

    @property
    def by_hand(self) -> bool:
        """Is it placed by its settings: a kiln set by hand, and a programme that may be held longer."""
        return bool(self.programme.by_hand) and not self.fixed

    def moved(self, legs: tuple[Leg, ...]) -> "Firing":
        """The same with longer holds."""
        return replace(self, programme=relegged(self.programme, self.worst, legs), out=moved(self.out, self.legs, legs))


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """What the user says of the hours."""

    start: datetime | None
    ready: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """When somebody is at the kiln, and from when to when it is on."""

    begin: datetime
    end: datetime
    settings: tuple[datetime, ...]
    pours: tuple[datetime, ...]
    chosen: bool = False
    """Did the user say himself when it begins, or is that now."""


def refuse_backwards(span: Span) -> None:
    """Raise BadRequestError for a pour that does not lie after its start."""
    if span.start is None or span.ready is None or span.ready > span.start:
        return
    raise BadRequestError(
        f"The first pour, at {span.ready:%H:%M on %A %d %B}, does not lie after the start, at {span.start:%H:%M on %A %d %B}.",
        why="The kiln goes on at the start, and a burnout takes hours.",
        try_this=f'Write the day of the pour with its hour, as "{span.start + timedelta(days=1):%Y-%m-%d} {span.ready:%H:%M}".',
    )


def moved(out: Sequence[Served], before: Sequence[Leg], later: Sequence[Leg]) -> tuple[Served, ...]:
    """When the flasks come out of legs with longer holds."""
    more = [b.minutes - a.minutes for a, b in zip(before, later, strict=True)]
    return tuple(replace(o, out_min=o.out_min + sum(more[: o.segment]), soak_min=o.soak_min + more[o.segment - 1]) for o in out)


def placed(firing: Firing, span: Span, *, shop: Shop, now: datetime) -> Firing:
    """The course fitted to its hours: time to spare in its holds, no setting in a night where it is set by hand.

    The user's own programme is only held longer, at the temperature of the first flask. Raises BadRequestError for too short a
    time, and where a kiln set by hand has no course without a setting in the night.
    """
    if not firing.by_hand:
        if span.start and span.ready:
            return filled(firing, minutes=minutes_between(span.start, span.ready))
        return _begun_awake(firing, span.ready, shop=shop, now=now) if span.ready else firing
    nights = nights_of(firing.worst, (shop.studio.sleep_from, shop.studio.sleep_to), shop.studio.zone)
    if span.ready and not span.start:
        return _before(firing, nights, ready=span.ready)
    start = span.start or now
    if not span.ready:
        return _from(firing, nights, start=start, begun=True)
    filled(firing, minutes=minutes_between(start, span.ready))  # says what is missing
    found = _between(firing, nights, start=start, ready=span.ready)
    if found is not None:
        return found
    alone = _before(firing, nights, ready=span.ready)
    on_at = after(span.ready, -alone.out[0].out_min, zone=shop.studio.zone)
    ready_at = after(start, _from(firing, nights, start=start, begun=True).out[0].out_min, zone=shop.studio.zone)
    raise BadRequestError(
        "From this start to this pour a kiln set by hand would be set while you sleep.",
        why=f"You sleep from {shop.studio.sleep_from:%H:%M} to {shop.studio.sleep_to:%H:%M}; no longer hold avoids it.",
        try_this=f"Begin on {on_at:%a %d %b at %H:%M}, or pour on {ready_at:%a %d %b at %H:%M}.",
    )


def _begun_awake(firing: Firing, ready: datetime, *, shop: Shop, now: datetime) -> Firing:
    """The course before a pour, begun in the evening where the kiln would go on in the night and cannot begin by itself.

    As it was where its holds do not take that much, where the morning is so near that a little later pour is the better answer, or
    where that evening is past.
    """
    nights = nights_of(firing.worst, (shop.studio.sleep_from, shop.studio.sleep_to), shop.studio.zone)
    first = firing.out[0]
    begin = after(ready, -first.out_min, zone=shop.studio.zone)
    asleep_min = 0 if firing.worst.kiln.delayed_start else nights.asleep_min(begin)
    room = min(
        most_spare_min(firing.legs[: first.segment], firing.worst, fixed=firing.fixed),
        firing.worst.library.rule("hold_longer_max_min"),
    )
    if not 0 < asleep_min <= room or begin - timedelta(minutes=asleep_min) < now:
        return firing
    return filled(firing, minutes=first.out_min + asleep_min)


def filled(firing: Firing, *, minutes: float) -> Firing:
    """The firing with the time between start and ready in its holds. Raises BadRequestError if that is too short or too long."""
    first = firing.out[0]
    spare = int(minutes - first.out_min)
    if spare < 0:
        hours, rest = divmod(-spare, MINUTES)
        raise BadRequestError(
            f"The time from start to ready is {hours} h {rest:02d} min too short.",
            why=f"The programme takes {first.out_min // MINUTES} h {first.out_min % MINUTES:02d} min to the first pour.",
            try_this="Start earlier or pour later.",
        )
    head, tail = firing.legs[: first.segment], firing.legs[first.segment :]
    over = spare - most_spare_min(head, firing.worst, fixed=firing.fixed)
    if over > 0:
        hours, rest = divmod(over, MINUTES)
        raise BadRequestError(
            f"The time from start to ready is {hours} h {rest:02d} min too long.",
            why="Drying, peak and flask temperature are held no longer than is known to do no harm.",
            try_this=f"Start at least {hours} h {rest:02d} min later, or leave --start out.",
        )
    longer = with_last(head, spare) if firing.fixed else with_spare(head, firing.worst, spare)
    return firing.moved((*longer, *tail))


def _end(firing: Firing, ready: datetime) -> datetime:
    """When the course ends if the first flask is poured then."""
    return ready + timedelta(minutes=firing.programme.total_min - firing.out[0].out_min)


def _before(firing: Firing, nights: Nights, *, ready: datetime) -> Firing:
    """The course before a pour, begun when it must; as it was where no longer holds serve."""
    found = through_the_night(firing.legs, nights, end_at=_end(firing, ready), first=firing.out[0].segment)
    return firing if found is None else firing.moved(found)


def _between(firing: Firing, nights: Nights, *, start: datetime, ready: datetime) -> Firing | None:
    """The course from a start to a pour; None: there is none without a setting in a night."""
    found = from_to(firing.legs, firing.worst, nights, start=start, end=_end(firing, ready), first=firing.out[0].segment)
    return firing.moved(found) if found else None


def _from(firing: Firing, nights: Nights, *, start: datetime, begun: bool) -> Firing:
    """The course from a start to the earliest end without a setting in a night; as it was where there is none."""
    found = after_the_night(firing.legs, nights, start=start)
    return firing.moved(found) if found else firing


def in_time(firing: Firing, span: Span, *, begin: datetime, shop: Shop, now: datetime) -> None:
    """Refuse a kiln that would have had to go on before now. Raises BadRequestError with the earliest pour."""
    if minutes_between(begin, now) < 1:
        return
    studio = shop.studio
    soonest = firing
    if firing.by_hand:
        nights = nights_of(firing.worst, (studio.sleep_from, studio.sleep_to), studio.zone)
        soonest = _from(firing, nights, start=now, begun=True)
    ready = after(now, soonest.out[0].out_min, zone=studio.zone)
    raise BadRequestError(
        f"The kiln would have had to go on at {begin:%H:%M on %A %d %B}, and that is past.",
        why=f"To the first pour it takes {firing.out[0].out_min // MINUTES} h {firing.out[0].out_min % MINUTES:02d} min.",
        try_this=f"With the kiln on now the first flask is ready at {ready:%H:%M on %A %d %B} at the earliest.",
    )


def better_by_min(firing: Firing, times: Times, studio: Studio) -> int | None:
    """By how much later a pour must be for a kiln set by hand to be left alone at night, its holds fitted anew; None: no hour."""
    nights = nights_of(firing.worst, (studio.sleep_from, studio.sleep_to), studio.zone)
    end = times.begin + timedelta(minutes=firing.programme.total_min)

    def fits(by_min: int) -> bool:
        later = timedelta(minutes=by_min)
        if firing.by_hand:
            return through_the_night(firing.legs, nights, end_at=end + later, first=firing.out[0].segment) is not None
        return not any(_sleeps(moment + later, studio) for moment in times.settings)

    return later_by_min(fits, pour_at=times.pours[0], works=lambda moment: _works(moment, studio))


def better_takes_min(firing: Firing, times: Times, studio: Studio, *, by_min: int | None) -> int | None:
    """How long a kiln set by hand is on until a pour so much later, its holds fitted anew; None: as long as now."""
    if by_min is None or not firing.by_hand:
        return None
    nights = nights_of(firing.worst, (studio.sleep_from, studio.sleep_to), studio.zone)
    end = times.begin + timedelta(minutes=firing.programme.total_min + by_min)
    legs = through_the_night(firing.legs, nights, end_at=end, first=firing.out[0].segment)
    return moved(firing.out, firing.legs, legs)[0].out_min if legs else None


def hours_of(firing: Firing, times: Times, studio: Studio) -> Hours:
    """What the checks of the hours look at."""
    asleep = tuple(m for m in times.settings if _sleeps(m, studio))
    stays = times.chosen or studio.kiln.delayed_start or times.begin in asleep or not _sleeps(times.begin, studio)
    by_min = better_by_min(firing, times, studio) if asleep else None
    return Hours(
        on_at=times.begin,
        off_at=times.end,
        settings=times.settings,
        pours=times.pours,
        sleeps=(studio.sleep_from, studio.sleep_to),
        asleep=asleep,
        better_by_min=by_min,
        better_takes_min=better_takes_min(firing, times, studio, by_min=by_min),
        wakes_at=None if stays else rises_at(times.begin, studio.sleep_to, zone=studio.zone),
        outside=tuple(m for m in times.pours if not _works(m, studio)),
        works=(studio.work_from, studio.work_to),
        overnight=fires_overnight(times.begin, times.end, awake=studio.awake, zone=studio.zone),
        allowed=studio.overnight_firing,
        cautions=OVERNIGHT,
    )


def _sleeps(moment: datetime, studio: Studio) -> bool:
    """Is he in bed then."""
    return fires_overnight(moment, moment, awake=studio.awake, zone=studio.zone)


def _works(moment: datetime, studio: Studio) -> bool:
    """Does he work then; days off are the business of the week."""
    day = local(moment, studio.zone).date()
    return at(day, studio.work_from, zone=studio.zone) <= moment <= at(day, studio.work_to, zone=studio.zone)
