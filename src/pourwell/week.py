"""Several runs over several days: each worked out as a job is, then all of them placed. A job alone knows one kiln load."""

import itertools
import math
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from pourwell.assembly import Load, Measured, Setting
from pourwell.errors import BadRequestError
from pourwell.job import grown_loads, longest_hold_min, settle, weighed_load, work_out, works_of
from pourwell.materials.library import Library
from pourwell.materials.studio import Kiln, Studio
from pourwell.materials.weekdays import day_off
from pourwell.request import MOST_RUNS, RunOfWeek, WeekRequest
from pourwell.steps.burnout import plan as burnout
from pourwell.steps.burnout.room import flasks_in
from pourwell.steps.day.by_hand import apart_min, hours_tried, slept_until
from pourwell.steps.day.give_up import Asked as Wanted
from pourwell.steps.day.give_up import Offer, offers
from pourwell.steps.day.nothing_fits import nothing_fits
from pourwell.steps.day.open_hours import Terms, days, terms_of, week_of, working
from pourwell.steps.day.rota import solve
from pourwell.steps.day.week_checks import Facts, findings
from pourwell.steps.day.week_fired import fired_findings
from pourwell.steps.day.week_mates import safe_with_mates
from pourwell.steps.day.week_model import Rota, Week, WeekKiln, WeekRun
from pourwell.steps.day.week_plan import Candidate, Fired, WeekPlan, planned_loads, planned_runs
from pourwell.steps.day.week_runs import Wish, week_runs
from pourwell.steps.flask import plan as flasks
from pourwell.steps.flask.usual import usual_flask
from pourwell.units import min_from_h

Memo = dict[Hashable, Fired]
"""Programmes by what they are for: a week asks for the same one often, and it takes seconds to work out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A week ready to be placed, and what it came from."""

    terms: Terms
    runs: tuple[WeekRun, ...]
    kilns: tuple[WeekKiln, ...]
    candidates: tuple[Candidate, ...]
    wishes: tuple[Wish, ...]
    wait_max_min: int | None
    studio: Studio
    library: Library
    title: str
    made_at: datetime
    assumed: tuple[str, ...]
    slept_at: datetime | None = None
    """For which pour the holds of a kiln set by hand last through the nights."""
    tried_apart_min: int | None = None

    @property
    def wanted(self) -> Wanted:
        """What may be given up of it."""
        return self.terms, self.runs, self.kilns

    @property
    def week(self) -> Week:
        """As the solver takes it."""
        return week_of(self.terms, self.runs, self.kilns)


def usual_weight_g(request_flask: str | None, *, pattern: str, studio: Studio, library: Library) -> float:
    """What a usual tree weighs that fills this flask: as full as trees are as a rule."""
    row = flasks.parse_flask(request_flask, studio, library) if request_flask else usual_flask(studio, library)
    room_cm3 = flasks.tree_room_cm3(flasks.fit_out(row, studio, library), library)
    return room_cm3 * library.rule("tree_fill_fraction") * library.pattern(pattern).density_g_per_cm3.value


def plan_week(
    request: WeekRequest,
    measured: Sequence[tuple[Measured, ...]],
    *,
    studio: Studio,
    library: Library,
    now: datetime,
    tell: Callable[[str], None],
    memo: Memo | None = None,
) -> WeekPlan:
    """Place the runs of a week; `measured` holds the patterns of each entry, `memo` programmes that are worked out already.

    Raises BadRequestError for what cannot be, and, with what to give up, for a week in which nothing fits.
    """
    asked = ask(request, measured, studio=studio, library=library, now=now, tell=tell, memo=memo)
    tell("Placing the runs")
    ways = tuple(ways_by_hand(asked))
    found = [(one, solve(one.week)) for one in ways]
    fitting = [(one, rota) for one, rota in found if rota.fits]
    if not fitting:
        tell("Nothing fits: trying what could be given up")
        first, rota = found[0]
        raise nothing_fits(first.terms, first.week, rota, found=_offers(asked, ways))
    best, rota = min(fitting, key=lambda pair: goals_of(pair[1]))
    if best is not asked:
        best, rota = _judged(asked, best, rota)
    return _planned(best, best.week, rota)


def goals_of(rota: Rota) -> list[int]:
    """What came out for each goal, in their order."""
    return [goal.value for goal in rota.goals]


def ways_by_hand(asked: Asked) -> Iterator[Asked]:
    """The week once; with a kiln set by hand once for each hour of the pour, its holds lasting through the nights before it.

    That is the very minute where one is asked for; else, and where other runs are free, hours of the day in steps.
    """
    if not any(one.programme.by_hand for c in asked.candidates for one in c.fired if not c.own_programme):
        yield asked
        return
    terms, rule = asked.terms, asked.library.rule
    named = all(wish.pour_at is not None for wish in asked.wishes)
    if terms.first_pour_at is not None or named:
        yield _slept(asked, terms.first_pour_at)
        if named or len(asked.wishes) == 1:
            return
    melt_min = rule("set_out_min") + rule("melt_min")
    for pour_at in hours_tried(terms, melt_min=melt_min, runs_count=len(asked.runs)):
        yield _slept(asked, pour_at)


def _slept(asked: Asked, pour_at: datetime | None, *, judged: bool = False) -> Asked:
    """The week with no set-point between bedtime and rising for a pour then; for a run that names its own, before that.

    Not `judged`, only the hours of its programmes are right.
    """
    studio = asked.studio
    candidates = []
    for candidate, wish in zip(asked.candidates, asked.wishes, strict=True):
        own_at = wish.pour_at or pour_at
        candidates.append(candidate if own_at is None else slept_until(candidate, own_at, studio=studio, judged=judged))
    return _with_runs(replace(asked, candidates=tuple(candidates), slept_at=pour_at))


def _judged(asked: Asked, best: Asked, rota: Rota) -> tuple[Asked, Rota]:
    """The best way run and judged: for the pour that was found in it, if nothing is worse for that, else as it was looked at."""
    first_at = asked.terms.moment(min(run.pour_min for run in rota.runs))
    exact = _slept(asked, first_at)
    anew = solve(exact.week)
    better = anew.fits and goals_of(anew) <= goals_of(rota)
    if asked.terms.first_pour_at is None or len(asked.wishes) > 1:
        apart = apart_min(len(asked.runs))
        tried = f"by hand, the best of pours tried every {apart} min: its holds last through the nights before them"
        asked = replace(asked, assumed=(*asked.assumed, tried), tried_apart_min=apart)
    return _slept(asked, first_at if better else best.slept_at, judged=True), anew if better else rota


def _offers(asked: Asked, ways: Sequence[Asked]) -> tuple[Offer, ...]:
    """What to give up; a kiln set by hand has its holds fitted anew to each other pour that is tried."""
    by_hand = ways[0] is not asked
    alone = asked.wishes[0].pour_at if len(asked.wishes) == 1 else None
    pour_at = asked.terms.first_pour_at or alone

    def at_pour(moment: datetime) -> Wanted:
        terms = replace(asked.terms, first_pour_at=moment)
        wishes = tuple(replace(wish, pour_at=None) for wish in asked.wishes) if alone else asked.wishes
        free = replace(asked, terms=terms, wishes=wishes)
        return (_slept(free, moment) if by_hand else _with_runs(free)).wanted

    others = ways[1:]
    if by_hand and pour_at is not None:
        free = replace(asked, terms=replace(asked.terms, first_pour_at=None))
        others = tuple(ways_by_hand(replace(free, wishes=tuple(replace(wish, pour_at=None) for wish in asked.wishes))))
    return offers(
        ways[0].wanted,
        others=[one.wanted for one in others],
        plain=asked.wanted,
        pour_at=pour_at,
        at_pour=at_pour,
    )


def _with_runs(asked: Asked) -> Asked:
    """The week with its runs made anew from its wishes."""
    runs = week_runs(
        asked.candidates,
        asked.wishes,
        terms=asked.terms,
        kilns=asked.studio.all_kilns,
        wait_max_min=asked.wait_max_min,
        library=asked.library,
    )
    return replace(asked, runs=runs)


def ask(
    request: WeekRequest,
    measured: Sequence[tuple[Measured, ...]],
    *,
    studio: Studio,
    library: Library,
    now: datetime,
    tell: Callable[[str], None],
    memo: Memo | None = None,
) -> Asked:
    """The week ready for the solver; `memo` as for `plan_week`. Raises BadRequestError for what no rota can serve."""
    studio = _own_terms(request, studio)
    start = max(request.start_at or now, now)
    pours = [m for run in request.runs for m in (run.pour_at, run.pour_by) if m is not None]
    ready = [run.ready_at for run in request.runs if run.ready_at is not None]
    for moment in (*pours, *([request.pour_at] if request.pour_at else [])):
        if moment <= start:
            raise BadRequestError(
                f"The pour at {moment:%Y-%m-%d %H:%M} lies in the past.",
                why=f"The week begins at {start:%Y-%m-%d %H:%M}.",
                try_this="Leave it out to pour as early as can be.",
            )
    names = ("crucible_change_min", "set_point_min")
    rules = {name: math.ceil(library.rule(name)) for name in names} | {
        "bag_max_min": round(min_from_h(library.rule("bagged_max_h")))
    }
    terms = terms_of(studio, start_at=start, asked=[*pours, *ready], first_pour_at=request.pour_at, rules=rules)
    terms = replace(terms, bag_damp=request.bag_damp)
    known: Memo = {} if memo is None else memo

    def settled(entry: RunOfWeek, patterns: tuple[Measured, ...]) -> Setting:
        return settle(entry.request, patterns, studio=studio, library=library, now=now, tell=tell)

    found = list(_flasks(request, measured, settled=settled, tell=tell, memo=known))
    candidates, wishes = [one for one, _ in found], [wish for _, wish in found]
    if len(candidates) > MOST_RUNS:
        raise BadRequestError(
            f"These are {len(candidates)} flasks.",
            why=f"More than {MOST_RUNS} are no week's work of one pair of hands.",
            try_this="Plan fewer at once.",
        )
    candidates = list(safe_with_mates(candidates))
    runs = week_runs(candidates, wishes, terms=terms, kilns=studio.all_kilns, wait_max_min=request.wait_max_min, library=library)
    return Asked(
        terms=terms,
        runs=runs,
        kilns=tuple(WeekKiln(name=kiln.name or "kiln", delayed_start=kiln.delayed_start) for kiln in studio.all_kilns),
        candidates=tuple(candidates),
        wishes=tuple(wishes),
        wait_max_min=request.wait_max_min,
        studio=studio,
        library=library,
        title=request.title or "The days ahead",
        made_at=now,
        assumed=tuple(_assumed(request, studio, library)),
    )


def _flasks(
    request: WeekRequest,
    measured: Sequence[tuple[Measured, ...]],
    *,
    settled: Callable[[RunOfWeek, tuple[Measured, ...]], Setting],
    tell: Callable[[str], None],
    memo: Memo,
) -> Iterator[tuple[Candidate, Wish]]:
    """All flasks of all entries under their numbers, each with when and where it may be poured."""
    count = 0 if request.fire_apart else sum(entry.flasks_count for entry in request.runs)
    free = itertools.count(max((entry.number or 0 for entry in request.runs), default=0) + 1)
    told = 0
    for place, (entry, patterns) in enumerate(zip(request.runs, measured, strict=True), start=1):
        tell(f"Working out {entry.name or f'run {entry.number or told + 1}'}")
        setting = settled(entry, patterns)
        numbers = itertools.chain([entry.number] if entry.number else (), free)
        wish = Wish(pour_at=entry.pour_at, pour_by=entry.pour_by, ready_at=entry.ready_at, kiln=entry.kiln or entry.request.kiln)
        for one in _candidates(entry, setting, patterns, numbers=numbers, count=count, memo=memo):
            told += 1
            yield replace(one, apart=place if request.fire_apart else 0), wish


def _own_terms(request: WeekRequest, studio: Studio) -> Studio:
    """The studio with what the week says of its hours. Raises BadRequestError for hours that are none."""
    names = ("work_from", "work_to", "days_off", "overnight_firing")
    said = {name: getattr(request, name) for name in names if getattr(request, name) is not None}
    for name in said.get("days_off", ()):
        try:
            day_off(name)
        except ValueError as err:
            raise BadRequestError(f"days_off: {err}.") from None
    own = studio.model_copy(update=said)
    if not own.work_from < own.work_to:
        raise BadRequestError(
            f"The hours from {own.work_from:%H:%M} to {own.work_to:%H:%M} are none.", try_this="Write the earlier one first."
        )
    opens, closes = own.easy
    easy = {"easy_from": max(own.work_from, opens), "easy_to": min(own.work_to, closes)}
    return own.model_copy(update=easy if easy["easy_from"] < easy["easy_to"] else {"easy_from": None, "easy_to": None})


def _candidates(
    entry: RunOfWeek, setting: Setting, measured: tuple[Measured, ...], *, numbers: Iterator[int], count: int, memo: Memo
) -> Iterator[Candidate]:
    """The flasks of one entry, by the next of `numbers`; `count` may stand in a kiln together, 0: those of this entry alone."""
    weighed = setting.request.weight_g is not None
    loads = weighed_load(setting) * entry.flasks_count if weighed else grown_loads(setting, measured)
    for place, (load, number) in enumerate(zip(loads, numbers, strict=False)):
        figures = work_out(setting, load)
        fired = tuple(_fired(setting, load, kiln, count=count or len(loads), memo=memo) for kiln in setting.studio.all_kilns)
        (work,) = works_of(setting, (figures,), fired[0].programme)
        if weighed and entry.pieces_count:
            work = replace(work, pieces_count=entry.pieces_count, kinds_count=max(entry.kinds_count, 1))
        name = entry.name or setting.request.title or setting.alloy.name
        flask = load.flask
        yield Candidate(
            number=number,
            name=f"{name} {place + 1}" if len(loads) > 1 else name,
            alloy=setting.alloy.id,
            alloy_name=setting.alloy.name,
            investment=setting.investment.name,
            flask=flask.id,
            mark=flask.mark,
            outside_mm=flask.diameter_mm + 2 * flask.wall_mm,
            height_mm=flask.height_mm,
            pieces_count=work.pieces_count,
            metal_c=setting.heat.metal_c,
            flask_c=setting.heat.flask_c,
            work=work,
            fired=fired,
            own_programme=setting.request.programme is not None,
            stretches=longest_hold_min(setting) > 0,
        )


def _fired(setting: Setting, load: Load, kiln: Kiln, *, count: int, memo: Memo) -> Fired:
    """The burnout of one flask in one kiln that may stand full; what is alike is worked out once."""
    request, library, flask_c = setting.request, setting.library, setting.heat.flask_c
    outside_mm = load.flask.diameter_mm + 2 * load.flask.wall_mm
    beside = max(1, min(count, flasks_in(kiln, outside_mm, height_mm=load.flask.height_mm, library=library)))
    key = (setting.investment.id, setting.material.id, load.flask, flask_c, kiln, request.stones, request.programme, beside)
    if key not in memo:
        case = burnout.case_of(
            setting.investment,
            pattern_material=setting.material,
            flask=load.flask,
            flask_c=flask_c,
            kiln=kiln,
            stones=request.stones,
            library=library if kiln == setting.studio.kiln else library.elsewhere(),
            flasks_count=beside,
        )
        memo[key] = Fired(programme=burnout.programme(case, own=request.programme), case=case)
    return memo[key]


def _assumed(request: WeekRequest, studio: Studio, library: Library) -> Iterator[str]:
    """What nothing says and the rota leans on, in words."""
    if not studio.is_given("work_from") and request.work_from is None:
        yield f"hands-on hours {studio.work_from:%H:%M} to {studio.work_to:%H:%M}"
    if not studio.is_given("days_off") and request.days_off is None:
        yield "no days off"
    for kiln in studio.all_kilns:
        if kiln.flasks_count is None and (kiln.width_mm is None or kiln.depth_mm is None):
            yield f"{kiln.name or 'the kiln'} takes {library.rule('kiln_flasks_count'):.0f} flasks"
        if not studio.is_given("kiln.fall_c_per_h") and not studio.kilns:
            yield f"it falls {{k:{kiln.fall_c_per_h:g}}} an hour with its door shut"
    usual = [(run.name, run.request.alloy) for run in request.runs if run.usual_weight]
    if usual:
        said = ", ".join(f"{name} ({alloy})" if name else alloy for name, alloy in usual)
        yield f"a tree of usual weight in the flask for {said}"


def _planned(asked: Asked, week: Week, rota: Rota) -> WeekPlan:
    """The rota with its clock times and findings."""
    kilns = asked.studio.all_kilns
    runs = planned_runs(asked.terms, asked.candidates, rota, kilns=kilns, library=asked.library)
    loads = planned_loads(asked.terms, asked.candidates, rota, week=week, kilns=kilns)
    facts = Facts(runs=runs, loads=loads, goals=rota.goals, assumed=asked.assumed)
    return WeekPlan(
        title=asked.title,
        made_at=asked.made_at,
        starts_at=asked.terms.start_at,
        time_zone=asked.studio.time_zone,
        studio=asked.studio.name,
        work_hours=asked.terms.work,
        awake_hours=asked.terms.awake,
        closed_days=tuple(day for day in days(asked.terms) if not working(asked.terms, day)),
        status=rota.status,
        goals=rota.goals,
        last_pour_at=max(run.pour_at for run in runs),
        runs=runs,
        loads=loads,
        tried_apart_min=asked.tried_apart_min,
        findings=(*fired_findings(asked.candidates, rota, loads), *findings(facts)),
    )
