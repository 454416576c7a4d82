"""Trees of boxes over the triangles of solids, for the search of the nearest [mm]."""

from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from pourwell.geometry.kernels.compiled import thread_count
from pourwell.geometry.kernels.leaves import leaf_frames, longest_first
from pourwell.geometry.kernels.surface import corner_normals, mates
from pourwell.geometry.kernels.tree import FAN, WIDTH, Trees, tree_order
from pourwell.geometry.mesh import Floats, Ints, Mesh


def planted(solids: Sequence[Mesh], middle: Floats) -> Trees:
    """The trees of some solids.

    Parameters
    ----------
    solids : closed meshes [mm], each outward, with voids or without
    middle : (3,) float array [mm], taken for the origin
    """
    moved = [Mesh(mesh.vertices - middle, mesh.faces) for mesh in solids]
    with ThreadPoolExecutor(thread_count()) as pool:
        grown = list(pool.map(_grown, moved))
    if len(grown) == 1:
        return grown[0]
    leaves = _starts(len(g.frames) for g in grown)
    nodes = _starts(len(g.first) for g in grown)
    vertices = _starts(len(g.normals) for g in grown)
    slots = [WIDTH * start for start in leaves]
    return Trees(
        boxes=np.concatenate([g.boxes for g in grown]),
        dipoles=np.concatenate([g.dipoles for g in grown]),
        first=np.concatenate(
            [np.where(g.first >= 0, g.first + n, g.first - leaf) for g, n, leaf in zip(grown, nodes, leaves, strict=True)]
        ),
        frames=np.concatenate([g.frames for g in grown]),
        corners=np.concatenate([np.where(g.corners >= 0, g.corners + v, -1) for g, v in zip(grown, vertices, strict=True)]),
        beside=np.concatenate([np.where(g.beside >= 0, g.beside + s, -1) for g, s in zip(grown, slots, strict=True)]),
        normals=np.concatenate([g.normals for g in grown]),
        roots=np.concatenate([g.roots + n for g, n in zip(grown, nodes, strict=True)]),
        bounds=np.concatenate([g.bounds for g in grown]),
    )


def _starts(lengths: Iterable[int]) -> list[int]:
    """Where each of several arrays begins when they stand one behind another."""
    return [0, *np.cumsum(list(lengths))[:-1].tolist()]


def _grown(mesh: Mesh) -> Trees:
    """The tree of one solid."""
    points = mesh.vertices
    faces, other = longest_first(points, mesh.faces, mates(mesh.faces, len(points))[0])
    order = tree_order(mesh.centres)
    frames, boxes, sums, flat = leaf_frames(points, faces, order)
    slot_count, count = WIDTH * len(frames), len(faces)
    slot = np.empty(count, dtype=np.int64)
    slot[order] = np.arange(count)
    corners, beside = np.full((slot_count, 3), -1), np.full((slot_count, 3), -1)
    corners[:count] = faces[order]
    sure = (flat[other // 3] == 0) & (flat == 0)[:, None]
    beside[:count] = np.where(sure, slot[other // 3], -1)[order]
    node_boxes, dipoles, first = levels(boxes, sums)
    return Trees(
        boxes=node_boxes,
        dipoles=dipoles,
        first=first,
        frames=frames,
        corners=corners,
        beside=beside,
        normals=corner_normals(points, faces, other.reshape(-1), flat=flat),
        roots=np.array([len(first) - 1]),
        bounds=np.concatenate((boxes[:, :3].min(axis=0), boxes[:, 3:].max(axis=0)))[None],
    )


def levels(boxes: Floats, sums: Floats) -> tuple[Floats, Floats, Ints]:
    """The nodes over some leaves, level by level, the root last: children's boxes, their dipoles, and the first child."""
    all_boxes, all_dipoles, all_first = [], [], []
    base, planted_count, leaf_level = 0, 0, True
    while leaf_level or len(boxes) > 1:
        groups = -(-len(boxes) // FAN)
        centre = sums[:, 1:4] / np.where(sums[:, :1] > 0, sums[:, :1], 1.0)
        radius = np.linalg.norm(np.maximum(np.abs(boxes[:, :3] - centre), np.abs(boxes[:, 3:] - centre)), axis=1)
        low, high = _grouped(boxes[:, :3], np.inf), _grouped(boxes[:, 3:], -np.inf)
        all_boxes.append(np.concatenate((low, high), axis=1))
        all_dipoles.append(_grouped(np.column_stack((centre, sums[:, 4:], radius)), -1.0))
        children = np.arange(groups) * FAN
        all_first.append(-1 - children if leaf_level else base + children)
        base, planted_count, leaf_level = planted_count, planted_count + groups, False
        boxes = np.concatenate((low.min(axis=2), high.max(axis=2)), axis=1)
        sums = _grouped(sums, 0.0).sum(axis=2)
    return np.concatenate(all_boxes), np.concatenate(all_dipoles), np.concatenate(all_first)


def _grouped(rows: Floats, fill: float) -> Floats:
    """(n, c) rows as a (ceil(n / 16), c, 16) array, filled up at the end."""
    groups = -(-len(rows) // FAN)
    padded = np.full((groups * FAN, rows.shape[1]), fill)
    padded[: len(rows)] = rows
    return np.ascontiguousarray(padded.reshape(groups, FAN, -1).transpose(0, 2, 1))
