"""The desk: what its pages do, whatever they look like. It keeps patterns and runs, and has long work done beside it."""

import os
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import platformdirs

from pourwell.app.choices import Choices, choices
from pourwell.app.clashes import with_clashes
from pourwell.app.crew import OVER, Crew, Job
from pourwell.app.desk_burnout import Burnouts
from pourwell.app.desk_days import Days
from pourwell.app.desk_drafts import Drafts
from pourwell.app.desk_form import request_of_form
from pourwell.app.desk_read import asked_now, asked_then, left_out_of, none_is_left, read_in, read_otherwise
from pourwell.app.desk_runs import (
    OTHER_SURFACE,
    OTHER_UNIT,
    READ,
    SAME_PLACE_MM,
    SIZE,
    SPRUE,
    asked_of,
    changed_since,
    sizes_of,
    sprues_of,
)
from pourwell.app.desk_words import LONGEST_NAME, WORK, GivenPattern, called, frozen_names
from pourwell.app.in_hand import HANDS_TWICE, Standing, standing
from pourwell.app.letters import letter
from pourwell.app.measuring import Measuring
from pourwell.app.shop import FOLDER_VARIABLE, studio_folder
from pourwell.errors import BadDataError, BadFileError, BadRequestError
from pourwell.materials.studio import Studio, load_studio
from pourwell.store.lock import Hold as Hold
from pourwell.store.model import KeptPattern, KeptResult, KeptRun
from pourwell.store.store import Store

ALLOY: Final = "sterling-925"
"""Until the studio has chosen one."""
MATERIAL: Final = "resin"
NEW_RUN: Final[Mapping[str, Any]] = {
    "title": "",
    "alloy": ALLOY,
    "pattern": MATERIAL,
    "investment": "",
    "flask": "",
    "programme": "",
    "kiln": "",
    "stones": "",
    "pour_day": "",
    "pour_hour": "",
    "returns": "",
    "own_alloying": "",
    "base_g": "",
    "wax_g": "",
    "metal_c": "",
    "flask_c": "",
    "freeze": True,
}
"""The fields of a run's form, as they are at first."""
DEMO_COUNTS: Final[Mapping[int, int]] = {0: 2, 1: 2}
"""Of the first two of our pieces the run to try takes two."""
NO_RUN: Final = 10**9
"""The number of a run that is not made yet: it comes after all others."""
PLACES: Final = "pourwell.app.sprue_places"


class Desk:
    """One studio at work. All its calls that write return once it is kept."""

    def __init__(self, folder: Path, clock: Callable[[], datetime], *, crew: Crew | None = None) -> None:
        self.folder, self.clock = folder, clock
        self.store = Store(folder)
        self.crew = crew or Crew()
        self.drafts = Drafts(self)
        self.days = Days(self)
        self.measuring = Measuring(self)
        self.burnouts = Burnouts(self)
        self._studio = Studio()
        self.turn = 0
        """Grows whenever something was kept, so that a page may look again."""

    def begin(self) -> None:
        """Get the other processes ready while the first page is read; check what was left unchecked, or not as is asked now."""
        self.crew.get_ready(f"{WORK}:warm")
        known = self.store.latest_of_patterns()
        for pattern in self.store.patterns():
            if pattern.id not in known or asked_now(pattern) != asked_then(known[pattern.id]):
                self.check(pattern)

    def close(self) -> None:
        """End all work and let go of the store."""
        self.crew.close()
        self.store.close()

    def choices(self) -> Choices:
        """The studio's lists, as its files stand now."""
        return choices(self.folder)

    # ---- patterns

    def usual_alloy(self) -> str:
        """The alloy of the last run, else sterling."""
        runs = self.store.runs()
        return str(runs[0].form.get("alloy") or ALLOY) if runs else ALLOY

    def usual(self) -> dict[str, str]:
        """In what a pattern is checked: alloy and pattern material."""
        return {"alloy": self.usual_alloy(), "material": MATERIAL}

    def take_in(self, path: Path, file: str) -> KeptPattern:
        """Keep a pattern file that came, and have it checked if that was not done. Raises OutputError, BadFileError."""
        if not path.stat().st_size:
            raise BadFileError(f"{file} is empty.", try_this="Export it again.")
        pattern, _ = self.store.add_pattern(path, file=file, name=called(file), now=self.clock())
        self.turn += 1
        if self.store.latest(pattern_id=pattern.id) is None and not self.being_checked(pattern.id):
            self.check(pattern)
        return pattern

    def being_checked(self, pattern_id: int) -> Job | None:
        """The job that checks a pattern now."""
        mine = ("pattern", pattern_id)
        return next((job for job in self.crew.jobs if job.about == mine and job.state not in OVER), None)

    def check(self, pattern: KeptPattern) -> Job:
        """Have a pattern checked in the studio's usual alloy."""
        given = self.given(pattern)
        wanted = self.usual()

        def keep(answer: Mapping[str, Any]) -> None:
            asked = wanted | asked_now(pattern)
            self.store.add_result(pattern_id=pattern.id, asked=asked, data=answer["data"], files=answer["files"], now=self.clock())
            self.turn += 1

        job = self.crew.work(pattern.file, f"{WORK}:check_pattern", self.folder, given, wanted, then=keep)
        job.about = ("pattern", pattern.id)
        return job

    def set_units(self, pattern_id: int, units: str) -> Job:
        """Say in which unit a pattern's numbers are, and have it checked anew.

        Places for its sprue that the user has set fall away in all runs: the piece is larger or smaller now. The runs say so.
        """
        if units != read_in(self.store, pattern_id):
            for run in self.store.runs(laid_away=True):
                if pattern_id in sprues_of(run):
                    self.change_run(run.id, fields={f"{SPRUE}{pattern_id}": OTHER_UNIT})
        pattern = self.store.change_pattern(pattern_id, units=units)
        self.turn += 1
        return self.check(pattern)

    def leave_out(self, pattern_id: int, names: Sequence[str]) -> Job:
        """Say which bodies of a pattern are not cast, besides those that their names tell, and have it checked anew.

        Raises BadRequestError if none would be left.
        """
        if none_is_left(self.store.latest(pattern_id=pattern_id), names):
            raise BadRequestError("Every body of the file would be left out.", try_this="Keep at least one to cast.")
        pattern = self.store.change_pattern(pattern_id, leave_out=tuple(dict.fromkeys(names)))
        self.turn += 1
        for job in self.crew.jobs:
            if job.about == ("pattern", pattern_id) and job.state not in OVER:
                job.stop()
        return self.check(pattern)

    def rename_pattern(self, pattern_id: int, name: str) -> KeptPattern:
        """Call a pattern otherwise. Raises BadRequestError for no name."""
        if not name.strip():
            raise BadRequestError("A pattern needs a name.")
        self.turn += 1
        return self.store.change_pattern(pattern_id, name=name.strip()[:LONGEST_NAME])

    def froze_in(self, pattern_id: int, *, since: int) -> tuple[KeptRun, KeptResult, str] | None:
        """The last run in which it was computed how a pattern freezes: the run, its plan, the letter of the piece; None if none.

        A plan that is older than the result `since` may be of the file read otherwise, and does not count.
        """
        results = self.store.latest_of_runs()
        for run in self.store.runs():
            result = results.get(run.id)
            if result is None or result.id < since:
                continue
            taken = [piece[0] for piece in result.asked.get("pieces", ())]
            mine = letter(taken.index(pattern_id)) if pattern_id in taken else ""
            if mine and frozen_names(mine)[0] in result.files:
                return run, result, mine
        return None

    def remove_pattern(self, pattern_id: int, *, back: bool = False) -> None:
        """Take a pattern out of the library, or put it back."""
        self.store.remove_pattern(pattern_id, now=None if back else self.clock())
        self.turn += 1

    def bring_demo(self) -> KeptRun:
        """Our own pieces and a run of them, worked out at once: to look at, to change, and to lay away."""
        run = self.new_run(fields={"returns": "40", "freeze": False})

        def keep(pieces: Sequence[tuple[str, bytes]]) -> None:
            ids = self._shelve(pieces)
            known = self.change_run(run.id, pieces={key: DEMO_COUNTS.get(place, 1) for place, key in enumerate(ids)})
            request, faults = request_of_form(known.form, by_weight=False, now=self.clock(), zone=self.choices().zone)
            if not faults:
                self.plan(known, request)

        self.crew.work("Pieces to try", f"{WORK}:example_patterns", then=keep).about = ("demo", run.id)
        return run

    def bring_examples(self) -> Job:
        """Put our own pieces into the library, to play with."""
        return self.crew.work("Pieces to try", f"{WORK}:example_patterns", then=self._shelve)

    def _shelve(self, pieces: Sequence[tuple[str, bytes]]) -> list[int]:
        """Keep our own pieces and have them checked; their numbers, in their order."""
        found = []
        for file, content in reversed(pieces):
            pattern, _ = self.store.add_pattern(content, file=file, name=called(file), now=self.clock())
            found.append(pattern.id)
            if self.store.latest(pattern_id=pattern.id) is None:
                self.check(pattern)
        self.turn += 1
        return found[::-1]

    # ---- the daily question

    def ask(self, fields: Mapping[str, Any]) -> Job:
        """What to weigh and when the kiln goes on, for a weight on the scale."""
        return self.crew.answer(f"{WORK}:daily", self.folder, dict(fields), self.clock())

    # ---- runs

    def new_run(self, *, pieces: Sequence[tuple[int, int]] = (), fields: Mapping[str, Any] | None = None) -> KeptRun:
        """Begin a run, in the alloy of the last one."""
        self.turn += 1
        form = {**NEW_RUN, "alloy": self.usual_alloy(), **(fields or {})}
        return self.store.add_run(form, pieces=pieces, now=self.clock())

    def change_run(
        self, run_id: int, *, fields: Mapping[str, Any] | None = None, pieces: Mapping[int, int] | None = None
    ) -> KeptRun:
        """Keep what was typed."""
        self.turn += 1
        return self.store.change_run(run_id, fields=fields, pieces=pieces, now=self.clock())

    def remove_run(self, run_id: int, *, back: bool = False) -> None:
        """Lay a run away, or take it up again."""
        self.store.remove_run(run_id, now=None if back else self.clock())
        self.turn += 1

    def standings(self) -> list[Standing]:
        """All runs, newest first, and where each stands now."""
        results, now = self.store.latest_of_runs(), self.clock()
        alone = [standing(run, results.get(run.id), now) for run in self.store.runs()]
        return self.held_together([replace(one, former=bool(self.changed(one.run, one.result))) for one in alone])

    def kiln_clashes(self, plan: Mapping[str, Any], *, burnout: bool = False) -> tuple[Mapping[str, Any], ...]:
        """What stands against a plan that no run was made of yet, because of the runs in hand: of their kiln, not of hands.

        No other kiln is offered. `burnout`: it is a burnout by itself, and is called so.
        """
        now = self.clock()
        asked = KeptRun(id=NO_RUN, number=NO_RUN, form={}, pieces=(), made_at=now, changed_at=now)
        told = standing(asked, KeptResult(id=NO_RUN, asked={}, data={"plans": [plan]}, made_at=now), now)
        last = self.held_together([*self.standings(), replace(told, burnout=burnout)], offered=False)[-1]
        return tuple(found for found in last.clashes if found["code"] != HANDS_TWICE)

    def held_together(self, alone: Sequence[Standing], *, offered: bool = True) -> list[Standing]:
        """Runs with what they want at once, by the kilns of the studio's file as it stands now; `offered`: another kiln may be."""
        with suppress(BadDataError):  # somebody is in the middle of writing it: it counts as it was
            self._studio = load_studio(self.folder)
        takes = {kiln.name: kiln.flasks_count for kiln in self._studio.all_kilns}
        return with_clashes(alone, kilns=list(takes), zone=self._studio.zone, now=self.clock(), takes=takes if offered else {})

    def standing_of(self, run_id: int) -> Standing | None:
        """Where a run stands now; None for one that is laid away."""
        return next((one for one in self.standings() if one.run.id == run_id), None)

    def read_otherwise(self, run: KeptRun, result: KeptResult) -> frozenset[int]:
        """Which patterns of a run are read otherwise now, by unit or by the bodies cast, than its plan `result` took them."""
        return read_otherwise(self.store, run, result)

    def changed(self, run: KeptRun, result: KeptResult | None) -> tuple[str, ...]:
        """What was changed since a run was planned: fields of its form, and READ for a pattern that is read otherwise now."""
        other = result is not None and bool(self.read_otherwise(run, result))
        return (*changed_since(run, result), *((READ,) if other else ()))

    def take_instead(self, run_id: int, old: int, new: int, *, off_mm: float | None = None) -> KeptRun:
        """Have a run take another pattern in the place of one, as many of it.

        The size that is wanted stays; the user's own place for the sprue does where the new surface passes within SAME_PLACE_MM of
        it, else it falls away.
        `off_mm`: how far that passes, as `sprue_off` finds it; None: not known.
        """
        run = self.store.run(run_id)
        counts, place, field = dict(run.pieces), sprues_of(run).get(old), f"{SPRUE}{new}"
        fields: dict[str, Any] = {}
        if place is not None and not isinstance(run.form.get(field), list):  # one that was set on it before stays
            fields[field] = list(place) if off_mm is not None and off_mm <= SAME_PLACE_MM else OTHER_SURFACE
        if old in sizes_of(run) and not run.form.get(f"{SIZE}{new}"):
            fields[f"{SIZE}{new}"] = sizes_of(run)[old]
        return self.change_run(run_id, fields=fields, pieces={old: 0, new: counts.get(new, 0) + counts.get(old, 0)})

    def sprue_off(self, run: KeptRun, old: int, new: int) -> Job | None:
        """How far from a pattern the user's own place on another one lies [mm]; None where a run has none there."""
        place = sprues_of(run).get(old)
        return self.crew.answer(f"{PLACES}:off_mm", self.given(self.store.pattern(new)), place) if place is not None else None

    def being_planned(self, run_id: int) -> Job | None:
        """The job that plans a run now."""
        mine = ("run", run_id)
        return next((job for job in self.crew.jobs if job.about == mine and job.state not in OVER), None)

    def plan(self, run: KeptRun, request: Mapping[str, Any]) -> Job:
        """Have a run planned from what its form holds; `request` is the form in the words of a request.

        A plan of this run that is being made is stopped.
        """
        going = self.being_planned(run.id)
        if going:
            going.stop()
        given = self.pieces_given(run)
        asked = asked_of(run) | {"left_out": left_out_of(self.store, run)}
        wanted = {"form": dict(request), "number": run.number, "now": self.clock()}

        def keep(answer: Mapping[str, Any]) -> None:
            self.store.add_result(run_id=run.id, asked=asked, data=answer["data"], files=answer["files"], now=self.clock())
            self.turn += 1

        job = self.crew.work(f"Run {run.number}", f"{WORK}:plan_run", self.folder, wanted, given, then=keep)
        job.about = ("run", run.id)
        return job

    def sprue_places(self, run: KeptRun, pattern_id: int) -> Job:
        """Where the sprue of a piece of a run may stand, and what speaks for the place that the user has set."""
        wanted = {"alloy": run.form["alloy"], "material": run.form["pattern"], "at_mm": sprues_of(run).get(pattern_id)}
        return self.crew.answer(f"{PLACES}:places", self.folder, self.given(self.store.pattern(pattern_id)), wanted)

    def set_sprue(self, run_id: int, pattern_id: int, at_mm: Sequence[float] | None) -> KeptRun:
        """Keep a place of the user's own for the sprue of a piece, or with None go back to the proposed one."""
        place = [round(float(x), 3) for x in at_mm] if at_mm is not None else ""
        return self.change_run(run_id, fields={f"{SPRUE}{pattern_id}": place})

    def pieces_given(self, run: KeptRun) -> list[GivenPattern]:
        """The pieces of a run as work takes them, with the user's own places for their sprues, and the sizes wanted."""
        own, sizes = sprues_of(run), sizes_of(run)
        return [
            replace(self.given(self.store.pattern(k), count), sprue_at_mm=own.get(k), size=sizes.get(k)) for k, count in run.pieces
        ]

    def given(self, pattern: KeptPattern, count: int = 1) -> GivenPattern:
        """A pattern as work takes it."""
        path = self.store.shelf.path(pattern.digest)
        return GivenPattern(
            path=path,
            file=pattern.file,
            name=pattern.name,
            units=pattern.units,
            count=count,
            leave_out=pattern.leave_out,
        )


def desk_folder() -> Path:
    """The studio folder, made if there is none yet. Raises BadDataError if POURWELL_STUDIO names something else."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named and not Path(named).exists():
        Path(named).mkdir(parents=True)
    folder = studio_folder() or Path(platformdirs.user_data_dir("pourwell", appauthor=False))
    folder.mkdir(parents=True, exist_ok=True)
    return folder
