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
    as_json: AsJson = False,
) -> None:
    """Convert a ring size; of a finger measured with a narrow gauge, say what a wide band wants.

    Example: pourwell size "US 7" --width 8
    """
    import math

    from pourwell.app.fitting import on_a_band
    from pourwell.cli.show import console, print_json, print_rows
    from pourwell.files.plan_json import document
    from pourwell.steps.pattern.sizes import diameter_of, sizes

    diameter = diameter_of(size)
    said = sizes(diameter)
    band = None if width is None else on_a_band(diameter, width, comfort=comfort)
    if as_json:
        print_json(document(NAME, {"diameter_mm": diameter, "circumference_mm": diameter * math.pi, "sizes": said, "band": band}))
        return
    print_rows(
        [
            ("inside diameter", f"{diameter:.2f} mm", ""),
            ("inside circumference", f"{diameter * math.pi:.1f} mm", ""),
            ("ISO 8653", said.iso, ""),
            ("US, Canada", said.us, "quarter sizes; charts differ by up to 0.3 mm of circumference"),
            ("UK, Ireland, Australia", said.uk, "BS 6820; trade charts differ by up to half a letter: ask which stick"),
            ("Japan", said.jp, "whole sizes"),
            ("Switzerland, Italy, Spain", said.ch, ""),
        ]
    )
    if band is not None:
        print_rows(band.rows)
    console().print("[dim]A wide or a comfort-fit band may want another size: measure on the customer's finger.[/]")
