"""Parametric pieces as pattern files."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import trimesh

from pourwell.errors import BadRequestError, OutputError, UnknownNameError
from pourwell.files.one_file import check_new, write_file
from pourwell.files.plan_json import plain
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, ImpossibleShapeError, Shape
from pourwell.steps.pattern.sizes import diameter_of

ENDINGS = (".stl", ".ply", ".obj", ".3mf")
SIZE = "size"
BORE = "bore_mm"


def list_shapes() -> list[dict[str, Any]]:
    """Every shape with its dimensions and their defaults."""
    listed = []
    for shape in SHAPES.values():
        parameters = [plain(p) | {"name": _short(p.name)} for p in shape.parameters]
        if shape.is_ring:
            parameters.insert(
                0, {"name": SIZE, "default": "", "unit": "", "about": 'ring size with its system, as "ISO 54", for the bore'}
            )
        listed.append({"name": shape.name, "about": shape.about, "parameters": parameters})
    return listed


def _short(name: str) -> str:
    return name.removesuffix("_mm")


def build_shape(name: str, dimensions: Sequence[str]) -> Mesh:
    """The solid of a shape from `NAME=VALUE` words.

    Raises UnknownNameError for an unknown shape, BadRequestError for dimensions that it does not have or that no piece can have.
    """
    shape = SHAPES.get(name)
    if shape is None:
        unknown = UnknownNameError("shape", name, SHAPES)
        unknown.try_this = "`pourwell shape list` names them all."
        raise unknown
    try:
        return shape.make(**_numbers(shape, dimensions))
    except ImpossibleShapeError as err:
        raise BadRequestError(str(err)) from err


def _numbers(shape: Shape, words: Sequence[str]) -> dict[str, float]:
    known = {_short(p.name): p.name for p in shape.parameters}
    numbers: dict[str, float] = {}
    for word in words:
        key, sign, value = word.partition("=")
        if not sign or (key not in known and not (key == SIZE and shape.is_ring)):
            allowed = ", ".join([*([SIZE] if shape.is_ring else []), *known])
            raise BadRequestError(
                f'"{word}" is no dimension of {shape.name}.', try_this=f"Write NAME=VALUE with one of: {allowed}."
            )
        if key == SIZE:
            numbers[BORE] = diameter_of(value)
            continue
        try:
            numbers[known[key]] = float(value.removesuffix("mm").replace(",", "."))
        except ValueError:
            raise BadRequestError(f'"{word}": {value!r} is not a number.', try_this="Write millimetres, as width=4.") from None
    return numbers


def make_shape(name: str, dimensions: Sequence[str], *, out: Path | None, replace: bool) -> dict[str, Any]:
    """Make a shape and write it as a pattern file, whole or not at all; what was made, as data.

    Raises OutputError if the file exists and `replace` is not set, or cannot be written.
    """
    path = out or Path(f"{name}.stl")
    can_be_written(path, replace=replace)
    mesh = build_shape(name, dimensions)
    write_pattern(mesh, path)
    size = plain({"volume_mm3": mesh.volume_mm3, "area_mm2": mesh.area_mm2, "envelope_mm": mesh.envelope_mm})
    return {"file": str(path), "shape": name, "triangle_count": len(mesh.faces), **size}


def can_be_written(path: Path, *, replace: bool) -> None:
    """Raise OutputError if a file's ending is none that we write, or the file exists and is not to be replaced."""
    if path.suffix.lower() not in ENDINGS:
        raise OutputError(f"{path} ends in no form that we write.", try_this=f"End it in one of {', '.join(ENDINGS)}.")
    check_new(path, replace=replace)


def write_pattern(mesh: Mesh, path: Path) -> None:
    """Write a mesh [mm] as a pattern file, whole or not at all, over an older one. Raises OutputError."""
    write_file(path, mesh_bytes(mesh, path.suffix.lower()), replace=True)


def mesh_bytes(mesh: Mesh, ending: str) -> bytes:
    """A mesh as the bytes of a pattern file; `ending` is one of `.stl` (binary), `.ply`, `.obj`, `.3mf` (millimetres)."""
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    solid.units = "millimeters"
    plain = {"header": "Pourwell, in millimetres"} if ending == ".obj" else {}
    data = (
        trimesh.Scene(solid).export(file_type="3mf")
        if ending == ".3mf"
        else solid.export(file_type=ending.removeprefix("."), **plain)
    )
    return data if isinstance(data, bytes) else str(data).encode()
