"""Where a bore may be [mm]: axes worth trying, and gaps seen along them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, QhullError

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster

GRID_COUNT: Final = 40
"""Cells along the largest side when the surface is thinned out for the first look."""

LEAST_CELLS: Final = 1.5
"""A gap with a radius under so many cells is one between samples, not a bore."""

GAPS_COUNT: Final = 4
"""Gaps looked at along an axis, the widest first."""

HELD: Final = 0.02
"""Three points hold a circle from all sides if no corner between them is more than this beyond a right angle: on a true circle
two of them may lie opposite each other."""

FACING_COUNT: Final = 4000
"""Points from which rays go outward to find faces that look at each other over a bore."""

FACING_TURNS: Final = 4
"""Rounds of fitting the axis to the faces of the bore, each leaving out those that do not fit."""

SLANT: Final = 0.3
"""A face of the bore looks across the axis: its normal's share along the axis is less than this (17 degrees)."""

SAME_AXIS: Final = 0.9998
"""Two axes with a larger cosine (within a degree) need not both be tried: the search tilts them."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A cylinder's axis under way, and the free radius about it."""

    centre: Floats
    axis: Floats
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looking:
    """Points of the surface from which another face is seen over a gap: (k, 3), (k, 3), (k,), (k,)."""

    points: Floats
    normals: Floats
    area: Floats
    across: Floats

    def only(self, chosen: NDArray[np.bool_]) -> "Looking":
        """Some of them."""
        return Looking(points=self.points[chosen], normals=self.normals[chosen], area=self.area[chosen], across=self.across[chosen])


def thinned(mesh: Mesh, points: Floats) -> Floats:
    """Of points over the surface, one a cell of a grid."""
    return points[_one_a_cell(points, max(mesh.envelope_mm) / GRID_COUNT)]


def _one_a_cell(points: Floats, cell_mm: float) -> Ints:
    """Of (k, d) points the number of one in every cell of a grid."""
    cell = np.floor(points / cell_mm).astype(np.int64)
    cell -= cell.min(axis=0)
    key = np.ravel_multi_index(tuple(cell.T), tuple(cell.max(axis=0) + 1))
    return np.asarray(np.unique(key, return_index=True)[1], dtype=np.int64)


def axes_of(mesh: Mesh, tried: Floats | None) -> list[Floats]:
    """Unit vectors worth trying besides the one tried: the file's axes and the principal axes of the surface, each once."""
    areas = mesh.areas
    weights = areas / areas.sum()
    centres = mesh.centres
    from_middle = centres - weights @ centres
    principal = np.linalg.eigh((from_middle * weights[:, None]).T @ from_middle)[1].T
    out: list[Floats] = [] if tried is None else [tried]
    for axis in (*np.eye(3), *principal):
        if all(abs(axis @ other) < SAME_AXIS for other in out):
            out.append(axis)
    return out[0 if tried is None else 1 :]


def looking_over(mesh: Mesh, rays: Caster, surface: tuple[Floats, Ints, Floats]) -> Looking | None:
    """Where the surface looks at itself over a gap."""
    points, face, area = surface
    chosen = np.arange(0, len(points), max(1, len(points) // FACING_COUNT))
    chosen = chosen[area[chosen] > 0]
    normals = mesh.normals
    outward = normals[face[chosen]]
    across, met = rays.first(points[chosen], outward, leaving=face[chosen])
    meets = (met >= 0) & (np.einsum("ij,ij->i", outward, normals[met]) < 0)
    if not meets.any():
        return None
    return Looking(points=points[chosen][meets], normals=outward[meets], area=area[chosen][meets], across=across[meets])


def axis_of(looking: Looking | None) -> Floats | None:
    """The direction that the faces which look at each other over a gap have least to do with."""
    if looking is None:
        return None
    weight, normals = looking.area * looking.across**2, looking.normals  # wide gaps before cracks and hinges
    axis: Floats = np.linalg.eigh((normals * weight[:, None]).T @ normals)[1][:, 0]
    for _ in range(FACING_TURNS):
        fits = np.abs(normals @ axis) < SLANT
        if not fits.any():
            return axis
        axis = np.linalg.eigh((normals[fits] * weight[fits, None]).T @ normals[fits])[1][:, 0]
    return axis


def frame_of(axis: Floats) -> Floats:
    """(2, 3): two unit vectors across an axis."""
    u = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    u /= np.linalg.norm(u)
    return np.stack((u, np.cross(axis, u)))


def gaps(points: Floats, axis: Floats) -> Iterator[Line]:
    """The widest gaps between points seen along an axis, each held from all sides: circles about acute triangles."""
    frame = frame_of(axis)
    flat = points @ frame.T
    cell_mm = float(np.ptp(flat, axis=0).max()) / GRID_COUNT
    flat = flat[_one_a_cell(flat, cell_mm)]
    try:
        corners = flat[Delaunay(flat).simplices]
    except (QhullError, ValueError):
        return
    b, c = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice = 2 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    wide = np.abs(twice) > np.finfo(float).eps
    corners, b, c, twice = corners[wide], b[wide], c[wide], twice[wide]
    bb, cc = (b**2).sum(axis=1), (c**2).sum(axis=1)
    middle = np.stack((c[:, 1] * bb - b[:, 1] * cc, b[:, 0] * cc - c[:, 0] * bb), axis=1) / twice[:, None]
    sides = np.sort(((np.roll(corners, 1, axis=1) - corners) ** 2).sum(axis=2), axis=1)
    acute = sides[:, 2] <= (sides[:, 0] + sides[:, 1]) * (1 + HELD)
    radius = np.linalg.norm(middle, axis=1)
    radius = np.where(acute & (radius < np.ptp(flat, axis=0).max() / 2), radius, 0.0)
    along = float(np.median(points @ axis))
    taken: list[Floats] = []
    for k in np.argsort(-radius):
        if radius[k] < LEAST_CELLS * cell_mm:
            return
        centre = corners[k, 0] + middle[k]
        if all(np.linalg.norm(centre - other) > radius[k] for other in taken):
            yield Line(centre @ frame + axis * along, axis, float(radius[k]))
            taken.append(centre)
        if len(taken) == GAPS_COUNT:
            return
