"""A week's file: several runs, each as a job file says it, with when it may or must be poured."""

import tomllib
from collections.abc import Callable
from datetime import datetime, time, tzinfo
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from pourwell.errors import BadDataError, BadFileError
from pourwell.files.job_toml import build_request, read_job
from pourwell.materials.studio import first_fault
from pourwell.request import Request, RunOfWeek, WeekRequest
from pourwell.steps.day.clock import local
from pourwell.steps.day.open_hours import read_soon

RUNS: Final = "runs"
OF_A_RUN: Final = frozenset(RunOfWeek.model_fields) - {"request", "usual_weight"}
"""Keys of a `[[runs]]` table that the week itself reads; all others are those of a job file."""
MOMENTS: Final = ("pour_at", "pour_by", "ready_at", "start_at")

UsualWeight = Callable[[str | None, str], float]
"""From a flask as it was named, or None, and a pattern material: what a usual tree in it weighs [g]."""


def read_table(path: Path) -> dict[str, Any]:
    """The table of a TOML file. Raises BadFileError if it is missing, BadDataError if it is no TOML."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise BadFileError(f"There is no file {path}.") from None
    except OSError as err:
        raise BadFileError(f"{path} cannot be read.", why=f"The system says: {err.strerror or err}.") from err
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise BadDataError(f"{path} is not a TOML file.", why=f"{err}.", try_this="See docs/day.md for an example.") from err


def read_week(path: Path, *, now: datetime, zone: tzinfo | None, usual_weight_g: UsualWeight) -> WeekRequest:
    """The request of a week's file, or of a single job file as a week of one run.

    Paths are taken from the file's own folder, clock times on the studio's clock, names of days as the next such day after `now`.
    Raises BadFileError, BadDataError with the key and the reason, BadRequestError for a moment that is none.
    """
    table = read_table(path)
    if RUNS not in table:
        return WeekRequest(runs=(run_of_job(path, zone=zone),))
    listed = table.pop(RUNS)
    if not isinstance(listed, list) or not listed or not all(isinstance(entry, dict) for entry in listed):
        raise BadDataError(f"{path}: runs: write one or more [[runs]] tables.", try_this="See docs/day.md for an example.")
    runs = [
        _run(entry, where=f"{path}: runs.{number}", folder=path.parent, now=now, zone=zone, usual_weight_g=usual_weight_g)
        for number, entry in enumerate(listed, start=1)
    ]
    return build_week({**_dated(table, now=now, zone=zone), "runs": runs}, where=str(path))


def run_of_job(path: Path, *, zone: tzinfo | None) -> RunOfWeek:
    """A job file as a run of a week."""
    job = read_job(path, zone=zone)
    return RunOfWeek(name=job.title, request=job.model_copy(update={"pour_at": None}), pour_at=job.pour_at)


def _run(
    table: dict[str, Any], *, where: str, folder: Path, now: datetime, zone: tzinfo | None, usual_weight_g: UsualWeight
) -> RunOfWeek:
    own = {key: value for key, value in _dated(table, now=now, zone=zone).items() if key in OF_A_RUN}
    rest = {key: value for key, value in table.items() if key not in OF_A_RUN}
    if "job" in rest:
        if len(rest) > 1:
            other = next(key for key in rest if key != "job")
            raise BadDataError(
                f"{where}: {other}: a run that names a job file takes this from there.", try_this="Leave one of them out."
            )
        if not isinstance(rest["job"], str):
            raise BadDataError(f"{where}: job: write the name of a job file.")
        said = run_of_job(folder / rest["job"], zone=zone)
        return build_run({"name": said.name, "pour_at": said.pour_at, **own, "request": said.request}, where=where)
    return build_run({**own, **requested(rest, where=where, usual_weight_g=usual_weight_g)}, where=where)


def requested(table: dict[str, Any], *, where: str, usual_weight_g: UsualWeight) -> dict[str, Any]:
    """The request of a run from keys of a job file; where nothing says what is cast, a tree of usual weight is.

    Raises BadDataError with the key and the reason.
    """
    if "alloy" not in table:
        raise BadDataError(f"{where}: alloy is missing.", try_this="`pourwell materials` lists the ids.")
    usual = "weight_g" not in table and "pieces" not in table
    flask, pattern = table.get("flask"), table.get("pattern", Request.model_fields["pattern"].default)
    if usual and isinstance(pattern, str) and (flask is None or isinstance(flask, str)):
        table = {**table, "weight_g": usual_weight_g(flask, pattern)}
    return {"request": build_request(table, where=where), "usual_weight": usual}


def _dated(table: dict[str, Any], *, now: datetime, zone: tzinfo | None) -> dict[str, Any]:
    """The table with its moments read."""
    out = dict(table)
    for key in MOMENTS:
        value = out.get(key)
        if isinstance(value, str):
            out[key] = read_soon(value, now=now, zone=zone)
        elif isinstance(value, datetime):
            out[key] = local(value, zone) if value.tzinfo else read_soon(value.isoformat(), now=now, zone=zone)
    return out


def build_run(table: dict[str, Any], *, where: str) -> RunOfWeek:
    """A run of a week from plain values. Raises BadDataError with the key and the reason."""
    try:
        return RunOfWeek(**table)
    except ValidationError as err:
        raise BadDataError(f"{where}: {first_fault(err, RunOfWeek)}.", try_this="docs/day.md says what may stand there.") from err


def build_week(table: dict[str, Any], *, where: str) -> WeekRequest:
    """A week from plain values. Raises BadDataError with the key and the reason."""
    try:
        return WeekRequest(**table)
    except ValidationError as err:
        raise BadDataError(f"{where}: {first_fault(err, WeekRequest)}.", try_this="docs/day.md says what may stand there.") from err


def read_hour(text: str) -> time:
    """An hour of the day from "21:00". Raises BadDataError for anything else."""
    try:
        return time.fromisoformat(f"{text.strip():0>5}")
    except ValueError:
        raise BadDataError(f'"{text}" is no hour of the day.', try_this='Write it as "21:00".') from None
