"""Solids and their fields as bare arrays, as the desk's viewer takes them: one file of numbers, and a head that says where each is.

Little-endian. Every corner of every triangle stands by itself: its place (three float32, mm), its normal (four int8, the last
unused), and one float32 for each field and each of its moments. Larger solids are thinned, and that is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.surface import Surface, smooth
from pourwell.sheets.colours import GLOW, scale_of
from pourwell.sheets.viewpoint import front_axes
from pourwell.steps.pattern.model import Pattern

MOST_TRIANGLES: Final = 200_000
"""More are thinned: a picture has no more points."""
FEWER: Final = 0.8
"""By how much the grid is coarsened until few enough are left."""
UNIT_INT8: Final = 127
NONE: Final = -1e6
"""Stands where a field has no value; the viewer knows it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FieldGiven:
    """A field for the viewer: values of triangles, (m,), or (k, m) at k moments, with the words of its legend.

    With a `slide` it has a slider of that name. Without moments its values are then times themselves: "solid after" 3 s and the
    like; what is over by the slider's time is drawn pale.
    """

    name: str
    title: str
    unit: str
    values: Floats
    limit: float | None = None
    limit_says: str = ""
    """What the limit is, behind its figure."""
    slide: str = ""
    moments_s: tuple[float, ...] = ()
    """When each row of values is, rising."""


def pattern_view(pattern: Pattern) -> tuple[bytes, dict[str, Any]]:
    """A pattern with its walls and gaps; where its solid is a stand-in, the triangles of its file without any field."""
    axes = front_axes(pattern)
    if pattern.as_read is not None:
        return solid_view([("piece", pattern.as_read)], axes=axes)
    wall = pattern.piece.wall
    judged = not pattern.piece.doubt
    fields = [
        FieldGiven(
            name="wall",
            title="Wall",
            unit="mm",
            values=pattern.wall_mm,
            limit=wall.limit_mm if judged else None,
            limit_says="least for this alloy",
        )
    ]
    if pattern.gap_mm is not None and np.isfinite(pattern.gap_mm).any():
        fields.append(FieldGiven(name="gap", title="Gap outside", unit="mm", values=pattern.gap_mm))
    return solid_view([("piece", pattern.mesh)], fields=fields, axes=axes)


def solid_view(
    bodies: Sequence[tuple[str, Mesh]], *, fields: Sequence[FieldGiven] = (), axes: Floats | None = None
) -> tuple[bytes, dict[str, Any]]:
    """Named solids as numbers and their head; the values of `fields` are of the triangles of all of them, one after the other."""
    whole = sum(len(mesh.faces) for _, mesh in bodies)
    share = min(1.0, MOST_TRIANGLES / max(whole, 1))
    places, normals, parts, read, shown = [], [], [], 0, 0
    values: list[list[Any]] = [[] for _ in fields]
    closed = True
    for name, mesh in bodies:
        surface, count = smooth(mesh), len(mesh.faces)
        closed = closed and not surface.edges.faulty.any()
        drawn, kept = thinned(mesh, int(share * count)) if share < 1 else (mesh, np.arange(count))
        places.append(drawn.corners.reshape(-1, 3).astype("<f4"))
        normals.append(_normals(surface if share == 1 else smooth(drawn)))
        for field, rows in zip(fields, values, strict=True):
            rows.append(_at_corners(surface, np.atleast_2d(field.values)[:, read : read + count], kept))
        parts.append({"name": name, "first": 3 * shown, "count": 3 * len(drawn.faces)})
        read, shown = read + count, shown + len(drawn.faces)
    chunks = [np.concatenate(places).tobytes(), np.concatenate(normals).tobytes()]
    head: dict[str, Any] = {"triangle_count": whole, "shown_count": shown, "parts": parts, "fields": [], "glow": GLOW}
    head["closed"] = bool(closed)  # a section through it has metal and none beside
    head["normals_offset"] = len(chunks[0])
    areas = np.concatenate([mesh.areas for _, mesh in bodies])
    for field, columns in zip(fields, values, strict=True):
        together = np.concatenate(columns, axis=1)
        first, row = sum(map(len, chunks)), together.itemsize * together.shape[1]
        chunks.append(together.tobytes())
        head["fields"].append(_legend(field, areas) | {"offsets": [first + k * row for k in range(len(together))]})
    head["bytes"] = sum(map(len, chunks))
    if axes is not None:
        head["front"] = [[float(x) for x in row] for row in axes]
    return b"".join(chunks), head


def _normals(surface: Surface) -> Any:
    """(3 m, 4) int8: of the corners, smooth where the surface is."""
    leaning = surface.leaning.reshape(-1, 3)
    length = np.linalg.norm(leaning, axis=1, keepdims=True)
    packed = np.zeros((len(leaning), 4), dtype=np.int8)
    packed[:, :3] = np.round(UNIT_INT8 * leaning / np.where(length > 0, length, 1.0))
    return packed


def _at_corners(surface: Surface, values: Floats, kept: Ints) -> Any:
    """(k, 3 m) float32 of values (k, m): blended where the surface is smooth, NONE where there is none."""
    with np.errstate(invalid="ignore"):
        blended = np.moveaxis(surface.blended(values.T)[kept], -1, 0).reshape(len(values), -1)
        return np.where(np.isfinite(blended), blended, NONE).astype("<f4")


def _legend(field: FieldGiven, areas: Floats) -> dict[str, Any]:
    rows = np.atleast_2d(field.values)
    scale = scale_of(rows.ravel(), weights=np.tile(areas, len(rows)), limit=field.limit, unit=field.unit)
    legend: dict[str, Any] = {
        "name": field.name,
        "title": field.title,
        "unit": field.unit,
        "low": scale.low,
        "high": scale.high,
        "ticks": list(scale.ticks),
        "limit": field.limit,
        "limit_says": field.limit_says,
    }
    if field.slide:
        legend["slide"] = field.slide
    if field.moments_s:
        legend["moments_s"] = list(field.moments_s)
    return legend


def thinned(mesh: Mesh, most: int) -> tuple[Mesh, Ints]:
    """A mesh with no more triangles than `most`, for looking at: corners in one cell of a grid become one; which are left.

    The grid is coarsened until few enough triangles have three different corners.
    """
    low, high = mesh.bounds
    kept = np.arange(len(mesh.faces))
    vertices, faces = mesh.vertices, mesh.faces
    cells = 2.0 * np.sqrt(max(most, 4))
    while len(kept) > most:
        size = float(np.max(high - low)) / cells or 1.0
        _, cell = np.unique(np.floor((mesh.vertices - low) / size).astype(np.int64), axis=0, return_inverse=True)
        cell = cell.reshape(-1)
        counts = np.bincount(cell)
        vertices = np.column_stack([np.bincount(cell, mesh.vertices[:, k]) / counts for k in range(3)])
        joined = cell[mesh.faces]
        different = (joined[:, 0] != joined[:, 1]) & (joined[:, 1] != joined[:, 2]) & (joined[:, 2] != joined[:, 0])
        kept = np.flatnonzero(different)
        faces = joined[kept]
        cells *= FEWER
    return Mesh(vertices=vertices, faces=faces), kept
