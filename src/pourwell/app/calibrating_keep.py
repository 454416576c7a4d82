"""What was measured, kept in the studio's folder on request. Nothing that computes is loaded here: the desk keeps by it too."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pourwell.app.shop import studio_folder
from pourwell.errors import BadRequestError
from pourwell.files.one_file import write_beside
from pourwell.materials.calibration import FOLDER, Calibration, to_toml

if TYPE_CHECKING:
    from pourwell.app.calibrating import Told


def keep_told(told: "Told", *, folder: Path | None = None) -> tuple[Path, ...]:
    """Write what was measured into the studio's folder. Raises as `keep`, and BadRequestError where there is no studio folder."""
    where = folder or studio_folder()
    if where is None:
        raise BadRequestError(
            "There is no studio folder to keep it in.", try_this="Make one and name it in POURWELL_STUDIO; see docs/studio.md."
        )
    return keep(told.calibrations, where, doubtful=told.doubtful)


def keep(calibrations: Sequence[Calibration], folder: Path, *, doubtful: str) -> tuple[Path, ...]:
    """Write calibrations into a studio's folder, all of them or none; older files stay. Their paths.

    Raises BadRequestError where there is nothing to keep or something speaks against it, OutputError.
    """
    if doubtful:
        raise BadRequestError("That is not kept.", why=doubtful)
    if not calibrations:
        raise BadRequestError(
            "Nothing was measured that could be kept.", try_this="Give a log with a fall, or with a probe in the flask."
        )
    contents = zip(files_of(calibrations), map(to_toml, calibrations), strict=True)
    return write_beside(folder / FOLDER, dict(contents))


def files_of(calibrations: Sequence[Calibration]) -> list[str]:
    """The names of the files into which calibrations go, as long as nothing else has them."""
    return [f"{one.name}.toml" for one in calibrations]


PLAN_WORDS: Final = {
    "conductivity_ratio": "the mould's conductivity",
    "film_ratio": "the heat from kiln to flask",
    "water_ratio": "the water that goes into the kiln",
    "fall_c_per_h": "the kiln's fall",
    "overshoot_k": "how far it overshoots",
}
"""What of a plan a measured value replaces; the others are for the record."""


def becomes(calibrations: Sequence[Calibration]) -> str:
    """Which values of a plan are then measured, for what."""
    out = []
    for one in calibrations:
        named = [PLAN_WORDS[key] for key in one.measures if key in PLAN_WORDS]
        if named:
            out.append(f"{' and '.join(named)} ({' '.join(part for part in (one.kind, one.of) if part)})")
    return "; ".join(out) + "." if out else "nothing that a plan leans on; rise and swing are for the record."


def would_go(calibrations: Sequence[Calibration]) -> str:
    """Where --keep would write what."""
    where, names = studio_folder(), ", ".join(files_of(calibrations))
    if where is None:
        return f"Nothing is written. There is no studio folder yet: make one for {names}, name it in POURWELL_STUDIO, then --keep."
    return f"Nothing is written. With --keep it goes into {where / FOLDER}: {names}."
