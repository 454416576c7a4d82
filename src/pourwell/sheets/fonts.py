"""Which fonts set the sheet, and which characters none of them has.

One family, from an installed package, so that a sheet is the same bytes on every machine. The machine's own fonts are let in only
when a name holds a character that the family lacks.
"""

import shutil
from collections.abc import Iterable
from importlib.resources import as_file, files
from pathlib import Path

import typst

FAMILY = "Source Sans Pro"
WEIGHTS = ("Regular", "Bold", "Black")
"""Three files, copied apart: the package also holds each weight in a second format, and which of the two were taken would
depend on the order of a folder."""
LAST_IN_LATIN_1 = 0xFF
OFTEN = frozenset("\u2013\u2018\u2019\u201c\u201d\u2026\u2212\u00bd\u0131\u0153")
"""Beyond Latin-1, yet surely covered; a test holds both against the font."""
NO_REAL_FONT = "lastresort"


def gather(folder: Path) -> None:
    """Copy the family's files into a folder."""
    for weight in WEIGHTS:
        with as_file(files("font_source_sans_pro") / "files" / f"SourceSansPro-{weight}.otf") as path:
            shutil.copyfile(path, folder / path.name)


def load(folder: Path, *, machine: bool) -> typst.Fonts:
    """The fonts for a sheet: the family in the folder, and the machine's own where they are needed."""
    return typst.Fonts(include_system_fonts=machine, include_embedded_fonts=False, font_paths=[str(folder)])


def beyond_family(text: str) -> set[int]:
    """Code points in a text that the family lacks."""
    rare = {ord(c) for c in set(text) - OFTEN if ord(c) > LAST_IN_LATIN_1 and not c.isspace()}
    if not rare:
        return set()
    with as_file(files("font_source_sans_pro") / "files" / "SourceSansPro-Regular.otf") as path:
        return rare - _covered(path)


def boxes(text: str) -> str:
    """The characters in a text that neither the family nor any font of this machine has: they print as boxes."""
    missing = beyond_family(text)
    if missing:
        for path, index in _machine_fonts():
            missing -= _covered(path, index)
            if not missing:
                break
    return "".join(map(chr, sorted(missing)))


def _machine_fonts() -> Iterable[tuple[Path, int]]:
    fonts = typst.Fonts(include_system_fonts=True, include_embedded_fonts=False)
    for font in fonts.fonts():
        if font.path and NO_REAL_FONT not in font.path.lower().replace(" ", ""):
            yield Path(font.path), font.index


def _covered(path: Path, index: int = 0) -> set[int]:
    from fontTools.ttLib import TTFont, TTLibError  # only a sheet with rare characters pays for it

    try:
        with TTFont(path, fontNumber=index, lazy=True) as font:
            return set(font.getBestCmap() or ())
    except (TTLibError, OSError):
        return set()
