"""The heat balance of a mesh as rows of weights, and its linear solution by preconditioned conjugate gradients. SI.

The state is float64, weights and corrections float32: a correction need only be right to a few digits, because the balance that it
mends is reckoned in full.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.physics.boundary import Contact, Surroundings, film_rows, outer_films
from pourwell.physics.hierarchy import Hierarchy
from pourwell.physics.kernels.linear import Rows, advance, begin, direct, product, renew, row_sums
from pourwell.physics.kernels.state import Faces, Outside, leaving, losses, weigh
from pourwell.physics.kernels.tree import pack
from pourwell.physics.mesh import METAL, WALL, Mesh
from pourwell.physics.properties import Substance, tables

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
DAMPING = 1.2
"""Of Jacobi on the finest level, which is added to the coarser levels' correction."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a mesh is made of and stands in.

    substances: mould, metal, and the wall's if there is one. contact: None is perfect contact between metal and mould.
    """

    substances: tuple[Substance, ...]
    surroundings: Surroundings
    contact: Contact | None = None


class Balance:
    """Rows of a mesh that follow the state, what leaves it, and the solution of the linearised balance."""

    def __init__(self, mesh: Mesh, setting: Setting, start: Floats) -> None:
        """Start (n,): temperatures at the beginning [K]."""
        n = mesh.volume.size
        self.kind = mesh.kind
        self.tables = tables(setting.substances)
        self.films = film_rows(setting.contact, setting.surroundings.wall)
        neighbour, start_of_list, listed, place = pack(mesh.first, mesh.second, n)
        self.weights = np.zeros(6 * n + listed.size, dtype=np.float32)
        more = np.flatnonzero(np.diff(start_of_list)).astype(np.int32)
        self.rows = Rows(neighbour, self.weights[: 6 * n].reshape(6, n), more, start_of_list, listed, self.weights[6 * n :])
        self.sums, self.diagonal, self.inverse, self.capacity = (np.zeros(n, dtype=np.float32) for _ in range(4))
        self.change, self._r, self._p, self._q = (np.zeros(n, dtype=np.float32) for _ in range(4))
        self.outer_cells, self.outer_rows = outer_films(mesh, setting.surroundings, start)
        self.outside = Outside(np.zeros(n), np.zeros(n))
        self.faces, still = _faces(mesh, place, setting)
        heat = np.empty(n)
        for kind, substance in enumerate(setting.substances):
            mine = mesh.kind == kind
            heat[mine] = substance.heat_at(start[mine])
        self.start = heat
        weigh(self.tables, still, heat, kind=self.kind, films=self.films, weights=self.weights)
        self.follow(heat)
        self.hierarchy = Hierarchy(self.rows, mesh.level, index=mesh.index, kind=mesh.kind)

    def follow(self, heat: Floats) -> None:
        """Take the weights at a state of heat (n,) [J/m3]."""
        weigh(self.tables, self.faces, heat, kind=self.kind, films=self.films, weights=self.weights)
        row_sums(self.rows, self.sums)

    def vent(self, heat: Floats, temperature: Floats) -> None:
        """Take what leaves to the outside at a state."""
        losses(
            self.tables,
            self.outer_cells,
            self.outer_rows,
            kind=self.kind,
            heat=heat,
            temperature=temperature,
            outside=self.outside,
        )

    def lost(self, temperature: Floats) -> float:
        """Heat that leaves [W]."""
        return float(leaving(self.outside, temperature)[0])

    def solve(self, residual: Floats, *, tolerance: float, most: int) -> int:
        """Change of temperature (n,) in `change` [K] that the linearised balance asks for; how many products it took.

        `capacity` must hold the capacities. Stops where the residual has fallen to `tolerance` of itself, both by the diagonal's
        measure.
        """
        if self.outer_cells.size:
            np.add(self.capacity, self.outside.conductance, out=self.capacity, casting="unsafe")
        renew(self.capacity, self.sums, diagonal=self.diagonal, inverse=self.inverse)
        above, inverse, relax = self.hierarchy, self.inverse, np.float32(DAMPING)
        above.renew(self.capacity)
        r, p, q, x = self._r, self._p, self._q, self.change
        left = first = float(begin(residual, r=r, x=x, inverse=inverse))
        before = 0.0
        for turn in range(most):
            if left <= tolerance**2 * first:
                return turn
            now = DAMPING * left + above.correct(r)
            keep = np.float32(now / before if turn else 0.0)
            direct(above.groups, r, above.correction, inverse=inverse, factors=(relax, keep), p=p)
            before = now
            along = product(self.rows, p, q, diagonal=self.diagonal)
            left = float(advance(x, r, np.float32(now / along), p=p, q=q, inverse=inverse))
        return most


def _faces(mesh: Mesh, place: NDArray[np.int32], setting: Setting) -> tuple[Faces, Faces]:
    """Faces whose weight follows the state, and those whose weight stays."""
    a, b = mesh.kind[mesh.first], mesh.kind[mesh.second]
    cast = ((a == METAL) != (b == METAL)) & (a != WALL) & (b != WALL)
    law = np.where((a == WALL) | (b == WALL), 1, np.where(cast & (setting.contact is not None), 0, -1)).astype(np.int8)
    alive = np.array([not s.steady for s in setting.substances])
    follows = alive[a] | alive[b] | (law == 0)

    def chosen(which: NDArray[np.bool_]) -> Faces:
        half = (mesh.area[which], mesh.near[which], mesh.far[which])
        return Faces(mesh.first[which], mesh.second[which], place[which], *half, law[which])

    return chosen(follows), chosen(~follows)
