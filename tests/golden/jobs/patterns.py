"""The pattern files of the golden jobs, made by our own shapes when the tests run. All names are invented."""

from pathlib import Path

import numpy as np

from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.geometry.mesh import Mesh
from tests.unit.files.pattern_files import mesh_xml, threemf

SHAPED: dict[str, tuple[str, tuple[str, ...]]] = {
    "heddle-54.stl": ("plain-band", ("size=ISO 54", "width=4", "thickness=1.8")),
    "heddle-60.stl": ("plain-band", ("size=ISO 60", "width=4", "thickness=1.8")),
    "larch-60.stl": ("comfort-band", ("size=ISO 60",)),
    "sedge-52.ply": ("half-round-band", ("size=ISO 52", "width=3", "thickness=1.6", "crown=0.7")),
    "oriel-58.3mf": ("signet", ("size=ISO 58",)),
    "plover-pendant.obj": ("pendant", ()),
    "wren-stud.stl": ("stud", ()),
}
"""File, shape, dimensions."""
SET = "larkspur-56.3mf"
"""A bezel ring drawn as such programs export it: the ring, prongs that reach into its cup, and the stone."""
TORN = "torn-heddle.stl"
"""The plain band with a hole in its outside, where the program lost some triangles."""
HOLE_MM = 1.6


def put_pattern(path: Path) -> None:
    """Write the pattern of this name where a job file expects it."""
    if path.name == SET:
        _put_set(path)
        return
    shape, words = SHAPED["heddle-54.stl" if path.name == TORN else path.name]
    mesh = build_shape(shape, words)
    if path.name == TORN:
        middle = (0.0, 0.0, mesh.bounds[1][2])
        mesh = Mesh(mesh.vertices, mesh.faces[np.linalg.norm(mesh.centres - middle, axis=1) > HOLE_MM])
    path.write_bytes(mesh_bytes(mesh, path.suffix))


def _put_set(path: Path) -> None:
    """Ring, four prongs through the rim of its cup, and a stone, as bodies of one 3MF."""
    ring = build_shape("bezel-ring", ("size=ISO 56",))
    high = float(ring.bounds[1][2])
    rim = ring.vertices[ring.vertices[:, 2] > high - 0.01]
    radius = float(np.hypot(rim[:, 0], rim[:, 1]).max()) - 0.5
    bodies = [("ring", ring)]
    for number, turn in enumerate(np.deg2rad([45, 135, 225, 315]), start=1):
        bodies.append((f"prong {number}", _block((0.9, 0.9, 3.0), (radius * np.cos(turn), radius * np.sin(turn), high))))
    bodies.append(("stone", _block((2.0, 2.0, 1.2), (0.0, 0.0, high))))
    objects = "".join(f'<object id="{k}" name="{name}">{mesh_xml(mesh)}</object>' for k, (name, mesh) in enumerate(bodies, start=1))
    threemf(path, objects, "".join(f'<item objectid="{k}"/>' for k in range(1, len(bodies) + 1)))


def _block(sides_mm: tuple[float, float, float], middle_mm: tuple[float, float, float]) -> Mesh:
    """A block about its middle."""
    corners = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
    quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = [(q[0], q[k], q[k + 1]) for q in quads for k in (1, 2)]
    return Mesh(corners * sides_mm + middle_mm, np.array(faces))
