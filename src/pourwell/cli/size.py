"""`pourwell size`: one ring size in every system."""

from typing import Annotated

import typer

from pourwell.cli.options import AsJson

NAME = "size"


def command(
    size: Annotated[
        str, typer.Argument(help='A size with its system, as "US 7" or "UK N 1/2", or an inside diameter as "17.3 mm".')
    ],
    *,
    width: Annotated[float | None, typer.Option(help="Width of the band in mm: what size it wants on the same finger.")] = None,
    comfort: Annotated[bool, typer.Option("--comfort", help="The band has a comfort curve inside.")] = False,
    gauge: Annotated[
        float, typer.Option(help="With --width: width in mm of the gauge that measured the finger, if it was a wide one.")
    ] = 0.0,
    as_json: AsJson = False,
) -> None:
    """Convert a ring size; of a finger measured with a gauge, say what a wide band wants.

    Example: pourwell size "US 7" --width 8
    """
    import math

    from pourwell.app.ring_sizes import MEASURE, on_a_band, size_rows
    from pourwell.cli.show import console, print_json, print_rows
    from pourwell.files.plan_json import document
    from pourwell.steps.pattern.sizes import diameter_of, sizes

    diameter = diameter_of(size)
    band = None if width is None else on_a_band(diameter, width, comfort=comfort, gauge_mm=gauge)
    if as_json:
        said = {"diameter_mm": diameter, "circumference_mm": diameter * math.pi, "sizes": sizes(diameter), "band": band}
        print_json(document(NAME, said))
        return
    print_rows(size_rows(diameter))
    if band is not None:
        print_rows(band.rows)
    console().print(f"[dim]{MEASURE}[/]")
