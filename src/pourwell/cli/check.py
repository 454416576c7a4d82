"""`pourwell check`: is a pattern sound, what does it measure, what will it weigh."""

from pathlib import Path
from typing import Annotated

import typer

from pourwell.cli.options import AlloyId, AsJson, PatternId, Replace, Size, Units
from pourwell.errors import shown

NAME = "check"


def command(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="Pattern files: STL, OBJ, PLY, 3MF, GLB, glTF, STEP.")],
    *,
    alloy: AlloyId = "sterling-925",
    pattern: PatternId = "resin",
    units: Units = None,
    size: Size = None,
    pictures: Annotated[Path | None, typer.Option(metavar="FOLDER", help="Write pictures there, as PNG and SVG.")] = None,
    replace: Replace = False,
    as_json: AsJson = False,
) -> None:
    """Check and measure pattern files. Exit 3 if one of them stops a run.

    Example: pourwell check ring.stl --size "ISO 54"
    """
    from rich.markup import escape

    from pourwell.app.checking import check_files
    from pourwell.app.pictures import write_pictures_of
    from pourwell.cli.show import console, print_findings, print_json, print_rows, progress
    from pourwell.files.folder import check_folder
    from pourwell.files.plan_json import document

    if pictures:
        check_folder(pictures, replace=replace)
    with progress() as tell:
        checked = check_files(files, alloy=alloy, pattern=pattern, units=units, size=size, tell=tell)
        drawn = write_pictures_of(checked, pictures, replace=replace, tell=tell) if pictures else ()
    if as_json:
        print_json([document(NAME, {"piece": c.pattern.piece, "doubtful": c.doubtful, "findings": c.findings}) for c in checked])
    else:
        for c in checked:
            console().print(f"\n[bold]{escape(c.pattern.piece.file)}[/]")
            if c.lead:
                console().print(f"[bold white on red] DO NOT CAST [/] {escape(c.lead)}")
            print_rows(c.rows)
            print_findings(c.findings)
        if pictures:
            console().print(f"\n{len(drawn)} pictures in {escape(shown(str(pictures)))}")
    if any(c.stopped for c in checked):
        raise typer.Exit(3)
