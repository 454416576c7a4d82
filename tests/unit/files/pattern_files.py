"""Pattern files for the tests, written by hand: every format from corners and faces, without a library."""

import struct
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import pytest

from pourwell.errors import BadFileError
from pourwell.files.patterns import PatternFile, read_pattern
from pourwell.geometry.mesh import Mesh

CUBE_CORNERS = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (0.0, 1.0)])
CUBE_QUADS = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
"""Seen from outside, anticlockwise."""


def cube(side: float = 4.0, at: Sequence[float] = (0.0, 0.0, 0.0)) -> Mesh:
    """A cube of twelve triangles with its lowest corner at a place."""
    faces = [[q[0], q[k], q[k + 1]] for q in CUBE_QUADS for k in (1, 2)]
    return Mesh(CUBE_CORNERS * side + np.asarray(at), np.array(faces))


def joined(*meshes: Mesh) -> Mesh:
    """Several meshes as one, nothing welded."""
    starts = np.cumsum([0, *(len(m.vertices) for m in meshes)])
    return Mesh(np.vstack([m.vertices for m in meshes]), np.vstack([m.faces + s for m, s in zip(meshes, starts, strict=False)]))


def loose(mesh: Mesh) -> Mesh:
    """The mesh as an STL file holds it: every triangle with corners of its own."""
    return Mesh(mesh.corners.reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3))


def binary_stl(path: Path, mesh: Mesh, *, header: bytes = b"", count: int | None = None, tail: bytes = b"") -> Path:
    """A binary STL; `count` overrides what its header promises."""
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *c.ravel(), 0) for c in mesh.corners)
    path.write_bytes(header.ljust(80, b"\0") + struct.pack("<I", len(mesh.faces) if count is None else count) + body + tail)
    return path


def text_stl(solids: Iterable[tuple[str, Mesh]], *, end: bool = True) -> str:
    """A text STL of named solids."""
    lines = []
    for name, mesh in solids:
        lines.append(f"solid {name}")
        for corners in mesh.corners:
            lines += ["  facet normal 0 0 0", "    outer loop"]
            lines += [f"      vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in corners]
            lines += ["    endloop", "  endfacet"]
        lines += [f"endsolid {name}"] if end else []
    return "\n".join(lines) + "\n"


def obj(points: np.ndarray, faces: Iterable[Sequence[int]]) -> str:
    """An OBJ of one body, faces of any size numbered from 0."""
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in points]
    return "\n".join(lines + ["f " + " ".join(str(i + 1) for i in face) for face in faces]) + "\n"


def ply(form: str, points: np.ndarray, faces: Sequence[Sequence[int]], *, face_count: int | None = None) -> bytes:
    """A PLY: form is ascii, binary_little_endian or binary_big_endian; corners carry a colour, which is nobody's business."""
    count = len(faces) if face_count is None else face_count
    vertex = f"element vertex {len(points)}\nproperty float x\nproperty float y\nproperty float z\nproperty uchar red\n"
    face = f"element face {count}\nproperty list uchar int vertex_indices\n"
    head = f"ply\nformat {form} 1.0\ncomment by hand\n{vertex}{face}end_header\n".encode()
    if form == "ascii":
        rows = [f"{x:.9g} {y:.9g} {z:.9g} 7" for x, y, z in points] + [f"{len(f)} " + " ".join(map(str, f)) for f in faces]
        return head + ("\n".join(rows) + "\n").encode()
    order = "<" if "little" in form else ">"
    body = b"".join(struct.pack(order + "3fB", *p, 7) for p in points)
    return head + body + b"".join(struct.pack(f"{order}B{len(f)}i", len(f), *f) for f in faces)


def mesh_xml(mesh: Mesh) -> str:
    """The mesh of a 3MF object."""
    corners = "".join(f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in mesh.vertices)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces)
    return f"<mesh><vertices>{corners}</vertices><triangles>{triangles}</triangles></mesh>"


def threemf(path: Path, objects: str, build: str, *, unit: str | None = "millimeter", more: dict[str, str] | None = None) -> Path:
    """A 3MF of objects and build items written as XML."""
    named = "" if unit is None else f' unit="{unit}"'
    space = 'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"'
    prod = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"'
    model = f'<?xml version="1.0"?><model {space} {prod}{named}><resources>{objects}</resources><build>{build}</build></model>'
    relation = 'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"'
    rels = f'<Relationships><Relationship Target="/3D/3dmodel.model" Id="r" {relation}/></Relationships>'
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", rels)
        archive.writestr("3D/3dmodel.model", model)
        for name, text in (more or {}).items():
            archive.writestr(name, text)
    return path


def put(path: Path, content: bytes | str) -> Path:
    """A file with this content."""
    path.write_bytes(content) if isinstance(content, bytes) else path.write_text(content, encoding="utf-8")
    return path


def volume(file: PatternFile) -> float:
    """The volumes of all bodies, added up."""
    return sum(body.mesh.volume_mm3 for body in file.bodies)


def refused(path: Path, **options) -> str:
    """What is said of a file that must be refused: what, why and what to try."""
    with pytest.raises(BadFileError) as caught:
        read_pattern(path, **options)
    error = caught.value
    assert error.what, "it says what"
    assert error.why, "it says why"
    assert error.try_this, "it says what to try"
    assert path.name in error.what
    return str(error)


ONE = f'<object id="1" name="block" type="model">{mesh_xml(cube(4))}</object>'
"""A 3MF object: a cube of 4 mm."""
