"""Readable twins of the loops over the cells of the octree, and over those of the metal and which touch (see `_reference.py`)."""

import itertools

import networkx as nx
import numpy as np

from pourwell.physics.kernels.tree import FINER, NOTHING, Array


def morton(index: Array, level: Array, out: Array) -> None:
    """Bits of x, y and z of each cell's first corner, one after another."""
    for cell, (corner, up) in enumerate(zip(index, level, strict=True)):
        code = 0
        for bit, axis in itertools.product(range(21), range(3)):
            code |= ((int(corner[axis]) << int(up)) >> bit & 1) << (3 * bit + 2 - axis)
        out[cell] = code


def neighbours(codes: Array, index: Array, level: Array) -> Array:
    """Cell across each side, by a dictionary of all cells; `codes` is not needed."""
    known = {(int(up), *map(int, place)): cell for cell, (place, up) in enumerate(zip(index, level, strict=True))}
    out = np.full((codes.size, 6), NOTHING, dtype=np.int32)
    for (up, *place), cell in known.items():
        for side in range(6):
            beside = list(place)
            beside[side // 2] += 2 * (side % 2) - 1
            same, coarse = (up, *beside), (up + 1, *(p >> 1 for p in beside))
            within = (up - 1, *(2 * p for p in beside))
            if min(beside) >= 0:
                out[cell, side] = known.get(same, known.get(coarse, FINER if within in known else NOTHING))
    return out


def cut_fraction(distance: Array, slope: Array, out: Array) -> None:
    """Share of a unit cube below a plane, by counting 40 x 40 x 40 points in it: right to a hundredth."""
    grid = (np.arange(40) + 0.5) / 40 - 0.5
    points = np.stack(np.meshgrid(grid, grid, grid), axis=-1).reshape(-1, 3)
    out[:] = ((points @ slope.T + distance) < 0).mean(axis=0)


def pack(first: Array, second: Array, count: int) -> tuple[Array, Array, Array, Array]:
    """Rows of six neighbours, what is over in a list, and where each face lies from both ends."""
    beside: list[list[tuple[int, int, int]]] = [[] for _ in range(count)]
    for face, (a, b) in enumerate(zip(first.tolist(), second.tolist(), strict=True)):
        beside[a].append((face, 0, b))
        beside[b].append((face, 1, a))
    start = np.cumsum([0, *(len(faces[6:]) for faces in beside)], dtype=np.int32)
    neighbour = np.tile(np.arange(count, dtype=np.int32), (6, 1))
    listed, place = np.empty(start[-1], dtype=np.int32), np.empty((first.size, 2), dtype=np.int32)
    for cell, faces in enumerate(beside):
        for at, (face, end, other) in enumerate(faces):
            if at < 6:
                neighbour[at, cell] = other
                place[face, end] = at * count + cell
            else:
                listed[start[cell] + at - 6] = other
                place[face, end] = 6 * count + start[cell] + at - 6
    return neighbour, start, listed, place


def mark_levels(
    passed: Array, cells: Array, heat: Array, *, before: Array, fall: Array, span: tuple[float, float], heats: Array
) -> None:
    """Set when cells fall below heats in a step; the last time holds. The last heat falls as fast as in the step before."""
    now, then = heat[cells][:, None], before[cells][:, None]
    crossed = (now < heats) & (heats <= then)
    drop = np.repeat(np.where(then > now, then - now, 1.0), heats.size, axis=1)
    drop[:, -1] = np.maximum(drop[:, -1], fall * span[1])
    share = (then - heats) / drop
    passed[crossed] = (span[0] + span[1] * share)[crossed]


def join(order: Array, start: Array, other: Array, *, feeder: int, parent: Array, out: Array) -> int:
    """Let cells turn liquid one after the other, and note which region joins which: regions as lists, their first cell first."""
    rank = {a: n for n, a in enumerate(order.tolist())}
    region: dict[int, list[int]] = {}
    count = 0
    for a in rank:
        region[a] = [a]
        for b in other[start[a] : start[a + 1]].tolist():
            if b not in region or region[b] is region[a]:
                continue
            keep, lose = sorted((region[a], region[b]), key=lambda cells: (feeder not in cells, rank[cells[0]]))
            if lose != [a]:
                out[count] = lose[0], a, keep[0]
                count += 1
            keep += lose
            region.update(dict.fromkeys(lose, keep))
    for a, cells in region.items():
        parent[a] = cells[0]
    return count


def _net(cells: Array, start: Array, other: Array) -> nx.Graph:
    """Which of some cells touch."""
    net = nx.Graph()
    net.add_nodes_from(cells.tolist())
    net.add_edges_from((a, b) for a in cells.tolist() for b in other[start[a] : start[a + 1]].tolist() if b in net)
    return net


def flood(first: int, start: Array, other: Array, *, times: Array, after: float, mark: Array, number: int, out: Array) -> int:
    """Cells that hang together with a first one and all freeze after a time, here in the order of their numbers."""
    late = times > after
    late[first] = True
    found = sorted(nx.node_connected_component(_net(np.flatnonzero(late), start, other), first))
    mark[found] = number
    out[: len(found)] = found
    return len(found)


def widest(order: Array, start: Array, other: Array, *, ends: Array, parent: Array) -> int:
    """Place in `order` at which there is first a way from end to end; all cells of an end hang on its post. No need of `parent`."""
    for n in range(order.size):
        net = _net(order[: n + 1], start, other)
        net.add_edges_from((a, f"post {ends[a]}") for a in order[: n + 1].tolist() if ends[a] > 0)
        if "post 1" in net and "post 2" in net and nx.has_path(net, "post 1", "post 2"):
            return n
    return int(order.size)
