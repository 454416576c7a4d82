"""A run's folder read back: its plan, and the tree as bodies and as one solid."""

import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pourwell.errors import BadDataError, BadFileError, BadRequestError
from pourwell.files.folder import LIST
from pourwell.files.pattern_stl import read_binary
from pourwell.files.plan_json import SCHEMA, SCHEMA_VERSION
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import faults, weld
from pourwell.units import mm_from_m

PLAN, BODIES, SOLID = "plan.json", "tree.glb", "tree.stl"
UPRIGHT_BACK = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
"""From the y that glTF has up to our z."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoredRun:
    """What a run's folder holds of a plan."""

    folder: Path
    """The run's own."""
    whole: Path
    """The job's folder, which lists all its files; the same for a single run."""
    plan: dict[str, Any]
    bodies: tuple[tuple[str, Mesh], ...]
    """In the tree's frame [mm]."""
    cast: Mesh


def is_run(path: Path) -> bool:
    """Is this a run's folder, or the plan in it."""
    return path.is_dir() or path.name == PLAN


def read_run(path: Path) -> StoredRun:
    """A run from its folder or its plan.json.

    Raises
    ------
    BadRequestError
        If there is no plan, or it is of a job of several runs, or holds no tree.
    BadDataError
        If a file is missing, or is not what we write.
    """
    folder = path if path.is_dir() else path.parent
    if not (folder / PLAN).is_file():
        runs = sorted(p.name for p in folder.glob("run-*") if (p / PLAN).is_file()) if folder.is_dir() else []
        raise BadRequestError(
            f"{folder} holds no plan.",
            why=f"It is a job of several runs: {', '.join(runs)}." if runs else "",
            try_this=f"Name one of them, as {folder / runs[0]}." if runs else "Name a folder that `pourwell plan` wrote.",
        )
    plan = _plan(folder / PLAN)
    if "tree" not in plan:
        raise BadRequestError(
            "This plan is of a weight, not of shapes.",
            why="Without a tree nothing can freeze.",
            try_this="Plan from pattern files.",
        )
    cast = _solid(folder / SOLID)
    whole = folder if (folder / LIST).is_file() else folder.parent
    return StoredRun(folder=folder, whole=whole, plan=plan, bodies=_bodies(folder / BODIES), cast=cast)


def _plan(path: Path) -> dict[str, Any]:
    try:
        plan = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as err:
        raise BadDataError(f"{path} is no plan.", why=f"It is not JSON: {err}.") from err
    if not isinstance(plan, dict) or plan.get("schema") != SCHEMA or plan.get("schema_version") != SCHEMA_VERSION:
        raise BadDataError(
            f"{path} is no plan of this version.",
            why=f"Its schema must be {SCHEMA} {SCHEMA_VERSION}.",
            try_this="Plan again from the pattern files.",
        )
    return plan


def _bytes(path: Path) -> bytes:
    if not path.is_file():
        raise BadDataError(f"{path} is missing.", why="The tree's shape is read from it.", try_this="Plan again.")
    return path.read_bytes()


def _foreign(path: Path, why: str) -> BadDataError:
    return BadDataError(f"{path} is not a tree that we wrote.", why=why, try_this="Plan again.")


def _bodies(path: Path) -> tuple[tuple[str, Mesh], ...]:
    """Placed pieces, sprues, stem and button by name."""
    import trimesh  # a fifth of a second to load, and most commands need none

    try:
        scene = trimesh.load_scene(io.BytesIO(_bytes(path)), file_type="glb", process=False)
        found = {name: scene.geometry[name] for name in scene.geometry}
    except (ValueError, KeyError, IndexError, TypeError) as err:
        raise _foreign(path, f"It cannot be read: {err}.") from err
    out = []
    for name, part in found.items():
        transform = np.asarray(scene.graph.get(name)[0])
        points = np.asarray(part.vertices) @ transform[:3, :3].T + transform[:3, 3]
        out.append((name, weld(Mesh(mm_from_m(1.0) * points @ UPRIGHT_BACK, np.asarray(part.faces)), tolerance_mm=0.0)))
    if not {"stem", "button"} <= set(found):
        raise _foreign(path, "It holds no stem or no button.")
    return tuple(out)


def _solid(path: Path) -> Mesh:
    """The tree as one closed solid."""
    _bytes(path)
    try:
        (_, loose), *_ = read_binary(path, path.stat().st_size)[0]
    except BadFileError as err:
        raise _foreign(path, err.why) from err
    mesh = weld(loose, tolerance_mm=0.0)
    if not faults(mesh).sound:
        raise BadDataError(
            f"{path} is not one closed solid.", why="It was made by an older version, or changed.", try_this="Plan again."
        )
    return mesh
