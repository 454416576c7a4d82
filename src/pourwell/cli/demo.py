"""`pourwell demo`: the main job on a built-in scenario."""

from pathlib import Path
from typing import Annotated

import typer

from pourwell.cli.options import AsJson

NAME = "demo"


def command(
    *,
    out: Annotated[Path, typer.Option(help="The folder to write; an older demo in it is replaced.")] = Path("demo-run"),
    as_json: AsJson = False,
) -> None:
    """Plan a casting run for an invented studio and its invented pieces, and name every file made.

    Example: pourwell demo
    """
    from datetime import UTC, datetime

    from pourwell.app.demo import run_demo
    from pourwell.cli.plan_summary import print_plans
    from pourwell.cli.show import print_json, progress

    with progress() as tell:
        written = run_demo(out, now=datetime.now(UTC), tell=tell)
    if as_json:
        print_json(written.data)
    else:
        print_plans(written)
    if written.stopped:
        raise typer.Exit(3)
