"""Compiled: which triangle is seen at every sample of a picture, how it is lit, where it is hemmed in, and lines.

Places are in samples or pixels: to the right, down, and away from the viewer; the middle of the first one is at (0.5, 0.5).
"""

from math import ceil, floor, hypot, inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.kernels.compiled import compiled, compiled_lean
from pourwell.geometry.mesh import Floats, Ints

Numbers = NDArray[np.int32]
"""Of triangles: half as long as others, for there are millions of samples."""

EDGE = 1e-7
"""A sample this near outside a triangle [samples^2, twice an area] still counts as on it, so that no seam lets light through."""

THIN = 1e-12
"""Twice the area [samples^2] under which a triangle is seen from its edge and hides nothing."""


class Flat(NamedTuple):
    """A mesh as a picture has it."""

    points: Floats
    """(n, 3) right, down [samples] and depth [mm]."""
    faces: Ints
    """(m, 3)."""
    face: Numbers
    """(rows, columns) the triangle at every sample, as `visible` gives it."""


class Lamp(NamedTuple):
    """What lights a mesh."""

    key: Floats
    """(3,) towards the key light, of length one."""
    axes: Floats
    """(3, 3) right, up, and towards the viewer."""
    ambient: float
    """What the key light does not reach at all."""
    grazing: float
    """What is left where the surface turns away from the viewer."""
    steep: float
    """Slopes are trusted up to this cosine between surface and line of sight."""


class Tile(NamedTuple):
    """A pixel among samples."""

    top: int
    left: int
    edge: int
    """Samples along it."""
    shares: Floats
    """(edge^2, 4) room to work in."""


class Ring(NamedTuple):
    """Where a place looks for what stands round it."""

    across: Ints
    """(k,) to the right [px]."""
    down: Ints
    """(k,) [px]."""
    far: Floats
    """(k,) how far that is [mm]."""
    bias_mm: float
    """What stands no higher counts as level."""
    reach_mm: float
    """What stands in front by more throws no shade here."""


@compiled
def visible(points: Floats, faces: Ints, shape: tuple[int, int]) -> tuple[Floats, Numbers]:
    """The nearest triangle at every sample.

    Parameters
    ----------
    points : (n, 3) right, down [samples] and depth [mm]
    faces : (m, 3) int
    shape : rows and columns

    Returns
    -------
    (rows, columns) depth, inf where nothing is, and the face, -1 where nothing is; of two at one depth the first
    """
    rows, columns = shape
    depth = np.full((rows, columns), inf)
    face = np.full((rows, columns), np.int32(-1))
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = points[a, 0], points[a, 1], points[a, 2]
        bx, by, bz = points[b, 0], points[b, 1], points[b, 2]
        cx, cy, cz = points[c, 0], points[c, 1], points[c, 2]
        twice = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(twice) < THIN:
            continue
        sign = 1.0 if twice > 0 else -1.0
        ux, uy, vx, vy = (by - cy) * sign, (cx - bx) * sign, (cy - ay) * sign, (ax - cx) * sign
        size = abs(twice)
        zx, zy = (ux * az + vx * bz - (ux + vx) * cz) / size, (uy * az + vy * bz - (uy + vy) * cz) / size
        first, last = max(0, ceil(min(ax, bx, cx) - 0.5)), min(columns - 1, floor(max(ax, bx, cx) - 0.5))
        for row in range(max(0, ceil(min(ay, by, cy) - 0.5)), min(rows - 1, floor(max(ay, by, cy) - 0.5)) + 1):
            x, y = first + 0.5 - cx, row + 0.5 - cy
            u_first, v_first, z_first = ux * x + uy * y, vx * x + vy * y, cz + zx * x + zy * y
            for step in range(last - first + 1):
                u, v = u_first + ux * step, v_first + vx * step
                if u >= -EDGE and v >= -EDGE and u + v <= size + EDGE:
                    z = z_first + zx * step
                    if z < depth[row, first + step]:
                        depth[row, first + step] = z
                        face[row, first + step] = f
    return depth, face


@compiled_lean
def weights_at(points: Floats, faces: Ints, at: tuple[int, float, float]) -> tuple[float, float, float]:
    """How much of each of a triangle's three corners is at a place on it [-]; its number and the place are given."""
    f, x, y = at
    a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
    ax, ay = points[a, 0], points[a, 1]
    bx, by = points[b, 0], points[b, 1]
    cx, cy = points[c, 0], points[c, 1]
    twice = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    u = ((cx - bx) * (y - by) - (cy - by) * (x - bx)) / twice
    v = ((ax - cx) * (y - cy) - (ay - cy) * (x - cx)) / twice
    u, v = min(max(u, 0.0), 1.0), min(max(v, 0.0), 1.0)
    total = max(u + v, 1.0)
    u, v = u / total, v / total
    return u, v, 1.0 - u - v


@compiled_lean
def _shone(place: tuple[int, float, float, float], normals: Floats, lamp: Lamp) -> tuple[float, float, float]:
    """How bright a place on a triangle is [-], and by how much depth grows to its right and down [-].

    `place` is the triangle's number and how much of each of its corners is there.
    """
    f, u, v, w = place
    key, facing, right, up, square = 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(3):
        along = u * normals[f, 0, k] + v * normals[f, 1, k] + w * normals[f, 2, k]
        key += along * lamp.key[k]
        right += along * lamp.axes[0, k]
        up += along * lamp.axes[1, k]
        facing += along * lamp.axes[2, k]
        square += along * along
    length = sqrt(max(square, 1e-300))
    if facing < 0:
        key, facing, right, up = -key, -facing, -right, -up
    wrapped = 0.5 + 0.5 * key / length
    bright = (lamp.ambient + (1 - lamp.ambient) * wrapped * wrapped) * (lamp.grazing + (1 - lamp.grazing) * facing / length)
    facing = max(facing, lamp.steep * length)
    return bright, right / facing, -up / facing


@compiled_lean
def _blent(flat: Flat, shone: tuple[Floats, Lamp], tile: Tile) -> float:
    """How bright a pixel is that shows several triangles [-]: each as it is in the middle of its samples, by their number.

    `shone` is the normals, (m, 3, 3), and what lights them.
    """
    top, left, edge, shares = tile
    normals, lamp = shone
    count, kinds = 0, 0
    for i in range(top, top + edge):
        for j in range(left, left + edge):
            f = flat.face[i, j]
            if f >= 0:
                k = 0
                while k < kinds and shares[k, 0] != f:
                    k += 1
                if k == kinds:
                    shares[k] = 0.0
                    shares[k, 0] = f
                    kinds += 1
                shares[k, 1] += 1
                shares[k, 2] += j + 0.5
                shares[k, 3] += i + 0.5
                count += 1
    bright = 0.0
    for k in range(kinds):
        f, many = int(shares[k, 0]), shares[k, 1]
        u, v, w = weights_at(flat.points, flat.faces, (f, shares[k, 2] / many, shares[k, 3] / many))
        bright += _shone((f, u, v, w), normals, lamp)[0] * many / count
    return bright


@compiled
def lit(flat: Flat, normals: Floats, lamp: Lamp, *, samples: int) -> tuple[Floats, Floats, Floats, Floats]:
    """What share of every pixel is covered, how bright that is, how the surface slopes at its middle and what lies there.

    Parameters
    ----------
    flat : the mesh and what is seen of it
    normals : (m, 3, 3) [-] outward, of every corner of every triangle, of any length
    lamp : what lights it
    samples : along an edge of a pixel, odd

    Returns
    -------
    (rows, columns) cover and light [-], both 0 to 1, light 1 where nothing is; (rows, columns, 2) by how much depth grows to the
    right and down [-]; (k, 3) how much of each corner of its triangle is in the middle of each pixel that has one there, row by
    row [-]. A triangle seen from behind is lit as its front. A pixel that shows one triangle has its middle's light.
    """
    points, faces, face = flat.points, flat.faces, flat.face
    rows, columns = face.shape[0] // samples, face.shape[1] // samples
    cover, light, slope = np.zeros((rows, columns)), np.ones((rows, columns)), np.zeros((rows, columns, 2))
    half = samples // 2
    weights, at = np.empty((np.count_nonzero(face[half::samples, half::samples] >= 0), 3)), 0
    shares = np.empty((samples**2, 4))
    for row in range(rows):
        for column in range(columns):
            top, left = row * samples, column * samples
            middle = face[top + half, left + half]
            count, even = 0, True
            for i in range(top, top + samples):
                for j in range(left, left + samples):
                    count += face[i, j] >= 0
                    even = even and face[i, j] == middle
            if count == 0:
                continue
            cover[row, column] = count / samples**2
            bright = 0.0
            if middle >= 0:
                u, v, w = weights_at(points, faces, (middle, left + half + 0.5, top + half + 0.5))
                bright, slope[row, column, 0], slope[row, column, 1] = _shone((middle, u, v, w), normals, lamp)
                weights[at, 0], weights[at, 1], weights[at, 2] = u, v, w
                at += 1
            if not even:
                bright = _blent(flat, (normals, lamp), Tile(top, left, samples, shares))
            light[row, column] = bright
    return cover, light, slope, weights


@compiled
def hemmed(depth: Floats, slope: Floats, ring: Ring) -> Floats:
    """How much of what stands round every pixel is higher than it: 0 in the open, towards 1 at the ground of a slit.

    Parameters
    ----------
    depth : (rows, columns) [mm], inf where nothing is
    slope : (rows, columns, 2), by how much depth grows along the surface a pixel to the right and down [mm]
    ring : where it looks
    """
    rows, columns = depth.shape
    shut = np.zeros((rows, columns))
    for row in range(rows):
        for column in range(columns):
            here = depth[row, column]
            if here == inf:
                continue
            right, down, total = slope[row, column, 0], slope[row, column, 1], 0.0
            for k in range(len(ring.far)):
                i, j = row + ring.down[k], column + ring.across[k]
                if 0 <= i < rows and 0 <= j < columns:
                    above = here + right * ring.across[k] + down * ring.down[k] - depth[i, j] - ring.bias_mm
                    if 0 < above < ring.reach_mm:
                        total += above / hypot(above, ring.far[k]) * (1 - above / ring.reach_mm)
            shut[row, column] = total / len(ring.far)
    return shut


@compiled
def stroked(lines: Floats, widths: Floats, shape: tuple[int, int]) -> Floats:
    """How much of every pixel is line: strokes with round ends, soft over one pixel.

    Parameters
    ----------
    lines : (k, 4) from right, from down, to right, to down [px]; both ends alike make a disc
    widths : (k,) [px]
    shape : rows and columns

    Returns
    -------
    (rows, columns) [-], 0 to 1
    """
    rows, columns = shape
    ink = np.zeros((rows, columns))
    for k in range(len(lines)):
        ax, ay, bx, by = lines[k]
        half = widths[k] / 2 + 0.5
        dx, dy = bx - ax, by - ay
        square = max(dx * dx + dy * dy, 1e-300)
        for row in range(max(0, floor(min(ay, by) - half)), min(rows, ceil(max(ay, by) + half))):
            for column in range(max(0, floor(min(ax, bx) - half)), min(columns, ceil(max(ax, bx) + half))):
                x, y = column + 0.5 - ax, row + 0.5 - ay
                along = min(max((x * dx + y * dy) / square, 0.0), 1.0)
                covered = min(half - hypot(x - along * dx, y - along * dy), min(widths[k], 1.0))
                if covered > ink[row, column]:
                    ink[row, column] = covered
    return ink
