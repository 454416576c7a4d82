"""Findings of several days: each fires where it must, and stays silent where it must not."""

from dataclasses import replace
from datetime import UTC, timedelta, timezone

from pourwell.steps.day.week_checks import CODES, Facts, findings
from pourwell.steps.day.week_model import Goal
from tests.unit.day.weeks import planned


def facts(**changes: object) -> Facts:
    """Those of a week of one flask."""
    plan = planned("rings")
    usual = {"runs": plan.runs, "loads": plan.loads, "goals": plan.goals, "assumed": ()}
    return Facts(**(usual | changes))  # type: ignore[arg-type]


def told(given: Facts) -> dict[str, object]:
    return {finding.code: finding for finding in findings(given)}


def test_week_overnight_fires():
    finding = told(facts())["week-overnight"]
    assert finding.says.startswith("Fires while nobody is awake: kiln, Mon ")
    for word in ("Extraction", "smoke alarm", "carbon monoxide", "nothing flammable", "solvent", "Local rules"):
        assert word in finding.do


def test_week_overnight_stays_silent():
    load = replace(facts().loads[0], overnight=False)
    assert "week-overnight" not in told(facts(loads=(load,)))


def test_week_bagged_fires():
    run = replace(facts().runs[0], bagged=True, stands_h=14.2)
    finding = told(facts(runs=(run,)))["week-bagged"]
    assert finding.measure == "14.2 h"
    assert f"on by {run.kiln_by_at:%H:%M}" in finding.says
    assert f"with it the kiln starts at {run.kiln_on_at:%H:%M}" in finding.says


def test_week_bagged_stays_silent():
    assert "week-bagged" not in told(facts())


def test_week_not_proven_fires():
    goals = (Goal(key="last_pour", value=2000, bound=1940), Goal(key="odd", value=80, bound=80))
    finding = told(facts(goals=goals))["week-not-proven"]
    assert "by 60 min earlier at the most" in finding.says


def test_week_not_proven_stays_silent():
    assert "week-not-proven" not in told(facts())


def test_week_clock_change_fires():
    load = facts().loads[0]
    summer = timezone(timedelta(hours=1))
    moved = replace(load, on_at=load.on_at.astimezone(UTC), off_at=load.off_at.astimezone(summer))
    finding = told(facts(loads=(moved,)))["week-clock-change"]
    assert finding.measure == "+60 min"
    assert "forward" in finding.says


def test_week_clock_change_stays_silent():
    assert "week-clock-change" not in told(facts())


def test_week_assumed_fires():
    finding = told(facts(assumed=("no days off", "the kiln takes 4 flasks")))["week-assumed"]
    assert "no days off; the kiln takes 4 flasks." in finding.says


def test_week_assumed_stays_silent():
    assert "week-assumed" not in told(facts())


def test_every_code_is_registered():
    every = {
        *told(facts(assumed=("x",))),
        *told(facts(runs=(replace(facts().runs[0], bagged=True),))),
        *told(facts(goals=(Goal(key="bagged", value=2, bound=1),))),
    }
    assert every <= {code.code for code in CODES}
