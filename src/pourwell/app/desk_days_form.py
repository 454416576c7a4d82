"""The form of the days ahead: which runs are to be cast, which trees beside them, in which hours; words of a week, or why not yet.

All of it is text under a key, as it stands in the address of the page: `r3.` before what is said of the run with that number in the
store, `t1.` of a tree that is not drawn yet, nothing before what is said of the days.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Any, Final

from pourwell.app.asked import Asked, days_of, value_of
from pourwell.app.choices import kiln_fault
from pourwell.app.desk_form import request_of_form
from pourwell.app.typed import WEIGHT, NotYetError, Span, hour, moment, number
from pourwell.request import LONGEST_WAIT_MIN, MOST_PIECES, MOST_RUNS
from pourwell.store.model import KeptRun

Typed = Mapping[str, str]
OFF, ON, TREES, NONE = "off", "on", "trees", "none"
"""Keys: runs taken out although they wait, taken in although they have begun, and trees by their numbers. A word: no day off."""
ANY: Final = "*"
"""No kiln in particular, where a run's own form names one."""
FREE, OWN, AT, BY = "free", "own", "at", "by"
"""When a run is poured: as early as fits, at the hour that its own form says, at another one, or at the latest then."""
PLACED: Final = "pour_placed"
"""A field of a run's form: day and hour that were taken from here. While its pour says the same, nobody else asked for it."""
KILN_PLACED: Final = "kiln_placed"
"""The same of its kiln."""
COUNTS: Final = {
    "flasks": Asked(key=("flasks",), label="Flasks", kind="count", span=Span(low=1, high=MOST_RUNS, unit="")),
    "pieces": Asked(key=("pieces",), label="Pieces", kind="count", span=Span(low=0, high=MOST_PIECES, unit="")),
    "wait": Asked(key=("wait",), label="Held longer", kind="count", span=Span(low=0, high=LONGEST_WAIT_MIN, unit="min")),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """A run that may be placed."""

    run: KeptRun
    begun_at: datetime | None
    """When it began by its plan; None: it waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What the form says; its entries are only to be used without any fault."""

    entries: list[dict[str, Any]] = field(default_factory=list)
    """Each with `number`, `request` (words of one), `when` (`pour_at`, `pour_by`, `ready_at`, `kiln`); of a run its `run_id`, of a
    tree its `name`, `pieces_count` and `flasks_count`."""
    week: dict[str, Any] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    """Key to why it is not yet right."""
    unreadable: dict[int, str] = field(default_factory=dict)
    """Runs whose own form cannot be read, and why."""


def numbers_in(text: str) -> list[int]:
    """The numbers of a list as the address has it: "3.5"."""
    return [int(part) for part in text.split(".") if part.isdecimal()]


def listed(numbers: Collection[int]) -> str:
    """The other way round."""
    return ".".join(map(str, sorted(numbers)))


def trees_of(typed: Typed) -> list[int]:
    """The trees that are not drawn yet."""
    return numbers_in(typed.get(TREES, ""))[:MOST_RUNS]


def is_ticked(one: InHand, typed: Typed) -> bool:
    """Whether a run is to be placed: those that wait are, unless they are taken out."""
    key = OFF if one.begun_at is None else ON
    return (one.run.id in numbers_in(typed.get(key, ""))) == (one.begun_at is not None)


def own_pour(run: KeptRun, *, now: datetime, zone: tzinfo | None) -> datetime | None:
    """The hour of the pour that a run's own form asks for; None for none, and for one that is over or cannot be read."""
    try:
        return moment(_said(run, "pour_day"), _said(run, "pour_hour"), now=now, zone=zone)
    except NotYetError:
        return None


def _said(run: KeptRun, key: str) -> str:
    return str(run.form.get(key) or "").strip()


def pour_of(run: KeptRun) -> str:
    """Day and hour of the pour, as a run's form has them."""
    return f"{_said(run, 'pour_day')} {_said(run, 'pour_hour')}".strip()


def own_kiln(run: KeptRun) -> str:
    """The kiln that a run's own form names; empty for none, which is any here, and for one that was taken from here."""
    kiln = _said(run, "kiln")
    return "" if kiln == run.form.get(KILN_PLACED) else kiln


def usual_wish(run: KeptRun, *, now: datetime, zone: tzinfo | None) -> str:
    """When a run is poured if nothing is said: at an hour that somebody asked for, else as early as fits."""
    asked = own_pour(run, now=now, zone=zone) is not None and pour_of(run) != run.form.get(PLACED)
    return OWN if asked else FREE


def read_form(
    typed: Typed,
    runs: Sequence[InHand],
    *,
    now: datetime,
    zone: tzinfo | None,
    liquidus_c: Mapping[str, float],
    free: int,
    kilns: Sequence[str] | None = None,
) -> Read:
    """What is to be placed. `free` is the first number that no run of the studio has; trees are called by it and the next ones.

    kilns : the names of all of the studio's; None: not known
    """
    form = _Form(typed=typed, now=now, zone=zone, kilns=kilns)
    read = Read(week=dict(form.week()), faults=form.faults)
    for one in runs:
        words, why = _request(one.run, now=now, zone=zone, liquidus_c=liquidus_c)
        if why:
            read.unreadable[one.run.id] = why
        elif is_ticked(one, typed):
            when = form.when(f"r{one.run.id}.", one.run)
            read.entries.append({"number": one.run.number, "run_id": one.run.id, "request": words, "when": when})
    read.entries.extend(form.tree(f"t{tree}.") | {"number": free + place} for place, tree in enumerate(trees_of(typed)))
    return read


def _request(run: KeptRun, *, now: datetime, zone: tzinfo | None, liquidus_c: Mapping[str, float]) -> tuple[dict[str, Any], str]:
    """The words of a request from a run's own form, but for its pour and its kiln; and why there are none."""
    form = {**run.form, "pour_day": "", "pour_hour": "", "kiln": ""}
    if not run.pieces and not _said(run, "weight"):
        return {}, "Nothing goes into it yet: choose pieces, or enter the weight of its tree."
    melts_c = liquidus_c.get(str(form.get("alloy", "")))
    words, faults = request_of_form(form, by_weight=not run.pieces, pieces=dict(run.pieces), now=now, zone=zone, liquidus_c=melts_c)
    return words, " ".join(faults.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """The form while it is read: `faults` are gathered by the key of their field."""

    typed: Typed
    now: datetime
    zone: tzinfo | None
    kilns: Sequence[str] | None
    faults: dict[str, str] = field(default_factory=dict)

    def says(self, key: str) -> str:
        """What stands in a field."""
        return self.typed.get(key, "").strip()

    def read(self, key: str, value: Callable[[str], Any]) -> Any:
        """What a field holds; None where it is empty or not yet right."""
        if not self.says(key):
            return None
        try:
            return value(self.says(key))
        except NotYetError as err:
            self.faults[key] = err.what
            return None

    def moment(self, before: str) -> datetime | None:
        """What a day and an hour name."""
        try:
            return moment(self.says(f"{before}day"), self.says(f"{before}hour"), now=self.now, zone=self.zone)
        except NotYetError as err:
            self.faults[f"{before}hour"] = err.what
            return None

    def when(self, at: str, run: KeptRun | None = None) -> dict[str, Any]:
        """When something may or must be poured, and where; `at` stands before its keys."""
        wish = self.says(f"{at}pour") or (FREE if run is None else usual_wish(run, now=self.now, zone=self.zone))
        kiln = self.says(f"{at}kiln") or (own_kiln(run) if run is not None else "")
        if kiln != ANY and self.kilns is not None and (fault := kiln_fault(kiln, self.kilns)):
            self.faults[f"{at}kiln"] = fault
        said: dict[str, Any] = {
            "pour_at": None,
            "kiln": None if kiln in ("", ANY) else kiln,
            "ready_at": self.moment(f"{at}ready_"),
        }
        if wish == OWN and run is not None:
            said["pour_at"] = own_pour(run, now=self.now, zone=self.zone)
        elif wish in (AT, BY):
            said[f"pour_{wish}"] = self.moment(at)
            if not self.says(f"{at}hour"):
                self.faults[f"{at}hour"] = "Enter the hour of the pour, such as 10:00."
        return said

    def tree(self, at: str) -> dict[str, Any]:
        """A tree that is not drawn yet."""
        request: dict[str, Any] = {key: text for key in ("name", "alloy", "pattern", "flask") if (text := self.says(f"{at}{key}"))}
        if "alloy" not in request:
            self.faults[f"{at}alloy"] = "Choose its alloy."
        weight_g = self.read(f"{at}weight", lambda text: number(text, WEIGHT))
        return {
            "name": request.pop("name", ""),
            "request": request | ({} if weight_g is None else {"weight_g": weight_g}),
            "pieces_count": self.count(f"{at}pieces") or 0,
            "flasks_count": self.count(f"{at}flasks") or 1,
            "when": self.when(at),
        }

    def count(self, key: str) -> int | None:
        """A whole number."""
        found: int | None = self.read(key, lambda text: value_of(COUNTS[key.rpartition(".")[2]], text))
        return found

    def week(self) -> Iterator[tuple[str, Any]]:
        """What is said of the days themselves; what is left out is as the settings say."""
        yield "work_from", self.read("work_from", hour)
        yield "work_to", self.read("work_to", hour)
        yield "days_off", self.read("days_off", lambda text: () if text.lower() == NONE else tuple(days_of(text)))
        yield "overnight_firing", {"yes": True, "no": False}.get(self.says("overnight"))
        yield "start_at", self.moment("start_")
        yield "pour_at", self.moment("pour_")
        yield "wait_max_min", self.count("wait")
        yield "bag_damp", bool(self.says("bag"))
        yield "fire_apart", bool(self.says("apart"))
        yield "title", self.says("title")
