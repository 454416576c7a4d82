"""A kiln set by hand: the day, the plan and the burnout of one flask tell one and the same, or name the same hours instead."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app.burning import Asked, burn_out
from pourwell.app.days import DayWishes, place_week, week_of_words
from pourwell.app.shop import open_shop
from pourwell.errors import BadRequestError
from pourwell.job import plan_runs
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.steps.day.clock import to_five
from pourwell.steps.day.week_plan import PlannedLoad

NOW = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
WAX = {"alloy": "sterling-925", "flask": "64x64", "pattern": "wax-injection"}
Told = list[tuple[str, float, float | None, str]]


@pytest.fixture(autouse=True)
def by_hand(studio: Callable[..., Path]) -> None:
    studio({"studio.toml": 'time_zone = "Europe/Lisbon"\n[kiln]\nsegments_count = 0\n'})


def day_of(hour: str) -> PlannedLoad:
    shop = open_shop()
    request = week_of_words((), DayWishes(**WAX, pour_at=hour), shop=shop, now=NOW)  # type: ignore[arg-type]
    (load,) = place_week(request, shop=shop, now=NOW).loads
    return load


def plan_of(hour: str) -> Plan:
    shop = open_shop()
    pour_at = datetime.fromisoformat(hour).replace(tzinfo=shop.studio.zone)
    request = Request(**WAX, weight_g=12.0, pour_at=pour_at)  # type: ignore[arg-type]
    (plan,) = plan_runs(request, (), studio=shop.studio, library=shop.library, now=NOW, tell=lambda _: None)
    return plan


def burnt(hour: str, plan: Plan) -> Told:
    asked = Asked(
        flasks=("64x64",), flask_c=plan.temperatures.flask_c, investment=plan.investment.id, pattern=WAX["pattern"], ready=hour
    )
    return [(f"{m.at:%a %H:%M}", m.set_c, m.seen_c, m.why) for m in burn_out(asked, now=NOW).by_hand]


def planned(plan: Plan) -> Told:
    moments = next(e.moments for e in plan.timeline if e.moments)
    points = plan.programme.by_hand
    return [
        (f"{to_five(at, first=not p.at_min):%a %H:%M}", p.set_c, p.seen_c, p.why) for p, at in zip(points, moments, strict=True)
    ]


def placed(load: PlannedLoad) -> Told:
    return [(f"{s.at:%a %H:%M}", s.set_c, s.seen_c, s.why) for s in load.settings]


@pytest.mark.parametrize("hour", ["2027-03-03 10:00", "2027-03-03 14:30"])
def test_the_same_settings_readings_and_looks_by_the_clock(hour: str) -> None:
    plan, load = plan_of(hour), day_of(hour)
    assert "day-outside-hours" not in {f.code for f in plan.findings}
    told = placed(load)
    assert told == planned(plan) == burnt(hour, plan)
    assert any(why.startswith("look before you sleep") for *_, why in told)
    assert all(seen is not None for _, _, seen, _ in told)


def test_where_the_hours_are_missed_the_plan_and_the_day_name_the_same_pour() -> None:
    hour = "2027-03-03 17:00"
    plan = plan_of(hour)
    (late,) = [f for f in plan.findings if f.code == "day-outside-hours"]
    with pytest.raises(BadRequestError) as refused:
        day_of(hour)
    instead = late.do.split("Pour at ")[1][:5]
    nearest = [
        line for line in refused.value.try_this.splitlines() if line.endswith(f"earlier: pour Wednesday 03 March, {instead}")
    ]
    assert len(nearest) == 1, (late.do, refused.value.try_this)
    assert placed(day_of(f"2027-03-03 {instead}"))
