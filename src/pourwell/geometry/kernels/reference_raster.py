"""The compiled loops of `raster.py` once more, written to be read: numpy, no regard to speed. The tests hold each pair together.

`_blent`, `_shone` and `weights_at` have their job done by `lit`.
"""

import numpy as np

from pourwell.geometry.kernels.raster import EDGE, THIN, Flat, Lamp, Ring
from pourwell.geometry.mesh import Floats, Ints


def _middles(shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """Right and down of the middle of every sample."""
    down, right = np.mgrid[: shape[0], : shape[1]] + 0.5
    return right, down


def _parts(corners: Floats, right: Floats, down: Floats) -> Floats:
    """(3, ...) twice the areas that places span with the sides opposite to each corner; (3, 2) or more, anticlockwise positive."""
    out = []
    for k in range(3):
        (px, py), (qx, qy) = corners[(k + 1) % 3, :2], corners[(k + 2) % 3, :2]
        out.append((qx - px) * (down - py) - (qy - py) * (right - px))
    return np.array(out)


def visible(points: Floats, faces: Ints, shape: tuple[int, int]) -> tuple[Floats, Ints]:
    """As `raster.visible`."""
    depth, face = np.full(shape, np.inf), np.full(shape, -1)
    right, down = _middles(shape)
    for number, corners in enumerate(points[faces]):
        twice = _parts(corners, corners[0, 0], corners[0, 1])[0]
        if abs(twice) < THIN:
            continue
        parts = _parts(corners, right, down) * np.sign(twice)
        z = np.einsum("k,k...->...", corners[:, 2], parts) / parts.sum(axis=0)
        nearer = (parts >= -EDGE).all(axis=0) & (z < depth)
        depth[nearer], face[nearer] = z[nearer], number
    return depth, face


def _brightness(corners: Floats, normals: Floats, lamp: Lamp, *, at: Floats) -> tuple[float, Floats, Floats]:
    """How bright a triangle is at a place, how it slopes there, and how much of each corner is there."""
    parts = _parts(corners, at[0], at[1])
    weights = parts / parts.sum()
    normal = weights @ normals
    normal = normal / np.linalg.norm(normal)
    if normal @ lamp.axes[2] < 0:
        normal = -normal
    wrapped = lamp.ambient + (1 - lamp.ambient) * (0.5 + 0.5 * normal @ lamp.key) ** 2
    across = lamp.axes @ normal
    bright = wrapped * (lamp.grazing + (1 - lamp.grazing) * across[2])
    return float(bright), np.array([across[0], -across[1]]) / max(across[2], lamp.steep), weights


def lit(flat: Flat, normals: Floats, lamp: Lamp, *, samples: int) -> tuple[Floats, Floats, Floats, Floats]:
    """As `raster.lit`."""
    points, faces, face = flat
    shape = (face.shape[0] // samples, face.shape[1] // samples)
    cover, light, slope, weights = np.zeros(shape), np.ones(shape), np.zeros((*shape, 2)), []
    for row, column in np.ndindex(shape):
        tile = face[row * samples :, column * samples :][:samples, :samples]
        corner = np.array([column, row]) * samples
        cover[row, column] = (tile >= 0).mean()
        total = 0.0
        for f in np.unique(tile[tile >= 0]):
            at = corner + np.argwhere(tile == f).mean(axis=0)[::-1] + 0.5
            total += _brightness(points[faces[f]], normals[f], lamp, at=at)[0] * (tile == f).sum() / (tile >= 0).sum()
            light[row, column] = total
        middle = tile[samples // 2, samples // 2]
        if middle >= 0:
            _, slope[row, column], part = _brightness(points[faces[middle]], normals[middle], lamp, at=corner + samples / 2)
            weights.append(part)
    return cover, light, slope, np.array(weights).reshape(-1, 3)


def hemmed(depth: Floats, slope: Floats, ring: Ring) -> Floats:
    """As `raster.hemmed`."""
    rows, columns = depth.shape
    total = np.zeros(depth.shape)
    row, column = np.mgrid[:rows, :columns]
    for across, below, far in zip(ring.across, ring.down, ring.far, strict=True):
        i, j = row + below, column + across
        inside = (i >= 0) & (i < rows) & (j >= 0) & (j < columns) & np.isfinite(depth)
        there = depth[np.clip(i, 0, rows - 1), np.clip(j, 0, columns - 1)]
        level = np.where(inside, depth, 0) + slope @ (across, below)
        above = level - np.where(np.isfinite(there), there, 1e9) - ring.bias_mm
        counts = inside & (above > 0) & (above < ring.reach_mm)
        shade = above / np.hypot(above, far) * (1 - above / ring.reach_mm)
        total += np.where(counts, shade, 0.0)
    return total / len(ring.far)


def stroked(lines: Floats, widths: Floats, shape: tuple[int, int]) -> Floats:
    """As `raster.stroked`."""
    ink = np.zeros(shape)
    right, down = _middles(shape)
    for (ax, ay, bx, by), width in zip(lines, widths, strict=True):
        way = np.array([bx - ax, by - ay])
        along = np.clip(((right - ax) * way[0] + (down - ay) * way[1]) / max(way @ way, 1e-300), 0, 1)
        away = np.hypot(right - ax - along * way[0], down - ay - along * way[1])
        ink = np.maximum(ink, np.clip(width / 2 + 0.5 - away, 0, min(width, 1.0)))
    return ink
