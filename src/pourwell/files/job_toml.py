"""A job file: the same request as on the command line, to keep and to run again."""

import tomllib
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from pourwell.errors import BadDataError, BadFileError
from pourwell.materials.studio import first_fault
from pourwell.request import Request
from pourwell.steps.day.clock import local, read


def read_job(path: Path, *, zone: tzinfo | None) -> Request:
    """The request of a job.toml; files in it are taken from the job file's own folder, clock times on the studio's clock.

    Raises BadFileError if it is missing, BadDataError with the key and the reason if it does not say what it must.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise BadFileError(f"There is no job file {path}.") from None
    except OSError as err:
        raise BadFileError(f"{path} cannot be read.", why=f"The system says: {err.strerror or err}.") from err
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise BadDataError(f"{path} is not a TOML file.", why=f"{err}.", try_this="See docs/job-file.md for an example.") from err
    return build_request(_resolved(table, path.parent, zone), where=str(path))


def _resolved(table: dict[str, Any], folder: Path, zone: tzinfo | None) -> dict[str, Any]:
    out = dict(table)
    when = out.get("pour_at")
    if isinstance(when, str):
        out["pour_at"] = read(when, zone=zone)
    elif isinstance(when, datetime):
        out["pour_at"] = local(when, zone) if when.tzinfo else read(when.isoformat(), zone=zone)
    pieces = out.get("pieces")
    if isinstance(pieces, list):
        out["pieces"] = [
            {**p, "file": folder / p["file"]} if isinstance(p, dict) and isinstance(p.get("file"), str) else p for p in pieces
        ]
    return out


HELP: Final = "`pourwell plan --help` and docs/job-file.md say what may stand there."


def build_request(table: dict[str, Any], *, where: str, try_this: str = HELP) -> Request:
    """A Request from plain values. Raises BadDataError with the key and the reason."""
    try:
        return Request(**table)
    except ValidationError as err:
        raise BadDataError(f"{where}: {first_fault(err)}.", try_this=try_this) from err
