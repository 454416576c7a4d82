"""`pourwell freeze`: how a tree freezes, what stays fed, what to change."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pourwell.cli.options import AsJson, Replace, Units

if TYPE_CHECKING:
    from pourwell.app.freezing import Answer

NAME = "freeze"


def command(
    targets: Annotated[list[str], typer.Argument(metavar="FOLDER | FILE[:COUNT]...", help="A planned run, or pattern files.")],
    *,
    fine: Annotated[bool, typer.Option("--fine", help="Cells of half the edge: slower, surer.")] = False,
    edge: Annotated[float | None, typer.Option("--edge-mm", help="Edge of the cells at the metal, in mm, instead.")] = None,
    alloy: Annotated[str | None, typer.Option(help="Alloy id, for pattern files.")] = None,
    pattern: Annotated[str | None, typer.Option(help="Pattern material id; resin if not said.")] = None,
    investment: Annotated[str | None, typer.Option(help="Investment id; chosen for the pattern if not said.")] = None,
    flask: Annotated[str | None, typer.Option(help="Flask id or 76x100; the smallest that fits if not said.")] = None,
    metal: Annotated[float | None, typer.Option(help="Another metal temperature, °C.")] = None,
    flask_temperature: Annotated[float | None, typer.Option(help="Another flask temperature, °C.")] = None,
    units: Units = None,
    out: Annotated[Path | None, typer.Option(help="A folder for the fields; beside the plan if not said.")] = None,
    pictures: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Write a map of when the metal is solid there, as PNG and SVG.")
    ] = None,
    replace: Replace = False,
    as_json: AsJson = False,
) -> None:
    """How the tree of a planned run freezes: what stays fed, what is cut off, what to change.

    Ctrl-C ends it and leaves nothing behind.

    Example: pourwell freeze run-12 --fine
    """
    from datetime import UTC, datetime

    from pourwell.app.freezing import freeze_and_write
    from pourwell.app.planning import Wishes
    from pourwell.cli.show import end_on_stop, print_json, progress

    wishes = Wishes(
        alloy=alloy, pattern=pattern, investment=investment, flask=flask, metal_c=metal, flask_c=flask_temperature, units=units,
        freeze="fine" if fine else "draft",
    )  # fmt: skip
    with progress() as tell:
        answer = freeze_and_write(
            targets, wishes, edge_mm=edge, out=out, replace=replace, now=datetime.now(UTC), pictures=pictures, tell=tell
        )
    if as_json:
        print_json(answer.data)
    else:
        _print(answer)
    end_on_stop(answer.froze.findings)


def _print(answer: "Answer") -> None:
    from rich.markup import escape

    from pourwell.cli.freezing_summary import print_freezing
    from pourwell.cli.show import console, print_findings

    out = console()
    out.print(f"\n[bold]{escape(answer.title)}[/]")
    print_freezing(answer.froze.freezing)
    print_findings(answer.froze.findings)
    for path in answer.paths:
        out.print(f"  {path}", soft_wrap=True, markup=False)
