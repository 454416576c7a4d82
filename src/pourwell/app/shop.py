"""The studio's folder opened: equipment and library."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

import platformdirs

from pourwell.errors import BadDataError
from pourwell.materials.assessed import MeltingRange
from pourwell.materials.library import Library, load_library
from pourwell.materials.studio import Studio, load_studio

FOLDER_VARIABLE = "POURWELL_STUDIO"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What every use case needs of the studio."""

    folder: Path | None
    studio: Studio
    library: Library

    def in_kiln(self, name: str | None) -> Self:
        """The shop with the kiln of this name, which counts for what was measured only if it is the first; as `Studio.in_kiln`."""
        studio = self.studio.in_kiln(name)
        return self if studio is self.studio else replace(self, studio=studio, library=self.library.elsewhere())


def studio_folder() -> Path | None:
    """The folder that POURWELL_STUDIO names, else the user's data folder if there is one, else None.

    Raises BadDataError if the variable names no folder.
    """
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        folder = Path(named)
        if not folder.is_dir():
            raise BadDataError(
                f"{FOLDER_VARIABLE} names {named}, which is no folder.", try_this="Make the folder, or unset the variable."
            )
        return folder
    usual = Path(platformdirs.user_data_dir("pourwell", appauthor=False))
    return usual if usual.is_dir() else None


def melts_if_asked(recipe: Mapping[str, float]) -> MeltingRange | None:
    """Solidus and liquidus of an own recipe that says neither. What computes them is loaded only where one asks."""
    from pourwell.steps.melt.computed import melts

    return melts(load_library())(recipe)


def open_shop(folder: Path | None = None) -> Shop:
    """The shop of a folder, or of the usual one. Raises BadDataError for a file that does not say what it must."""
    where = folder or studio_folder()
    return Shop(folder=where, studio=load_studio(where), library=load_library(where, melts=_melts))


def _melts(recipe: Mapping[str, float]) -> MeltingRange | None:
    """The melting range of an own recipe; what computes it is loaded only if there is one."""
    from pourwell.steps.melt.computed import melts

    return melts(load_library())(recipe)
