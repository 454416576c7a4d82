"""What the flask stands in: film and radiation on its three faces, the steel wall, and the film between metal and mould. SI."""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.mesh import ABOVE, BELOW, SIDE, Mesh
from pourwell.physics.properties import Substance

STEFAN_BOLTZMANN: Final = 5.670374419e-8
"""W/(m2 K4), CODATA 2018."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """How one face gives heat to the outside: q = h (T - T_outside) + emissivity sigma (T^4 - T_outside^4)."""

    coefficient: float
    """W/(m2 K), by air or by the table it stands on."""
    outside: float
    """K."""
    emissivity: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a film that no face can have."""
        if self.coefficient < 0 or not 0 <= self.emissivity <= 1 or self.outside <= 0 or not math.isfinite(self.coefficient):
            raise BadRequestError(
                f"A film of {self.coefficient:g} W/(m2 K) and emissivity {self.emissivity:g} does not exist.",
                why=f"Or it gives heat to {self.outside:g} K.",
                try_this="Give a coefficient of zero or more, an emissivity from 0 to 1, and kelvin.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """The flask's steel: how thick [m], of what, and how well the mould touches it [W/(m2 K)]."""

    thickness: float
    substance: Substance
    contact: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Films of the flask's faces; a face without one keeps its heat."""

    side: Film | None = None
    below: Film | None = None
    above: Film | None = None
    wall: Wall | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Film between metal and mould [W/(m2 K)] against the solid fraction of the metal behind it, straight between its knots.

    A skin that shrinks away from the mould touches it less: 1500 while liquid, 300 to 800 once there is a skin, and no less where
    it shrinks on to a core. Source: estimates of docs/physics.md.
    """

    solid_fraction: tuple[float, ...]
    coefficient: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse what is no curve."""
        x, h = self.solid_fraction, self.coefficient
        if len(x) != len(h) or not x or min(h) <= 0 or any(b <= a for a, b in pairwise(x)):
            raise BadRequestError(
                "The film between metal and mould has no proper curve.",
                why="Solid fractions must rise and coefficients be above zero, as many of the one as of the other.",
                try_this="Give for instance fractions 0 and 0.5 with 1500 and 600 W/(m2 K).",
            )


def film_rows(contact: Contact | None, wall: Wall | None) -> NDArray[np.float64]:
    """Rows of solid fractions and coefficients (2, 2, k) for the loops: first metal to mould, then mould to wall.

    A row of what is not there is never read.
    """
    x = np.array(contact.solid_fraction if contact else (0.0,))
    h = np.array(contact.coefficient if contact else (1.0,))
    x, h = np.append(x, max(x[-1], 1.0) + 1.0), np.append(h, h[-1])
    touch = np.full_like(h, wall.contact if wall else 1.0)
    return np.array([[x, h], [x, touch]])


def outer_films(mesh: Mesh, around: Surroundings, start: NDArray[np.float64]) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Faces to the outside that have a film: their cells (b,) and rows (b, 6) as the loop `losses` takes them.

    start (n,): temperatures at the beginning [K], a first guess of the surface.
    """
    cells, rows = [], []
    for face, film in ((SIDE, around.side), (BELOW, around.below), (ABOVE, around.above)):
        if film is None:
            continue
        where = np.flatnonzero(mesh.outer_face == face)
        one = np.ones(where.size)
        radiation = film.emissivity * STEFAN_BOLTZMANN
        cell = mesh.outer_cell[where]
        columns = (mesh.outer_area[where], mesh.outer_depth[where], one * film.coefficient, one * radiation, one * film.outside)
        cells.append(cell)
        rows.append(np.stack([*columns, start[cell]], axis=1))
    if not cells:
        return np.empty(0, dtype=np.int32), np.empty((0, 6))
    return np.concatenate(cells), np.concatenate(rows)
