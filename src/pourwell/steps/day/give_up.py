"""What to give up when nothing fits: one constraint at a time, each solved anew, with what that buys."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Final

from pourwell.materials.weekdays import NAMES
from pourwell.steps.day.checks import span_words
from pourwell.steps.day.clock import after
from pourwell.steps.day.open_hours import Terms, week_of, without_pour_times, working
from pourwell.steps.day.rota import LOOK_EFFORT, solve
from pourwell.steps.day.week_model import Rota, WeekKiln, WeekRun

HOURS_MORE: Final = 4
"""Hours are made longer by up to so many at one end. Own choice."""
MINUTES_AN_HOUR: Final = 60
HOLD_MORE_MIN: Final = 360
"""Flasks are held so much longer, once. As much again as the rule for it; own choice."""

Asked = tuple[Terms, tuple[WeekRun, ...], tuple[WeekKiln, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One thing to give up, and what it buys."""

    key: str
    says: str
    """As a jeweller would: "work until 21:00"."""
    first_pour_at: datetime
    last_pour_at: datetime
    value: str = ""
    """What to ask for instead, where it is one figure: an hour, minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """A change of what was asked."""

    key: str
    says: str
    apply: Callable[[Asked], Asked]
    value: str = ""


def offers(
    asked: Asked,
    *,
    others: Sequence[Asked] = (),
    plain: Asked | None = None,
    pour_at: datetime | None = None,
    at_pour: Callable[[datetime], Asked] | None = None,
) -> tuple[Offer, ...]:
    """Everything that makes it fit when it alone is given up; if nothing alone does, the fewest found that do together.

    `others` are other ways to run a kiln that is set by hand, for other hours of the pour; `plain` is the week with its programmes
    as they are where no night is minded. With `pour_at`, the first pour asked for, `at_pour` gives the week for another one.
    """
    found: list[Offer] = list(_nearest(asked, pour_at, at_pour)) if pour_at is not None and at_pour is not None else []
    done: set[str] = set()
    for step in steps(asked, plain=plain):
        if step.key not in done:
            ways = (asked, *others) if pour_at is None or step.key == "pour" else (asked,)
            rotas = [rota for rota in (_look(step.apply(way)) for way in ways) if rota.fits]
            if rotas:
                done.add(step.key)
                soonest = min(rotas, key=lambda rota: max(run.pour_min for run in rota.runs))
                found.append(replace(_offer(asked[0], soonest, key=step.key, says=step.says), value=step.value))
    named = {(o.first_pour_at, o.last_pour_at) for o in found if o.key in NEAREST}
    told = tuple(o for o in found if o.key != "pour" or (o.first_pour_at, o.last_pour_at) not in named)
    return told or tuple(_together(asked, plain=plain))


NEAREST: Final = ("later", "earlier")
NEAR_DAYS: Final = 3
"""So far from the pour that was asked for is another looked for: over a weekend. Own choice."""
ALONE_STEP_MIN: Final = 15
"""... in such steps for a run by itself, as a plan and a burnout do; of several, where each look takes longer, in full hours."""


def _nearest(asked: Asked, pour_at: datetime, at_pour: Callable[[datetime], Asked]) -> Iterator[Offer]:
    """The pours nearest to the one asked for that fit with nothing given up: a later one, and an earlier one."""
    terms, runs, _ = asked
    step = ALONE_STEP_MIN if len(runs) == 1 else MINUTES_AN_HOUR
    for key, by_min in (("later", step), ("earlier", -step)):
        for number in range(1, NEAR_DAYS * timedelta(days=1) // timedelta(minutes=step)):
            moment = after(pour_at, number * by_min, zone=terms.zone)
            if moment <= terms.start_at:
                break
            if not working(terms, moment.date()) or not terms.work[0] <= moment.time() <= terms.work[1]:
                continue
            rota = _look(at_pour(moment))
            if rota.fits:
                yield _offer(terms, rota, key=key, says=f"pour {span_words(number * step)} {key}")
                break


def steps(asked: Asked, *, plain: Asked | None = None) -> Iterator[_Step]:
    """What may be given up, the lightest first; of one key the smaller change stands first; `plain` as for `offers`."""
    terms, runs, kilns = asked
    helped = plain or asked
    if not terms.bag_damp and any(run.stand_max_min < terms.bag_max_min for run in runs):
        says = f"bag the flasks damp, so that they may stand up to {terms.bag_max_min // MINUTES_AN_HOUR} h before the kiln"
        yield _Step(key="bag", says=says, apply=lambda a: (replace(a[0], bag_damp=True), *a[1:]))
    for hours in range(1, HOURS_MORE + 1):
        yield from _longer(terms, hours)
    if not terms.overnight:
        yield _Step(key="overnight", says="allow firing overnight", apply=lambda a: (replace(a[0], overnight=True), *a[1:]))
    if runs:
        says = f"hold the flasks up to {HOLD_MORE_MIN // MINUTES_AN_HOUR} h longer at their temperature"
        yield _Step(key="hold", says=says, apply=_held, value=str(max(run.wait_max_min for run in runs) + HOLD_MORE_MIN))
    if any(firing is not None and firing.set_at_min for run in helped[1] for firing in run.firings):
        yield _Step(key="awake", says="let a helper set the kiln while you sleep", apply=_helped(helped))
    for day in sorted({d for d in _days(terms) if not working(terms, d)}, key=lambda d: d.toordinal()):
        yield _Step(key=f"day {day.weekday()}", says=f"work on {NAMES[day.weekday()].capitalize()} {day.day}", apply=_worked(day))
    yield _Step(key="kiln", says="a second kiln" if len(kilns) == 1 else "one more kiln", apply=_more_kiln)
    if terms.first_pour_at is not None or any(run.pour_at_min is not None or run.pour_by_min is not None for run in runs):
        yield _Step(key="pour", says="let the pour time go", apply=lambda a: (*without_pour_times(*a[:2]), a[2]))


def _days(terms: Terms) -> list[date]:
    """The days of the first week."""
    return [terms.start_at.date() + timedelta(days=number) for number in range(len(NAMES))]


def _longer(terms: Terms, hours: int) -> Iterator[_Step]:
    """Hours at the bench that end later, or begin sooner, by so much; within the hours awake."""
    opens, closes = terms.work
    late = _shifted(closes, hours)
    rises, sleeps = terms.awake
    if late is not None and (late <= sleeps or sleeps <= rises):
        yield _Step(key="late", says=f"work until {late:%H:%M}", apply=_hours((opens, late)), value=f"{late:%H:%M}")
    soon = _shifted(opens, -hours)
    if soon is not None and soon >= rises:
        yield _Step(key="early", says=f"begin at {soon:%H:%M}", apply=_hours((soon, closes)), value=f"{soon:%H:%M}")


def _shifted(hour: time, hours: int) -> time | None:
    moved = timedelta(hours=hour.hour + hours, minutes=hour.minute)
    if not timedelta(0) <= moved < timedelta(days=1):
        return None
    return (datetime.min + moved).time()


def _hours(work: tuple[time, time]) -> Callable[[Asked], Asked]:
    """The same with longer hours at the bench; the comfortable ones stay."""

    def change(asked: Asked) -> Asked:
        terms, runs, kilns = asked
        own = (min(work[0], terms.work[0]), max(work[1], terms.work[1]))
        return replace(terms, work=own), runs, kilns

    return change


def _worked(day: date) -> Callable[[Asked], Asked]:
    """The same with this one day worked."""

    def change(asked: Asked) -> Asked:
        terms, runs, kilns = asked
        others = {d for d in _days(terms) if not working(terms, d) and d != day}
        every = {terms.start_at.date() + timedelta(days=n) for n in range(len(NAMES), terms.days_count + 1)}
        return replace(terms, days_off=frozenset(others | {d for d in every if not working(terms, d)})), runs, kilns

    return change


def _held(asked: Asked) -> Asked:
    terms, runs, kilns = asked
    return terms, tuple(replace(run, wait_max_min=run.wait_max_min + HOLD_MORE_MIN) for run in runs), kilns


def _helped(plain: Asked) -> Callable[[Asked], Asked]:
    """The same with all settings of the kilns made by somebody else, in programmes that mind no night."""
    free = [tuple(f and replace(f, set_at_min=()) for f in run.firings) for run in plain[1]]

    def change(asked: Asked) -> Asked:
        terms, runs, kilns = asked
        return terms, tuple(replace(run, firings=own) for run, own in zip(runs, free, strict=True)), kilns

    return change


def _more_kiln(asked: Asked) -> Asked:
    """One more kiln like the first."""
    terms, runs, kilns = asked
    more = replace(kilns[0], name="a second one")
    return terms, tuple(replace(run, firings=(*run.firings, run.firings[0])) for run in runs), (*kilns, more)


def _look(asked: Asked) -> Rota:
    terms, runs, kilns = asked
    return solve(week_of(terms, runs, kilns), effort=LOOK_EFFORT, tidy=False, first_goal_only=True)


def _offer(terms: Terms, rota: Rota, *, key: str, says: str) -> Offer:
    pours = [run.pour_min for run in rota.runs]
    return Offer(key=key, says=says, first_pour_at=terms.moment(min(pours)), last_pour_at=terms.moment(max(pours)))


def _together(asked: Asked, *, plain: Asked | None) -> Iterator[Offer]:
    """All at once; then each is taken back that is not needed."""
    kept = list({step.key: step for step in steps(asked, plain=plain)}.values())  # of one key the largest change
    rota = _look(_applied(asked, kept))
    if not rota.fits:
        return
    for step in kept[::-1]:
        fewer = [s for s in kept if s is not step]
        less = _look(_applied(asked, fewer))
        if less.fits:
            kept, rota = fewer, less
    yield _offer(asked[0], rota, key=" + ".join(s.key for s in kept), says=" and ".join(s.says for s in kept))


def _applied(asked: Asked, chosen: list[_Step]) -> Asked:
    for step in chosen:
        asked = step.apply(asked)
    return asked
