"""What two runs in hand want at once: a kiln that has another load in it, hands that are elsewhere.

A plan knows its own run alone. Here all runs in hand are held against each other, by the plans that were worked out for them.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from itertools import combinations
from typing import Any, Final

from pourwell.app.in_hand import Standing, Step
from pourwell.findings import Code, Finding, Severity, in_order, spelt_out
from pourwell.steps.day.clock import local

CODES: Final = (
    Code(code="kiln-taken", severities=(Severity.STOP,), about="Another run has the kiln, or left it hot, when this one goes in"),
    Code(code="kiln-wanted", severities=(Severity.WARN,), about="Another run is planned into the kiln while this one has it"),
    Code(code="hands-twice", severities=(Severity.WARN,), about="Two runs want hands in the same minute"),
)
"""Codes that only the desk has: a plan by itself knows of no other run."""
IN_THE_KILN: Final = "kiln and day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a run puts into a kiln, all its flasks together."""

    of: Standing
    on_at: datetime
    out_at: datetime
    """When its last flask comes out."""
    kiln: str
    """Its name; empty where nobody named one, which is the first."""
    free_at: datetime
    """When the kiln has fallen so far that a damp flask may go in; of a plan that does not tell it, `out_at`."""

    @property
    def name(self) -> str:
        """How a sentence calls it."""
        return f"run {self.of.run.number}"

    @property
    def mine(self) -> str:
        """How a sentence calls it to its own user."""
        return "this burnout" if self.of.burnout else "this run"


def load_of(one: Standing) -> Load | None:
    """The kiln load of a run; None while it is not worked out."""
    if not one.plans:
        return None
    outs = [datetime.fromisoformat(plan["pour"]["at"]) for plan in one.plans]
    frees = [datetime.fromisoformat(plan["kiln_free_at"]) for plan in one.plans if plan.get("kiln_free_at")]
    on_at = min(datetime.fromisoformat(plan["burnout"]["starts_at"]) for plan in one.plans)
    kiln = one.plans[0].get("inputs", {}).get("studio", {}).get("kiln", {}).get("name", "")
    return Load(of=one, on_at=on_at, out_at=max(outs), kiln=kiln, free_at=max([*outs, *frees]))


def with_clashes(
    standings: Sequence[Standing],
    *,
    kilns: Sequence[str],
    zone: tzinfo | None,
    now: datetime,
    takes: Mapping[str, int | None] | None = None,
) -> list[Standing]:
    """The same runs, each with the clashes it has with others that are still ahead of `now`, the worst first.

    `kilns`: their names, the first first. `takes`: those that may be offered instead, with how many flasks each takes (None: not
    said); None: all. `zone`: the studio's clock, on which they are told.
    """
    found: dict[int, list[Finding]] = {}
    offered = dict.fromkeys(kilns) if takes is None else takes
    clock = Clock(zone=zone, now=now)
    for run_id, finding in (*_kilns(standings, kilns, clock, takes=offered), *_hands(standings, clock)):
        found.setdefault(run_id, []).append(finding)
    return [
        replace(one, clashes=tuple(_told(finding) for finding in in_order(found[one.run.id]))) if one.run.id in found else one
        for one in standings
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """The studio's clock and what it shows."""

    zone: tzinfo | None
    now: datetime

    def says(self, moment: datetime) -> str:
        """Fri 11:00; with its date where that is not within the week."""
        there, here = local(moment, self.zone), local(self.now, self.zone)
        near = abs(there.date() - here.date()) < timedelta(days=7)
        return f"{there:%a %H:%M}" if near else f"{there:%a} {there.day} {there:%b %H:%M}"


def _kilns(
    standings: Sequence[Standing], kilns: Sequence[str], clock: Clock, *, takes: Mapping[str, int | None]
) -> Iterator[tuple[int, Finding]]:
    """Loads that come while another has their kiln: who came first has it; it is told to both.

    A load in a kiln that the studio does not name any more may be in any of them.
    """
    found = [load for one in standings if (load := load_of(one)) is not None and load.free_at > clock.now]
    loads = sorted((replace(load, kiln=load.kiln or kilns[0]) for load in found), key=lambda load: (load.on_at, load.of.run.number))
    into: dict[int, list[Load]] = {}
    for place, late in enumerate(loads):
        there = [load for load in loads[:place] if _in_one(load, late, kilns) and load.free_at > late.on_at]
        if not there or late.out_at <= clock.now:
            continue
        taken = {load.kiln for load in loads if load is not late and load.on_at < late.out_at and load.free_at > late.on_at}
        count = len(late.of.plans)
        free = [one for one, most in takes.items() if one not in taken and (most is None or count <= most)]
        told = _taken(late, there, clock, name=len(kilns) > 1, free=[] if taken - set(kilns) else free)
        gone = sorted({load.kiln for load in (late, *there)} - set(kilns))
        if gone:
            names = " or ".join(f"“{kiln}”" for kiln in gone)
            told = replace(told, says=f"{told.says} The studio has no kiln {names} any more, so it may be any of them.")
        yield late.of.run.id, told
        for first in there:
            into.setdefault(first.of.run.id, []).append(late)
    yield from ((load.of.run.id, _wanted(load, into[load.of.run.id], clock)) for load in loads if load.of.run.id in into)


def _in_one(load: Load, other: Load, kilns: Sequence[str]) -> bool:
    """May two loads be in one kiln."""
    return load.kiln == other.kiln or not {load.kiln, other.kiln} <= set(kilns)


def _taken(late: Load, there: Sequence[Load], clock: Clock, *, name: bool, free: Sequence[str]) -> Finding:
    """To the run that comes into a kiln that is not free; `free`: other kilns that stand empty all the while."""
    on, free_at = clock.says(late.on_at), max(load.free_at for load in there)
    spans = " and ".join(f"{load.name} from {clock.says(load.on_at)} to {clock.says(load.out_at)}" for load in there)
    kiln = f"The kiln “{late.kiln}” is" if name else "The kiln is"
    if all(load.out_at <= late.on_at for load in there):
        says = f"{kiln} still hot from {spans} when {late.mine} is to go in, {on}: a damp flask in a hot kiln can burst."
    else:
        says = (
            f"{kiln} taken by {spans}, and {late.mine} is to go in at {on}. The open door chills the moulds that are in it, "
            "which can crack them, and a damp flask in a hot kiln can burst."
        )
    pour = clock.says(late.out_at + (free_at - late.on_at))
    others = " or ".join(load.name for load in there)
    move = "Move"
    if free:
        named = " or ".join(f"“{one}”" for one in free)
        move = f"Choose {named} as the kiln of this run, which stands empty then, and work it out anew by its figures. Or move"
    together = (
        " To fire both together, where alloy and investment are the same, put the pieces into one run: its flasks share one load, "
        "with a programme for all of them."
    )
    return Finding(
        code="kiln-taken",
        severity=Severity.STOP,
        where=IN_THE_KILN,
        says=says,
        do=f"Do not open the kiln for it. {move} the pour of {late.mine} to about {pour} or later: the kiln is free again at "
        f"{clock.says(free_at)}. Or move {others}.{'' if late.of.burnout else together}",
        source="common practice, no source",
    )


def _wanted(first: Load, late: Sequence[Load], clock: Clock) -> Finding:
    """To the run that has the kiln then: all that come into it."""
    several = len(late) > 1
    runs = f"{'runs' if several else 'run'} {_listed([str(load.of.run.number) for load in late])}"
    free = clock.says(first.free_at)
    do = f"Do not open for {runs} before {free}: move {'their pours' if several else 'its pour'}, or "
    do += "start this burnout later." if first.of.burnout else "this run to another hour; or put the pieces of all into one run."
    return Finding(
        code="kiln-wanted",
        severity=Severity.WARN,
        where=IN_THE_KILN,
        says=f"{runs.capitalize()} {'are' if several else 'is'} planned into the kiln at "
        f"{_listed([clock.says(load.on_at) for load in late])}, and {first.mine} has it from {clock.says(first.on_at)} to "
        f"{clock.says(first.out_at)}; it is cool enough for another at {free}.",
        do=do,
        source="common practice, no source",
    )


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else words[0]


def _hands(standings: Sequence[Standing], clock: Clock) -> Iterator[tuple[int, Finding]]:
    """Runs that want one pair of hands in the same minutes; of each two of them, the first such time ahead."""
    here = [one for one in standings if one.hands and one.hands[-1].hands_until > clock.now]
    for one, other in combinations(sorted(here, key=lambda one: one.run.number), 2):
        both = [(a, b) for a in one.hands for b in other.hands if _at_once(a, b) and min(a.hands_until, b.hands_until) > clock.now]
        if not both:
            continue
        mine, theirs = min(both, key=lambda pair: max(step.starts_at for step in pair))
        at = clock.says(max(mine.starts_at, theirs.starts_at))
        more = f", and at {len(both) - 1} other times" if len(both) > 2 else ", and at one other time" if len(both) == 2 else ""
        told = Finding(
            code="hands-twice",
            severity=Severity.WARN,
            where="hands",
            says=f"Runs {one.run.number} and {other.run.number} want hands at once, {at}: {_small(mine.says)} of run "
            f"{one.run.number}, {_small(theirs.says)} of run {other.run.number}{more}.",
            do="Move the pour of one of them, or have a second person there who knows the work.",
            source="common practice, no source",
        )
        yield one.run.id, told
        yield other.run.id, told


def _at_once(one: Step, other: Step) -> bool:
    return one.starts_at < other.hands_until and other.starts_at < one.hands_until


def _small(says: str) -> str:
    return f"“{says[:1].lower()}{says[1:]}”"


def _told(finding: Finding) -> dict[str, Any]:
    """As pages take findings."""
    keys = ("says", "do", "measure", "limit")
    told = {key: spelt_out(getattr(finding, key)) for key in keys}
    marked = {key: getattr(finding, key) for key in keys}
    more = {"source": finding.source, "at_mm": None, "mends": False, "marked": marked}
    return {"code": finding.code, "severity": str(finding.severity), "where": finding.where, **told, **more}
