"""A week in words that the command line and the desk share."""

from collections.abc import Sequence

from pourwell.steps.day.week_plan import PlannedRun, WeekPlan


def named(run: PlannedRun) -> str:
    """A run's name, and its alloy where the name does not say it."""
    return run.name if run.alloy_name in run.name else f"{run.name}, {run.alloy_name}"


def goal_words(plan: WeekPlan) -> str:
    """The objective as it came out."""
    words = [f"last pour {plan.last_pour_at:%A %d %B, %H:%M}"]
    for goal in plan.goals:
        if goal.key == "odd":
            words.append(f"{goal.value:.0f} min of work at odd hours")
        if goal.key == "bagged" and goal.value:
            words.append(f"{goal.value:.0f} bagged damp")
    best = (
        ": nothing sooner fits."
        if plan.tried_apart_min is None
        else f": the soonest of those tried, {plan.tried_apart_min} min apart."
    )
    return "; ".join(words) + (best if plan.status == "proven" else ".")


def runs_words(runs: Sequence[int]) -> str:
    """The numbers of runs: run 2, runs 1 and 3."""
    return f"run{'s' if len(runs) > 1 else ''} {', '.join(map(str, runs))}"
