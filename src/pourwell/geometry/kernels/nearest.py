"""Compiled: the nearest triangle and the side of it that a point lies on, for many points."""

from math import inf, sqrt
from typing import NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import compiled_lean
from pourwell.geometry.kernels.tree import FAN, STACK, WIDTH, Trees
from pourwell.geometry.kernels.winding import winding
from pourwell.geometry.mesh import Floats, Ints

BLOCK = 64
"""Points between two looks at all shells."""

DOUBT = 1e-6
"""A pseudo-normal this near to square (its cosine) does not decide the side."""


NOTHING = 0x7FF0000000000000
"""The bits of infinity."""

BITS = 2 ** np.arange(FAN)


class Aim(NamedTuple):
    """A point [mm], the shell that is asked about, and the distance beyond which it does not matter."""

    x: float
    y: float
    z: float
    shell: int
    bound: float


class State(NamedTuple):
    """Room to work in, and what is known of every shell from the points before."""

    stack: Ints
    """Nodes waiting to be looked at."""
    ahead: Floats
    """How far away each of them is, squared [mm2]."""
    known: Floats
    """(shells, 4): a place, and the signed distance there or something nearer zero of the same sign [mm]."""
    seeds: Ints
    """(shells,): a slot that may be near."""
    value: Floats
    """(shells,): distances from the middle of a block, or lower bounds of them [mm]."""
    near: Ints
    """(shells,): those that a block is near to, first."""


@compiled_lean
def nearest_of(frames: Floats, aim: Aim) -> np.int64:
    """Squared distance [mm2] from a point to the nearest of a leaf's triangles: the bits of the number, the last three the place.

    Written so that a compiler does all eight at once: no branches, nothing stored, and a whole number as the result. The three bits
    cost the square a part in 10^15.
    """
    px, py, pz = aim.x, aim.y, aim.z
    least = np.int64(NOTHING)
    for j in range(WIDTH):
        dx, dy, dz = px - frames[0, j], py - frames[1, j], pz - frames[2, j]
        ex, ey, ez = frames[3, j], frames[4, j], frames[5, j]
        fx, fy, fz = frames[6, j], frames[7, j], frames[8, j]
        b, cx, cy = frames[9, j], frames[10, j], frames[11, j]
        x, y = dx * ex + dy * ey + dz * ez, dx * fx + dy * fy + dz * fz
        z = dx * (ey * fz - ez * fy) + dy * (ez * fx - ex * fz) + dz * (ex * fy - ey * fx)
        u = x if x > 0 else 0.0
        u = x - (u if u < b else b)
        ab = u * u + y * y
        gx, hx = cx - b, x - b
        u = (hx * gx + y * cy) * frames[12, j]
        u = u if u > 0 else 0.0
        u = u if u < 1 else 1.0
        v, w = hx - u * gx, y - u * cy
        bc = v * v + w * w
        u = (x * cx + y * cy) * frames[13, j]
        u = u if u > 0 else 0.0
        u = u if u < 1 else 1.0
        v, w = x - u * cx, y - u * cy
        ca = v * v + w * w
        rim = ab if ab < bc else bc
        rim = rim if rim < ca else ca
        within, other = gx * y - cy * hx, cy * x - cx * y
        within = within if within < other else other
        within = within if within < y else y
        bits = np.float64(z * z + (0.0 if within > 0 else rim)).view(np.int64) & -WIDTH | j
        least = least if least < bits else bits
    return least


@compiled_lean
def boxes_ahead(box: Floats, aim: Aim, best: float) -> int:
    """Which of sixteen boxes come nearer to a point than the root of `best` [mm2], as bits; (6, 16) array of boxes [mm]."""
    found = 0
    for j in range(FAN):
        x, y, z = box[0, j] - aim.x, box[1, j] - aim.y, box[2, j] - aim.z
        u, v, w = aim.x - box[3, j], aim.y - box[4, j], aim.z - box[5, j]
        x, y, z = x if x > u else u, y if y > v else v, z if z > w else w
        x, y, z = x if x > 0 else 0.0, y if y > 0 else 0.0, z if z > 0 else 0.0
        found |= BITS[j] if x * x + y * y + z * z < best else 0
    return found


@compiled_lean
def _search(trees: Trees, aim: Aim, state: State) -> tuple[float, int]:
    """Squared distance [mm2] and slot of the shell's triangle nearest to a point; -1 if none is nearer than the bound."""
    stack, ahead = state.stack, state.ahead
    best, slot, seed = aim.bound**2, -1, state.seeds[aim.shell]
    if seed >= 0:
        found = nearest_of(trees.frames[seed // WIDTH], aim)
        if found & -WIDTH < np.float64(best).view(np.int64):
            slot = seed // WIDTH * WIDTH + (found & (WIDTH - 1))
            best = np.int64(found & -WIDTH).view(np.float64)
    depth = 1
    stack[0], ahead[0] = trees.roots[aim.shell], 0.0
    while depth:
        depth -= 1
        if ahead[depth] >= best:
            continue
        node = stack[depth]
        if node < 0:
            found = nearest_of(trees.frames[-1 - node], aim)
            if found & -WIDTH < np.float64(best).view(np.int64):
                slot = WIDTH * (-1 - node) + (found & (WIDTH - 1))
                best = np.int64(found & -WIDTH).view(np.float64)
            continue
        box, base, bottom = trees.boxes[node], trees.first[node], depth
        children = boxes_ahead(box, aim, best)
        j = 0
        while children:
            if children & 1:
                x = max(box[0, j] - aim.x, aim.x - box[3, j], 0.0)
                y = max(box[1, j] - aim.y, aim.y - box[4, j], 0.0)
                z = max(box[2, j] - aim.z, aim.z - box[5, j], 0.0)
                away = x * x + y * y + z * z
                i = depth
                while i > bottom and ahead[i - 1] < away:  # the nearest child comes to lie on top
                    stack[i], ahead[i] = stack[i - 1], ahead[i - 1]
                    i -= 1
                stack[i], ahead[i] = (base + j if base >= 0 else base - j), away
                depth += 1
            children >>= 1
            j += 1
    return best, slot


@compiled_lean
def _side(trees: Trees, aim: Aim, found: tuple[int, Ints]) -> float:
    """1 outside and -1 inside, for a point, the slot of the triangle nearest to it, and a stack to work with."""
    slot, stack = found
    frame, j = trees.frames[slot // WIDTH], slot % WIDTH
    dx, dy, dz = aim.x - frame[0, j], aim.y - frame[1, j], aim.z - frame[2, j]
    ex, ey, ez = frame[3, j], frame[4, j], frame[5, j]
    fx, fy, fz = frame[6, j], frame[7, j], frame[8, j]
    nx, ny, nz = ey * fz - ez * fy, ez * fx - ex * fz, ex * fy - ey * fx
    b, cx, cy = frame[9, j], frame[10, j], frame[11, j]
    x, y = dx * ex + dy * ey + dz * ez, dx * fx + dy * fy + dz * fz
    gx, hx = cx - b, x - b
    z = dx * nx + dy * ny + dz * nz
    if y > 0 and gx * y - cy * hx > 0 and cy * x - cx * y > 0:
        return 1.0 if z >= 0 else -1.0
    u = min(max(x / b, 0.0), 1.0) if b > 0 else 0.0
    v = min(max((hx * gx + y * cy) * frame[12, j], 0.0), 1.0)
    w = 1 - min(max((x * cx + y * cy) * frame[13, j], 0.0), 1.0)
    ab = (x - u * b) ** 2 + y**2
    bc = (hx - v * gx) ** 2 + (y - v * cy) ** 2
    ca = (x - (1 - w) * cx) ** 2 + (y - (1 - w) * cy) ** 2
    edge, along, qx, qy = 0, u, u * b, 0.0
    if bc < ab and bc <= ca:
        edge, along, qx, qy = 1, v, b + v * gx, v * cy
    elif ca < ab:
        edge, along, qx, qy = 2, w, (1 - w) * cx, (1 - w) * cy
    if 0 < along < 1:
        other = trees.beside[slot, edge]
        if other < 0:
            nx, ny, nz = 0.0, 0.0, 0.0
        else:
            g, i = trees.frames[other // WIDTH], other % WIDTH
            nx += g[4, i] * g[8, i] - g[5, i] * g[7, i]
            ny += g[5, i] * g[6, i] - g[3, i] * g[8, i]
            nz += g[3, i] * g[7, i] - g[4, i] * g[6, i]
    else:
        normal = trees.normals[trees.corners[slot, (edge + (1 if along >= 1 else 0)) % 3]]
        nx, ny, nz = normal[0], normal[1], normal[2]
    # r, from the nearest point to this one, in the triangle's own axes
    rx, ry = x - qx, y - qy
    fall = rx * (nx * ex + ny * ey + nz * ez) + ry * (nx * fx + ny * fy + nz * fz)
    fall += z * (nx * (ey * fz - ez * fy) + ny * (ez * fx - ex * fz) + nz * (ex * fy - ey * fx))
    if fall * fall > DOUBT**2 * (rx * rx + ry * ry + z * z) * (nx * nx + ny * ny + nz * nz):
        return 1.0 if fall > 0 else -1.0
    return -1.0 if winding(trees, (aim.x, aim.y, aim.z, trees.roots[aim.shell]), stack) > 0.5 else 1.0


@compiled_lean
def _evaluate(trees: Trees, aim: Aim, state: State) -> float:
    """Signed distance [mm] from a point to a shell, or a lower bound of it that is no less than the aim's."""
    px, py, pz = aim.x, aim.y, aim.z
    box, last = trees.bounds[aim.shell], state.known[aim.shell]
    x, y, z = max(box[0] - px, px - box[3], 0.0), max(box[1] - py, py - box[4], 0.0), max(box[2] - pz, pz - box[5], 0.0)
    away = sqrt(x * x + y * y + z * z)
    moved = sqrt((px - last[0]) ** 2 + (py - last[1]) ** 2 + (pz - last[2]) ** 2)
    least = float(last[3]) - moved  # a signed distance changes by no more than the way
    if away > least and away > 0:  # within the box, it says nothing
        least = away
    if least >= aim.bound:
        return least
    square, slot = _search(trees, Aim(px, py, pz, aim.shell, aim.bound if least > 0 else inf), state)
    value = aim.bound
    if slot >= 0:
        state.seeds[aim.shell] = slot
        value = sqrt(square) * _side(trees, aim, (slot, state.stack))
    last[0], last[1], last[2], last[3] = px, py, pz, value
    return value


@compiled_lean
def _middle(block: Floats) -> tuple[float, float, float, float]:
    """Mean x, y, z of some points and the distance of the farthest from it [mm]."""
    x, y, z, square = 0.0, 0.0, 0.0, 0.0
    for i in range(len(block)):
        x, y, z = x + block[i, 0] / len(block), y + block[i, 1] / len(block), z + block[i, 2] / len(block)
    for i in range(len(block)):
        square = max(square, (block[i, 0] - x) ** 2 + (block[i, 1] - y) ** 2 + (block[i, 2] - z) ** 2)
    return x, y, z, sqrt(square)


@compiled_lean
def _shells_near(trees: Trees, block: Floats, state: State) -> int:
    """Put the shells that can be the nearest to one of the points of a block first in the state's list; how many they are."""
    x, y, z, radius = _middle(block)
    best, count = inf, 0
    for k in range(len(trees.roots)):
        state.value[k] = _evaluate(trees, Aim(x, y, z, k, best + 2 * radius), state)
        best = min(best, state.value[k])
    for k in range(len(trees.roots)):
        if state.value[k] <= best + 2 * radius:
            state.near[count] = k
            count += 1
    return count


@compiled_lean
def search_all(trees: Trees, points: Floats, out: tuple[Floats, Ints, State]) -> None:
    """Signed distances [mm], negative inside, to the nearest of all shells, and which that is.

    Parameters
    ----------
    points : (n, 3) float array [mm]; the nearer each is to the one before, the faster
    out : (n,) float array of distances and (n,) int array of shells, to be filled, and the room to work in
    """
    distance, shell, state = out
    count, home = 1, 0
    for i in range(len(points)):
        if i % BLOCK == 0 and len(trees.roots) > 1:
            count = _shells_near(trees, points[i : i + BLOCK], state)
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        best, chosen = inf, home
        for turn in range(2):  # the shell nearest to the point before comes first: it leaves the others little to do
            for n in range(count):
                k = state.near[n]
                if (k == home) == (turn == 0):
                    value = _evaluate(trees, Aim(x, y, z, k, best), state)
                    if value < best:
                        best, chosen = value, k
        home = chosen
        distance[i], shell[i] = best, chosen


def signed_distances(trees: Trees, points: Floats, out: tuple[Floats, Ints]) -> None:
    """As `search_all`, with room to work in of its own."""
    search_all(trees, points, (*out, _room(len(trees.roots))))


@compiled_lean
def _search_each(trees: Trees, points: Floats, out: tuple[Floats, State]) -> None:
    """Distances [mm] from points to the nearest triangle of the first shell, whatever the side."""
    away, state = out
    for i in range(len(points)):
        square, slot = _search(trees, Aim(points[i, 0], points[i, 1], points[i, 2], 0, inf), state)
        state.seeds[0] = slot
        away[i] = sqrt(square)


def distances(trees: Trees, points: Floats, away: Floats) -> None:
    """Distances without a side, to triangles that need not be closed.

    Parameters
    ----------
    trees : one shell
    points : (n, 3) float array [mm]; the nearer each is to the one before, the faster
    away : (n,) float array to be filled [mm]
    """
    _search_each(trees, points, (away, _room(1)))


def _room(count: int) -> State:
    """Room to work in, for so many shells."""
    known = np.zeros((count, 4))
    known[:, 3] = -inf
    return State(
        stack=np.empty(STACK, dtype=np.int64),
        ahead=np.empty(STACK),
        known=known,
        seeds=np.full(count, -1),
        value=np.empty(count),
        near=np.zeros(count, dtype=np.int64),
    )
