"""`pourwell day`: several runs over several days, so that the hands-on steps fall in waking hours."""

from pathlib import Path
from typing import Annotated

import typer

from pourwell.cli.options import AsJson, Replace

NAME = "day"


def command(
    files: Annotated[list[str] | None, typer.Argument(metavar="FILE...", help="A week's file, or job files: a run each.")] = None,
    *,
    pour_at: Annotated[str | None, typer.Option(help='The first pour: "Friday 10:00" or "YYYY-MM-DD HH:MM".')] = None,
    start: Annotated[str | None, typer.Option(help="Nothing is done before this; now if not said.")] = None,
    alloy: Annotated[str | None, typer.Option(help="Without files: alloy id; see `pourwell materials`.")] = None,
    flask: Annotated[str | None, typer.Option(help="Without files: flask id or 76x100.")] = None,
    flasks: Annotated[int | None, typer.Option(help="Without files: so many of these flasks.")] = None,
    pattern: Annotated[str | None, typer.Option(help="Without files: pattern material id; resin if not said.")] = None,
    investment: Annotated[str | None, typer.Option(help="Without files: investment id.")] = None,
    pieces: Annotated[int | None, typer.Option(help="Pieces still to be sprued on each tree; none: it stands ready.")] = None,
    weight: Annotated[float | None, typer.Option(help="What the tree weighs, in g; a usual one if not said.")] = None,
    work_from: Annotated[str | None, typer.Option(help='Hands-on work begins, as "7:30".')] = None,
    work_to: Annotated[str | None, typer.Option(help='Hands-on work ends, as "21:00".')] = None,
    off: Annotated[list[str] | None, typer.Option(help="A day off: Sunday or 2027-03-05. May be said again.")] = None,
    wait: Annotated[int | None, typer.Option(help="A flask is held so many minutes longer at the most.")] = None,
    bag_damp: Annotated[bool, typer.Option("--bag-damp", help="Flasks may stand longer, bagged damp.")] = False,
    no_overnight: Annotated[bool, typer.Option("--no-overnight", help="No kiln is on while nobody is awake.")] = False,
    fire_apart: Annotated[bool, typer.Option("--fire-apart", help="Each run has a firing to itself.")] = False,
    title: Annotated[str | None, typer.Option(help="A title for the sheet.")] = None,
    out: Annotated[Path | None, typer.Option(help="A folder for sheet, calendar, picture and data.")] = None,
    replace: Replace = False,
    as_json: AsJson = False,
) -> None:
    """When to do what: runs placed over the days ahead, the last pour as early as can be, hands-on work in your hours.

    If nothing fits, it says what to give up and what that buys.

    Example: pourwell day week.toml --out week-9; or: pourwell day --alloy sterling-925 --flask 76x100 --pour-at "Friday 10:00"
    """
    from datetime import UTC, datetime

    from pourwell.app.days import DayWishes, place_and_write
    from pourwell.cli.day_summary import print_week
    from pourwell.cli.show import end_on_stop, print_json, progress, stopped_in_words

    wishes = DayWishes(
        alloy=alloy, flask=flask, pattern=pattern, investment=investment, pieces_count=pieces, flasks_count=flasks, weight_g=weight,
        pour_at=pour_at, start_at=start, work_from=work_from, work_to=work_to, days_off=tuple(off or ()), wait_max_min=wait,
        bag_damp=bag_damp, no_overnight=no_overnight, fire_apart=fire_apart, title=title,
    )  # fmt: skip
    with stopped_in_words(), progress() as tell:
        placed = place_and_write(files or [], wishes, out=out, replace=replace, now=datetime.now(UTC), tell=tell)
    if as_json:
        print_json(placed.data)
    else:
        print_week(placed)
    end_on_stop(placed.plan.findings)
