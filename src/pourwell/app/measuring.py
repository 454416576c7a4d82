"""What the desk measures of kiln, flask and investment: logs that are looked at, what they and a scale tell, kept on request.

A log and what it told are held in memory alone. Nothing of them is called saved before it is kept, as calibrations of the studio.
"""

import hashlib
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pourwell.app.calibrating_keep import keep
from pourwell.app.crew import OVER, Job
from pourwell.app.desk_words import MEASURING
from pourwell.app.held import Held
from pourwell.errors import BadFileError
from pourwell.files.own_toml import bring_back, set_aside
from pourwell.materials.calibration import Calibration

if TYPE_CHECKING:
    from pourwell.app.desk import Desk

MOST: Final = 4
"""Logs that are held: one a window that is looked at, and some."""
MOST_BYTES: Final = 100_000_000
"""All of them together take no more memory, the newest always excepted."""
MARK_DIGITS: Final = 16
"""Of the digest, by which a log is called: two logs that share them are not met with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldLog:
    """What the work made of a log."""

    number: int
    wish: Mapping[str, Any]
    """For what it was asked."""
    data: Mapping[str, Any]
    files: Mapping[str, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenLog:
    """A log as work takes it."""

    file: str
    content: bytes


class HeldLog:
    """A log that came in; its key is of what is in it, so it is called so again, also by a desk that was begun anew."""

    def __init__(self, given: GivenLog, *, number: int, key: str) -> None:
        self.given, self.number, self.key = given, number, key
        self.told: ToldLog | None = None
        """What the work made of it last; set from the work's own thread."""
        self.kept: dict[int, Sequence[Path]] = {}
        """Where what was told under a number is kept."""

    @property
    def file(self) -> str:
        """What it is called."""
        return self.given.file

    def kept_now(self) -> Sequence[Path]:
        """Where what it told last is kept; nowhere once a file of it is gone, by Undo or by another hand."""
        paths = self.kept.get(self.told.number, ()) if self.told else ()
        return paths if all(path.exists() for path in paths) else ()


class Measuring:
    """The logs of a desk, and what is asked of them."""

    numbers = itertools.count(1)

    def __init__(self, desk: "Desk") -> None:
        self.desk = desk
        self.held: Held[str, HeldLog] = Held(most=MOST, most_bytes=MOST_BYTES)

    def take_in(self, content: bytes, file: str) -> HeldLog:
        """Hold a log that came. Raises BadFileError for an empty one."""
        if not content:
            raise BadFileError(f"{file} is empty.", try_this="Export the log again.")
        key = hashlib.sha256(file.encode() + b"\0" + content).hexdigest()[:MARK_DIGITS]
        there = self.held.get(key)
        if there is not None:
            return there
        log = HeldLog(GivenLog(file=file, content=content), number=next(self.numbers), key=key)
        self.held.hold(key, log, size_bytes=len(content))
        return log

    def get(self, key: str) -> HeldLog | None:
        """A log by its key; None if it is held no more."""
        return self.held.get(key)

    def read(self, log: HeldLog, wish: Mapping[str, Any]) -> Job:
        """What is in a log: columns, times, readings, remarks. From the quick lane."""
        return self.desk.crew.answer(f"{MEASURING}:read_log", log.given, dict(wish))

    def being_worked_out(self, log: HeldLog) -> Job | None:
        """The job that works a log out now."""
        return next((job for job in self.jobs(log) if job.state not in OVER), None)

    def jobs(self, log: HeldLog) -> list[Job]:
        """All work on a log."""
        return [job for job in self.desk.crew.jobs if job.about == ("log", log.number)]

    def work_out(self, log: HeldLog, wish: Mapping[str, Any]) -> Job:
        """Have a log worked out; what is being worked out of it is stopped."""
        going = self.being_worked_out(log)
        if going is not None:
            going.stop()

        def hold(answer: Mapping[str, Any]) -> None:
            log.told = ToldLog(number=next(self.numbers), wish=dict(wish), data=answer["data"], files=answer["files"])

        asked = {"wish": dict(wish), "now": self.desk.clock()}
        job = self.desk.crew.work(log.file, f"{MEASURING}:work_out", self.desk.folder, log.given, asked, then=hold)
        job.about = ("log", log.number)
        return job

    def weigh(self, wish: Mapping[str, Any]) -> Job:
        """What a weighed flask tells. From the quick lane."""
        return self.desk.crew.answer(f"{MEASURING}:weigh", self.desk.folder, dict(wish), self.desk.clock())

    def keep(self, data: Mapping[str, Any]) -> tuple[Path, ...]:
        """Keep what was told, as `pourwell calibrate --keep` does; the files. Raises BadRequestError, OutputError."""
        found = [Calibration.model_validate(one) for one in data["calibrations"]]
        return keep(found, self.desk.folder, doubtful=data["doubtful"])

    def take_back(self, paths: Sequence[Path]) -> None:
        """Undo `keep`; a file that is gone already stays so. Raises OutputError."""
        done: list[tuple[Path, Path]] = []
        try:
            for path in paths:
                if path.exists():
                    done.append((set_aside(path, self.desk.folder), path))
        except BaseException:
            for there, path in done:
                bring_back(there, path)
            raise
