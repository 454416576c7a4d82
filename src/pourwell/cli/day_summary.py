"""What `pourwell day` prints: each pour, each firing, then what is to be done on each day."""

from typing import TYPE_CHECKING

from pourwell.cli.show import console, print_findings, print_rows

if TYPE_CHECKING:
    from pourwell.app.days import Placed
    from pourwell.steps.burnout.model import Segment
    from pourwell.steps.day.week_plan import WeekPlan


def print_week(placed: "Placed") -> None:
    """The pours, the kilns, the work by days, the findings, the files."""
    from rich.markup import escape

    from pourwell.app.days_told import goal_words, named, runs_words
    from pourwell.steps.burnout.model import BAG_WINS
    from pourwell.steps.day import mains
    from pourwell.steps.day.week_fired import as_typed

    plan, out = placed.plan, console()
    out.print(f"\n[bold]{escape(plan.title)}[/]  {escape(goal_words(plan))}")
    print_rows(
        (f"run {run.number}", f"{run.pour_at:%a %d %b %H:%M}", f"pour {named(run)}; flask {run.flask}, {run.flask_c:.0f} °C")
        for run in sorted(plan.runs, key=lambda run: run.pour_at)
    )
    out.print()
    print_rows(
        (
            f"{load.number}  {load.kiln}",
            f"{load.on_at:%a %d %b %H:%M}",
            "; ".join(
                words
                for words in (
                    f"on for {runs_words(load.runs)}",
                    load.programme.name,
                    as_typed(load, plan.loads),
                    f"last pour {load.off_at:%a %H:%M}, then the kiln off",
                )
                if words
            ),
        )
        for load in plan.loads
    )
    for load in plan.loads:
        if not load.programme.by_hand:
            out.print(f"\n  [bold]type for firing {load.number}[/]")
            print_rows(typed(segment) for segment in load.programme.segments)
    out.print(f"[dim]{BAG_WINS}[/]")
    out.print(f"{mains.LOST}: for flasks that stay set it by hand.")
    _print_work(plan)
    out.print()
    print_findings(plan.findings)
    for path in placed.paths:
        out.print(f"  {path}", soft_wrap=True, markup=False)


def typed(segment: "Segment") -> tuple[str, str, str]:
    """A segment as it is typed."""
    hours, minutes = divmod(segment.hold_min, 60)
    ramp = f"{segment.number}  {segment.ramp_c_per_h:+.0f} °C/h to {segment.target_c:.0f} °C"
    return ramp, f"hold {hours} h {minutes:02d} min", segment.why


def _print_work(plan: "WeekPlan") -> None:
    """The hands-on lines, day by day."""
    from itertools import groupby

    from rich.markup import escape
    from rich.table import Table

    from pourwell.findings import spelt_out
    from pourwell.steps.day.week_jobs import work_of

    for date, jobs in groupby(work_of(plan), key=lambda job: job.at.date()):
        console().print(f"\n[bold]{date:%A %d %B}[/]")
        table = Table.grid(padding=(0, 2))
        table.add_column(style="bold")
        table.add_column(justify="right")
        table.add_column()
        for job in jobs:
            long = f"{job.minutes} min" if job.minutes else ""
            table.add_row(f"  {job.at:%H:%M}", long, f"{escape(spelt_out(job.says))}  [dim]{escape(job.where)}[/]")
        console().print(table)
