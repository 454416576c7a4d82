"""`pourwell fit`: a pattern made to a ring size, as a new file if one is named."""

from pathlib import Path
from typing import Annotated

import typer

from pourwell.cli.options import AlloyId, AsJson, BeforeAfter, PatternId, Units
from pourwell.errors import shown

NAME = "fit"


def command(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A pattern with a finger bore: STL, OBJ, PLY, 3MF, GLB, glTF, STEP.")],
    *,
    size: Annotated[str, typer.Option(help='The finished ring size wanted, as "US 7".')],
    out: Annotated[
        Path | None, typer.Option(help="The new file to write: .stl, .ply, .obj or .3mf, in mm. Without it, none.")
    ] = None,
    offset: Annotated[bool, typer.Option("--offset", help="Move only the bore's surface; else the whole piece is scaled.")] = False,
    alloy: AlloyId = "sterling-925",
    pattern: PatternId = "resin",
    units: Units = None,
    pictures: BeforeAfter = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace pictures that were written there before.")] = False,
    as_json: AsJson = False,
) -> None:
    """Scale a pattern, or move its bore, so that it finishes at a ring size. Exit 3 if the new one stops a run.

    Example: pourwell fit ring.stl --size "US 7" --out ring-us7.stl
    """
    from pourwell.app.fitting import draw_fitting, fit_file
    from pourwell.cli.show import console, end_on_stop, print_findings, print_json, print_rows, progress
    from pourwell.files.folder import check_folder
    from pourwell.files.plan_json import document

    if pictures:
        check_folder(pictures, replace=replace)
    with progress() as tell:
        fitted = fit_file(file, size=size, out=out, offset=offset, alloy=alloy, pattern=pattern, units=units, tell=tell)
        drawn = draw_fitting(fitted, pictures, replace=replace) if pictures else ()
    if as_json:
        print_json(
            document(
                NAME,
                {
                    "way": fitted.way,
                    "scale_ratio": fitted.scale_ratio,
                    "offset_mm": fitted.offset_mm,
                    "file": fitted.file,
                    "before": fitted.before.pattern.piece,
                    "after": fitted.after.pattern.piece,
                    "findings": fitted.after.findings,
                },
            )
        )
    else:
        print_rows(fitted.rows)
        print_findings(fitted.after.findings)
        said = f"Written: {fitted.file}, in millimetres." if fitted.file else "Nothing is written: name a new file with --out."
        console().print(shown(said), markup=False, soft_wrap=True)
        if pictures:
            console().print(f"{len(drawn)} pictures in {shown(str(pictures))}", markup=False, soft_wrap=True)
    end_on_stop(fitted.after.findings)
