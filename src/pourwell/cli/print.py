"""`pourwell print`: which way a pattern stands in the resin printer, how long it takes, what it costs, what goes wrong."""

from typing import TYPE_CHECKING, Annotated

import typer

from pourwell.cli.options import AsJson, PatternId, Units

if TYPE_CHECKING:
    from pourwell.app.printing import Printed

NAME = "print"


def command(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A pattern file: STL, OBJ, PLY, 3MF, GLB, glTF, STEP.")],
    *,
    pattern: PatternId = "resin",
    units: Units = None,
    layer: Annotated[float | None, typer.Option(help="Thickness of a layer, in mm; else the studio's.")] = None,
    direction: Annotated[
        str | None, typer.Option(help="Which way of the file points away from the plate, as 0,0,1; else the best is sought.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """How a pattern is printed in resin. Exit 3 if the file cannot be trusted.

    Example: pourwell print ring.stl --layer 0.05
    """
    from pourwell.app.printing import print_file
    from pourwell.cli.show import end_on_stop, print_json, progress
    from pourwell.files.plan_json import document

    with progress() as tell:
        printed = print_file(file, pattern=pattern, units=units, layer_mm=layer, direction=direction, tell=tell)
    if as_json:
        print_json(document(NAME, {"print": printed.plan, "findings": printed.findings}))
    else:
        _print(printed)
    end_on_stop(printed.findings)


def _print(printed: "Printed") -> None:
    from rich.markup import escape

    from pourwell.cli.show import console, print_findings, print_rows

    console().print(f"\n[bold]{escape(printed.plan.file)}[/], {escape(printed.plan.material)}")
    print_rows(printed.rows)
    print_findings(printed.findings)
    if printed.other_rows:
        console().print("\nOther ways to stand (--direction):")
        print_rows(printed.other_rows)
    if printed.plan.assumed:
        said = f"Assumed: {', '.join(printed.plan.assumed)}. Write yours under [printer] into studio.toml."
        console().print(f"\n[dim]{escape(said)}[/]")
    for caution in printed.plan.cautions:
        console().print(f"[dim]{escape(caution)}[/]")
