"""A burnout by itself on the desk: its form becomes what is asked, or a reason beside a field; and what was asked last."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any, Final

from pourwell.app.choices import kiln_fault
from pourwell.app.clashes import Clock, load_of
from pourwell.app.crew import Job
from pourwell.app.held import Held
from pourwell.app.in_hand import KILN_TAKEN, KILN_WANTED, Standing
from pourwell.app.typed import FLASK, NotYetError, Span, moment, number
from pourwell.app.watch import mark_of

if TYPE_CHECKING:
    from pourwell.app.desk import Desk

BURNING: Final = "pourwell.app.burning_page"
"""Where the work is; named, for only its own process loads it."""
BURNOUT: Final = "burnout"
"""What such a job is about."""
MOST: Final = 8
"""Answers that are held, so that a page that is loaded anew shows its own again."""
ANSWER_BYTES: Final = 200_000
"""What one takes, roughly."""
MOST_ROWS: Final = 8
"""Kinds of flasks in one load."""
COUNT: Final = Span(low=1, high=20, unit="")
"""Flasks of a kind in one load: no bench kiln takes more. Own choice."""
ONE_RUN: Final = " To fire both together"
"""What a run is told from here on: a burnout by itself has no pieces that could go into another run."""
Found = Mapping[str, Any]
Faults = dict[str, str]
"""Field to why it is not yet right."""


def rows_of(form: Mapping[str, str]) -> list[int]:
    """The numbers of the rows of flasks that a form has."""
    return [k for k in range(1, MOST_ROWS + 1) if f"flask{k}" in form]


def burnout_of_form(
    form: Mapping[str, str], *, now: datetime, zone: tzinfo | None, kilns: Sequence[str] | None = None
) -> tuple[dict[str, Any], Faults]:
    """What is asked, in words of the command, and what is not yet right; the first is only to be used without any fault.

    kilns : the names of all of the studio's; None: not known
    """
    faults: Faults = {}
    flasks: list[str] = []
    for k in rows_of(form):
        count = 1
        try:
            count = _count(form.get(f"count{k}", ""))
        except NotYetError as err:
            faults[f"count{k}"] = err.what
        try:
            flasks += [f"{form[f'flask{k}']}:{_level_c(form.get(f'level{k}', '')):g}"] * count
        except NotYetError as err:
            faults[f"level{k}"] = err.what
    asked: dict[str, Any] = {"flasks": tuple(flasks)}
    asked |= {key: form[key] for key in ("investment", "pattern", "own", "kiln") if form.get(key)}
    if kilns is not None and (fault := kiln_fault(form.get("kiln", ""), kilns)):
        faults["kiln"] = fault
    asked |= {key: True for key in ("stones", "shorter") if form.get(key)}
    hours: dict[str, datetime] = {}
    for key, day, hour in (("start", "on_day", "on_hour"), ("ready", "pour_day", "pour_hour")):
        try:
            at = moment(form.get(day, ""), form.get(hour, ""), now=now, zone=zone)
            if at is not None:
                hours[key], asked[key] = at, at.isoformat()
        except NotYetError as err:
            faults[hour] = err.what
    if len(hours) > 1 and hours["start"] >= hours["ready"]:
        faults["pour_hour"] = "The first pour lies before the kiln goes on. Enter a later one, or leave one of the two empty."
    return asked, faults


def _level_c(text: str) -> float:
    """The temperature of a flask at the pour. Raises NotYetError."""
    if not text.strip():
        raise NotYetError("Enter the temperature of the flask at the pour.")
    return number(text, FLASK)


def _count(text: str) -> int:
    """How many of a kind; one where nothing is said. Raises NotYetError."""
    if not text.strip():
        return 1
    value = number(text, COUNT)
    if value != round(value):
        raise NotYetError(f"{text.strip()} is no whole number. Enter 1 to {COUNT.high:g}.")
    return round(value)


class Burnouts:
    """What was asked last on the desk, with the answers."""

    def __init__(self, desk: "Desk") -> None:
        self.desk = desk
        self._held: Held[str, Job] = Held(most=MOST, most_bytes=MOST * ANSWER_BYTES)

    def ask(self, asked: Mapping[str, Any]) -> Job:
        """Have a burnout judged; the same that is being judged already is not begun twice."""
        key, going = self._key(asked), self.held(asked)
        if going is not None and going.state in ("waiting", "working"):
            return going
        job = self.desk.crew.work(
            "The burnout", f"{BURNING}:burn", self.desk.folder, dict(asked), self.desk.clock(), then=lambda answer: answer
        )
        job.about = (BURNOUT, job.number)
        self._held.hold(key, job, size_bytes=ANSWER_BYTES)
        return job

    def held(self, asked: Mapping[str, Any]) -> Job | None:
        """What was asked in these very words while the studio's files stood as they stand now; None if nothing is held of it."""
        return self._held.get(self._key(asked))

    def clashes(self, plan: Found) -> tuple[Found, ...]:
        """What stands against it because of the runs in hand, in words of a burnout; of all that come into its kiln one finding."""
        found = self.desk.kiln_clashes(plan)
        told = [_of_burnout(one) for one in found if one["code"] != KILN_WANTED]
        wanted = [one for one in found if one["code"] == KILN_WANTED]
        return (*told, self._wanted(plan, wanted[0])) if wanted else tuple(told)

    def _wanted(self, plan: Found, found: Found) -> Found:
        """The runs that are planned into the kiln while the burnout has it, told together."""
        *others, mine = self.desk.beside(plan)
        without = self.desk.held_together(self.desk.standings(), offered=False)
        late = [load for one, was in zip(others, without, strict=True) if _taken(one) != _taken(was) and (load := load_of(one))]
        load, clock = load_of(mine), Clock(zone=self.desk.choices().zone, now=self.desk.clock())
        if load is None or not late:  # a run was taken away meanwhile
            return _of_burnout(found)
        late.sort(key=lambda one: (one.on_at, one.of.run.number))
        names, several = _listed([str(one.of.run.number) for one in late]), len(late) > 1
        runs_named, pours = (f"runs {names}", "their pours") if several else (f"run {names}", "its pour")
        free = clock.says(load.free_at)
        says = (
            f"{runs_named.capitalize()} {'are' if several else 'is'} planned into the kiln at "
            f"{_listed([clock.says(one.on_at) for one in late])}, and this burnout has it from {clock.says(load.on_at)} to "
            f"{clock.says(load.out_at)}; it is cool enough for another at {free}."
        )
        do = f"Do not open for {runs_named} before {free}: move {pours}, or start this one later."
        return _said(found, says=says, do=do)

    def _key(self, asked: Mapping[str, Any]) -> str:
        return json.dumps([asked, mark_of(self.desk.folder)], sort_keys=True)


def _taken(one: Standing) -> list[Found]:
    """What a run is told because its kiln is taken."""
    return [found for found in one.clashes if found["code"] == KILN_TAKEN]


def _listed(words: list[str]) -> str:
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else words[0]


def _of_burnout(found: Found) -> Found:
    """A finding of a run in words of a burnout."""
    says, do = (found[key].partition(ONE_RUN)[0].replace("this run", "this burnout") for key in ("says", "do"))
    return _said(found, says=says, do=do)


def _said(found: Found, *, says: str, do: str) -> Found:
    """The finding in these words."""
    return {**found, "says": says, "do": do, "marked": {**found.get("marked", {}), "says": says, "do": do}}
