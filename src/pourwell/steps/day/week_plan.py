"""A week with its clock times: what is found for it, as lines a jeweller reads and as the firings of each kiln."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Final

from pourwell.findings import Finding
from pourwell.materials.library import Library
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.hand import LOOK, followed
from pourwell.steps.burnout.legs import Case, Leg, legs_as_typed, total_min, typed_fall_c_per_h
from pourwell.steps.burnout.model import Programme, SetPoint
from pourwell.steps.burnout.plan import built, frame_of
from pourwell.steps.burnout.synthesis import with_last, with_spare
from pourwell.steps.day.clock import to_five
from pourwell.steps.day.model import Entry, Task, Work
from pourwell.steps.day.night import fires_overnight
from pourwell.steps.day.open_hours import Terms
from pourwell.steps.day.turns import tasks
from pourwell.steps.day.week import SAME_K
from pourwell.steps.day.week_model import Goal, LoadTimes, Rota, RunTimes, Span, Week
from pourwell.units import min_from_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Fired:
    """A burnout, and what it was worked out for."""

    programme: Programme
    case: Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A run before it has clock times: what its lines and its programme are made from."""

    number: int
    name: str
    alloy: str
    alloy_name: str
    investment: str
    flask: str
    mark: str
    outside_mm: float
    """Across the flask, steel included."""
    height_mm: float
    pieces_count: int
    metal_c: float
    flask_c: float
    work: Work
    fired: tuple[Fired, ...]
    """Its burnout in each kiln."""
    own_programme: bool
    """Is it a programme of the user's own, which is only held longer at its end."""
    stretches: bool
    """May its last hold be longer so that it waits for somebody's hours."""
    apart: int = 0
    """Of a run that shares no firing with others: a number that its own flasks have; 0: it may share."""

    @property
    def programmes(self) -> tuple[Programme, ...]:
        """Its programme in each kiln."""
        return tuple(one.programme for one in self.fired)


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """A corner of the kiln's line."""

    at: datetime
    set_c: float


SET_IT: Final = "Set the kiln to"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A set-point by hand."""

    at: datetime
    set_c: float
    why: str
    seen_c: float | None = None
    """What the kiln should show just before."""

    @property
    def looks(self) -> bool:
        """Is nothing set: the last look of a day."""
        return self.why.startswith(LOOK)

    @property
    def says(self) -> str:
        """In words, with the temperatures as quantities."""
        if self.looks:
            return f"{self.why[0].upper()}{self.why[1:]}"
        shows = "" if self.seen_c is None else f"; it shows about {{t:{self.seen_c:g}}} now"
        return f"{SET_IT} {{t:{self.set_c:g}}}{shows}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLoad:
    """One firing of one kiln."""

    number: int
    """Of the firing, in the order of time: several have one programme's name, and each its own holds."""
    kiln: str
    runs: tuple[int, ...]
    """In the order of their pours."""
    ruling_run: int
    """Its programme is the longest; all take it."""
    on_at: datetime
    off_at: datetime
    """The last pour from it."""
    free_at: datetime
    """Cool enough for the next load."""
    programme: Programme
    """With its last hold as long as it takes until the pours."""
    longer_min: int
    """So much of that hold, and of the falls to cooler flasks, is not in the programme itself."""
    curve: tuple[CurvePoint, ...]
    settings: tuple[Setting, ...]
    """Of a kiln that is set by hand, or for the segments that its controller does not take."""
    overnight: bool
    """Is it on while nobody is awake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRun:
    """One flask with its lines."""

    number: int
    name: str
    alloy: str
    alloy_name: str
    investment: str
    flask: str
    mark: str
    pieces_count: int
    metal_c: float
    flask_c: float
    kiln: str
    kiln_on_at: datetime
    pour_at: datetime
    stands_h: float
    """From investing to kiln on, the strip aside."""
    stand_max_h: float
    bagged: bool
    kiln_by_at: datetime
    """Without a damp bag its kiln would have to be on by then."""
    timeline: tuple[Entry, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekPlan:
    """Several days, planned."""

    title: str
    made_at: datetime
    starts_at: datetime
    time_zone: str
    studio: str
    work_hours: tuple[time, time]
    awake_hours: tuple[time, time]
    closed_days: tuple[date, ...]
    """Days off, as far as the rota looks ahead."""
    status: str
    """`proven`: no rota is better by these goals; `found`: one may be."""
    goals: tuple[Goal, ...]
    last_pour_at: datetime
    runs: tuple[PlannedRun, ...]
    loads: tuple[PlannedLoad, ...]
    findings: tuple[Finding, ...] = ()
    tried_apart_min: int | None = None
    """How far apart the pours lie that were tried for a kiln set by hand; None: every pour was weighed, or one was asked for."""


def planned_runs(
    terms: Terms, candidates: Sequence[Candidate], rota: Rota, *, kilns: Sequence[Kiln], library: Library
) -> tuple[PlannedRun, ...]:
    """Each run with its lines, in the order of the request."""
    out = []
    for i, (candidate, times) in enumerate(zip(candidates, rota.runs, strict=True)):
        load = next(load for load in rota.loads if i in load.runs)
        points = candidates[load.ruling].programmes[load.kiln].by_hand
        entries = tuple(_entries(terms, candidate, times, load=load, points=points, library=library))
        strip, invest = (next(e for e in entries if e.key == key) for key in ("strip", "invest"))
        strip_min = math.ceil(library.rule("strip_min"))
        stand_max_min = min_from_h(candidate.work.mix.stand_max_h)
        stands_min = terms.minute(strip.ends_at) - strip_min - terms.minute(invest.ends_at)
        out.append(
            PlannedRun(
                number=candidate.number,
                name=candidate.name,
                alloy=candidate.alloy,
                alloy_name=candidate.alloy_name,
                investment=candidate.investment,
                flask=candidate.flask,
                mark=candidate.mark,
                pieces_count=candidate.pieces_count,
                metal_c=candidate.metal_c,
                flask_c=candidate.flask_c,
                kiln=kiln_name(kilns, load.kiln),
                kiln_on_at=terms.moment(load.on_min),
                pour_at=terms.moment(times.pour_min),
                stands_h=stands_min / min_from_h(1),
                stand_max_h=candidate.work.mix.stand_max_h,
                bagged=stands_min > stand_max_min,
                kiln_by_at=terms.moment(terms.minute(invest.ends_at) + int(stand_max_min) + strip_min),
                timeline=entries,
            )
        )
    return tuple(out)


def kiln_name(kilns: Sequence[Kiln], place: int) -> str:
    """What a kiln is called."""
    return kilns[place].name or "kiln"


def _entries(
    terms: Terms, candidate: Candidate, times: RunTimes, *, load: LoadTimes, points: Sequence[SetPoint], library: Library
) -> Iterator[Entry]:
    """The lines of a run in the order of time: each ends where the next begins, if that waits for it."""
    later = times.set_out_min < library.rule("set_out_min")
    before, behind = tasks(candidate.work, library, later=later)
    lines = {task.key: task for task in (*before, *behind)}
    starts = dict(_starts(times, lines, on_min=load.on_min))
    order = [key for key in lines if key in starts]
    tied = order.index("wrap")
    for place, key in enumerate(order):
        task, start = lines[key], starts[key]
        following = starts[order[place + 1]] if place + 1 < len(order) else None
        waits = following is not None and place >= tied
        end = following if waits and following is not None else start + math.ceil(task.whole_min)
        stands_min = starts["strip"] - starts["set"] if key == "invest" else 0
        if stands_min > min_from_h(candidate.work.mix.bag_after_h):
            hours = stands_min / min_from_h(1)
            task = replace(task, says=f"{task.says}; once set, bag it damp: it stands {hours:.1f} h")
        yield _entry(terms, task, points=points, span=(start, end), times=times)


def _starts(times: RunTimes, lines: dict[str, Task], *, on_min: int) -> Iterator[tuple[str, int]]:
    """When each line begins, those between the placed ones included."""
    pour = times.pour_min
    for key in ("patterns", "tree", "wrap", "invest", "strip"):
        if key in times.starts:
            yield key, times.starts[key]
    yield "set", times.starts["invest"] + math.ceil(lines["invest"].whole_min)
    yield "kiln", on_min
    melt, poured, stand, quench, pickle = (math.ceil(lines[k].whole_min) for k in ("melt", "pour", "stand", "quench", "pickle"))
    yield "setout", pour - melt - times.set_out_min
    yield "melt", pour - melt
    yield "pour", pour
    yield "stand", pour + poured
    opened = times.starts.get("quench", pour + poured + stand)
    yield "quench", opened
    yield "pickle", opened + quench
    yield "cut", max(times.starts["cut"], opened + quench + pickle)


def _entry(terms: Terms, task: Task, *, points: Sequence[SetPoint], span: Span, times: RunTimes) -> Entry:
    """A line with its clock times; the kiln is set by hand at its moments."""
    says, hands, moments = task.says, math.ceil(task.hands_on_min), None
    if task.key == "kiln" and points:
        moments = tuple(to_five(terms.moment(span[0] + point.at_min), first=not point.at_min) for point in points)
    if task.key == "set" and times.bagged:
        says = f"{task.says}; then bagged damp until its turn"
    if task.key == "setout":
        hands = times.set_out_min
    return Entry(
        key=task.key, says=says, starts_at=terms.moment(span[0]), ends_at=terms.moment(span[1]), hands_on_min=hands, moments=moments
    )


def planned_loads(
    terms: Terms, candidates: Sequence[Candidate], rota: Rota, *, week: Week, kilns: Sequence[Kiln]
) -> tuple[PlannedLoad, ...]:
    """The firings in the order of time."""
    out = []
    for number, load in enumerate(rota.loads, start=1):
        kiln = kilns[load.kiln]
        own = candidates[load.ruling].programmes[load.kiln]
        programme = load_programme(load, candidates=candidates, rota=rota, week=week, kiln=kiln)
        off_min = rota.runs[load.runs[-1]].pour_min
        last = week.runs[load.runs[-1]]
        firing = last.firings[load.kiln]
        assert firing is not None
        out.append(
            PlannedLoad(
                number=number,
                kiln=kiln_name(kilns, load.kiln),
                runs=tuple(candidates[i].number for i in load.runs),
                ruling_run=candidates[load.ruling].number,
                on_at=terms.moment(load.on_min),
                off_at=terms.moment(off_min),
                free_at=terms.moment(off_min + last.pour_min + firing.free_after_min),
                programme=programme,
                longer_min=off_min - load.on_min - own.total_min,
                curve=tuple(CurvePoint(at=terms.moment(load.on_min + round(at)), set_c=c) for at, c in curve(programme, kiln)),
                settings=tuple(
                    Setting(
                        at=to_five(terms.moment(load.on_min + round(p.at_min)), first=not p.at_min),
                        set_c=p.set_c,
                        why=p.why,
                        seen_c=p.seen_c,
                    )
                    for p in programme.by_hand
                ),
                overnight=fires_overnight(terms.moment(load.on_min), terms.moment(off_min), awake=terms.awake, zone=terms.zone),
            )
        )
    return tuple(out)


def load_programme(load: LoadTimes, *, candidates: Sequence[Candidate], rota: Rota, week: Week, kiln: Kiln) -> Programme:
    """The ruling run's programme, ending at the hottest flask temperature, held until its pours, then down to each cooler one.

    Time to spare before the first pour goes into the drying and the peak hold. Run and judged anew: what is told was simulated.
    """
    ruling = candidates[load.ruling]
    own, case = ruling.fired[load.kiln].programme, ruling.fired[load.kiln].case
    groups = list(_groups(load, candidates))
    same = legs_as_typed(own)
    legs = legs_as_typed(ended_at(own, candidates[groups[0][0]].flask_c, kiln=kiln))
    spare_min = rota.runs[groups[0][0]].pour_min - load.on_min - total_min(legs)
    legs = with_last(legs, spare_min) if ruling.own_programme or own.by_hand else with_spare(legs, case, spare_min)
    for place, group in enumerate(groups):
        if place:
            legs = (*legs, _fall(legs[-1].target_c, candidates[group[0]].flask_c, kiln=kiln))
        last = group[-1]
        leaves = rota.runs[last].pour_min + (week.runs[last].pour_min if place + 1 < len(groups) else 0)
        legs = with_last(legs, leaves - load.on_min - total_min(legs))
    if legs == same:
        return own
    return built(legs, replace(case, flask_c=legs[-1].target_c), frame_of(own, case))


def _groups(load: LoadTimes, candidates: Sequence[Candidate]) -> Iterator[list[int]]:
    """The runs of a load in the order of their pours, those of one flask temperature together."""
    group: list[int] = []
    for i in load.runs:
        if group and abs(candidates[i].flask_c - candidates[group[0]].flask_c) > SAME_K:
            yield group
            group = []
        group.append(i)
    yield group


def ended_at(programme: Programme, flask_c: float, *, kiln: Kiln) -> Programme:
    """A programme that ends at a hotter flask temperature in the same time: it falls less far, as its kiln does, and holds on."""
    last = programme.segments[-1]
    if abs(last.target_c - flask_c) <= SAME_K:
        return programme
    came_from = programme.segments[-2].target_c if len(programme.segments) > 1 else programme.start_c
    rate, falls = abs(last.ramp_c_per_h), flask_c < came_from
    if falls:
        rate = min(rate, typed_fall_c_per_h(came_from, flask_c, fall_c_per_h=kiln.fall_c_per_h))
    leg = Leg(start_c=came_from, target_c=flask_c, ramp_c_per_h=rate, hold_min=0, why=last.why)
    hold_min = max(0, last.hold_min + last.ramp_min - leg.ramp_min)
    ramp_c_per_h = -rate if falls else rate
    changed = replace(last, target_c=flask_c, ramp_c_per_h=ramp_c_per_h, ramp_min=leg.ramp_min, hold_min=hold_min)
    return replace(programme, segments=(*programme.segments[:-1], changed))


def _fall(from_c: float, flask_c: float, *, kiln: Kiln) -> Leg:
    """One more leg: down to a cooler flask temperature as the kiln falls with its door shut."""
    why = "down to the next flask temperature, door shut; then its soak"
    rate = typed_fall_c_per_h(from_c, flask_c, fall_c_per_h=kiln.fall_c_per_h)
    return Leg(start_c=from_c, target_c=flask_c, ramp_c_per_h=rate, hold_min=0, why=why)


def curve(programme: Programme, kiln: Kiln) -> Iterator[tuple[float, float]]:
    """The corners of a programme's line: minutes from kiln on, and degC; by hand as the kiln follows its settings."""
    if programme.by_hand:
        yield from followed(legs_as_typed(programme), programme.by_hand, kiln)
        return
    at = 0
    yield at, programme.start_c
    for segment in programme.segments:
        for minutes in (segment.ramp_min, segment.hold_min):
            at += minutes
            if minutes:
                yield at, segment.target_c
