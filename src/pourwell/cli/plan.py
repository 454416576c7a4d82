"""`pourwell plan`: the whole run, from pattern files, a job file or a weight, to a folder with the run sheet."""

from pathlib import Path
from typing import Annotated

import typer

from pourwell.cli.options import AsJson, JobBaseG, OwnAlloying, Replace, Size, Units, WaxG

NAME = "plan"


def command(
    files: Annotated[list[str] | None, typer.Argument(metavar="FILE[:COUNT]...", help="Pattern files, or one job.toml.")] = None,
    *,
    weight: Annotated[float | None, typer.Option(help="Instead of files: what the scale shows, in g.")] = None,
    base: JobBaseG = None,
    wax: WaxG = None,
    alloy: Annotated[str | None, typer.Option(help="Alloy id; see `pourwell materials`.")] = None,
    pattern: Annotated[str | None, typer.Option(help="Pattern material id; resin if not said.")] = None,
    investment: Annotated[str | None, typer.Option(help="Investment id; chosen for the pattern if not said.")] = None,
    flask: Annotated[str | None, typer.Option(help="Flask id or 76x100; the smallest that fits if not said.")] = None,
    pour_at: Annotated[str | None, typer.Option(help='"YYYY-MM-DD HH:MM"; the earliest from now if not said.')] = None,
    metal: Annotated[float | None, typer.Option(help="Your own metal temperature, °C.")] = None,
    flask_temperature: Annotated[float | None, typer.Option(help="Your own flask temperature, °C.")] = None,
    returns: Annotated[float | None, typer.Option(help="Share of clean returns in the charge, 0 to 1.")] = None,
    own_alloying: OwnAlloying = False,
    stones: Annotated[bool, typer.Option("--stones", help="Stones are cast in place.")] = False,
    programme: Annotated[str | None, typer.Option(help="Id of a burnout programme of your own.")] = None,
    kiln: Annotated[str | None, typer.Option(help="Where there are several: the kiln's name; the first if not said.")] = None,
    size: Size = None,
    units: Units = None,
    fine: Annotated[bool, typer.Option("--fine", help="Compute the freezing on a fine grid.")] = False,
    no_freezing: Annotated[bool, typer.Option("--no-freezing", help="Do not compute how the tree freezes.")] = False,
    title: Annotated[str | None, typer.Option(help="A title for the sheet.")] = None,
    run: Annotated[int | None, typer.Option(help="The number of this run.")] = None,
    out: Annotated[Path, typer.Option(help="The folder to write.")] = Path("pourwell-run"),
    replace: Replace = False,
    as_json: AsJson = False,
) -> None:
    """Plan a casting run and write its folder: plan.json, run sheet, pictures, tree, calendar.

    Example: pourwell plan ring.stl:4 signet.3mf --alloy sterling-925 --flask 76x100 --out run-12
    """
    from datetime import UTC, datetime

    from pourwell.app.planning import Wishes, plan_and_write
    from pourwell.cli.plan_summary import print_plans
    from pourwell.cli.show import print_json, progress, stopped_in_words

    wishes = Wishes(
        weight_g=weight, base_g=base, wax_g=wax, alloy=alloy, pattern=pattern, investment=investment, flask=flask,
        pour_at=pour_at, metal_c=metal, flask_c=flask_temperature, returns_fraction=returns, own_alloying=own_alloying,
        stones=stones, programme=programme, kiln=kiln, size=size, units=units, title=title, run_number=run,
        freeze="none" if no_freezing else "fine" if fine else "draft",
    )  # fmt: skip
    with stopped_in_words(), progress() as tell:
        written = plan_and_write(files or [], wishes, out=out, replace=replace, now=datetime.now(UTC), tell=tell)
    if as_json:
        print_json(written.data)
    else:
        print_plans(written)
    if written.stopped:
        raise typer.Exit(3)
