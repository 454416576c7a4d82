"""What was measured, kept in the studio's folder on request; and the picture of it."""

from pathlib import Path
from typing import Final

from pourwell.app.calibrating import Told
from pourwell.app.pictures import SCHEMA
from pourwell.app.shop import studio_folder
from pourwell.errors import BadRequestError
from pourwell.files.folder import LIST, write_folder
from pourwell.files.one_file import write_beside
from pourwell.files.plan_json import SCHEMA_VERSION, to_bytes
from pourwell.materials.calibration import FOLDER, to_toml


def keep_told(told: Told, *, folder: Path | None = None) -> tuple[Path, ...]:
    """Write what was measured into the studio's folder, all of it or none; older files stay. Their paths.

    Raises BadRequestError where there is nothing to keep or something speaks against it, or there is no studio folder.
    """
    where = folder or studio_folder()
    if where is None:
        raise BadRequestError(
            "There is no studio folder to keep it in.", try_this="Make one and name it in POURWELL_STUDIO; see docs/studio.md."
        )
    if told.doubtful:
        raise BadRequestError("That is not kept.", why=told.doubtful)
    if not told.calibrations:
        raise BadRequestError(
            "Nothing was measured that could be kept.", try_this="Give a log with a fall, or with a probe in the flask."
        )
    return write_beside(where / FOLDER, {f"{one.name}.toml": to_toml(one) for one in told.calibrations})


PLAN_WORDS: Final = {
    "conductivity_ratio": "the mould's conductivity",
    "film_ratio": "the heat from kiln to flask",
    "water_ratio": "the water that goes into the kiln",
    "fall_c_per_h": "the kiln's fall",
    "overshoot_k": "how far it overshoots",
}
"""What of a plan a measured value replaces; the others are for the record."""


def becomes(told: Told) -> str:
    """Which values of a plan are then measured, for what."""
    out = []
    for one in told.calibrations:
        named = [PLAN_WORDS[key] for key in one.measures if key in PLAN_WORDS]
        if named:
            out.append(f"{' and '.join(named)} ({' '.join(part for part in (one.kind, one.of) if part)})")
    return "; ".join(out) + "." if out else "nothing that a plan leans on; rise and swing are for the record."


def would_go(told: Told) -> str:
    """Where --keep would write what."""
    where = studio_folder()
    names = ", ".join(f"{one.name}.toml" for one in told.calibrations)
    if where is None:
        return f"Nothing is written. There is no studio folder yet: make one for {names}, name it in POURWELL_STUDIO, then --keep."
    return f"Nothing is written. With --keep it goes into {where / FOLDER}: {names}."


def draw_log(told: Told, folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Write the picture of the log against the model as PNG and SVG, whole or not at all. Raises OutputError."""
    if told.picture is None:
        raise BadRequestError("A weighing has no picture.", try_this="Leave --pictures away.")
    files = {f"log-against-model.{end}": getattr(told.picture, end) for end in ("png", "svg")}
    listed = {"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": sorted([*files, LIST])}
    paths = write_folder(folder, files | {LIST: to_bytes(listed)}, replace=replace)
    return tuple(path for path in paths if path.name != LIST)
