"""`pourwell shape`: a parametric piece as a pattern file."""

from pathlib import Path
from typing import Annotated

import typer

from pourwell.cli.options import AsJson, Replace
from pourwell.errors import shown

NAME = "shape"


def command(
    name: Annotated[str, typer.Argument(help="The shape; `pourwell shape list` names them with their dimensions.")],
    dimensions: Annotated[
        list[str] | None, typer.Argument(help='Dimensions as NAME=VALUE in mm, and size="ISO 54" for a ring.')
    ] = None,
    *,
    out: Annotated[Path | None, typer.Option(help="The file to write: .stl, .ply, .obj or .3mf.")] = None,
    replace: Replace = False,
    as_json: AsJson = False,
) -> None:
    """Make a piece from its dimensions.

    Example: pourwell shape plain-band size="ISO 54" width=4 thickness=1.8 --out band.stl
    """
    from pourwell.app.shapes import list_shapes, make_shape
    from pourwell.cli.show import console, print_json

    if name == "list":
        shapes = list_shapes()
        if as_json:
            print_json(shapes)
            return
        for shape in shapes:
            console().print(f"[bold]{shape['name']}[/]  {shape['about']}")
            for p in shape["parameters"]:
                console().print(f"    {p['name']} = {p['default']} {p['unit']}  [dim]{p['about']}[/]")
        return
    made = make_shape(name, dimensions or [], out=out, replace=replace)
    if as_json:
        print_json(made)
    else:
        said = f"{made['file']}: {made['triangle_count']} triangles, {made['volume_mm3']:.1f} mm³"
        console().print(shown(said), markup=False, soft_wrap=True)
