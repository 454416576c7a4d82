"""A solid cut into the layers of a print [mm]: exact sections, what begins in mid-air, and hollows that hold resin.

The piece is turned so that the print grows upward; layer k reaches from k to k + 1 thicknesses over its lowest point and is
what the plane half way cuts. Areas, volumes and which loops there are are exact. What lies over what is told along rows, the
spans on which are exact too; the rows lie at most a layer apart, or ROWS_COUNT to the piece.

At the machine the print hangs upside down from its plate into the resin, over a film. A hollow that is closed towards the plate
and open towards the film is sealed by it as it grows and sucks at it; one that is open towards the plate hangs like a bowl and
comes out of the bath full; a closed one keeps what it was printed with.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from pourwell.geometry.gathering import Regions, groups
from pourwell.geometry.kernels.regions import Rows, joined, over
from pourwell.geometry.kernels.slicing import loops, node_bases, row_crossings, trace
from pourwell.geometry.kernels.surface import mates
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold, weld

ROWS_COUNT: Final = 800
"""Rows across a piece at most: a large piece is looked at more coarsely than its layers are thick."""

GRAZING: Final = 0.2
"""A row that crosses a loop nearer to its end than this share of its width may find nothing in it."""

Point = tuple[float, float, float]
CupKind = Literal["suction", "bowl", "closed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Island:
    """Material that begins with nothing beneath it."""

    at_mm: Point
    """The middle of its first layer, in the frame of the mesh."""
    height_mm: float
    """Over the lowest point of the piece."""
    first_mm2: float
    """Its first layer."""
    largest_mm2: float
    """Its largest layer until it joins what stands already."""
    layers_count: int
    """So many layers until then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """A hollow that holds resin."""

    kind: CupKind
    at_mm: Point
    """The middle of what it holds, in the frame of the mesh."""
    volume_mm3: float
    low_mm: float
    high_mm: float
    """Over the lowest point of the piece."""
    mouth_mm2: float
    """Its largest section."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layers:
    """A solid in layers.

    Attributes
    ----------
    height_mm : of the whole piece
    area_mm2 : (n,) float array, of every layer, the lowest first
    outline_mm : (n,) float array, length of all its outlines
    islands : the largest first
    cups : the largest first
    ceiling_mm2 : the largest area of one layer that has nothing beneath it, though the rest of the layer has
    ceiling_height_mm : where that is
    """

    layer_mm: float
    height_mm: float
    area_mm2: Floats
    outline_mm: Floats
    islands: tuple[Island, ...]
    cups: tuple[Cup, ...]
    ceiling_mm2: float
    ceiling_height_mm: float

    def __post_init__(self) -> None:
        for array in (self.area_mm2, self.outline_mm):
            array.setflags(write=False)

    @property
    def volume_mm3(self) -> float:
        """Of all layers together."""
        return float(self.area_mm2.sum()) * self.layer_mm


def upright(direction: ArrayLike) -> Floats:
    """(3, 3) float array [-]: a turn that brings a direction, of any length but zero, up; its rows are axes."""
    up = np.asarray(direction, dtype=np.float64)
    up = up / np.linalg.norm(up)
    aside = np.cross(np.eye(3)[int(np.argmin(np.abs(up)))], up)
    aside /= np.linalg.norm(aside)
    return np.stack((aside, np.cross(up, aside), up))


def closed_halves(mesh: Mesh) -> tuple[Mesh, Ints]:
    """The mesh, made a manifold if need be, and the half edge against every half edge. Raises NotSolidError if it is no solid."""
    mate, fault_count = mates(mesh.faces, len(mesh.vertices))
    if fault_count:
        mesh = from_manifold(to_manifold(weld(mesh)))
        mate, _ = mates(mesh.faces, len(mesh.vertices))
    return mesh, mate


def layers(mesh: Mesh, direction: ArrayLike, *, layer_mm: float, on_plate: bool = False) -> Layers:
    """Cut a solid into layers and tell what begins in mid-air and what holds resin.

    Parameters
    ----------
    mesh : a closed solid [mm]
    direction : (3,) away from the plate [-], of any length but zero
    layer_mm : thickness of a layer [mm]
    on_plate : the lowest layer lies on the plate, which closes what is open there; else the piece stands on supports

    Raises
    ------
    NotSolidError if the mesh is no closed solid.
    """
    mesh, mate = closed_halves(mesh)
    turn = upright(direction)
    points = mesh.vertices @ turn.T
    ground = float(points[mesh.faces, 2].min())
    points[:, 2] -= ground
    height = float(points[mesh.faces, 2].max())
    count = max(int(np.ceil(height / layer_mm - 0.5)), 1)
    level = np.clip(np.floor(points[:, 2] / layer_mm + 0.5), 0, count).astype(np.int64)  # planes at or under each vertex
    base, node_count = node_bases(mesh.faces, mate, level)
    nodes, layer, follows = trace(points, mesh.faces, level, base=base, node_count=node_count, step=layer_mm)
    loop, loop_layer, measures = loops(nodes, layer, follows)
    row_y, width = _rows(nodes[:, 1], loop, layer_mm)
    row = np.searchsorted(row_y, nodes[:, 1])
    rows = Rows(*row_crossings(nodes, layer, follows, loop=loop, layer_count=count, row=row, row_y=row_y))
    material, air = joined(rows, len(loop_layer))

    def regions(head: Ints, sums: Floats, *, wanted: bool) -> Regions:
        number, region_layer, area, middle = _summed(head, loop_layer, sums)
        pairs, common = over(rows, number, count, wanted=wanted, width=width)
        return Regions(layer=region_layer, area=area, middle=middle, pairs=pairs, common=common)

    solid = regions(np.append(material, len(material)), measures, wanted=True)
    rooms = regions(air, -measures, wanted=False)
    frame = _Frame(turn=turn, ground=ground, layer_mm=layer_mm)
    ceiling, ceiling_layer = _ceiling(solid)
    return Layers(
        layer_mm=layer_mm,
        height_mm=height,
        area_mm2=_per(loop_layer, measures[:, 0], count),
        outline_mm=_per(loop_layer, measures[:, 3], count),
        islands=_islands(solid, frame, count),
        cups=_cups(rooms, frame, count, on_plate=on_plate),
        ceiling_mm2=ceiling,
        ceiling_height_mm=ceiling_layer * layer_mm,
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Frame:
    """Back from the layers to the frame of the mesh."""

    turn: Floats
    ground: float
    layer_mm: float

    def back(self, middle: ArrayLike, layer: float) -> Point:
        """A place (x, y) [mm] half way up a layer."""
        at = np.append(np.asarray(middle, dtype=np.float64), (layer + 0.5) * self.layer_mm + self.ground)
        x, y, z = (at @ self.turn).tolist()
        return x, y, z


def _rows(y: Floats, loop: Ints, layer_mm: float) -> tuple[Floats, Floats]:
    """Rows across the piece, and between them one more for loops so small that they slip through.

    Parameters
    ----------
    y : (c,) float array [mm], of all crossings
    loop : (c,) int array, their loops

    Returns
    -------
    row_y : (r,) float array [mm], rising
    width : (r,) float array [mm]: how much of the piece a row stands for; 0 for one that only catches small loops
    """
    if not len(y):
        return np.empty(0), np.empty(0)
    low, high = float(y.min()), float(y.max())
    pitch = max(layer_mm, (high - low) / ROWS_COUNT)
    row_y = low + (np.arange(int((high - low) / pitch) + 1) + 0.5) * pitch
    size = int(loop.max()) + 1
    lowest, highest = np.full(size, np.inf), np.full(size, -np.inf)
    np.minimum.at(lowest, loop, y)
    np.maximum.at(highest, loop, y)
    lowest, highest = lowest + GRAZING * (highest - lowest), highest - GRAZING * (highest - lowest)
    missed = np.flatnonzero((np.searchsorted(row_y, lowest) == np.searchsorted(row_y, highest)) & (highest > lowest))
    more: list[float] = []
    begin, end = -np.inf, -np.inf  # what all loops of a row have in common
    for a, b in sorted(zip(lowest[missed].tolist(), highest[missed].tolist(), strict=True)):
        if a >= end:
            more += [(begin + end) / 2] if end > begin else []
            begin, end = a, b
        else:
            begin, end = a, min(end, b)
    more += [(begin + end) / 2] if end > begin else []
    whole = np.concatenate((row_y, more[:ROWS_COUNT]))
    order = np.argsort(whole, kind="stable")
    return whole[order], np.concatenate((np.full(len(row_y), pitch), np.zeros(len(whole) - len(row_y))))[order]


def _summed(head: Ints, layer: Ints, measures: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """Loops put together as regions.

    Parameters
    ----------
    head : (l + 1,) int array: a loop that stands for each loop's region; the last stands for the outside

    Returns
    -------
    number : (l + 1,) int array: the region of every loop; the outside comes after all regions
    layer, area, middle : (r,) int [-], (r,) float [mm2], (r, 2) float [mm] arrays
    """
    heads, number = np.unique(head, return_inverse=True)
    size = len(heads) - 1
    rows = np.flatnonzero(number[:-1] < size)
    of = number[rows]
    area, mx, my = (_per(of, measures[rows, c], size) for c in range(3))
    region_layer = np.zeros(size, dtype=np.int64)
    region_layer[of] = layer[rows]
    middle = np.stack((mx, my), axis=1) / np.where(area != 0, area, 1.0)[:, None]
    return number, region_layer, area, middle


def _per(which: Ints, values: Floats, count: int) -> Floats:
    """(count,) float array: the sum of the values of each number."""
    return np.bincount(which, weights=values, minlength=count).astype(np.float64)


def _ceiling(solid: Regions) -> tuple[float, int]:
    """The largest area without anything beneath it of a region that has something beneath it, and its layer."""
    carried = _per(solid.pairs[:, 0], solid.common, len(solid.layer))
    bare = np.where(carried > 0, np.maximum(solid.area - carried, 0.0), 0.0)
    if not len(bare) or bare.max() <= 0:
        return 0.0, 0
    most = int(np.argmax(bare))
    return float(bare[most]), int(solid.layer[most])


def _islands(solid: Regions, frame: _Frame, count: int) -> tuple[Island, ...]:
    """What begins over the first layer with nothing beneath it, with the layers until it joins something older."""
    area, began = solid.area.tolist(), solid.layer.tolist()
    largest: dict[int, float] = {}
    last: dict[int, int] = {}
    out: list[Island] = []

    def ended(first: int, layer: int) -> None:
        most = largest.pop(first)
        if began[first] > 0 and area[first] > 0:
            out.append(
                Island(
                    at_mm=frame.back(solid.middle[first], began[first]),
                    height_mm=began[first] * frame.layer_mm,
                    first_mm2=area[first],
                    largest_mm2=most,
                    layers_count=layer - began[first],
                )
            )

    for layer, found in groups(solid, count, open_first=False):
        for group in found:
            if not group.new:
                continue
            for old in group.old:
                if old != group.name:
                    ended(old, layer)
            largest[group.name] = max(largest.get(group.name, 0.0), *(area[number] for number in group.new))
            last[group.name] = layer
    for first in tuple(largest):
        ended(first, last[first] + 1)
    return tuple(sorted(out, key=lambda island: -island.largest_mm2))


def _cups(rooms: Regions, frame: _Frame, count: int, *, on_plate: bool) -> tuple[Cup, ...]:
    """Hollows that the film closes while they grow, that hang like bowls, and that nothing opens."""
    upward = _filled(rooms, frame, count, sealed=on_plate, kind="suction")
    bowls = [cup for cup in _filled(rooms.turned_over(count), frame, count, sealed=False, kind="bowl") if cup.kind == "bowl"]
    return tuple(sorted((*upward, *bowls), key=lambda cup: -cup.volume_mm3))


def _filled(rooms: Regions, frame: _Frame, count: int, *, sealed: bool, kind: Literal["suction", "bowl"]) -> list[Cup]:
    """Rooms that the layers up to one enclose, told when a later layer opens them to the outside, or never.

    Parameters
    ----------
    sealed : what is open in the first layer is closed by the plate
    kind : what a room is that a later layer opens; bowls are looked at from the other end
    """
    outside = len(rooms.layer)
    held: dict[int, list[int]] = {}
    done: list[tuple[CupKind, list[int]]] = []
    for _, found in groups(rooms, count, open_first=not sealed):
        for group in found:
            if group.name == outside:
                done += [(kind, held.pop(old)) for old in group.old if old in held]
            else:
                held[group.name] = [number for old in group.old for number in held.pop(old)] + list(group.new)
    done += [(kind if max(rooms.layer[k] for k in mine) == count - 1 else "closed", mine) for mine in held.values()]
    out = []
    for what, mine in done:
        area = rooms.area[mine]
        total = float(area.sum())
        if total <= 0:
            continue
        layer = rooms.layer[mine] if kind == "suction" else count - 1 - rooms.layer[mine]
        out.append(
            Cup(
                kind=what,
                at_mm=frame.back(area @ rooms.middle[mine] / total, float(area @ layer) / total),
                volume_mm3=total * frame.layer_mm,
                low_mm=float(layer.min()) * frame.layer_mm,
                high_mm=float(layer.max() + 1) * frame.layer_mm,
                mouth_mm2=float(np.bincount(layer, weights=area).max()),
            )
        )
    return out
