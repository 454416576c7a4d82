"""The tree as solids for other programs: GLB in metres with its parts by name, STL in millimetres as one file."""

from collections.abc import Sequence

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.units import m_from_mm

PART_COLOURS = {
    "piece": (180, 178, 170, 255),
    "sprue": (205, 160, 90, 255),
    "stem": (205, 160, 90, 255),
    "button": (205, 160, 90, 255),
}


def tree_glb(bodies: Sequence[tuple[str, Mesh]]) -> bytes:
    """Binary glTF 2.0 (Khronos), metres and y up as that standard says; one named node a part."""
    import trimesh  # a fifth of a second to load, and most commands need none

    scene = trimesh.Scene()
    upright = np.array([[1.0, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]])
    for name, mesh in bodies:
        colour = next((c for part, c in PART_COLOURS.items() if name.startswith(part)), PART_COLOURS["piece"])
        part = trimesh.Trimesh(mesh.vertices * m_from_mm(1.0), mesh.faces, process=False)
        part.visual = trimesh.visual.ColorVisuals(part, face_colors=colour)
        scene.add_geometry(part, node_name=name, geom_name=name, transform=upright)
    data: bytes = trimesh.exchange.gltf.export_glb(scene)
    return data


def tree_stl(cast: Mesh) -> bytes:
    """Binary STL of all metal as one closed solid."""
    import trimesh  # as above

    data: bytes = trimesh.exchange.stl.export_stl(trimesh.Trimesh(cast.vertices, cast.faces, process=False))
    return data
