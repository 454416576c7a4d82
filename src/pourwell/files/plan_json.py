"""The plan as data: one `plan.json` a run, one `job.json` a job. `docs/plan-format.md` documents every section."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from enum import Enum
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from pourwell.findings import spelt_out

if TYPE_CHECKING:
    from pourwell.plan import Plan  # the words of every step, which a check has no use for

SCHEMA = "pourwell.plan"
SCHEMA_VERSION = 1
JOB_SCHEMA = "pourwell.job"
SIGNIFICANT_DIGITS = 7


def plain(value: Any) -> Any:
    """A value in JSON's own types: dataclasses and models as objects, moments as ISO text, None left out of objects."""
    if isinstance(value, Enum):
        return value.value
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, PurePath):
        return value.as_posix()
    if isinstance(value, BaseModel):
        return plain({name: getattr(value, name) for name in type(value).model_fields})
    if is_dataclass(value) and not isinstance(value, type):
        return plain({f.name: getattr(value, f.name) for f in fields(value)})
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items() if v is not None}
    if isinstance(value, set | frozenset):
        return sorted(plain(v) for v in value)
    if isinstance(value, Sequence):
        return [plain(v) for v in value]
    raise TypeError(f"no plain form for {type(value).__name__}")


def spelt(value: Any) -> Any:
    """Plain data with the quantities in its sentences written out, in workshop units: what a program reads has no marks in it."""
    if isinstance(value, str):
        return spelt_out(value)
    if isinstance(value, Mapping):
        return {key: spelt(inner) for key, inner in value.items()}
    return [spelt(inner) for inner in value] if isinstance(value, list) else value


def _number(value: float) -> float | int | None:
    """Rounded to what can be meant; JSON knows no infinity, so an unbounded value is left out."""
    if value != value or value in (float("inf"), float("-inf")):
        return None
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")


def plan_data(plan: Plan) -> dict[str, Any]:
    """The sections of a plan in the order of the job. A section that was not computed is absent."""
    zone = plan.studio.time_zone
    head = {
        "schema": SCHEMA,
        "schema_version": SCHEMA_VERSION,
        "package_version": plan.package_version,
        "library_digest": plan.library_digest,
        "run": {
            "number": plan.number,
            "title": plan.title,
            "studio": plan.studio.name,
            "made_at": plan.made_at,
            "stopped": plan.stopped,
            "time_zone": zone or None,
        },
        "inputs": {"request": plan.request, "studio": plan.studio},
        "alloy": _row(plan.alloy, ("solidus_c", "liquidus_c", "density_g_per_cm3")),
        "pattern_material": _row(plan.pattern_material, ("density_g_per_cm3",)),
    }
    pour = {**_fields(plan.temperatures), **_fields(plan.pour), "at": plan.pour_at}
    body = {
        "pieces": [p.piece for p in plan.patterns] or None,
        "tree": plan.tree,
        "weighed": plan.weighed,
        "flask": plan.flask,
        "investment": plan.mix,
        "charge": plan.charge,
        "burnout": {
            **{k: v for k, v in _fields(plan.programme).items() if k != "segments"},
            "starts_at": plan.kiln_on_at,
            "ends_at": plan.segments[-1].ends_at,
            "segments": plan.segments,
        },
        "kiln_load": plan.kiln_load,
        "freezing": plan.freezing,
        "pour": pour,
        "quench": plan.quench,
        "timeline": plan.timeline,
        "checklist": spelt(plain(plan.checklist)),
        "findings": spelt(plain(plan.findings)),
        "leaned_on": plan.leaned,
        "unknown": plan.unknown or None,
    }
    data: dict[str, Any] = plain(head | body)
    return data


def _fields(thing: Any) -> dict[str, Any]:
    return {f.name: getattr(thing, f.name) for f in fields(thing)}


def _row(row: Any, keys: tuple[str, ...]) -> dict[str, Any]:
    out = {"id": row.id, "name": row.name}
    for key in keys:
        value = getattr(row, key)
        out |= {key: value.value, f"{key}_source": value.source, f"{key}_grade": value.grade}
    return out


def document(name: str, data: Mapping[str, Any]) -> dict[str, Any]:
    """What a command prints as JSON, headed by its schema: "pourwell." and the command's name, with the version of all schemas."""
    headed: dict[str, Any] = spelt(plain({"schema": f"pourwell.{name}", "schema_version": SCHEMA_VERSION, **data}))
    return headed


def job_data(plans: Sequence[Plan], folders: Sequence[str], *, files: Sequence[str]) -> dict[str, Any]:
    """The list of a job's runs, each with its folder, and of all files that lie in the job's own."""
    runs = [
        {
            "number": p.number,
            "folder": folder,
            "title": p.title,
            "pour_at": p.pour_at,
            "flask": p.flask.id,
            "charge_g": p.charge.total_g,
            "pieces_count": sum(pattern.piece.count for pattern in p.patterns),
            "stopped": p.stopped,
        }
        for p, folder in zip(plans, folders, strict=True)
    ]
    data: dict[str, Any] = plain({"schema": JOB_SCHEMA, "schema_version": SCHEMA_VERSION, "runs": runs, "files": sorted(files)})
    return data


def to_bytes(data: Any) -> bytes:
    """UTF-8, indented, ending in a newline."""
    return (json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode(errors="replace")
