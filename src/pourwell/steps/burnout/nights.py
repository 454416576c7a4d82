"""Nights in which nobody sets a kiln: which holds last through them."""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta, tzinfo
from itertools import count
from typing import Final

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.hand import BEFORE_BED_MIN, SLEEPS, settings_of
from pourwell.steps.burnout.legs import Case, Leg, total_min, whole_hold_min
from pourwell.steps.burnout.synthesis import JOIN, YOURS, peak_index, with_spare

TRIED: Final = 400
"""Most courses that are looked at for one pour. Own choice."""
WEIGHT_DRYING: Final = 1.0
WEIGHT_FLASK: Final = 1.5
WEIGHT_HOT: Final = 3.0
"""What a minute of night costs while the mould dries, at a flask temperature, and hotter: dry rather than bake. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nights:
    """The nights of a studio, and the kiln that is set by hand in its days."""

    sleeps: tuple[time, time]
    zone: tzinfo | None
    kiln: Kiln
    step_min: float
    dry_before_c: float
    drying_most_min: float
    peak_most_min: float
    flask_longer_min: float
    """The longest holds: until the mould is dry and hotter; at a flask temperature so much longer than it was."""

    def asleep_min(self, moment: datetime) -> int:
        """Minutes since the last setting that the evening allows; 0 outside the night."""
        since = -self.to_bed_min(moment, 0) % DAY_MIN
        return since if 0 < since < self.length_min else 0

    @property
    def length_min(self) -> int:
        """From the last setting of an evening to the first of the morning; 0: he never sleeps."""
        bed, rise = (t.hour * MINUTES + t.minute for t in self.sleeps)
        length = (rise - bed) % DAY_MIN
        return length + BEFORE_BED_MIN if length else 0

    def settings(self, legs: Sequence[Leg]) -> Iterator[tuple[int, int]]:
        """Leg and minute of every setting by hand."""
        start = 0
        for index, leg in enumerate(legs):
            if index >= self.kiln.segments_count:
                yield from ((index, p.at_min) for p in settings_of(leg, start, self.step_min))
            start += leg.minutes

    def asleep(self, legs: Sequence[Leg], end_at: datetime, *, begun: bool = False) -> list[tuple[int, int, int]]:
        """Leg, minute and how far in the night, of every setting in a night, for a course that ends then.

        `begun`: the user says when it begins, so the first one is his.
        """
        start = end_at.astimezone(UTC) - timedelta(minutes=total_min(legs))
        found = [(i, at, self.asleep_min(start + timedelta(minutes=at))) for i, at in self.settings(legs) if at or not begun]
        return [one for one in found if one[2]]

    def longest_min(self, leg: Leg) -> int:
        """How long a hold may last, as it was before the nights were thought of."""
        if leg.target_c < leg.start_c:
            return leg.hold_min + whole_hold_min(self.flask_longer_min)
        most = self.drying_most_min if leg.target_c <= self.dry_before_c else self.peak_most_min
        return max(leg.hold_min, whole_hold_min(most))

    def bears(self, legs: Sequence[Leg], before: Sequence[Leg]) -> bool:
        """Is no hold longer than it may be."""
        return all(leg.hold_min <= self.longest_min(was) for leg, was in zip(legs, before, strict=True))

    def marked(self, legs: tuple[Leg, ...], end_at: datetime) -> tuple[Leg, ...]:
        """The legs with every hold told that lasts through a night, whatever else rules it; other longer ones only move."""
        if self.sleeps[0] == self.sleeps[1]:
            return legs
        start, moments = end_at.astimezone(UTC) - timedelta(minutes=total_min(legs)), list(self.settings(legs))
        nexts = [at for _, at in moments[1:]] + [total_min(legs)]
        lasting = {index for (index, at), until in zip(moments, nexts, strict=True) if self.to_bed_min(start, at) < until - at}
        return tuple(replace(leg, ruled_by=_night_told(leg.ruled_by, lasts=i in lasting)) for i, leg in enumerate(legs))

    def to_bed_min(self, start: datetime, at_min: int) -> int:
        """From a moment of a course to the last setting that its evening allows."""
        shown = (start + timedelta(minutes=at_min)).astimezone(self.zone)
        bed = self.sleeps[0].hour * MINUTES + self.sleeps[0].minute - BEFORE_BED_MIN
        return (bed - shown.hour * MINUTES - shown.minute) % DAY_MIN

    def cost(self, legs: Sequence[Leg], before: Sequence[Leg]) -> float:
        """What the longer holds cost."""
        out = 0.0
        for leg, was in zip(legs, before, strict=True):
            dries = leg.target_c <= self.dry_before_c and leg.target_c > leg.start_c
            weight = WEIGHT_DRYING if dries else WEIGHT_FLASK if leg.target_c < leg.start_c else WEIGHT_HOT
            out += weight * (leg.hold_min - was.hold_min)
        return out


def _night_told(ruled_by: str, *, lasts: bool) -> str:
    """What rules a leg, with the night that its hold lasts through told or taken back."""
    if ruled_by in (SLEEPS, YOURS):
        return SLEEPS if lasts else YOURS
    others = [part for part in ruled_by.split(JOIN) if part and part != SLEEPS]
    return JOIN.join([*others, SLEEPS] if lasts else others)


def nights_of(case: Case, sleeps: tuple[time, time], zone: tzinfo | None) -> Nights:
    """Those of a case, from the rules."""
    rule = case.library.rule
    return Nights(
        sleeps=sleeps,
        zone=zone,
        kiln=case.kiln,
        step_min=rule("by_hand_step_min"),
        dry_before_c=rule("dry_before_c"),
        drying_most_min=rule("night_hold_longest_min"),
        peak_most_min=rule("peak_hold_longest_min"),
        flask_longer_min=rule("hold_longer_max_min"),
    )


def through_the_night(
    legs: tuple[Leg, ...], nights: Nights, *, end_at: datetime, begun: bool = False, first: int | None = None
) -> tuple[Leg, ...] | None:
    """The legs with holds so much longer that no setting falls into a night, for a course that ends then (aware); None: not found.

    The last setting in a night is put before it, by a longer hold of its own leg or of a later one, none over the rules' longest;
    of all ways the one whose longer holds cost least, so that the mould rather dries through the night than stands at the peak.
    `first`: the first flask is poured out of so many legs at an hour that is fixed: what later ones grow by moves the end, and a
    setting after that pour is put behind its night.
    """
    pinned = len(legs) if first is None else first
    number = count()
    waiting = [(0.0, next(number), legs)]
    seen = {legs}
    for _ in range(TRIED):
        if not waiting:
            return None
        _, _, now = heapq.heappop(waiting)
        ends = end_at + timedelta(minutes=total_min(now[pinned:]) - total_min(legs[pinned:]))
        late = nights.asleep(now, ends, begun=begun)
        if not late:
            return nights.marked(now, ends)
        index, at_min, since = late[-1]
        last = dict(nights.settings(now))
        earlier = ((h, w) for h in range(index, pinned) for w in (since, since + last[h] - at_min))
        later = ((h, nights.length_min - since) for h in range(pinned, index))
        for host, wanted in (*earlier, *later):
            new = _longer(now, host, wanted, most=nights.longest_min(legs[host]))
            if new not in seen:
                seen.add(new)
                heapq.heappush(waiting, (nights.cost(new, legs), next(number), new))
    return None


def _longer(legs: tuple[Leg, ...], host: int, wanted: int, *, most: int) -> tuple[Leg, ...]:
    """The legs with one hold longer by what is wanted, or by what it may still take; the same legs if that is nothing."""
    more = min(wanted, most - legs[host].hold_min)
    if more <= 0:
        return legs
    return (*legs[:host], replace(legs[host], hold_min=legs[host].hold_min + more, ruled_by=SLEEPS), *legs[host + 1 :])


def after_the_night(legs: tuple[Leg, ...], nights: Nights, *, start: datetime) -> tuple[Leg, ...] | None:
    """The same for a course that begins then (aware): the first setting in a night is put behind it, by a longer hold before it.

    Of all ways the one that is ready first, of these the one that costs least: who begins now asks when he can pour.
    """
    number = count()
    waiting, seen = [(0.0, next(number), legs)], {legs}
    for _ in range(TRIED):
        if not waiting:
            return None
        _, _, now = heapq.heappop(waiting)
        end_at = start + timedelta(minutes=total_min(now))
        late = nights.asleep(now, end_at, begun=True)
        if not late:
            return nights.marked(now, end_at)
        index, _, since = late[0]
        for host in range(index):
            new = _longer(now, host, nights.length_min - since, most=nights.longest_min(legs[host]))
            if new not in seen:
                seen.add(new)
                heapq.heappush(waiting, (total_min(new) + nights.cost(new, legs) / DAY_MIN**2, next(number), new))
    return None


def from_to(
    legs: tuple[Leg, ...], case: Case, nights: Nights, *, start: datetime, end: datetime, first: int
) -> tuple[Leg, ...] | None:
    """The legs lasting from a start to an end (both aware) without a setting in a night; None: there is no such course.

    The time to spare goes into drying and carbon where no night forbids it, else into one hold, of the first `first` legs; none
    over the rules' longest.
    """
    span = round((end - start) / timedelta(minutes=1))
    for base in (legs, through_the_night(legs, nights, end_at=end, begun=True), after_the_night(legs, nights, start=start)):
        spare = span - total_min(base) if base else -1
        if base is None or spare < 0:
            continue
        for tried in _spared(base, case, spare, first=first):
            if nights.bears(tried, legs) and not nights.asleep(tried, end, begun=True):
                return nights.marked(tried, end)
    return None


def _spared(legs: tuple[Leg, ...], case: Case, spare: int, *, first: int) -> Iterator[tuple[Leg, ...]]:
    """Ways to put time to spare into the holds before the first pour."""
    yield (*with_spare(legs[:first], case, spare), *legs[first:])
    peak = peak_index(legs)
    for i in (*(i for i in range(first) if i != peak), peak):
        yield (*legs[:i], replace(legs[i], hold_min=legs[i].hold_min + spare), *legs[i + 1 :])


MINUTES: Final = 60
DAY_MIN: Final = 24 * MINUTES
"""By definition."""
