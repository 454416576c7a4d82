"""Whole weeks from their files to rotas, kept as text that a jeweller can read (convention C20); written anew as the jobs are."""

import difflib
import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app.days import DayWishes, place_week, week_of_words
from pourwell.app.shop import open_shop
from pourwell.findings import in_order, spelt_out
from pourwell.steps.day.clock import local
from pourwell.steps.day.week_fired import as_typed
from pourwell.steps.day.week_jobs import work_of
from pourwell.steps.day.week_plan import PlannedLoad, WeekPlan

HERE = Path(__file__).parent
NOW = datetime(2027, 3, 1, 8, 30, tzinfo=UTC)
WEEKS = sorted(path.parent.name for path in HERE.glob("*/week.toml"))


def placed(name: str, folder: Path) -> WeekPlan:
    """The week of a file, in the studio of a folder."""
    for file in ("studio.toml", "week.toml"):
        shutil.copy(HERE / name / file, folder / file)
    shop = open_shop(folder)
    request = week_of_words([str(folder / "week.toml")], DayWishes(), shop=shop, now=local(NOW, shop.studio.zone))
    return place_week(request, shop=shop, now=NOW)


def told(plan: WeekPlan) -> str:
    """Pours, firings, work, findings."""
    return (
        "\n".join([*_pours(plan), *(line for load in plan.loads for line in _firing(load, plan)), *_work(plan), *_findings(plan)])
        + "\n"
    )


def _pours(plan: WeekPlan) -> Iterator[str]:
    yield f"{plan.title}, from {plan.starts_at:%a %d %b %H:%M}: {plan.status}".upper()
    yield from (f"  goal {goal.key}: {goal.value}, surely no less than {goal.bound}" for goal in plan.goals)
    for run in sorted(plan.runs, key=lambda run: run.pour_at):
        stood = f"stood {run.stands_h:.1f} of {run.stand_max_h:g} h" + (", bagged" if run.bagged else "")
        yield f"  {run.pour_at:%a %H:%M}  run {run.number}, {run.name}: {run.alloy}, {run.flask} at {run.flask_c:.0f} °C, {stood}"


def _firing(load: PlannedLoad, plan: WeekPlan) -> Iterator[str]:
    night = ", overnight" if load.overnight else ""
    yield f"\nFiring {load.number}, {load.kiln}, runs {', '.join(map(str, load.runs))}: {load.programme.name}"
    yield f"  on {load.on_at:%a %H:%M}, last pour {load.off_at:%a %H:%M}, free {load.free_at:%a %H:%M}{night}"
    for s in load.programme.segments:
        yield f"  {s.number}  {s.ramp_c_per_h:+.0f} to {s.target_c:.0f} °C, {s.hold_min} min  ({s.ruled_by})"
    if again := as_typed(load, plan.loads):
        yield f"  {again}"


def _work(plan: WeekPlan) -> Iterator[str]:
    day = None
    for job in work_of(plan):
        if job.at.date() != day:
            day = job.at.date()
            yield f"\n{job.at:%A %d %B}"
        yield f"  {job.at:%H:%M}  {job.minutes:>3} min  {spelt_out(job.says)} ({job.where})"


def _findings(plan: WeekPlan) -> Iterator[str]:
    for found in in_order(plan.findings):
        yield f"\n{found.severity.value.upper()} {found.code}, {found.where}\n  {spelt_out(found.says)}\n  {spelt_out(found.do)}"


@pytest.mark.parametrize("name", WEEKS)
def test_the_week_is_the_one_that_was_approved(name: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    kept, now = HERE / name / "week.txt", told(placed(name, tmp_path))
    if request.config.getoption("--update-golden") or os.environ.get("UPDATE_GOLDEN"):
        kept.write_text(now, encoding="utf-8", newline="\n")
    assert kept.is_file(), f"{name} has no week.txt yet; write it with --update-golden and read it"
    change = "\n".join(
        difflib.unified_diff(kept.read_text(encoding="utf-8").splitlines(), now.splitlines(), "approved", "now", n=2)
    )
    assert not change, f"{change}\n\nIf this is meant: pytest tests/golden --update-golden, and read the difference."
