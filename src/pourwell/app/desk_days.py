"""The days ahead on the desk: several runs placed so that hands are needed in one's hours. The last placings are held in memory.

Nothing of it is kept until its hours are taken into the runs: then each run's form says when it is poured, as if it had been typed.
"""

import itertools
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from pourwell.app.clashes import Load, load_of
from pourwell.app.crew import OVER, Job
from pourwell.app.desk_days_form import KILN_PLACED, PLACED, InHand, Read, Typed, read_form
from pourwell.app.desk_runs import asked_of
from pourwell.app.desk_words import DAYS
from pourwell.app.in_hand import HANDS_TWICE, KILN_TAKEN, Standing, standing
from pourwell.app.watch import mark_of
from pourwell.errors import BadRequestError
from pourwell.materials.studio import Studio, load_studio
from pourwell.steps.day.clock import local
from pourwell.store.model import KeptResult, KeptRun

if TYPE_CHECKING:
    from pourwell.app.desk import Desk

MOST: Final = 4
"""Placings that are held."""
ABOUT: Final = ("days", 0)
NOT_COMPARED: Final = ("pour_day", "pour_hour", "kiln", "freeze")
"""Fields of a run that its place in the days does not come from: pour and kiln are said by the form of the days."""
TAKEN: Final[Mapping[str, tuple[str, ...]]] = {"pour": ("pour_day", "pour_hour", PLACED), "kiln": ("kiln", KILN_PLACED)}
"""Fields of a run that are set when the hours are taken: each is set back with those beside it, or none of them is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Runs as they were placed."""

    number: int
    data: Mapping[str, Any]
    files: Mapping[str, bytes]
    runs: Mapping[int, int]
    """The number of each entry to its run in the store; 0 for a tree that is not drawn yet."""
    asked: Mapping[int, Mapping[str, Any]]
    """What each run asked for, by its number in the store."""
    signature: str
    made_at: datetime

    @property
    def nothing(self) -> Mapping[str, Any] | None:
        """Why nothing fits, and what may be given up; None where it does."""
        found: Mapping[str, Any] | None = self.data.get("nothing")
        return found

    @property
    def entries(self) -> dict[int, int]:
        """Of each flask, by the number that it has in the plan, the number of the run or tree that it is of."""
        out: dict[int, int] = {}
        of = 0
        for flask in self.data["runs"]:
            of = flask["number"] if flask["number"] in self.runs else of
            out[flask["number"]] = of
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """What becomes of one run when the hours are taken."""

    run: KeptRun
    pour_at: datetime
    """Of its first flask."""
    kiln: str
    """As its form names it: empty for the studio's first."""
    why_not: str = ""
    """Why its hour is not taken; empty if it can be."""
    taken: bool = False
    """Whether its form says so already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What was set in a run's form when its hours were taken, and what stood there before."""

    before: Mapping[str, str]
    now: Mapping[str, str]


class Days:
    """The days ahead of a desk."""

    numbers = itertools.count(1)

    def __init__(self, desk: "Desk") -> None:
        self.desk = desk
        self._held: tuple[Placing, ...] = ()

    @property
    def latest(self) -> Placing | None:
        """The last placing; None before there is one."""
        return self._held[-1] if self._held else None

    def asked_as(self, *signatures: str) -> Placing | None:
        """The newest placing that was asked as the first signature says, else as the next does, else the newest of all."""
        found = (one for said in signatures for one in reversed(self._held) if one.signature == said)
        return next(found, self.latest)

    def hold(self, placing: Placing) -> Placing:
        """Hold what came out of the work, and let go of the oldest."""
        self._held = (*self._held, placing)[-MOST:]
        return placing

    def get(self, number: int) -> Placing:
        """One of them. Raises BadRequestError if it is held no more."""
        found = next((one for one in self._held if one.number == number), None)
        if found is None:
            raise BadRequestError("That is not held any more.", try_this="Have it worked out again.")
        return found

    def studio(self) -> Studio:
        """The settings as they stand. Raises BadDataError."""
        return load_studio(self.desk.folder)

    def in_hand(self) -> list[InHand]:
        """The runs that may be placed, by their numbers: those that wait, and those that have begun by their plan."""
        now = self.desk.clock()
        found = [one for one in self.desk.standings() if not one.over]
        begun = {one.run.id: one.steps[0].starts_at for one in found if one.steps and one.steps[0].starts_at <= now}
        return [InHand(run=one.run, begun_at=begun.get(one.run.id)) for one in sorted(found, key=lambda one: one.run.number)]

    def read(self, typed: Typed) -> Read:
        """The form as words of a week, with what is not yet right."""
        lists = self.desk.choices()
        runs = self.desk.store.runs(laid_away=True)
        return read_form(
            typed,
            self.in_hand(),
            now=self.desk.clock(),
            zone=lists.zone,
            liquidus_c=lists.liquidus_c,
            kilns=lists.kiln_names,
            free=max((run.number for run in runs), default=0) + 1,
        )

    def signature(self, read: Read) -> str:
        """What a placing comes from, the files of the studio too, as one text: another one means that something was changed."""
        asked = {entry["number"]: self._asked(self.desk.store.run(entry["run_id"])) for entry in read.entries if "run_id" in entry}
        return json.dumps([read.entries, read.week, asked, mark_of(self.desk.folder)], default=str, sort_keys=True)

    def _asked(self, run: KeptRun) -> dict[str, Any]:
        """What of a run changes its place."""
        return {key: value for key, value in asked_of(run).items() if key not in NOT_COMPARED}

    def being_placed(self) -> Job | None:
        """The job that places runs now."""
        return next((job for job in self.desk.crew.jobs if job.about == ABOUT and job.state not in OVER), None)

    def place(self, read: Read) -> Job:
        """Have all of it placed; `read` has no faults. A placing that is being made is stopped."""
        going = self.being_placed()
        if going:
            going.stop()
        runs = {entry["run_id"]: self.desk.store.run(entry["run_id"]) for entry in read.entries if "run_id" in entry}
        entries = [self._with_pieces(entry, runs.get(entry.get("run_id", 0))) for entry in read.entries]
        signature = self.signature(read)

        def keep(answer: Mapping[str, Any]) -> Placing:
            return self.hold(
                Placing(
                    number=next(self.numbers),
                    data=answer["data"],
                    files=answer["files"],
                    runs={entry["number"]: entry.get("run_id", 0) for entry in entries},
                    asked={run_id: self._asked(run) for run_id, run in runs.items()},
                    signature=signature,
                    made_at=self.desk.clock(),
                )
            )

        asked = {"entries": entries, "week": read.week}
        job = self.desk.crew.work("The days ahead", f"{DAYS}:place_days", self.desk.folder, asked, self.desk.clock(), then=keep)
        job.about = ABOUT
        return job

    def _with_pieces(self, entry: Mapping[str, Any], run: KeptRun | None) -> dict[str, Any]:
        """An entry with its pattern files, as the run's own page gives them to its plan."""
        if run is None:
            return dict(entry)
        return {**entry, "pieces": self.desk.pieces_given(run)}

    # ---- what other runs in hand say to it

    def clashes(self, placing: Placing) -> list[Mapping[str, Any]]:
        """What stands against the firings of a placing because of runs in hand that are not in it."""
        others = [one for one in self.desk.standings() if one.run.id not in placing.runs.values()]
        names = [kiln.name for kiln in self.studio().all_kilns]
        loads = [self._as_standing(load, names) for load in placing.data["loads"]]
        told = self.desk.held_together([*others, *(one for _, one in loads)])[len(others) :]
        return [
            _of_firing(found, number)
            for (number, _), one in zip(loads, told, strict=True)
            for found in one.clashes
            if found["code"] != HANDS_TWICE
        ]

    def _as_standing(self, load: Mapping[str, Any], kilns: Sequence[str]) -> tuple[int, Standing]:
        """A firing as if it were a run in hand, under the number of its first run."""
        now = self.desk.clock()
        kiln = {"key": "kiln", "says": "Kiln", "starts_at": load["on_at"], "ends_at": load["off_at"], "hands_on_min": 0}
        plan = {
            "pour": {"at": load["off_at"]},
            "burnout": {"starts_at": load["on_at"]},
            "kiln_free_at": load["free_at"],
            "timeline": [kiln],
            "findings": [],
            "inputs": {"studio": {"kiln": {"name": load["kiln"] if len(kilns) > 1 else ""}}},
        }
        run = KeptRun(id=-load["number"], number=min(load["runs"]), form={}, pieces=(), made_at=now, changed_at=now)
        result = KeptResult(id=-load["number"], asked={}, data={"plans": [plan]}, made_at=now)
        return load["number"], standing(run, result, now)

    def kiln_had_until(self) -> tuple[KeptRun, datetime] | None:
        """The run that has begun and keeps a kiln, and when that is cool enough for another load.

        Of several kilns the one that is free first; None where one stands empty.
        """
        now, names = self.desk.clock(), [kiln.name for kiln in self.studio().all_kilns]
        begun = {one.run.id for one in self.in_hand() if one.begun_at is not None}
        loads = [load for one in self.desk.standings() if one.run.id in begun and (load := load_of(one)) is not None]
        last: dict[str, Load] = {}
        for load in sorted((load for load in loads if load.free_at > now), key=lambda load: load.free_at):
            last[load.kiln or names[0]] = load
        if set(last) != set(names):
            return None
        first = min(last.values(), key=lambda load: load.free_at)
        return first.of.run, first.free_at

    # ---- taking its hours

    def taking(self, placing: Placing) -> list[Taking]:
        """What becomes of each run of the store when the hours are taken."""
        return list(self._taking(placing))

    def _taking(self, placing: Placing) -> Iterator[Taking]:
        entries, studio = placing.entries, self.studio()
        others = [kiln.name for kiln in studio.all_kilns[1:]]
        for number, run_id in placing.runs.items():
            if not run_id:
                continue
            run = self.desk.store.run(run_id)
            mine = [flask for flask in placing.data["runs"] if entries[flask["number"]] == number]
            pour_at = local(min(datetime.fromisoformat(flask["pour_at"]) for flask in mine), studio.zone)
            why = self._why_not(placing, run, number)
            kiln = mine[0]["kiln"] if mine[0]["kiln"] in others else ""
            taken = not why and _says(run, pour_at, kiln)
            yield Taking(run=run, pour_at=pour_at, kiln=kiln, why_not=why, taken=taken)

    def _why_not(self, placing: Placing, run: KeptRun, number: int) -> str:
        """Why a run cannot take its hour: its own plan would not come out as it is placed here."""
        entries = placing.entries
        if run.removed_at is not None:
            return "It was laid away since."
        if self._asked(run) != placing.asked[run.id]:
            return "Its form was changed since. Work the days out again."
        loads = [load for load in placing.data["loads"] if any(entries[flask] == number for flask in load["runs"])]
        if len(loads) > 1:
            return f"Its flasks stand in {len(loads)} firings here, and its own plan has them all in one."
        mates = sorted({entries[flask] for flask in loads[0]["runs"]} - {number})
        if mates:
            with_whom = f"run{'s' if len(mates) > 1 else ''} {' and '.join(map(str, mates))}"
            return f"It shares firing {loads[0]['number']} with {with_whom}, and its own plan knows of one run in a kiln."
        return ""

    def take(self, placing: Placing) -> dict[int, Taken]:
        """Set pour and kiln of each run that can take them, as if it had been typed; what was set in which run, for `take_back`."""
        out = {}
        for one in self.taking(placing):
            if one.why_not or one.taken:
                continue
            day, clock = one.pour_at.date().isoformat(), f"{one.pour_at:%H:%M}"
            fields = {"pour_day": day, "pour_hour": clock, "kiln": one.kiln, PLACED: f"{day} {clock}", KILN_PLACED: one.kiln}
            self.desk.change_run(one.run.id, fields=fields)
            out[one.run.id] = Taken(before={key: one.run.form.get(key, "") for key in fields}, now=fields)
        return out

    def take_back(self, taken: Mapping[int, Taken]) -> tuple[list[int], list[str]]:
        """Set back what still stands in the runs as it was taken.

        The numbers of the runs in which something was set back, and what is left as it is, in words. Raises PourwellError.
        """
        back, left = [], []
        for run_id, was in taken.items():
            run = self.desk.store.run(run_id)
            fields: dict[str, Any] = {}
            if run.removed_at is not None:
                left.append(f"run {run.number} was laid away since")
                continue
            for what, keys in TAKEN.items():
                mine = {key: was.before[key] for key in keys}
                if mine == {key: was.now[key] for key in keys}:
                    continue
                if all(run.form.get(key) == was.now[key] for key in keys):
                    fields |= mine
                else:
                    left.append(f"the {what} of run {run.number} was changed since")
            if fields:
                self.desk.change_run(run_id, fields=fields)
                back.append(run.number)
        return back, left


def _of_firing(found: Mapping[str, Any], number: int) -> dict[str, Any]:
    """A clash as it is told of a firing, with what to do on the page of the days."""
    here = "" if found["code"] != KILN_TAKEN else " Here: set “Nothing before” under Limits, and work the days out again."
    marked = {**found["marked"], "do": found["marked"]["do"] + here}
    return {**found, "where": f"firing {number}", "do": found["do"] + here, "marked": marked}


def _says(run: KeptRun, pour_at: datetime, kiln: str) -> bool:
    """Whether a run's form asks for this pour in this kiln."""
    said = [str(run.form.get(key) or "") for key in ("pour_day", "pour_hour", "kiln")]
    return said == [pour_at.date().isoformat(), f"{pour_at:%H:%M}", kiln]
