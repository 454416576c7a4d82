"""A log against its model: the curves of a firing, the picture of them, and its files."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pourwell.app.pictures import SCHEMA
from pourwell.errors import BadRequestError
from pourwell.files.folder import LIST, write_folder
from pourwell.files.kiln_log import KilnLog, LogColumn
from pourwell.files.plan_json import SCHEMA_VERSION, to_bytes
from pourwell.physics.burnout.fit import Firing, Fitted
from pourwell.sheets.drawing import Drawing
from pourwell.sheets.log_view import Trace, log_view
from pourwell.units import k_from_c

if TYPE_CHECKING:
    from pourwell.app.calibrating import Told

NAME: Final = "log-against-model"
"""Of the picture's files."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curves:
    """What the kiln read, and at each place in the flask what was read there and what the model gives."""

    kiln: Trace
    inside: Mapping[str, Trace]
    """By place."""
    title: str
    about: str

    @property
    def drawing(self) -> Drawing:
        """As a picture."""
        return log_view(self.kiln, list(self.inside.values()), title=self.title, about=self.about)


def curves_of(
    log: KilnLog, kiln: LogColumn, inside: Mapping[str, LogColumn], *, fitted: Fitted | None, firing: Firing | None, about: str
) -> Curves:
    """The curves of a log, with the model's where one was fitted."""
    probes: Sequence[Trace]
    if fitted and firing:
        pairs = zip(firing.probes, fitted.given, strict=True)
        probes = [
            Trace(name=p.name, times=p.times, readings=p.temperatures - k_from_c(0), modelled=given - k_from_c(0))
            for p, given in pairs
        ]
    else:
        probes = [Trace(name=place, times=log.times[c.known], readings=c.readings[c.known]) for place, c in inside.items()]
    return Curves(
        kiln=Trace(name=f"kiln ({kiln.name})", times=log.times[kiln.known], readings=kiln.readings[kiln.known]),
        inside=dict(zip(inside, probes, strict=True)),
        title=f"{log.file} against the model" if fitted else log.file,
        about=about,
    )


def draw_log(told: "Told", folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Write the picture of the log against the model as PNG and SVG, whole or not at all. Raises OutputError."""
    files = picture_files(told)
    if not files:
        raise BadRequestError("A weighing has no picture.", try_this="Leave --pictures away.")
    listed = {"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": sorted([*files, LIST])}
    paths = write_folder(folder, files | {LIST: to_bytes(listed)}, replace=replace)
    return tuple(path for path in paths if path.name != LIST)


def picture_files(told: "Told") -> dict[str, bytes]:
    """The picture as PNG and SVG, by name; none for a weighing."""
    drawing = told.picture
    return {f"{NAME}.png": drawing.png, f"{NAME}.svg": drawing.svg} if drawing else {}
