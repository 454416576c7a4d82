"""Whole weeks for the tests, made by the number steps from names of usual runs, and placed once."""

from datetime import UTC, datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from pourwell.materials.library import Library, load_library
from pourwell.materials.studio import Kiln, Studio
from pourwell.request import Request, RunOfWeek, WeekRequest
from pourwell.steps.day.week_plan import WeekPlan
from pourwell.week import Asked, Memo, ask, plan_week, usual_weight_g

KNOWN: Memo = {}
"""Programmes are worked out once for all tests: the library is the shipped one throughout."""
ZONE = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
USUAL: dict[str, dict[str, Any]] = {
    "rings": {"alloy": "sterling-925", "flask": "76x100", "pieces_count": 6, "kinds_count": 2},
    "signets": {"alloy": "gold-585-yellow", "flask": "64x64"},
    "studs": {"alloy": "sterling-925", "flask": "64x64"},
    "bronze": {"alloy": "bronze-silicon-873", "flask": "64x64", "pattern": "wax-injection"},
    "stones": {"alloy": "sterling-925", "flask": "64x64", "pattern": "wax-injection", "stones": True},
}
OF_A_RUN = ("pieces_count", "kinds_count", "flasks_count", "pour_at", "pour_by", "ready_at", "kiln", "number")


@cache
def library() -> Library:
    return load_library()


def studio(**changes: Any) -> Studio:
    return Studio(**{"name": "Quillmere Studio", "time_zone": "Europe/Lisbon", **changes})


def entry(name: str, **changes: Any) -> RunOfWeek:
    """One run of a usual kind."""
    said = USUAL[name] | changes
    own = {key: said.pop(key) for key in OF_A_RUN if key in said}
    weight_g = usual_weight_g(said["flask"], pattern=said.get("pattern", "resin"), studio=studio(), library=library())
    return RunOfWeek(name=name, request=Request(**{"weight_g": weight_g, **said}), **own)


def asked(*names: str | RunOfWeek, of: Studio | None = None, now: datetime = MONDAY, **week: Any) -> Asked:
    """A week ready for the solver."""
    runs = tuple(entry(name) if isinstance(name, str) else name for name in names)
    request = WeekRequest(runs=runs, **week)
    return ask(request, [()] * len(runs), studio=of or studio(), library=library(), now=now, tell=lambda _: None, memo=KNOWN)


def placed(*names: str | RunOfWeek, of: Studio | None = None, now: datetime = MONDAY, **week: Any) -> WeekPlan:
    """A week placed."""
    runs = tuple(entry(name) if isinstance(name, str) else name for name in names)
    request = WeekRequest(**{"title": "Before the fair", "runs": runs, **week})
    return plan_week(request, [()] * len(runs), studio=of or studio(), library=library(), now=now, tell=lambda _: None, memo=KNOWN)


@cache
def planned(*names: str) -> WeekPlan:
    """The same, kept: nobody changes it."""
    return placed(*names)


def two_kilns(**changes: Any) -> Studio:
    """A studio with a small kiln and a large one."""
    return studio(kilns=(Kiln(name="large", flasks_count=6), Kiln(name="small", flasks_count=1)), **changes)
