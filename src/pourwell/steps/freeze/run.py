"""One run of the solver on a cast tree: its mesh, the march to solid metal, on until nothing glows. Here mm and degC become SI."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.materials.library import Library
from pourwell.physics.feeding import hanging_together
from pourwell.physics.grid import Grid, build
from pourwell.physics.march import Moment, Pace, march
from pourwell.physics.mesh import METAL, WALL, Mesh, with_wall
from pourwell.physics.properties import Substance
from pourwell.physics.solidify import Frozen, Watch, solidify
from pourwell.steps.freeze.cast import Cast, Ends, Shape, domain, of_rule, setting
from pourwell.steps.freeze.model import Floats
from pourwell.steps.freeze.refuse import refuse_shape
from pourwell.units import c_from_k, k_from_c, m_from_mm

Tell = Callable[[str], None]
RUNS: Final = (Ends(), Ends(mould=-1, touch=-1), Ends(mould=1, touch=1))
"""As the rows say; slowest; fastest."""
AFTER_STEP_S: Final = 2.0
"""First step after the metal is solid. Own choice: small against the minutes that follow."""
JUST_K: Final = 1e-6
"""So much below the solidus a cell is surely solid. Own choice, far below what is told."""
LONGEST_S: Final = 7200.0
"""After two hours nothing glows; a run that is not there by then is given up."""
HOUR_S: Final = 3600.0
"""Seconds in an hour."""


class TooCoarseError(BadRequestError):
    """A tree that does not hang together on a grid."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meshed:
    """The mesh of a tree in its flask."""

    grid: Grid
    mesh: Mesh
    """With the flask's wall."""
    deepest: Floats
    """(bodies, 3) the place in each body that lies deepest in metal [m]."""
    rim: Floats
    """(3,) the mould at the flask's wall, half way up the metal [m]."""

    @property
    def probes(self) -> Floats:
        """(bodies + 1, 3) where the cooling curves are read: deep in each body, then at the rim [m]."""
        out: Floats = np.vstack([self.deepest, self.rim])
        return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """A tree that froze."""

    frozen: Frozen
    outside_c: float
    """The flask's wall, hottest, when all metal is solid."""
    dark_s: float
    """From then on nothing of the metal glows any more in the shade; NaN where it was not asked."""
    curve_times: Floats
    """(s,) from the pour to the end of the run, also after the metal is solid [s]."""
    curve_temperatures: Floats
    """(s, p) of the cells nearest to the probes [K]."""


def meshed(cast: Cast, shape: Shape, *, edge_mm: float) -> Meshed:
    """Cells over the mould and what is in it.

    Raises
    ------
    BadRequestError
        For what `refuse.refuse_shape` says, or if a body has no cell.
    TooCoarseError
        If the metal does not hang together on the grid.
    """
    refuse_shape(cast, shape, edge_mm=edge_mm)
    grid = build(domain(cast), shape.distance, m_from_mm(edge_mm), body=shape.body)
    parts = hanging_together(grid.mesh)
    if parts > 1:
        raise TooCoarseError(
            f"With cells of {edge_mm:g} mm the tree falls into {parts} parts.",
            why="A sprue or a thin place is lost between the cells, or a body does not touch the tree.",
            try_this="Take smaller cells: --fine, or --edge-mm.",
        )
    mesh = with_wall(grid.mesh, m_from_mm(cast.flask.wall_mm))
    away, deepest = grid.cells.distance, np.full((len(shape.names), 3), np.nan)
    for body, name in enumerate(shape.names):
        mine = np.flatnonzero(grid.mesh.body == body)
        if not mine.size:
            raise BadRequestError(
                f"With cells of {edge_mm:g} mm nothing is left of {name}.", try_this="Take smaller cells: --fine, or --edge-mm."
            )
        deepest[body] = grid.mesh.centre[mine[int(np.argmin(away[mine]))]]
    return Meshed(grid=grid, mesh=mesh, deepest=deepest, rim=_rim(mesh))


def _rim(mesh: Mesh) -> Floats:
    """The cell of the wall that is nearest to half the height of the metal (3,) [m]."""
    walls = np.flatnonzero(mesh.kind == WALL)
    height = mesh.centre[mesh.metal, 2]
    middle = 0.5 * (height.min() + height.max())
    found: Floats = mesh.centre[walls[int(np.argmin(np.abs(mesh.centre[walls, 2] - middle)))]]
    return found


def run(cast: Cast, made: Meshed, *, metal: Substance, library: Library, ends: Ends, tell: Tell, probes: Floats, glow: bool) -> Run:
    """From the pour to solid metal; with `glow`, on until none of it glows.

    probes (p, 3): places whose temperature is kept [m]. `tell` hears what is done, in percent; what it raises ends the run.

    Raises
    ------
    BadRequestError
        If metal and flask are so hot or cold that nothing freezes.
    UnsoundResultError
        If heat goes missing or a step does not converge.
    """
    mesh, around = made.mesh, setting(cast, library, ends, metal=metal)
    start = np.where(mesh.kind == METAL, k_from_c(cast.metal_c), k_from_c(cast.flask_c))
    volume = float(mesh.volume[mesh.metal].sum())
    whole = volume * (float(metal.heat_at(k_from_c(cast.metal_c))) - metal.solid_heat)
    seen = -1

    def told(moment: Moment) -> None:
        nonlocal seen
        percent = min(99, int(100 * moment.ledger.given / whole))
        if percent > seen:
            seen = percent
            tell(f"Freezing: {percent} %")

    watch = Watch(probes=tuple((float(x), float(y), float(z)) for x, y, z in probes), each=told)
    frozen = solidify(mesh, around, start, watch=watch)
    outside_c = c_from_k(float(frozen.temperature[mesh.kind == WALL].max()))
    dark_s, times, read = np.nan, [frozen.probe_times], [frozen.probe_temperatures]
    if glow:
        near = [mesh.nearest(place) for place in probes]
        dark = k_from_c(of_rule(library.rules["glow_seen_c"], min(ends.mould, 0)))
        cooled = np.where(mesh.kind == METAL, np.minimum(frozen.temperature, metal.solidus - JUST_K), frozen.temperature)
        dark_s = frozen.time
        for moment in march(mesh, around, cooled, pace=Pace(first=AFTER_STEP_S), until=LONGEST_S):
            dark_s = frozen.time + moment.time
            tell("Cooling until nothing glows")
            times.append(np.array([dark_s]))
            read.append(moment.temperature[near][None])
            if moment.temperature[mesh.metal].max() < dark:
                break
        else:
            raise UnsoundResultError(
                f"After {LONGEST_S / HOUR_S:.0f} hours metal in the flask still glows.",
                why="The flask gives hardly any heat away.",
                try_this="Look at the flask temperature, and at the size of the flask.",
            )
    return Run(
        frozen=frozen,
        outside_c=outside_c,
        dark_s=dark_s,
        curve_times=np.concatenate(times),
        curve_temperatures=np.concatenate(read),
    )
