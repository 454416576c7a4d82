"""A studio as one file to keep elsewhere, and a studio from such a file: in a new folder beside, never over what is there."""

from dataclasses import dataclass
from datetime import datetime
from itertools import chain, count
from pathlib import Path

from pourwell.app.desk_words import safe_name
from pourwell.errors import PourwellError
from pourwell.materials.library import load_library
from pourwell.materials.studio import load_studio
from pourwell.store.back_up import restore
from pourwell.store.store import Store

ENDING = ".pourwell.zip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A studio that was taken in from a back-up."""

    folder: Path
    files_count: int
    patterns_count: int
    runs_count: int
    doubt: str
    """What is wrong with its own files, as it was when it was kept; empty: nothing."""


def file_name(studio: str, now: datetime) -> str:
    """What a back-up of today is called."""
    words = safe_name(studio.replace(" ", "-").lower() + ".x").removesuffix(".x")
    return f"{words or 'studio'}-{now:%Y-%m-%d}{ENDING}"


def place_beside(folder: Path, now: datetime) -> Path:
    """A folder beside the studio's that is not there yet."""
    name = f"{folder.name}-restored-{now:%Y-%m-%d}"
    tries = (folder.parent / f"{name}-{n}" for n in count(2))
    return next(place for place in chain([folder.parent / name], tries) if not place.exists())


def take_in(file: Path, studio: Path, now: datetime) -> Restored:
    """Make a new folder beside the studio's from a back-up, and look whether it can be opened. Raises BadFileError, OutputError."""
    folder = place_beside(studio, now)
    files_count = restore(file, folder)
    store = Store(folder)
    try:
        patterns, runs = len(store.patterns()), len(store.runs())
    finally:
        store.close()
    doubt = ""
    try:
        load_studio(folder)
        load_library(folder)
    except PourwellError as err:
        doubt = str(err)
    return Restored(folder=folder, files_count=files_count, patterns_count=patterns, runs_count=runs, doubt=doubt)
