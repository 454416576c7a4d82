"""Time the freezing solver: `python benchmarks/freeze.py [--edge-mm 1 0.5] [--ring] [--meshes] [--plan FOLDER] [--time-error]`.

A tree of six rings on a stem with its button, or one tilted ring, as formulas or as closed meshes of 100,000 triangles a ring; or
the tree of a stored plan with its own metal, mould and flask, as its run as the rows say (`make demo` writes one to demo-run). For
each edge of cells it prints cells, what the ledger is off, the thinnest wall in cells, what was still liquid, steps, solutions and
products, seconds for the mesh and for the march, and what share of the memory's bandwidth the product with the matrix reaches.
`--time-error` runs again with a quarter of the step on the same grid, `--grid-error` holds the rings against a finer grid whose
cells grow slowly. `--runs` repeats and prints the shortest. Let nothing else run beside it.
"""

import argparse
import math
import resource
import sys
import time
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numba import njit, prange

sys.path[:0] = [str(Path(__file__).resolve().parent.parent), str(Path(__file__).resolve().parent.parent / "src")]

from benchmarks.distance import best_s, machine  # noqa: E402
from benchmarks.trees import MM, lone_ring, tree, tree_meshes  # noqa: E402
from pourwell.app.freezing import cast_of_stored  # noqa: E402
from pourwell.app.planning import Wishes  # noqa: E402
from pourwell.files.run_folder import read_run  # noqa: E402
from pourwell.geometry.distance import SignedDistance  # noqa: E402
from pourwell.materials.library import load_library  # noqa: E402
from pourwell.physics.boundary import Surroundings  # noqa: E402
from pourwell.physics.conduction import Balance, Setting  # noqa: E402
from pourwell.physics.domain import Box, Cylinder  # noqa: E402
from pourwell.physics.grid import Grid, build  # noqa: E402
from pourwell.physics.kernels.linear import product  # noqa: E402
from pourwell.physics.march import Pace  # noqa: E402
from pourwell.physics.mesh import METAL  # noqa: E402
from pourwell.physics.octree import Grading  # noqa: E402
from pourwell.physics.properties import Melt, inert, ranged  # noqa: E402
from pourwell.physics.solidify import Frozen, solidify  # noqa: E402
from pourwell.steps.freeze.cast import Cast, Ends, Shape, metal_substance, setting  # noqa: E402
from pourwell.steps.freeze.run import meshed  # noqa: E402
from pourwell.units import k_from_c  # noqa: E402

MELT = Melt(
    density=9700, solid_heat_capacity=300, liquid_heat_capacity=300, latent=105e3, solid_conductivity=300, liquid_conductivity=170
)
STERLING = ranged(MELT, solidus=k_from_c(802), liquidus=k_from_c(893))
PLASTER = inert(density=1150, heat_capacity=1050, conductivity=0.5)
SETTING = Setting(substances=(PLASTER, STERLING), surroundings=Surroundings())
AXISYMMETRIC_S = 6.132
"""Mean end of freezing of the plain band, by a two-dimensional mesh of another program."""
SLOW = Grading(reach=2.5, inner=2.5, across=24.0)
"""Cells that grow slowly, for the finest grid."""
LIMITS_S = {False: {0.5: 4.0, 0.25: 15.0, 0.125: 90.0}, True: {0.25: 0.8}}
"""What mesh and march may take together on two cores, by edge [mm], for the tree and for the lone ring."""
NUMBERS = 20_000_000
"""Of each array of the bandwidth test: far more than the caches hold."""


@dataclass(frozen=True, kw_only=True)
class Once:
    """A grid that froze, and how long mesh and march took [s]."""

    grid: Grid
    setting: Setting
    start: np.ndarray
    """Temperatures of the cells at the pour [K]."""
    frozen: Frozen
    mesh_s: float
    march_s: float

    @property
    def total_s(self) -> float:
        """Both [s]."""
        return self.mesh_s + self.march_s


def in_metres(solid: SignedDistance, points: np.ndarray) -> np.ndarray:
    """Distance [m] of points [m] from a solid in mm."""
    return solid(points * MM) / MM


def once(edge_mm: float, asked: argparse.Namespace, *, grading: Grading | None = None) -> Once:
    """One mesh and one march. The time begins with closed meshes, as a pattern's checks leave them."""
    domain = Box(lower=(-0.02, -0.02, 0), upper=(0.02, 0.02, 0.04)) if asked.ring else Cylinder(radius=38e-3, height=100e-3)
    away = lone_ring if asked.ring else tree
    closed = tree_meshes() if asked.meshes else []
    begin = time.perf_counter()
    if closed:
        away = partial(in_metres, SignedDistance(closed))
    return march(build(domain, away, edge_mm / MM, grading=grading), SETTING, heat_c=(1000, 500), asked=asked, begin=begin)


def once_of_plan(edge_mm: float, asked: argparse.Namespace, *, cast: Cast) -> Once:
    """The same for the tree of a plan."""
    begin = time.perf_counter()
    made = meshed(cast, Shape(cast), edge_mm=edge_mm)
    library = load_library()
    around = setting(cast, library, Ends(), metal=metal_substance(cast.alloy, library))
    return march(replace(made.grid, mesh=made.mesh), around, heat_c=(cast.metal_c, cast.flask_c), asked=asked, begin=begin)


def march(grid: Grid, around: Setting, *, heat_c: tuple[float, float], asked: argparse.Namespace, begin: float) -> Once:
    """From the pour at temperatures of metal and mould [degC] to solid metal; `begin` is when the mesh was begun."""
    start = np.where(grid.mesh.kind == METAL, *(k_from_c(t) for t in heat_c))
    ready = time.perf_counter()
    frozen = solidify(grid.mesh, around, start, pace=Pace(growth=asked.growth))
    gone = time.perf_counter() - ready
    return Once(grid=grid, setting=around, start=start, frozen=frozen, mesh_s=ready - begin, march_s=gone)


@njit(parallel=True, fastmath=True)
def triad(a, b, c):
    """A = b + 3 c (McCalpin 1995)."""
    for i in prange(a.size):
        a[i] = b[i] + np.float32(3) * c[i]


def bandwidth() -> float:
    """What the memory gives [B/s], by the triad."""
    a, b, c = (np.ones(NUMBERS, dtype=np.float32) for _ in range(3))
    return 12 * NUMBERS / best_s(lambda: triad(a, b, c))


def product_share(made: Once, limit: float) -> tuple[float, float]:
    """What the product moves [B/s] and as a share of the limit; each weight, neighbour and entry of a vector counted once."""
    balance = Balance(made.grid.mesh, made.setting, made.start)
    n = made.grid.mesh.volume.size
    x, out = np.ones(n, dtype=np.float32), np.zeros(n, dtype=np.float32)
    moved = 8 * (6 * n + balance.rows.listed.size) + 4 * (3 * n)
    rate = moved / best_s(lambda: [product(balance.rows, x, out, diagonal=balance.diagonal) for _ in range(20)]) * 20
    return rate, rate / limit


def line(edge_mm: float, made: Once, limit: float) -> str:
    """What is told of one run."""
    grid, frozen = made.grid, made.frozen
    mean = float(np.average(frozen.end, weights=grid.mesh.volume[frozen.cells]))
    thin = f"{grid.thin.cells.min():.2f}" if len(grid.thin.cells) else ">= 2"
    each = made.march_s / frozen.products / grid.mesh.volume.size * 1e9
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rate, share = product_share(made, limit)
    return (
        f"{edge_mm:g} mm: {grid.mesh.volume.size} cells ({frozen.cells.size} metal), thinnest wall {thin} cells, ledger off "
        f"{100 * frozen.ledger.share:.1e} %, still liquid {frozen.liquid_left * 1e9:.3g} mm3, {frozen.steps} steps, "
        f"{frozen.newton} solutions, {frozen.products} products, mean end {mean:.3f} s, last {frozen.end.max():.2f} s; "
        f"mesh {made.mesh_s:.2f} s, march {made.march_s:.2f} s, total {made.total_s:.2f} s, {each:.1f} ns a cell and product; "
        f"the product {rate / 1e9:.1f} GB/s, {100 * share:.0f} % of the triad; peak {peak:.0f} MB"
    )


def time_error(made: Once, growth: float) -> str:
    """The end of freezing against a quarter of the step on the same grid."""
    usual = Pace(growth=growth)
    short = Pace(first=usual.first / 4, growth=growth / 4)
    end = solidify(made.grid.mesh, made.setting, made.start, pace=short).end
    off = 100 * np.abs(made.frozen.end / end - 1)
    return f"  time error: mean {off.mean():.2f} %, 95th percentile {np.percentile(off, 95):.2f} %, most {off.max():.2f} %"


def rings_end(made: Once) -> np.ndarray:
    """Mean end of freezing of each of the six rings [s]."""
    centre, volume = made.grid.mesh.centre[made.frozen.cells], made.grid.mesh.volume[made.frozen.cells]
    away = np.hypot(centre[:, 0], centre[:, 1])
    sixth = np.floor((np.arctan2(centre[:, 1], centre[:, 0]) - 0.2) / (math.pi / 3) + 0.5).astype(int) % 6
    out = (away > 11.5e-3) & (centre[:, 2] < 84e-3)
    return np.array([np.average(made.frozen.end[out & (sixth == k)], weights=volume[out & (sixth == k)]) for k in range(6)])


def grid_error(made: Once, finest: Once, *, ring: bool) -> str:
    """Ends of the rings against a finer grid, or of the lone ring against the axisymmetric reference."""
    if ring:
        mean = float(np.average(made.frozen.end, weights=made.grid.mesh.volume[made.frozen.cells]))
        return f"  against {AXISYMMETRIC_S} s: {100 * (mean / AXISYMMETRIC_S - 1):+.2f} %"
    off = 100 * (rings_end(made) / rings_end(finest) - 1)
    return f"  rings against the finest grid: mean {off.mean():+.2f} %, each {', '.join(f'{o:+.2f}' for o in off)}"


def main() -> int:
    """Read the options and run; 1 if a limit is not kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-mm", type=float, nargs="+", default=[1.0, 0.5])
    parser.add_argument("--ring", action="store_true")
    parser.add_argument("--meshes", action="store_true")
    parser.add_argument("--plan", type=Path, metavar="FOLDER")
    parser.add_argument("--growth", type=float, default=Pace().growth)
    parser.add_argument("--runs", type=int, default=1)
    parser.add_argument("--time-error", action="store_true")
    parser.add_argument("--grid-error", type=float, metavar="EDGE_MM")
    asked = parser.parse_args()
    limit, run = bandwidth(), once
    if asked.plan:
        run = partial(once_of_plan, cast=cast_of_stored(read_run(asked.plan), Wishes(), library=load_library()))
    first = run(1.0, asked)
    print(
        f"{machine()}, triad {limit / 1e9:.1f} GB/s. The first run, with loading or compiling the loops: {first.total_s:.1f} s.",
        flush=True,
    )
    finest = once(asked.grid_error, asked, grading=SLOW) if asked.grid_error else None
    if finest:
        print(f"finest grid, {asked.grid_error:g} mm: {finest.grid.mesh.volume.size} cells, {finest.total_s:.0f} s", flush=True)
    over = 0
    for edge_mm in asked.edge_mm:
        made = min((run(edge_mm, asked) for _ in range(asked.runs)), key=lambda one: one.total_s)
        print(line(edge_mm, made, limit), flush=True)
        may_s = math.inf if asked.plan else LIMITS_S[asked.ring].get(edge_mm, math.inf)
        if made.total_s > may_s:
            over = 1
            print(f"  over its limit of {may_s:g} s", flush=True)
        if asked.time_error:
            print(time_error(made, asked.growth), flush=True)
        if finest or asked.ring:
            print(grid_error(made, finest or made, ring=asked.ring), flush=True)
    return over


if __name__ == "__main__":
    sys.exit(main())
