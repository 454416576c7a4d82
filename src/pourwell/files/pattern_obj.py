"""OBJ files: numbered corners, then faces by number; objects and groups give the bodies their names; no units."""

import re
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import MOST_PARTS, TRY
from pourwell.files.pattern_numbers import BOM, Counts, Doubles, Numbers
from pourwell.geometry.mesh import Floats, Ints, Mesh

LINE: Final = re.compile(rb"([^\r\n]*)(?:\r\n|\r|\n|\Z)")


@dataclass(slots=True)
class _Faces:
    """The faces of one object and group: how many corners each has, and the corners one after another, numbered from 0."""

    sizes: Counts = field(default_factory=lambda: array("q"))
    corners: Counts = field(default_factory=lambda: array("q"))


@dataclass(slots=True)
class _Lines:
    """What the lines of a file say."""

    corners: Doubles = field(default_factory=lambda: array("d"))
    faces: dict[tuple[str, str], _Faces] = field(default_factory=dict)
    here: tuple[str, str] = ("", "")
    numbers: Numbers = field(default_factory=Numbers)


def read_obj(path: Path) -> tuple[list[tuple[str, str, Mesh]], tuple[str, ...]]:
    """The bodies of a file as (object, group, mesh), one for every object and group that has faces; and what is odd.

    Faces of more than three corners are cut into triangles. A face may count its corners backward from the last one.
    Raises BadFileError with the line that makes no sense.
    """
    lines, data = _Lines(), path.read_bytes().removeprefix(BOM)
    if b"\\" in data:
        data = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    for number, match in enumerate(LINE.finditer(data), start=1):
        line = match.group(1)
        words = line.split()
        if not words:
            continue
        try:
            _take(words, lines)
        except (ValueError, IndexError, OverflowError) as err:
            raise BadFileError(
                f"{path.name} cannot be read at line {number}.",
                why=f'It says "{line[:60].decode("utf-8", "replace").strip()}".',
                try_this=TRY,
            ) from err
    points = np.array(lines.corners, dtype=np.float64).reshape(-1, 3)
    if len(lines.faces) > MOST_PARTS:
        raise BadFileError(f"{path.name} cannot be read.", why=f"It holds over {MOST_PARTS:,} groups.", try_this="Export fewer.")
    bodies = [(*names, _mesh(points, faces, alone=len(lines.faces) == 1)) for names, faces in lines.faces.items()]
    return bodies, lines.numbers.remarks


def _mesh(points: Floats, faces: _Faces, *, alone: bool) -> Mesh:
    """The mesh of one object and group; of several that share their corners, each with its own."""
    sizes, corners = np.array(faces.sizes, dtype=np.int64), np.array(faces.corners, dtype=np.int64)
    if not alone:
        used, corners = np.unique(corners, return_inverse=True)
        points = points[used]
    return Mesh(points, triangles(points, sizes, corners))


def _take(words: list[bytes], lines: _Lines) -> None:
    """Take in one line; raises ValueError where it makes no sense."""
    key = words[0].lower()
    if key == b"v":
        if len(words) < 4:
            raise ValueError("a corner has fewer than three coordinates")
        lines.corners.extend(_coordinates(words[1:4], lines))
    elif key == b"f":
        known = len(lines.corners) // 3
        face = []
        for word in words[1:]:
            index = int(word.split(b"/", 1)[0])
            index = index - 1 if index > 0 else known + index
            if not 0 <= index < known or word.startswith(b"0"):
                raise ValueError("a face names a corner that is not there")
            face.append(index)
        if len(face) < 3:
            raise ValueError("a face has fewer than three corners")
        faces = lines.faces.setdefault(lines.here, _Faces())
        faces.sizes.append(len(face))
        faces.corners.extend(face)
    elif key == b"o":
        lines.here = (_name(words[1:]), "")
    elif key == b"g":
        lines.here = (lines.here[0], _name(words[1:]))


def _coordinates(words: list[bytes], lines: _Lines) -> Sequence[float]:
    """The numbers of one corner; those without a comma, which is nearly all, by the short way."""
    if not lines.numbers.commas:
        try:
            return float(words[0]), float(words[1]), float(words[2])
        except ValueError:
            lines.numbers.points = any(number % 1 for number in lines.corners)  # a fraction that was read was written with a point
    read: list[float] = lines.numbers.read(words).tolist()
    return read


def _name(words: Iterable[bytes]) -> str:
    return b" ".join(words).decode("utf-8", "replace")


def triangles(points: Floats, sizes: Ints, corners: Ints) -> Ints:
    """Faces of any number of corners as triangles; a face that is not convex is cut along its ears.

    Parameters
    ----------
    points : (n, 3) float array
    sizes : (f,) int array, how many corners each face has, three at least
    corners : (sum of sizes,) int array, the corners of the faces one after another

    Returns
    -------
    (m, 3) int array
    """
    starts = np.cumsum(sizes) - sizes
    out = [np.zeros((0, 3), dtype=np.int64)]
    for size in np.unique(sizes).tolist():
        group = corners[starts[sizes == size][:, None] + np.arange(size)]
        out.append(group if size == 3 else _cut(points, group))
    return np.vstack(out)


def _cut(points: Floats, group: Ints) -> Ints:
    """Faces of one number of corners, (f, size), as triangles."""
    size = group.shape[1]
    loops = points[group]
    with np.errstate(invalid="ignore", over="ignore"):  # corners that are no numbers are told of later
        normal = np.cross(loops - np.roll(loops, 1, axis=1), np.roll(loops, -1, axis=1) - loops)
        convex = (np.einsum("fci,fi->fc", normal, normal.sum(axis=1)) >= 0).all(axis=1)
    fan = np.stack((np.zeros(size - 2, dtype=np.int64), np.arange(1, size - 1), np.arange(2, size)), axis=1)
    ears = [face[_ears(points[face], fan)] for face in group[~convex]]
    return np.vstack((group[convex][:, fan].reshape(-1, 3), *ears))


def _ears(loop: Floats, fan: Ints) -> Ints:
    """The triangles of one face that is not convex; the fan where its outline crosses itself."""
    import manifold3d  # only where a face is not convex: the engine takes a while to load

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
