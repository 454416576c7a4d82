"""What froze, as files: a JSON header with one binary file of arrays, and the tree as GLB with a value at each corner."""

import json
from collections.abc import Sequence
from dataclasses import fields
from typing import Any, Final

import numpy as np
from scipy.spatial import cKDTree

from pourwell.errors import BadDataError
from pourwell.files.plan_json import to_bytes
from pourwell.geometry.mesh import Mesh
from pourwell.steps.freeze.model import Fields, Floats, Freezing
from pourwell.units import m_from_mm

SCHEMA = "pourwell.fields"
SCHEMA_VERSION = 1
HEADER, DATA, COLOURED = "freezing.json", "freezing.bin", "freezing.glb"
ALIGNED = 8
"""Bytes to a multiple of which each array begins, so that any program can read it in place."""
KINDS: Final = {"float64": "<f8", "float32": "<f4", "int32": "<i4"}
ABOUT: Final = {
    "centre_mm": "middles of the metal's cells in the tree's frame: tip up, z from the foot of the flask",
    "size_mm": "edges of the cells",
    "body": "place of each cell's body in `bodies`",
    "begin_s": "falls below the liquidus; NaN: never",
    "end_s": "solid; NaN: never; end_s less begin_s is the local freezing time",
    "rate_k_per_s": "cooling rate at the end of freezing",
    "gradient_k_per_mm": "of temperature at the end of freezing",
    "niyama": "dimensionless Niyama number, to compare places with one another; NaN: no mush",
    "pool": "number of the pool that it froze in; 0: fed to the end",
    "solid_fraction": "levels of solid fraction",
    "passed_s": "when each cell passes each level",
    "curve_s": "times of the cooling curves",
    "curve_c": "temperatures, a column for each name in `curve_names`",
    "curve_low_c": "the lowest of the slow, the likely and the fast run; NaN: one has ended",
    "curve_high_c": "the highest of them",
}
POURED: Final = ("alloy", "investment", "flask", "metal_c", "flask_c")
"""What the header says of the pour, so that the fields of another one are told apart."""
MOST_TRIANGLES = 400_000
"""Of the coloured tree: edges are halved until they are as short as the cells, or so many triangles are reached."""
MAP: Final = np.array([[13, 22, 79], [63, 40, 125], [128, 55, 120], [189, 82, 96], [233, 124, 66], [248, 180, 62], [250, 240, 160]])
"""Dark, early, to light, late: rises evenly in lightness, so that it reads in grey and by eyes that confuse red and green."""


def fields_files(found: Fields, freezing: Freezing) -> dict[str, bytes]:
    """The header and the arrays."""
    arrays, chunks, offset = [], [], 0
    for name in ABOUT:
        values = np.ascontiguousarray(getattr(found, name))
        kind = values.dtype.name
        data = values.astype(KINDS[kind]).tobytes()
        finite = values[np.isfinite(values)]
        arrays.append(
            {
                "name": name,
                "about": ABOUT[name],
                "type": KINDS[kind],
                "shape": list(values.shape),
                "offset_bytes": offset,
                "length_bytes": len(data),
                "least": float(finite.min()) if finite.size else None,
                "most": float(finite.max()) if finite.size else None,
            }
        )
        rest = -len(data) % ALIGNED
        chunks.append(data + bytes(rest))
        offset += len(data) + rest
    header = {
        "schema": SCHEMA,
        "schema_version": SCHEMA_VERSION,
        "data": DATA,
        "data_bytes": offset,
        "poured": {name: getattr(freezing, name) for name in POURED},
        "edge_mm": freezing.edge_mm,
        "fine": freezing.fine,
        "bodies": list(found.bodies),
        "curve_names": list(found.curve_names),
        "arrays": arrays,
    }
    return {HEADER: to_bytes(header), DATA: b"".join(chunks)}


def read_fields(header: bytes, data: bytes) -> Fields:
    """The fields read back. Raises BadDataError for files that are cut short or not ours."""
    try:
        told = json.loads(header)
        if told["schema"] != SCHEMA or told["schema_version"] != SCHEMA_VERSION:
            raise BadDataError(
                "These are no fields of this version.",
                why=f"They say {told['schema']} {told['schema_version']}, not {SCHEMA} {SCHEMA_VERSION}.",
                try_this="Compute the freezing again.",
            )
        if len(data) != told["data_bytes"]:
            raise BadDataError(
                f"{DATA} holds {len(data)} bytes, not {told['data_bytes']}.",
                why="It was cut short, or belongs to another header.",
                try_this="Compute the freezing again.",
            )
        known: dict[str, Any] = {entry["name"]: _array(entry, data) for entry in told["arrays"]}
        names = {f.name for f in fields(Fields)}
        known |= {"bodies": tuple(told["bodies"]), "curve_names": tuple(told["curve_names"])}
        return Fields(**{name: known[name] for name in names})
    except (ValueError, KeyError, TypeError) as err:
        raise BadDataError(
            f"{HEADER} does not say what it must.", why=f"It stumbles over {err}.", try_this="Compute the freezing again."
        ) from err


def _array(entry: dict[str, Any], data: bytes) -> np.ndarray[Any, np.dtype[Any]]:
    """One array of the data, a copy in the machine's own order."""
    if entry["type"] not in KINDS.values():
        raise ValueError(f'the type "{entry["type"]}"')
    part = data[entry["offset_bytes"] : entry["offset_bytes"] + entry["length_bytes"]]
    values = np.frombuffer(part, dtype=entry["type"]).reshape(entry["shape"])
    return values.astype(values.dtype.newbyteorder("="))


def colours(share: Floats) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """(n,) shares from 0 to 1 to (n, 3) colours of the map; beyond the ends as at them."""
    knots = np.linspace(0, 1, len(MAP))
    return np.stack([np.interp(share, knots, MAP[:, c]) for c in range(3)], axis=1).round().astype(np.uint8)


def freezing_glb(bodies: Sequence[tuple[str, Mesh]], found: Fields, freezing: Freezing) -> bytes:
    """The tree as binary glTF 2.0, metres and y up, coloured by the time at which it is solid.

    Each corner also carries `_END_S`, `_LOCAL_S`, `_RATE_K_PER_S`, `_GRADIENT_K_PER_MM`, `_NIYAMA` and `_POOL`, as the nearest cell
    of its body has them; 0 where there is none.
    """
    import trimesh  # a fifth of a second to load, and most commands need none

    scene = trimesh.Scene()
    upright = np.array([[1.0, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]])
    first, last = float(np.nanmin(found.end_s)), float(np.nanmax(found.end_s))
    room = MOST_TRIANGLES / max(len(bodies), 1)
    for name, mesh in bodies:
        if name not in found.bodies:
            continue
        mine = np.flatnonzero(found.body == found.bodies.index(name))
        points, faces = refined(mesh, 2 * freezing.edge_mm, most=room)
        near = mine[cKDTree(found.centre_mm[mine]).query(points)[1]]
        end = found.end_s[near].astype(np.float64)
        part = trimesh.Trimesh(m_from_mm(1.0) * points, faces, process=False)
        shade = colours((end - first) / max(last - first, 1e-9))
        part.visual = trimesh.visual.ColorVisuals(
            part, vertex_colors=np.concatenate([shade, np.full((len(shade), 1), 255)], axis=1)
        )
        part.vertex_attributes["_END_S"] = found.end_s[near]
        part.vertex_attributes["_LOCAL_S"] = (found.end_s - found.begin_s)[near]
        part.vertex_attributes["_RATE_K_PER_S"] = np.nan_to_num(found.rate_k_per_s[near])
        part.vertex_attributes["_GRADIENT_K_PER_MM"] = np.nan_to_num(found.gradient_k_per_mm[near])
        part.vertex_attributes["_NIYAMA"] = np.nan_to_num(found.niyama[near])
        part.vertex_attributes["_POOL"] = found.pool[near].astype(np.float32)
        scene.add_geometry(part, node_name=name, geom_name=name, transform=upright)
    data: bytes = trimesh.exchange.gltf.export_glb(scene)
    return data


def refined(mesh: Mesh, longest_mm: float, *, most: float) -> tuple[Floats, np.ndarray[Any, np.dtype[np.int64]]]:
    """The mesh with its long edges halved, until all are short, or the next round would make more triangles than `most`."""
    import trimesh  # as above

    points, faces = np.asarray(mesh.vertices), np.asarray(mesh.faces)
    while True:
        sides = np.linalg.norm(points[faces] - points[np.roll(faces, -1, axis=1)], axis=2)
        long = np.flatnonzero(sides.max(axis=1) > longest_mm)
        if not long.size or len(faces) + 3 * long.size > most:
            return points, faces
        points, faces = trimesh.remesh.subdivide(points, faces, face_index=long)
