"""`pourwell mend`: a sound copy of a pattern file, if that is wanted."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pourwell.cli.options import AsJson, BeforeAfter, Replace, Units
from pourwell.errors import shown

if TYPE_CHECKING:
    from pourwell.app.mending import Mending

NAME = "mend"
BROKEN_OFF = 130
"""The exit code where the question is broken off, as of any program that is interrupted."""


def command(
    file: Annotated[Path, typer.Argument(help="The pattern file; it is never changed.")],
    *,
    out: Annotated[Path | None, typer.Option(help="The file to write: binary STL in mm. Default: NAME-mended.stl.")] = None,
    weld: Annotated[bool, typer.Option("--weld", help="Sew open seams, drop repeated triangles.")] = False,
    winding: Annotated[bool, typer.Option("--winding", help="Turn triangles and bodies that face the wrong way.")] = False,
    holes: Annotated[bool, typer.Option("--holes", help="Cover holes.")] = False,
    union: Annotated[
        bool, typer.Option("--union", help="Unite bodies, and what crosses itself; drop copies, flakes, inner walls.")
    ] = False,
    remesh: Annotated[bool, typer.Option("--remesh", help="Make anew what nothing else mends; this rounds edges.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Write it whatever it changes.")] = False,
    units: Units = None,
    pictures: BeforeAfter = None,
    replace: Replace = False,
    as_json: AsJson = False,
) -> None:
    """Write a sound copy of a pattern file, and say what changed. Without a step named, all that are needed are taken.

    Example: pourwell mend ring.stl --out ring-sound.stl
    """
    from pourwell.app.mending import check_mending, draw_mending, mend_file, write_mended
    from pourwell.cli.show import console, print_json, progress
    from pourwell.files.folder import check_folder
    from pourwell.files.plan_json import document
    from pourwell.geometry.mending import Step

    path = out or file.with_name(f"{file.stem}-mended.stl")
    check_mending(file, path, replace=replace)
    if pictures:
        check_folder(pictures, replace=replace)
    chosen = {"weld": weld, "winding": winding, "holes": holes, "union": union, "remesh": remesh}
    with progress() as tell:
        mending = mend_file(file, units=units, steps=[Step(name) for name, on in chosen.items() if on], tell=tell)
        drawn = draw_mending(mending, pictures, replace=replace) if pictures else ()
    if not as_json:
        _print(mending)
        if drawn:
            console().print(f"{len(drawn)} pictures in {shown(str(pictures))}", markup=False, soft_wrap=True)
    wanted = mending.needed or mending.mesh is None
    written = wanted and (not mending.asks or yes or _agreed(mending))
    if written:
        write_mended(mending, path, replace=replace)
    if as_json:
        more = {"written": str(path) if written else "", "pictures": [str(one) for one in drawn]}
        print_json(document(NAME, mending.data | more))
    else:
        said = f"Written: {path}" if written else "Nothing was written."
        console().print(shown(said), markup=False, soft_wrap=True)


def _agreed(mending: "Mending") -> bool:
    """Does the user agree; without a terminal nobody is asked, and nothing is written."""
    import sys

    from pourwell.errors import BadRequestError

    if sys.stdin.isatty() and sys.stdout.isatty():
        try:
            return typer.confirm("That is more than mending may change unasked. Write it?", default=False)
        except typer.Abort:  # Ctrl-C or Ctrl-D at the question
            sys.stderr.write("\nNothing was written.\n")
            raise typer.Exit(BROKEN_OFF) from None
    raise BadRequestError(
        f"Mending {mending.file.name} changes more than it may unasked, so nothing was written.",
        why=mending.how_much,
        try_this="Look at the place, and add --yes if that is what you want.",
    )


def _print(mending: "Mending") -> None:
    from pourwell.cli.show import console, print_rows

    print_rows(mending.rows)
    console().print()
