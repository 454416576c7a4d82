"""OBJ files: numbered corners, then faces by number; objects and groups give the bodies their names; no units."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import manifold3d
import numpy as np

from pourwell.errors import BadFileError
from pourwell.geometry.mesh import Floats, Ints, Mesh

TRY: Final = "Export it again, or save it as STL."


@dataclass(slots=True)
class _Lines:
    """What the lines of a file say."""

    corners: list[tuple[float, float, float]] = field(default_factory=list)
    faces: dict[tuple[str, str], list[list[int]]] = field(default_factory=dict)
    """Object and group to the corners of each face, numbered from 0."""
    here: tuple[str, str] = ("", "")


def read_obj(path: Path) -> list[tuple[str, str, Mesh]]:
    """The bodies of a file as (object, group, mesh): one for every object and group that has faces.

    Faces of more than three corners are cut into triangles. A face may count its corners backward from the last one.
    """
    lines = _Lines()
    data = path.read_bytes().replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    for number, line in enumerate(data.splitlines(), start=1):
        words = line.split()
        if not words:
            continue
        try:
            _take(words, lines)
        except (ValueError, IndexError) as err:
            raise BadFileError(
                f"{path.name} cannot be read at line {number}.",
                why=f'It says "{line[:60].decode("utf-8", "replace").strip()}".',
                try_this=TRY,
            ) from err
    points = np.array(lines.corners, dtype=np.float64).reshape(-1, 3)
    return [(obj, group, _mesh(points, faces)) for (obj, group), faces in lines.faces.items()]


def _take(words: list[bytes], lines: _Lines) -> None:
    """Take in one line; raises ValueError where it makes no sense."""
    key = words[0]
    if key == b"v":
        x, y, z = float(words[1]), float(words[2]), float(words[3])
        lines.corners.append((x, y, z))
    elif key == b"f":
        known = len(lines.corners)
        face = []
        for word in words[1:]:
            index = int(word.split(b"/", 1)[0])
            index = index - 1 if index > 0 else known + index
            if not 0 <= index < known or word.startswith(b"0"):
                raise ValueError("a face names a corner that is not there")
            face.append(index)
        if len(face) < 3:
            raise ValueError("a face has fewer than three corners")
        lines.faces.setdefault(lines.here, []).append(face)
    elif key == b"o":
        lines.here = (_name(words[1:]), "")
    elif key == b"g":
        lines.here = (lines.here[0], _name(words[1:]))


def _name(words: Iterable[bytes]) -> str:
    return b" ".join(words).decode("utf-8", "replace")


def _mesh(points: Floats, faces: list[list[int]]) -> Mesh:
    return Mesh(points, triangles(points, faces))


def triangles(points: Floats, faces: list[list[int]]) -> Ints:
    """Faces of any number of corners as triangles, (m, 3) int array; a face that is not convex is cut along its ears."""
    threes = [face for face in faces if len(face) == 3]
    out = [np.array(threes, dtype=np.int64).reshape(-1, 3)]
    by_size: dict[int, list[list[int]]] = {}
    for face in faces:
        if len(face) > 3:
            by_size.setdefault(len(face), []).append(face)
    for size, group in sorted(by_size.items()):
        corners = np.array(group, dtype=np.int64)
        loops = points[corners]
        with np.errstate(invalid="ignore", over="ignore"):  # corners that are no numbers are told of later
            normal = np.cross(loops - np.roll(loops, 1, axis=1), np.roll(loops, -1, axis=1) - loops)
            convex = (np.einsum("fci,fi->fc", normal, normal.sum(axis=1)) >= 0).all(axis=1)
        fan = np.stack((np.zeros(size - 2, dtype=np.int64), np.arange(1, size - 1), np.arange(2, size)), axis=1)
        out.append(corners[convex][:, fan].reshape(-1, 3))
        out += [face[_ears(points[face], fan)] for face in corners[~convex]]
    return np.vstack(out)


def _ears(loop: Floats, fan: Ints) -> Ints:
    """The triangles of one face that is not convex; the fan where its outline crosses itself."""
    if not np.isfinite(loop).all():
        return fan
    area = np.cross(loop - loop[0], np.roll(loop, -1, axis=0) - loop[0]).sum(axis=0)
    size = np.linalg.norm(area)
    if size == 0:
        return fan
    axis = area / size
    u = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    u /= np.linalg.norm(u)
    flat = np.stack((loop @ u, loop @ np.cross(axis, u)), axis=1)
    cut = np.asarray(manifold3d.triangulate([flat]), dtype=np.int64)
    return cut if cut.shape == fan.shape else fan
