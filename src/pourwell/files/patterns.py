"""Pattern files in, told apart by what is in them: STL, OBJ, PLY, 3MF, GLB, glTF, STEP; named bodies in mm, or a BadFileError."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, NamedTuple

import numpy as np

from pourwell.errors import BadFileError, shown
from pourwell.files import pattern_stl
from pourwell.files.pattern_limits import LIMIT_COUNT, LIMIT_FILE_BYTES, too_long, too_many
from pourwell.files.pattern_numbers import BOM, single_step
from pourwell.files.pattern_obj import read_obj
from pourwell.files.pattern_parts import put_together
from pourwell.files.pattern_ply import HEADER_LIMIT_BYTES, fills, is_single, read_header, read_ply
from pourwell.files.pattern_scene import read_gltf
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.steps.pattern.model import MM_PER_UNIT

Kind = Literal["STL", "OBJ", "PLY", "3MF", "GLB", "glTF", "STEP"]
ENDINGS: Final[dict[str, Kind]] = {
    ".stl": "STL",
    ".obj": "OBJ",
    ".ply": "PLY",
    ".3mf": "3MF",
    ".glb": "GLB",
    ".gltf": "glTF",
    ".step": "STEP",
    ".stp": "STEP",
}

OTHERS: Final = (
    (b"3D Geometry File Format", "a file of a drawing program"),
    (b"Kaydara FBX", "an FBX file"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML file"),
    (b"{", "a JSON file"),
    (b"\xff\xfe", "a text in UTF-16"),
    (b"\xfe\xff", "a text in UTF-16"),
)
"""How other files begin, and what they are."""

TEXT_BYTES: Final = 500
"""A triangle in a text file never takes more than this, so a longer file holds more triangles than the limit."""

CHUNK_BYTES: Final = 1 << 24
LONGEST_WORD: Final = 16
"""Words that are counted are shorter than this."""

FARTHEST: Final = 1e9
"""Coordinates beyond this, in any unit, are no pattern but damage."""

EMPTY_SHARE: Final = 1e-9
"""A mesh that encloses less than this share of its box encloses nothing."""

GLTF_WORDS: Final = (b'"asset"', b'"accessors"', b'"buffers"', b'"bufferViews"', b'"meshes"', b'"scenes"')
"""What some of a JSON file's first keys are if it is a glTF."""

READABLE: Final = "STL, OBJ, PLY, 3MF, GLB, glTF or STEP"

LONGEST_NAME: Final = 100
BRACES: Final = str.maketrans("{}", "()")
"""Quantities stand in braces in our sentences; a name must not look like one."""

SIMPLE_BYTES: Final = 20_000_000
"""Up to this size a file of fixed rows is read where we are: see `simple`."""


class NamedMesh(NamedTuple):
    """One body as the file names it."""

    name: str
    mesh: Mesh


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternFile:
    """What a file holds, in millimetres."""

    name: str
    """The file's name without its ending."""
    kind: Kind
    bodies: tuple[NamedMesh, ...]
    units: str
    """What the numbers were taken in."""
    units_from: Literal["file", "user", "assumed"]
    own_units: str
    """What the file itself says; empty if nothing."""
    triangle_count: int
    remarks: tuple[str, ...]
    """Sentences about what is odd in the file, but did not keep it from being read."""
    step_mm: float = 0.0
    """By how much its numbers step at the farthest corner, where they are of single precision; 0 where they are finer."""


def read_pattern(path: Path, *, units: str | None = None, limit_count: int = LIMIT_COUNT) -> PatternFile:
    """Read a pattern file.

    Parameters
    ----------
    units : "mm", "cm", "m", "um", "inch" or "foot" if the user says so, which beats what the file says; else the file's own,
        else mm is assumed
    limit_count : triangles at most; checked against the header before the rest is loaded where there is one

    Raises
    ------
    BadFileError if the file is missing, empty, cut short, not what its name says, too large, or holds no body.
    """
    head, size = _head(path)
    kind = _kind(path, head, size)
    _refuse_long(path, head, size, kind=kind, limit_count=limit_count)
    with np.errstate(all="ignore"):  # numbers out of all bounds are told of below
        parts, own_units, remarks, step = _read(path, head, size, kind=kind, limit_count=limit_count)
        found = [(name, mesh) for name, mesh in parts if len(mesh.faces)]
        count = sum(len(mesh.faces) for _, mesh in found)
        if count > limit_count:
            raise too_many(path.name, count, limit_count)
        for name, mesh in found:
            _check_numbers(path, name, mesh)
        taken = units or own_units or "mm"
        file = PatternFile(
            name=shown_name(path.stem),
            kind=kind,
            bodies=tuple(
                NamedMesh(shown_name(name) or shown_name(path.stem), mesh.scaled(MM_PER_UNIT[taken]))
                for name, mesh in put_together(found)
            ),
            units=taken,
            units_from="user" if units else "file" if own_units else "assumed",
            own_units=own_units,
            triangle_count=count,
            remarks=remarks,
            step_mm=step * MM_PER_UNIT[taken],
        )
        _check_volume(path, file)
    return file


def shown_name(name: str) -> str:
    """A name that can be shown: no line of its own, nothing that steers a terminal or a sentence, no longer than a line."""
    return shown(name[:LONGEST_NAME]).translate(BRACES).strip()


def simple(path: Path) -> bool:
    """Is a file so simple that reading it can neither hang nor take more memory than it has bytes, give or take.

    That is a binary STL or PLY of rows of one length whose header agrees with the size of the file, which numpy reads in one
    go. Raises BadFileError for a file that cannot be read at all.
    """
    head, size = _head(path)
    kind = _kind(path, head, size)
    if size > SIMPLE_BYTES:
        return False
    return (kind == "STL" and pattern_stl.is_binary(head, size)) or (kind == "PLY" and fills(read_header(head, path.name), size))


def _head(path: Path) -> tuple[bytes, int]:
    """The first bytes and the size."""
    try:
        if not path.is_file():
            why = "It is a folder." if path.is_dir() else "It is no file." if path.exists() else "No such file."
            raise BadFileError(f"{path} cannot be read.", why=why, try_this=f"Name a pattern file: {READABLE}.")
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(HEADER_LIMIT_BYTES)
    except (OSError, ValueError) as err:
        why = (isinstance(err, OSError) and err.strerror) or "No file can have this name"
        raise BadFileError(f"{path} cannot be read.", why=f"{why}.", try_this="Check the name, and who may read it.") from err
    if size > LIMIT_FILE_BYTES:
        raise too_long(path.name, size, LIMIT_FILE_BYTES)
    if not head.strip(b"\0 \t\r\n"):
        raise BadFileError(
            f"{path.name} is empty.", why=f"It has {size:,} bytes, and nothing in them.", try_this="Export it again."
        )
    return head, size


def _kind(path: Path, head: bytes, size: int) -> Kind:
    """What the file is by its content. Raises BadFileError if that is nothing that we read, or not what the name says."""
    named = ENDINGS.get(path.suffix.lower())
    kind = _content(head, size)
    other = next((words for mark, words in OTHERS if head.lstrip().startswith(mark)), "")
    if kind is None and not other and named == "STL" and not _is_text(head):
        return "STL"  # binary, and its size belies its header: its reader says how
    if kind is None:
        raise BadFileError(
            f"{path.name} is no pattern file that can be read.",
            why=f"By its content it is {other or 'none of the kinds that are known'}.",
            try_this=f"Save the pattern as {READABLE}.",
        )
    if named and named != kind:
        right = next(ending for ending, form in ENDINGS.items() if form == kind)
        raise BadFileError(
            f"{path.name} is not what its name says.",
            why=f"By its content it is {kind}, not {named}.",
            try_this=f"Rename it to {path.stem}{right} if that is the file you mean.",
        )
    return kind


def _content(head: bytes, size: int) -> Kind | None:
    """What the first bytes say."""
    if head.startswith(b"PK"):
        return "3MF"
    if head.startswith(b"glTF"):
        return "GLB"
    if pattern_stl.is_binary(head, size):
        return "STL"
    head = head.removeprefix(BOM)
    if head.startswith(b"ply") and head[3:4] in (b"\n", b"\r", b" "):
        return "PLY"
    if head.lstrip().startswith(b"ISO-10303-21"):
        return "STEP"
    if head.lstrip().startswith(b"{") and any(word in head for word in GLTF_WORDS):
        return "glTF"
    if not _is_text(head):
        return "STL" if head[:5].lower() == b"solid" else None
    lines = head.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ").splitlines()
    first = [line.split()[:1] for line in lines if line.strip() and not line.lstrip().startswith(b"#")]
    words = [line[0].lower() for line in first]
    if words and words[0] == b"solid":
        return "STL"
    obj = (b"v", b"vn", b"vt", b"f", b"o", b"g", b"s", b"mtllib", b"usemtl", b"l", b"p")
    return "OBJ" if b"v" in words and all(word in obj for word in words[: words.index(b"v") + 1]) else None


def _binary_stl(head: bytes, size: int) -> bool:
    """Is an STL file binary: by its size, whatever its first word is, else by bytes that no text has."""
    return pattern_stl.is_binary(head, size) or not _is_text(head)


def _is_text(head: bytes) -> bool:
    return b"\0" not in head and all(byte >= ord(" ") or byte in b"\t\r\n\f" for byte in head[:1024])


def _refuse_long(path: Path, head: bytes, size: int, *, kind: Kind, limit_count: int) -> None:
    """Refuse a file of too many triangles before it is loaded: by its header, or by counting through it."""
    if kind == "STL" and _binary_stl(head, size):
        count = pattern_stl.triangle_count(head)
        if limit_count < count and size >= pattern_stl.HEADER_BYTES + pattern_stl.TRIANGLE_BYTES * count:
            raise too_many(path.name, count, limit_count)
    elif kind == "PLY":
        count = read_header(head, path.name).count("face")
        if count > limit_count:
            raise too_many(path.name, count, limit_count)
    elif kind in ("STL", "OBJ"):
        if size > limit_count * TEXT_BYTES:
            raise too_many(path.name, None, limit_count)
        words = {b"endfacet": 1, b"facet": 2, b"vertex": 3} if kind == "STL" else {b"\nf ": 1, b"\nv ": 3}
        found = _counted(path, tuple(words))
        count = found[0]
        if any(number > each * limit_count for number, each in zip(found, words.values(), strict=True)):
            raise too_many(path.name, count if count > limit_count else None, limit_count)


def _counted(path: Path, words: Sequence[bytes]) -> list[int]:
    """How often each word stands in a file, read piece by piece."""
    counts, end = [0] * len(words), b""
    with path.open("rb") as file:
        while chunk := file.read(CHUNK_BYTES).lower():
            for k, word in enumerate(words):
                counts[k] += (end[len(end) - len(word) + 1 :] + chunk).count(word)
            end = (end + chunk)[-LONGEST_WORD:]
    return counts


def _read(
    path: Path, head: bytes, size: int, *, kind: Kind, limit_count: int
) -> tuple[Sequence[tuple[str, Mesh]], str, tuple[str, ...], float]:
    """The named meshes, the file's own unit, what is odd, and by how much single numbers step."""
    if kind == "3MF":
        from pourwell.files.pattern_3mf import read_3mf  # its XML reader takes a while to load

        parts, unit = read_3mf(path, limit_count)
        return parts, unit, (), 0.0
    if kind == "STEP":
        from pourwell.files.pattern_step import read_step

        return read_step(path, limit_count)
    if kind in ("GLB", "glTF"):
        solids, odd, step = read_gltf(path, limit_count)
        return solids, "m", odd, step
    single = False
    if kind == "PLY":
        solids, odd = read_ply(path)
        single = is_single(read_header(head, path.name))
    elif kind == "OBJ":
        named, odd = read_obj(path)
        solids = [(" ".join(filter(None, (obj, group))), mesh) for obj, group, mesh in named]
    elif _binary_stl(head, size):
        solids, odd = pattern_stl.read_binary(path, size)
        single = True
    else:
        solids, odd = pattern_stl.read_text(path)
    return solids, "", odd, max((single_step(mesh.vertices) for _, mesh in solids if single), default=0.0)


def _check_numbers(path: Path, name: str, mesh: Mesh) -> None:
    points = mesh.vertices
    if not np.abs(points).max() <= FARTHEST:
        points = points[np.unique(mesh.faces)]  # a corner that no triangle uses may be anything
    wrong = int((~np.isfinite(points).all(axis=1)).sum())
    if wrong:
        raise BadFileError(
            f"{path.name} holds {wrong:,} corners that are no numbers.",
            why=f'They are not a number or infinite, in the body "{name or path.stem}".',
            try_this="Mend the mesh in your drawing program, and export it again.",
        )
    if np.abs(points).max() > FARTHEST:
        raise BadFileError(
            f"{path.name} holds corners farther out than any pattern.",
            why=f"Some coordinate is beyond {FARTHEST:g}.",
            try_this="Export it again; the file is probably damaged.",
        )


def _check_volume(path: Path, file: PatternFile) -> None:
    """Refuse a file that encloses nothing: no triangles, all in one plane, or a sheet counted from both sides."""
    if not file.bodies:
        raise BadFileError(
            f"{path.name} holds no triangles.",
            why="There is no surface in it that could be cast.",
            try_this="Export the solid itself, not curves, points or an empty layer.",
        )
    bounds = [body.mesh.bounds for body in file.bodies]
    low, high = np.min([b[0] for b in bounds], axis=0), np.max([b[1] for b in bounds], axis=0)
    volume = sum(abs(_signed_volume(body.mesh, (low + high) / 2)) for body in file.bodies)
    if volume <= EMPTY_SHARE * float((high - low).max()) ** 3:
        raise BadFileError(
            f"{path.name} encloses no volume.",
            why="All of it lies flat, or it is a sheet without thickness.",
            try_this="Give it a thickness in your drawing program: only a closed solid can be cast.",
        )


def _signed_volume(mesh: Mesh, middle: Floats) -> float:
    """Volume between the triangles and a point: what a closed mesh encloses, and nothing for one that lies flat about it."""
    a, b, c = np.moveaxis(mesh.corners - middle, 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)
