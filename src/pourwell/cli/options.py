"""Options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

AsJson = Annotated[bool, typer.Option("--json", help="Print data instead of text.")]
Replace = Annotated[bool, typer.Option("--replace", help="Replace what was written there before.")]
AlloyId = Annotated[str, typer.Option("--alloy", help="Alloy id; see `pourwell materials`.")]
PatternId = Annotated[str, typer.Option("--pattern", help="What the pieces are made of: a pattern material id.")]
Units = Annotated[str | None, typer.Option(help="Unit of unitless files: mm, cm, m, um, inch, foot.")]
Size = Annotated[str | None, typer.Option(help='The finished ring size wanted, as "ISO 54".')]
BaseG = Annotated[float, typer.Option("--base", help="The base, if it is on the scale too, in g.")]
WaxG = Annotated[float | None, typer.Option("--wax", help="How much of a weighed tree is sprue wax, in g.")]
JobBaseG = Annotated[float | None, typer.Option("--base", help="The base, if it is on the scale too, in g.")]
OwnAlloying = Annotated[bool, typer.Option("--own-alloying", help="Split fresh metal into fine metal and master alloy.")]
BeforeAfter = Annotated[
    Path | None, typer.Option("--pictures", metavar="FOLDER", help="Write pictures of before and after there, as PNG and SVG.")
]
