"""A burnout by itself on the desk: its form becomes what is asked, or a reason beside a field; and what was asked last."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any, Final

from pourwell.app.choices import kiln_fault
from pourwell.app.crew import Job
from pourwell.app.held import Held
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

    def clashes(self, plan: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
        """What stands against it because of the runs in hand, in words of a burnout."""
        return self.desk.kiln_clashes(plan, burnout=True)

    def _key(self, asked: Mapping[str, Any]) -> str:
        return json.dumps([asked, mark_of(self.desk.folder)], sort_keys=True)
