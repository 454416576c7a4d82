"""The day: clock times backward from the pour, or the earliest pour from now that keeps hands-on work inside the hours."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo

from pourwell.materials.library import Library
from pourwell.steps.burnout.model import Programme
from pourwell.steps.day.clock import after, at, minutes_between, round_up
from pourwell.steps.day.model import Entry
from pourwell.steps.flask.model import Mix
from pourwell.steps.pour.model import Quench
from pourwell.units import min_from_h

SEARCH_STEP_MIN = 15
SEARCH_DAYS = 8
"""How far ahead a pour time is looked for, and in what steps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """When somebody is at the bench, on the studio's clock."""

    work_from: time
    work_to: time
    zone: tzinfo | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One line of the day before it has a clock time."""

    key: str
    says: str
    whole_min: float
    hands_on_min: float
    free: bool = False
    """May it be done earlier, on its own, when the line after it starts too early in the morning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What the day depends on."""

    kinds_count: int
    """Kinds of patterns; 0 when the tree stands on the scale already."""
    pieces_count: int
    resin: bool
    mix: Mix
    programme: Programme
    quench: Quench
    flask_index: int = 0
    flasks_count: int = 1
    """Which flask of how many that share the kiln: they are invested in turn and poured in turn."""


def tasks(work: Work, library: Library) -> tuple[tuple[Task, ...], tuple[Task, ...]]:
    """The lines of the day: those up to the pour, and those from the pour on."""
    rule, mix = library.rule, work.mix
    look = rule("look_over_min") * max(work.kinds_count, 1)
    cure = rule("resin_cure_min") if work.resin else 0.0
    later = work.flasks_count - 1 - work.flask_index
    stand = min_from_h(mix.set_h) + later * rule("between_flasks_min")
    set_out = rule("set_out_min")
    before = [
        Task(key="patterns", says="Look over, cure, weigh the patterns", whole_min=look + cure, hands_on_min=look, free=True),
        _hands("tree", "Sprue, build and weigh the tree", _tree_min(work, library), free=True),
        _hands("wrap", "Wrap, collar, weigh powder and water", rule("wrap_min")),
        _hands("invest", "Mix, pour the slurry, clean up", mix.finish_min + rule("mix_clean_min")),
        Task(key="set", says=f"Set; not touched for {mix.still_min:.0f} min", whole_min=stand, hands_on_min=0),
        _hands("strip", "Base off, scrape, into the kiln", rule("strip_min")),
        Task(key="kiln", says="Burnout", hands_on_min=0, whole_min=_kiln_min(work, library) - set_out - rule("melt_min")),
        _hands("setout", "Set out, weigh the charge", set_out),
        _hands("melt", "Melt", rule("melt_min")),
    ]
    wet = work.quench.way == "water"
    behind = [
        _hands("pour", "Pour", rule("pour_min")),
        Task(key="stand", says="Stand" if wet else "Leave to cool in air", whole_min=work.quench.wait_min, hands_on_min=0),
        _hands("quench", "Quench, knock out wet" if wet else "Knock out wet", rule("quench_min")),
        Task(key="pickle", says="Pickle", whole_min=rule("pickle_min"), hands_on_min=0),
        _hands("cut", "Cut off, weigh, write results", _cut_min(work, library)),
    ]
    return tuple(before if work.kinds_count else before[2:]), tuple(behind)


def _hands(key: str, says: str, minutes: float, *, free: bool = False) -> Task:
    """A line that is hands on from end to end."""
    return Task(key=key, says=says, whole_min=minutes, hands_on_min=minutes, free=free)


def _tree_min(work: Work, library: Library) -> float:
    return library.rule("tree_set_up_min") + library.rule("sprue_one_min") * work.pieces_count


def _cut_min(work: Work, library: Library) -> float:
    return library.rule("cut_min") + library.rule("cut_one_min") * work.pieces_count


def _kiln_min(work: Work, library: Library) -> float:
    """From kiln on to this flask's pour: the programme, and the pours before it."""
    return work.programme.total_min + work.flask_index * library.rule("between_flasks_min")


def schedule(work: Work, *, pour_at: datetime, hours: Hours, library: Library) -> tuple[Entry, ...]:
    """The day around a pour: contiguous from the wrap to the end; what is free moves to the bench hours before it.

    `pour_at` is the first flask's pour; later flasks of the same kiln follow it in turn.
    """
    zone = hours.zone
    before, behind = tasks(work, library)
    moment = after(pour_at, work.flask_index * library.rule("between_flasks_min"), zone=zone)
    late = moment
    out: list[Entry] = []
    for task in reversed(before):
        if task.free:
            moment = _inside(moment, task, hours)
        start = after(moment, -task.whole_min, zone=zone)
        out.insert(0, _entry(task, start, moment))
        moment = start
    moment = late
    for task in behind:
        end = after(moment, task.whole_min, zone=zone)
        out.append(_entry(task, moment, end))
        moment = end
    return tuple(out)


def _entry(task: Task, start: datetime, end: datetime) -> Entry:
    return Entry(key=task.key, says=task.says, starts_at=start, ends_at=end, hands_on_min=round(task.hands_on_min))


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
    """The lines whose hands-on part does not lie inside the working hours."""
    for entry in entries:
        if not entry.hands_on_min:
            continue
        start = entry.starts_at.astimezone(hours.zone)
        opens = at(start.date(), hours.work_from, zone=hours.zone)
        closes = at(start.date(), hours.work_to, zone=hours.zone)
        if start < opens or after(start, entry.hands_on_min, zone=hours.zone) > closes:
            yield entry


def pours(start: datetime, hours: Hours) -> Iterator[datetime]:
    """Candidate pour times from a moment on, in order."""
    moment = round_up(start, SEARCH_STEP_MIN, zone=hours.zone)
    for step in range(SEARCH_DAYS * 24 * 60 // SEARCH_STEP_MIN):
        yield after(moment, step * SEARCH_STEP_MIN, zone=hours.zone)


def earliest_pour(work: tuple[Work, ...], *, now: datetime, hours: Hours, library: Library) -> datetime:
    """The earliest pour from now: with all hands-on work inside the hours if that can be had, else as soon as possible.

    `work` holds one entry a flask of the shared kiln.
    """
    first = None
    for moment in pours(now, hours):
        days = [schedule(w, pour_at=moment, hours=hours, library=library) for w in work]
        if min(day[0].starts_at for day in days) < now:
            continue
        first = first or moment
        if not any(True for day in days for _ in outside(day, hours)):
            return moment
    assert first is not None  # a day is far shorter than the search
    return first


def calmer_pour(work: tuple[Work, ...], *, pour_at: datetime, now: datetime, hours: Hours, library: Library) -> datetime | None:
    """The pour nearest to this one, within a day of it, that keeps all hands-on work inside the hours; None if there is none."""
    for step in range(1, 24 * 60 // SEARCH_STEP_MIN):
        for sign in (1, -1):
            moment = after(pour_at, sign * step * SEARCH_STEP_MIN, zone=hours.zone)
            days = [schedule(w, pour_at=moment, hours=hours, library=library) for w in work]
            if min(day[0].starts_at for day in days) >= now and not any(True for day in days for _ in outside(day, hours)):
                return moment
    return None
