"""Hollows that open outward only through narrow necks [mm]: how large they are, and how wide and where their openings.

The piece stands in a grid of cells, each with its distance to the metal. Air at more than a distance r from all metal, seen from
outside, is what a ball of radius r reaches; air as deep that it does not reach lies behind necks narrower than 2 r. The widest
neck is the largest r at which a path outward remains; it is closed, and the next one looked for. A coarse grid tells most pieces
from those that need the fine one.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from pourwell.errors import BadDataError
from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.solidity import bodies, from_manifold, to_manifold

COARSE_COUNT: Final = 40_000
"""Cells of the first look: some hundredths of a second's work."""

FINE_COUNT: Final = 600_000
"""Cells of the second: a hollow bead of 14 mm gets cells of a fifth of a millimetre."""

FINEST_MM: Final = 0.1
"""Cells are never smaller."""

LEVELS: Final = (0.25, 0.6, 1.0)
"""Parts of the widest neck at which air is looked for behind it: a narrow tube is no deeper than its wall is far away."""

BULGE: Final = 1.3
"""A hollow is wider than its neck by at least this factor; else it is a passage."""

WIDE_LEVELS: Final = (0.6, 1.0)
"""The same of the neck that the largest core would need, where that is wider."""

MOST_OPENINGS: Final = 6
"""Openings of a hollow that are looked for, the widest first."""

MEASURE_MM: Final = 0.005
"""How near the radius of a neck is found on the grid."""

DISC: Final = 1.2
"""In cells, how far aside of its cell the middle of a neck may lie: half a cell's diagonal and a little more."""

DISC_COUNT: Final = 17
SLICE_COUNT: Final = 5
ROUNDS: Final = 3
"""Points across that disc, discs along the neck, and how often both are drawn closer round the best."""

Point = tuple[float, float, float]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A way out of a hollow.

    Attributes
    ----------
    width_mm : of the largest ball that passes
    at_mm : where it is narrowest
    """

    width_mm: float
    at_mm: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollow:
    """Air behind narrow necks.

    Attributes
    ----------
    at_mm : the middle of the largest ball in it
    width_mm : of that ball
    openings : the widest first; none if all are narrower than `least_mm`
    least_mm : openings narrower than this may escape the grid
    """

    volume_mm3: float
    at_mm: Point
    width_mm: float
    openings: tuple[Opening, ...]
    least_mm: float
    length_mm: float
    """From end to end."""
    middle_mm: Point
    """Of its volume."""

    @property
    def core_mm(self) -> float:
        """The width of a ball of its volume."""
        return ball_width(self.volume_mm3)

    def apart(self, *, width_mm: float, share: float, angle_deg: float) -> bool:
        """Do two openings of at least a width lie so far apart: as a share of its length, or as an angle about its middle."""
        places = [np.array(opening.at_mm) for opening in self.openings if opening.width_mm >= width_mm]
        for one, other in combinations(places, 2):
            if float(np.linalg.norm(one - other)) >= share * self.length_mm:
                return True
            out, back = one - np.array(self.middle_mm), other - np.array(self.middle_mm)
            if out @ back <= np.cos(np.radians(angle_deg)) * np.linalg.norm(out) * np.linalg.norm(back):
                return True
        return False

    @property
    def neck_mm(self) -> float:
        """Of its widest opening; where none was found, the width that it is narrower than."""
        return self.openings[0].width_mm if self.openings else self.least_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grid:
    """Distances at the middles of cells; its outermost cells lie outside the piece."""

    low: Floats
    cell: float
    depth: Floats
    """(x, y, z) float array [mm], positive in air."""

    def at(self, index: Ints | tuple[int, ...]) -> Floats:
        place: Floats = self.low + self.cell * np.asarray(index, dtype=np.float64)
        return place


def ball_width(volume_mm3: float) -> float:
    """The diameter of a ball [mm]: the cube root of 6 V / pi."""
    return float(np.cbrt(6 * max(volume_mm3, 0.0) / np.pi))


def hollows(mesh: Mesh, *, neck_mm: float, least_mm3: float, core_ratio: float = np.inf) -> tuple[Hollow, ...]:
    """The hollows of a piece that no ball as wide as a neck gets into, the largest first.

    Closed voids, which have no opening at all, count as metal here.

    Parameters
    ----------
    mesh : a closed solid [mm]
    neck_mm : openings at least this wide are wide open
    least_mm3 : smaller hollows are left out
    core_ratio : openings of a hollow so many times as wide are looked at as well, though they are wider than a neck

    Raises
    ------
    NotSolidError if the mesh is no closed solid.
    """
    outward = [body for body in bodies(mesh) if body.volume_mm3 > 0]
    if not outward:
        return ()
    distance = _distance(mesh, outward)
    air_mm3 = float(np.prod(mesh.bounds[1] - mesh.bounds[0])) - sum(body.volume_mm3 for body in outward)
    wide_mm = max(neck_mm, ball_width(air_mm3) / core_ratio)
    radii = [part * neck_mm / 2 for part in LEVELS] + [part * wide_mm / 2 for part in WIDE_LEVELS if part * wide_mm > neck_mm]
    coarse = _grid(mesh, distance, count=COARSE_COUNT, neck_mm=neck_mm)
    if not any(_suspect(coarse, room, level, least_mm3=least_mm3) for room, level in _rooms(coarse, radii)):
        return ()
    fine = _grid(mesh, distance, count=FINE_COUNT, neck_mm=neck_mm)
    found, taken = [], np.zeros(fine.depth.shape, dtype=bool)
    for room, level in _rooms(fine, radii):
        if (room & taken).any() or not _suspect(fine, room, level, least_mm3=least_mm3):
            continue
        taken |= room
        hollow = _hollow(fine, room, distance, neck_mm=wide_mm)
        if hollow is None or hollow[0].volume_mm3 < least_mm3:
            continue
        if hollow[0].neck_mm < max(neck_mm, hollow[0].core_mm / core_ratio):
            found.append(hollow[0])
            taken |= hollow[1]
    return tuple(sorted(found, key=lambda hollow: -hollow.volume_mm3))


def _distance(mesh: Mesh, outward: list[Mesh]) -> SignedDistance:
    """The distance to a piece; one that touches itself along an edge is cut open there first."""
    try:
        return SignedDistance(outward)
    except BadDataError:
        return SignedDistance([body for body in bodies(from_manifold(to_manifold(mesh))) if body.volume_mm3 > 0])


def _grid(mesh: Mesh, distance: SignedDistance, *, count: int, neck_mm: float) -> _Grid:
    """About so many cells round a piece, with room outside for a ball as wide as a neck."""
    low, high = mesh.bounds
    low, high = low - 1.5 * neck_mm, high + 1.5 * neck_mm
    cell = max(float(np.prod(high - low) / count) ** (1 / 3), FINEST_MM)
    shape = np.ceil((high - low) / cell).astype(np.int64) + 1
    x, y, z = (low[k] + cell * np.arange(shape[k]) for k in range(3))
    points = np.stack(np.meshgrid(x, y, z, indexing="ij"), axis=-1)
    return _Grid(low=low, cell=cell, depth=distance(points.reshape(-1, 3)).reshape(shape))


def _rooms(grid: _Grid, radii: list[float]) -> Iterator[tuple[Flags, float]]:
    """Air that is deeper than a level and does not hang together with the outside there; behind the narrowest necks first."""
    for level in np.array(radii) + grid.cell / 2:
        label, count = ndimage.label(grid.depth > level)
        outside = label[0, 0, 0]
        for number, box in enumerate(ndimage.find_objects(label), start=1):
            if number != outside and box is not None and count > 1:
                room = np.zeros(grid.depth.shape, dtype=bool)
                room[box] = label[box] == number
                yield room, float(level)


def _reached(grid: _Grid, room: Flags, radius: float) -> Flags:
    """The cells that balls of a radius cover whose middles lie in a room."""
    cells = np.argwhere(room)
    margin = int(np.ceil(radius / grid.cell)) + 1
    box = tuple(
        slice(max(low - margin, 0), high + margin + 1) for low, high in zip(cells.min(axis=0), cells.max(axis=0), strict=True)
    )
    reached = np.zeros(room.shape, dtype=bool)
    reached[box] = ndimage.distance_transform_edt(~room[box], sampling=grid.cell) <= radius
    return reached


def _suspect(grid: _Grid, room: Flags, level: float, *, least_mm3: float) -> bool:
    """May a room be a hollow of that volume: the balls in it cover at least half as much."""
    return float(_reached(grid, room, level).sum()) * grid.cell**3 >= least_mm3 / 2


def _hollow(grid: _Grid, room: Flags, distance: SignedDistance, *, neck_mm: float) -> tuple[Hollow, Flags] | None:
    """A hollow with its openings, and the cells that it takes; None if one is as wide as a neck, or hardly narrower than it."""
    depth = grid.depth.copy()
    x, y, z = (int(k) for k in np.unravel_index(int(np.argmax(np.where(room, depth, 0.0))), depth.shape))
    inmost, width = (x, y, z), 2 * float(depth[x, y, z])
    openings: list[Opening] = []
    while len(openings) < MOST_OPENINGS and (neck := _neck(depth, inmost)) is not None:
        radius, cell, way = neck
        at, true = _measured(grid, cell, way, distance=distance)
        openings.append(Opening(width_mm=2 * max(true, radius), at_mm=_point(at)))
        if openings[-1].width_mm >= min(neck_mm, width / BULGE):
            return None
        air = np.argwhere(depth > 0)
        plug = air[np.linalg.norm(air - np.array(cell), axis=1) * grid.cell <= radius + 2 * grid.cell]
        plug = plug[(plug != np.array(inmost)).any(axis=1)]
        depth[tuple(plug.T)] = 0.0
    whole = _part(depth > 0, inmost)
    if whole[0, 0, 0]:  # more openings than were looked for: what balls fill that none of them lets through
        radius = openings[0].width_mm / 2 + grid.cell
        whole = _reached(grid, _part(grid.depth > radius, inmost), radius)
    cells = np.argwhere(whole) * grid.cell
    middle = cells.mean(axis=0)
    along = np.linalg.eigh(np.cov(cells.T))[1][:, -1] if len(cells) > 1 else np.eye(3)[0]
    hollow = Hollow(
        volume_mm3=float(whole.sum()) * grid.cell**3,
        at_mm=_point(grid.at(inmost)),
        width_mm=width,
        openings=tuple(sorted(openings, key=lambda opening: -opening.width_mm)),
        least_mm=2 * grid.cell,
        length_mm=float(np.ptp(cells @ along)) + grid.cell,
        middle_mm=_point(grid.low + middle),
    )
    return hollow, whole


def _part(air: Flags, cell: tuple[int, ...]) -> Flags:
    """What hangs together with a cell."""
    label, _ = ndimage.label(air)
    part: Flags = label == label[cell]
    return part


def _neck(depth: Floats, inmost: tuple[int, ...]) -> tuple[float, tuple[int, ...], Floats] | None:
    """The widest way from a cell to the outside: its radius [mm], the narrowest cell and the direction there; None if shut."""
    if not _joined(depth > 0, inmost):
        return None
    low, high = 0.0, float(depth[inmost])
    while high - low > MEASURE_MM:
        middle = (low + high) / 2
        low, high = (middle, high) if _joined(depth > middle, inmost) else (low, middle)
    label, _ = ndimage.label(depth > high)
    inner = label == label[inmost] if label[inmost] else np.zeros(label.shape, dtype=bool)
    inner[inmost] = True
    outer = label == label[0, 0, 0]
    steps = ndimage.distance_transform_cdt(~inner, "taxicab") + ndimage.distance_transform_cdt(~outer, "taxicab")
    link = _part(depth > low, inmost) & ~inner & ~outer
    cells = np.argwhere(link)
    cell = tuple(int(k) for k in cells[np.argmin(steps[link])]) if len(cells) else inmost
    span = int(np.ceil(steps[cell])) + 1
    box = tuple(slice(max(k - span, 0), k + span + 1) for k in cell)
    way = np.argwhere(outer[box]).mean(axis=0) - np.argwhere(inner[box]).mean(axis=0)
    return low, cell, way / max(float(np.linalg.norm(way)), np.finfo(float).tiny)


def _joined(air: Flags, cell: tuple[int, ...]) -> bool:
    label, _ = ndimage.label(air)
    return bool(label[cell] and label[cell] == label[0, 0, 0])


def _measured(grid: _Grid, cell: tuple[int, ...], way: Floats, *, distance: SignedDistance) -> tuple[Floats, float]:
    """The middle of a neck near a cell and its radius: the least, along the neck, of the largest ball across it [mm]."""
    aside = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    aside /= np.linalg.norm(aside)
    at, width, radius = grid.at(cell), grid.cell, 0.0
    for _ in range(ROUNDS):
        across = np.linspace(-DISC * width, DISC * width, DISC_COUNT)
        along = np.linspace(-width, width, SLICE_COUNT)
        t, u, v = (part.ravel() for part in np.meshgrid(along, across, across, indexing="ij"))
        points = at + t[:, None] * way + u[:, None] * aside + v[:, None] * np.cross(way, aside)
        depth = distance(points).reshape(SLICE_COUNT, -1)
        slim = int(np.argmin(depth.max(axis=1)))
        best = int(np.argmax(depth[slim]))
        at, radius = points.reshape(SLICE_COUNT, -1, 3)[slim, best], float(depth[slim, best])
        width *= 4 * DISC / DISC_COUNT
    return at, radius


def _point(at: Floats) -> Point:
    x, y, z = at.tolist()
    return x, y, z
