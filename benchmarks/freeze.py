"""Time the freezing solver: `python benchmarks/freeze.py [--edge-mm 1 0.5] [--ring] [--growth 0.06]`.

A tree of six rings on a stem with its button, or one tilted ring, as formulas. Prints for each edge of cells: cells, what the
ledger is off, the thinnest wall in cells, what was still liquid, steps, solutions and products, and seconds for the mesh and for
the march. The first run on a machine compiles the loops, which is told apart.
"""

import argparse
import math
import resource
import sys
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parent.parent), str(Path(__file__).resolve().parent.parent / "src")]

from pourwell.physics.boundary import Surroundings  # noqa: E402
from pourwell.physics.conduction import Setting  # noqa: E402
from pourwell.physics.domain import Box, Cylinder  # noqa: E402
from pourwell.physics.grid import build  # noqa: E402
from pourwell.physics.march import Pace  # noqa: E402
from pourwell.physics.octree import Grading  # noqa: E402
from pourwell.physics.properties import Melt, inert, ranged  # noqa: E402
from pourwell.physics.solidify import solidify  # noqa: E402
from pourwell.units import k_from_c  # noqa: E402

MELT = Melt(
    density=9700, solid_heat_capacity=300, liquid_heat_capacity=300, latent=105e3, solid_conductivity=300, liquid_conductivity=170
)
STERLING = ranged(MELT, solidus=k_from_c(802), liquidus=k_from_c(893))
PLASTER = inert(density=1150, heat_capacity=1050, conductivity=0.5)
STANCE = np.array([math.sqrt(0.5), math.sqrt(0.5)])
"""Sprues rise at 45 degrees."""


def rod(points, start, along, *, length, radius):
    """Distance from a cylinder [m]."""
    q = points - start
    s = q @ along
    a = np.sqrt(np.maximum((q**2).sum(axis=1) - s**2, 0)) - radius
    b = np.abs(s - 0.5 * length) - 0.5 * length
    return np.minimum(np.maximum(a, b), 0) + np.hypot(np.maximum(a, 0), np.maximum(b, 0))


def band(points, middle, *, head, axis, thick=2e-3):
    """Distance from a band of bore 17 mm, 3 mm wide, 2 mm thick, which grows by `thick` on the side of `head` [m]."""
    q = points - middle
    a, c = q @ head, q @ axis
    r = np.sqrt(np.maximum((q**2).sum(axis=1) - c**2, 0))
    share = np.clip((a / np.maximum(r, 1e-9) - 0.5) * 3.2, 0, 1)
    wall = 2e-3 + thick * share**2 * (3 - 2 * share)
    u, v = np.abs(r - 8.5e-3 - 0.5 * wall) - 0.5 * wall, np.abs(c) - 1.5e-3
    away = np.minimum(np.maximum(u, v), 0) + np.hypot(np.maximum(u, 0), np.maximum(v, 0))
    return away * (0.93 if thick else 1.0)


def tree(points):
    """Distance from six rings on a stem of 6 mm with a button of 25 x 15 mm [m]."""
    up = np.array([0.0, 0.0, 1.0])
    away = rod(points, np.array([0, 0, 85e-3]), up, length=20e-3, radius=12.5e-3)
    away = np.minimum(away, rod(points, np.array([0, 0, 15e-3]), up, length=71e-3, radius=3e-3))
    for n in range(6):
        turn = (n % 3) * 2 * math.pi / 3 + (n // 3) * math.pi / 3 + 0.2
        out = np.array([math.cos(turn), math.sin(turn), 0.0])
        along = STANCE[0] * out + STANCE[1] * up
        foot = 2e-3 * out + (18e-3 + 26e-3 * (n // 3)) * up
        near = np.flatnonzero((np.linalg.norm(points - (foot + 16e-3 * along), axis=1) - 18e-3) < away)
        axis = np.array([-math.sin(turn), math.cos(turn), 0.0])
        piece = np.minimum(
            rod(points[near], foot, along, length=11.8e-3, radius=1.25e-3),
            band(points[near], foot + 21.5e-3 * along, head=along, axis=axis),
        )
        away[near] = np.minimum(away[near], piece)
    return away


def lone_ring(points):
    """Distance from one plain band that leans across all axes [m]."""
    axis = np.array([0.3, 0.5, 1.0])
    axis /= np.linalg.norm(axis)
    head = np.cross(axis, [0.0, 0.0, 1.0])
    return band(points, np.array([0.1e-3, 0.2e-3, 20.15e-3]), head=head / np.linalg.norm(head), axis=axis, thick=0.0)


def once(edge: float, *, ring: bool, growth: float, reach: float) -> None:
    """One mesh and one march, told in a line."""
    begin = time.perf_counter()
    domain = Box(lower=(-0.02, -0.02, 0), upper=(0.02, 0.02, 0.04)) if ring else Cylinder(radius=38e-3, height=100e-3)
    grid = build(domain, lone_ring if ring else tree, edge, grading=Grading(reach=reach))
    meshed = time.perf_counter()
    start = np.where(grid.mesh.kind == 1, k_from_c(1000), k_from_c(500))
    setting = Setting(substances=(PLASTER, STERLING), surroundings=Surroundings())
    got = solidify(grid.mesh, setting, start, pace=Pace(growth=growth))
    done = time.perf_counter()
    mean = float(np.average(got.end, weights=grid.mesh.volume[got.cells]))
    thin = f"{grid.thin.cells.min():.2f}" if len(grid.thin.cells) else ">= 2"
    each = (done - meshed) / got.products / grid.mesh.volume.size * 1e9
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{edge * 1e3:g} mm: {grid.mesh.volume.size} cells ({got.cells.size} metal), thinnest wall {thin} cells, ledger off "
        f"{100 * got.ledger.share:.1e} %, still liquid {got.liquid_left * 1e9:.3g} mm3, {got.steps} steps, {got.newton} solutions, "
        f"{got.products} products, mean end {mean:.3f} s, last {got.end.max():.2f} s; mesh {meshed - begin:.2f} s, march "
        f"{done - meshed:.2f} s, total {done - begin:.2f} s, {each:.1f} ns a cell "
        f"and product, peak {peak:.0f} MB",
        flush=True,
    )


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-mm", type=float, nargs="+", default=[1.0, 0.5])
    parser.add_argument("--ring", action="store_true")
    parser.add_argument("--growth", type=float, default=0.06)
    parser.add_argument("--reach", type=float, default=Grading().reach)
    asked = parser.parse_args()
    begin = time.perf_counter()
    once(1e-3, ring=asked.ring, growth=asked.growth, reach=asked.reach)
    print(f"(the first, with loading or compiling the loops: {time.perf_counter() - begin:.1f} s)")
    for edge in asked.edge_mm:
        once(edge * 1e-3, ring=asked.ring, growth=asked.growth, reach=asked.reach)


if __name__ == "__main__":
    main()
