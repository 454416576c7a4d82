"""The day: clock times backward from the pour, or the earliest pour from now that keeps hands-on work inside the hours."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from itertools import product
from typing import Final

from pourwell.materials.library import Library
from pourwell.steps.day.clock import after, at, minutes_between, round_up, to_five
from pourwell.steps.day.model import Entry, Hours, Task, Work
from pourwell.steps.day.turns import Placed, tasks, timetable

SEARCH_STEP_MIN: Final = 15
SEARCH_DAYS: Final = 8
"""How far ahead a pour time is looked for, and in what steps."""
CALM_DAYS: Final = 1
"""From the first pour that can be had on: hours are the same every day, so what is not found by then is not found at all."""
LONGER_STEP_MIN: Final = 30
"""In what steps the last hold is made longer."""
AT_THE_METAL: Final = frozenset({"setout", "melt", "pour", "quench"})
"""The lines that nobody should do when tired: these at least fall inside the hours where that can be had."""

Days = tuple[tuple[Entry, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A pour time, and by how much the last hold is longer for it."""

    pour_at: datetime
    longer_min: int
    asked: bool = False
    """Is it the user's own time."""
    burnout_min: int | None = None
    """From kiln on to that pour, where the holds of a kiln set by hand are fitted to it; None: they are not."""


def schedules(works: Sequence[Work], *, pour_at: datetime, hours: Hours, library: Library) -> Days:
    """The days of all flasks of a kiln load around the first pour, each in the order of time.

    From the wrap on the lines of a flask touch each other; patterns and trees come before the first wrap, moved to the bench hours
    before it. No two hands-on parts overlap.
    """
    return _dated(_turns(works, library), pour_at=pour_at, hours=hours)


Turn = tuple[Work, tuple[Placed, ...], dict[str, Task]]
"""A flask with its lines from the wrap on, and those that are free, by key."""


def _turns(works: Sequence[Work], library: Library) -> tuple[Turn, ...]:
    lines = timetable(works, library)
    return tuple((work, own, {t.key: t for t in tasks(work, library)[0] if t.free}) for work, own in zip(works, lines, strict=True))


def _dated(turns: Sequence[Turn], *, pour_at: datetime, hours: Hours) -> Days:
    """The lines of all flasks around a first pour."""
    tied = [[_entry(p, work, pour_at=pour_at, hours=hours) for p in lines] for work, lines, _ in turns]
    free = [lines for _, _, lines in turns]
    moment = tied[0][0].starts_at
    for entries, lines in reversed(list(zip(tied, free, strict=True))):
        if "tree" in lines:
            moment = _before(entries, lines["tree"], end=moment, hours=hours)
    hands = first = moment
    for entries, lines in reversed(list(zip(tied, free, strict=True))):
        if "patterns" in lines:
            task = lines["patterns"]
            waits = task.whole_min - task.hands_on_min
            end = min(first, after(hands, waits, zone=hours.zone), key=lambda m: m.timestamp())
            hands = _before(entries, task, end=end, hours=hours)
    return tuple(tuple(entries) for entries in tied)


def _before(entries: list[Entry], task: Task, *, end: datetime, hours: Hours) -> datetime:
    """Put a free task in front, ending then or earlier; its start."""
    ends = _inside(end, task, hours)
    start = after(ends, -task.whole_min, zone=hours.zone)
    entries.insert(0, Entry(key=task.key, says=task.says, starts_at=start, ends_at=ends, hands_on_min=round(task.hands_on_min)))
    return start


def _entry(placed: Placed, work: Work, *, pour_at: datetime, hours: Hours) -> Entry:
    task = placed.task
    start = after(pour_at, placed.start_min, zone=hours.zone)
    moments = None
    if task.key == "kiln" and work.programme.by_hand:
        moments = tuple(
            to_five(after(start, point.at_min, zone=hours.zone), first=not point.at_min) for point in work.programme.by_hand
        )
    return Entry(
        key=task.key,
        says=task.says,
        starts_at=start,
        ends_at=after(pour_at, placed.end_min, zone=hours.zone),
        hands_on_min=round(task.hands_on_min),
        moments=moments,
    )


def _inside(end: datetime, task: Task, hours: Hours) -> datetime:
    """The latest end, not after this one, that keeps a free task inside the hours of one day."""
    start = after(end, -task.whole_min, zone=hours.zone)
    opens = at(end.date(), hours.work_from, zone=hours.zone)
    closes = at(end.date(), hours.work_to, zone=hours.zone)
    if end > closes:
        return _inside(closes, task, hours)
    long = minutes_between(opens, closes) < task.whole_min
    if start >= opens or long:
        return end
    return at(end.date() - timedelta(days=1), hours.work_to, zone=hours.zone)


def outside(entries: tuple[Entry, ...], hours: Hours) -> Iterator[Entry]:
    """The lines whose hands-on part does not lie inside the working hours; settings of the kiln are told by `settings_outside`."""
    for entry in entries:
        if not entry.hands_on_min or entry.moments is not None:
            continue
        start = entry.starts_at.astimezone(hours.zone)
        opens, closes = _open(start, hours)
        if start < opens or after(start, entry.hands_on_min, zone=hours.zone) > closes:
            yield entry


def settings_outside(entries: tuple[Entry, ...], hours: Hours, *, awake: tuple[time, time]) -> Iterator[datetime]:
    """When the kiln is set by hand while everybody sleeps: neither at the bench nor between rising and bedtime."""
    rise, bed = awake
    for entry in entries:
        for moment in entry.moments or ():
            shown = moment.astimezone(hours.zone)
            opens, closes = _open(shown, hours)
            now = shown.time()
            up = rise <= now <= bed if rise <= bed else now >= rise or now <= bed
            if not (up or opens <= moment <= closes):
                yield moment


def in_hours(moment: datetime, hours: Hours) -> bool:
    """Is the bench open then (aware)."""
    opens, closes = _open(moment.astimezone(hours.zone), hours)
    return opens <= moment <= closes


def minutes_in(entries: tuple[Entry, ...], start: str, end: str) -> int:
    """Whole minutes from the start of one line to that of another."""
    starts = {entry.key: entry.starts_at for entry in entries}
    return round(minutes_between(starts[start], starts[end]))


def _open(moment: datetime, hours: Hours) -> tuple[datetime, datetime]:
    """When the bench opens and closes on this moment's day."""
    return at(moment.date(), hours.work_from, zone=hours.zone), at(moment.date(), hours.work_to, zone=hours.zone)


def calm(days: Days, hours: Hours, keys: frozenset[str] | None = None) -> bool:
    """Is all hands-on work inside the hours, or that of the lines named."""
    return not any(keys is None or entry.key in keys for day in days for entry in outside(day, hours))


def held_longer(works: Sequence[Work], minutes: int) -> tuple[Work, ...]:
    """The same work with a programme that is longer by so much."""
    return tuple(replace(w, programme=replace(w.programme, total_min=w.programme.total_min + minutes)) for w in works)


def calm_longer_min(
    works: Sequence[Work], *, pour_at: datetime, now: datetime, hours: Hours, library: Library, longest_min: float
) -> int:
    """How much longer the holds are before a pour asked for, so that all work at hand falls in the hours; 0 if no night does it."""
    for minutes in range(0, int(longest_min) + 1, LONGER_STEP_MIN):
        days = schedules(held_longer(works, minutes), pour_at=pour_at, hours=hours, library=library)
        if min(e.starts_at for entries in days for e in entries) < now:
            return 0
        if calm(days, hours):
            return minutes
    return 0


def pours(start: datetime, hours: Hours) -> Iterator[datetime]:
    """Candidate pour times from a moment on, in order."""
    moment = round_up(start, SEARCH_STEP_MIN, zone=hours.zone)
    for step in range(SEARCH_DAYS * 24 * 60 // SEARCH_STEP_MIN):
        yield after(moment, step * SEARCH_STEP_MIN, zone=hours.zone)


def _candidates(works: Sequence[Work], *, now: datetime, hours: Hours, library: Library) -> Iterator[tuple[datetime, Days]]:
    """Pour times that do not begin before now, in order, with their days."""
    first = None
    turns = _turns(works, library)
    for moment in pours(now, hours):
        if first is not None and moment > first + timedelta(days=CALM_DAYS):
            return
        days = _dated(turns, pour_at=moment, hours=hours)
        if min(entry.starts_at for day in days for entry in day) >= now:
            first = first or moment
            yield moment, days


def find_pour(
    works: Sequence[Work],
    *,
    now: datetime,
    hours: Hours,
    library: Library,
    longest_min: float = 0.0,
    awake: tuple[time, time] | None = None,
) -> Found:
    """The earliest pour from now that keeps all hands-on work inside the hours, by a last hold as little longer as may be.

    `works` holds one entry a flask of the kiln load; `longest_min` is how much longer the flasks may be held; `awake`: from rising
    to bedtime, where settings of the kiln by hand are to lie as they stand. If no pour keeps all inside, one that keeps the work at
    the metal inside; if none does that either, the first that can be had.
    """
    for by, keys in product((awake, None) if awake else (None,), (None, AT_THE_METAL)):
        for minutes in range(0, int(longest_min) + 1, LONGER_STEP_MIN):
            for moment, days in _candidates(held_longer(works, minutes), now=now, hours=hours, library=library):
                if calm(days, hours, keys) and not (by and any(True for d in days for _ in settings_outside(d, hours, awake=by))):
                    return Found(pour_at=moment, longer_min=minutes)
    moment, _ = next(_candidates(works, now=now, hours=hours, library=library))
    return Found(pour_at=moment, longer_min=0)


def calmer_pour(works: Sequence[Work], *, pour_at: datetime, now: datetime, hours: Hours, library: Library) -> datetime | None:
    """The pour nearest to this one, within a day of it, that keeps all hands-on work inside the hours; None if there is none."""
    turns = _turns(works, library)
    for step in range(1, 24 * 60 // SEARCH_STEP_MIN):
        for sign in (1, -1):
            moment = after(pour_at, sign * step * SEARCH_STEP_MIN, zone=hours.zone)
            days = _dated(turns, pour_at=moment, hours=hours)
            if min(entry.starts_at for day in days for entry in day) >= now and calm(days, hours):
                return moment
    return None


def calmer_hold(
    works: Sequence[Work], *, pour_at: datetime, now: datetime, hours: Hours, library: Library, longest_min: float
) -> Found | None:
    """As `calmer_pour`, with the last hold as little longer as may be; None if no hold up to the longest helps."""
    for minutes in range(0, int(longest_min) + 1, LONGER_STEP_MIN):
        held = held_longer(works, minutes)
        moment = calmer_pour(held, pour_at=pour_at, now=now, hours=hours, library=library)
        if moment is not None:
            return Found(pour_at=moment, longer_min=minutes)
    return None
