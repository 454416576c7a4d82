"""The room that the grid fills: a flask's cylinder, or a box. SI."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.mesh import ABOVE, BELOW, SIDE

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """A flask's mould: axis z through the origin, from z = 0 under it to its height where the button is open [m]."""

    radius: float
    height: float

    @property
    def lower(self) -> tuple[float, float, float]:
        """Least corner of the box round it [m]."""
        return -self.radius, -self.radius, 0.0

    @property
    def upper(self) -> tuple[float, float, float]:
        """Greatest corner of the box round it [m]."""
        return self.radius, self.radius, self.height

    @property
    def volume(self) -> float:
        """m3."""
        return float(np.pi * self.radius**2 * self.height)

    def depths(self, points: Floats) -> Floats:
        """How far points (n, 3) lie inside the SIDE, BELOW and ABOVE: (n, 3) [m], below zero outside."""
        r = np.hypot(points[:, 0], points[:, 1])
        return np.stack([self.radius - r, points[:, 2], self.height - points[:, 2]], axis=1)

    def lean(self, points: Floats, axis: NDArray[np.intp]) -> Floats:
        """Share of a lattice face across `axis` (n,) that a round side really has: (n,) [-]."""
        r = np.hypot(points[:, 0], points[:, 1])
        across = np.abs(np.where(axis == 0, points[:, 0], points[:, 1]))
        share: Floats = np.where(axis < 2, across / np.maximum(r, 1e-12), 1.0)
        return share


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box between two corners [m]; its four upright sides are SIDE."""

    lower: tuple[float, float, float]
    upper: tuple[float, float, float]

    @property
    def volume(self) -> float:
        """m3."""
        return float(np.prod(np.subtract(self.upper, self.lower)))

    def depths(self, points: Floats) -> Floats:
        """How far points (n, 3) lie inside the SIDE, BELOW and ABOVE: (n, 3) [m], below zero outside."""
        low, high = points - np.array(self.lower), np.array(self.upper) - points
        return np.stack([np.minimum(low[:, :2], high[:, :2]).min(axis=1), low[:, 2], high[:, 2]], axis=1)

    def lean(self, points: Floats, axis: NDArray[np.intp]) -> Floats:
        """Share of a lattice face that the side really has: all of it."""
        return np.ones(axis.size)


Domain = Cylinder | Box
FACES = (SIDE, BELOW, ABOVE)
"""Order of the columns of `depths`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """Nested cubes over a domain: the smallest have an edge `step`, the largest are doubled `top` times."""

    step: float
    top: int
    origin: tuple[float, float, float]
    roots: tuple[int, int, int]
    """How many of the largest in x, y and z."""

    def size(self, level: int) -> float:
        """Edge at a level [m]."""
        return float(self.step * 2**level)

    def shape(self, level: int) -> tuple[int, int, int]:
        """How many cells of one level would fill it in x, y and z."""
        x, y, z = (n << (self.top - level) for n in self.roots)
        return x, y, z

    def centres(self, index: NDArray[np.int32], level: int) -> Floats:
        """Middles (n, 3) [m] of cells at one level."""
        middles: Floats = np.array(self.origin) + (index + 0.5) * self.size(level)
        return middles


MISFIT = 0.03
"""By how much the wanted edge may be changed so that whole cells fill the height."""
LARGEST = 8
"""Most doublings: beyond these a cell is larger than any flask needs."""


def lattice(domain: Domain, spacing: float, *, finer: int) -> Lattice:
    """Cubes of about `spacing` [m] that fill the height without a rest, `finer` halvings below it, and as large as fit above.

    Raises
    ------
    BadRequestError
        If the spacing is not above zero, or so coarse that not two cells fill the domain.
    """
    extent = np.subtract(domain.upper, domain.lower)
    if not (0 < spacing <= extent.min() / 2):
        raise BadRequestError(
            f"Cells of {spacing * 1e3:g} mm do not fit a mould of {extent.min() * 1e3:g} mm.",
            try_this="Choose smaller cells, above zero.",
        )
    for doublings in range(LARGEST, -1, -1):
        along = max(1, round(extent[2] / (spacing * 2**doublings)))
        edge = extent[2] / along / 2**doublings
        if abs(edge / spacing - 1) < MISFIT and edge * 2**doublings <= extent.min() / 2 + 1e-12:
            break
    else:
        doublings, along = 0, int(np.ceil(extent[2] / spacing))
        edge = extent[2] / along
    root = edge * 2**doublings
    across = [int(np.ceil(e / root - 1e-9)) for e in extent[:2]]
    middle = 0.5 * np.add(domain.lower, domain.upper)
    origin = (float(middle[0] - 0.5 * across[0] * root), float(middle[1] - 0.5 * across[1] * root), float(domain.lower[2]))
    return Lattice(step=edge / 2**finer, top=doublings + finer, origin=origin, roots=(across[0], across[1], along))
