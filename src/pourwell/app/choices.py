"""What can be chosen on the desk, by id and name. It reads tables only, so a first page waits for no computation to load."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import time, tzinfo
from pathlib import Path
from typing import Final

from pourwell.app.desk_words import TIMES
from pourwell.app.shop import melts_if_asked
from pourwell.materials.library import load_library, shipped_tables
from pourwell.materials.model import FlaskRow
from pourwell.materials.studio import load_studio

SMALLEST: Final = ("", "Smallest that fits")
USUAL: Final = ("", "Chosen for the pattern")
ONLY_KILN: Final = "The kiln"
"""What one without a name is called."""
USUAL_BURNOUT: Final = ("", "Of the investment")
PRINTED: Final = "resin"
"""The family of pattern materials that are printed."""
Choice = tuple[str, str]
"""An id, and how people call it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """The studio's lists."""

    studio: str
    zone: tzinfo | None
    work_from: time
    work_to: time
    alloys: tuple[Choice, ...]
    flasks: tuple[Choice, ...]
    investments: tuple[Choice, ...]
    materials: tuple[Choice, ...]
    resins: tuple[Choice, ...]
    """Of the materials, those that are printed."""
    programmes: tuple[Choice, ...]
    """The studio's own burnouts: those of the library come with their investment."""
    published: tuple[Choice, ...]
    """Those of the library, to be judged as they stand."""
    flask_c: Mapping[str, float]
    """The flask temperature of a medium section, by the id of the alloy."""
    kilns: tuple[Choice, ...]
    """Where there are several, by their names; the first is the one of a run that names none."""
    kiln_names: tuple[str, ...]
    """Of every kiln, also of the only one; empty for one that has none."""
    liquidus_c: Mapping[str, float]
    """Of each alloy, by its id."""

    def alloy_name(self, alloy: str) -> str:
        """How an alloy is called."""
        return dict(self.alloys).get(alloy, alloy)

    def kilns_with(self, chosen: str) -> tuple[Choice, ...]:
        """The kilns to choose from, with the one that was chosen, which may have come to the first place or be no more."""
        if chosen in ("", *dict(self.kilns)):
            return self.kilns
        if chosen in self.kiln_names:
            return ((chosen, chosen), *self.kilns[1:]) if self.kilns else ()
        return (*(self.kilns or (("", self.kiln_names[0] or ONLY_KILN),)), gone(chosen))


def gone(kiln: str) -> Choice:
    """A kiln that was chosen and that the studio has no more."""
    return kiln, f"{kiln}, not in studio.toml"


def kiln_fault(chosen: str, kilns: Sequence[str]) -> str:
    """Why a run cannot be fired in the kiln that it names; empty if it can.

    kilns : the names of all of the studio's
    """
    if not chosen or chosen in kilns:
        return ""
    return f'No kiln is called "{chosen}" any more. Choose another one, or give a kiln this name among the equipment.'


def choices(folder: Path) -> Choices:
    """The lists of a studio folder. Raises BadDataError for a file that does not say what it must."""
    studio, library = load_studio(folder), load_library(folder, melts=melts_if_asked)
    shipped = shipped_tables("programmes")
    rows = studio.flasks or tuple(library.flasks.values())
    return Choices(
        studio=studio.name,
        zone=studio.zone,
        work_from=studio.work_from,
        work_to=studio.work_to,
        alloys=tuple((row.id, row.name) for row in library.alloys.values()),
        flasks=tuple(_flasks(rows)),
        investments=tuple((row.id, row.name) for row in library.investments.values()),
        programmes=tuple((row.id, row.name) for row in library.programmes.values() if row.id not in shipped),
        published=tuple((row.id, row.name) for row in library.programmes.values() if row.id in shipped),
        flask_c={row.id: row.flask_medium_c.value for row in library.alloys.values()},
        kilns=tuple((kiln.name if place else "", kiln.name) for place, kiln in enumerate(studio.kilns if studio.kilns[1:] else ())),
        kiln_names=tuple(kiln.name for kiln in studio.all_kilns),
        liquidus_c={row.id: row.liquidus_c.value for row in library.alloys.values()},
        materials=tuple((row.id, row.name) for row in library.patterns.values()),
        resins=tuple((row.id, row.name) for row in library.patterns.values() if row.family == PRINTED),
    )


def _flasks(rows: Iterable[FlaskRow]) -> Iterable[Choice]:
    for row in sorted(rows, key=lambda r: (r.diameter_mm, r.height_mm, r.perforated)):
        yield row.id, f"{row.diameter_mm:g} {TIMES} {row.height_mm:g} mm{', perforated' if row.perforated else ''}"
