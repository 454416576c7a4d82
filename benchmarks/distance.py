"""Time the signed distance: `python benchmarks/distance.py`, with the number of triangles if 100,000 do not suit.

Prints the time to make a ring ready, and how many points a second are answered in a band of three cells about its surface, in
the order of an octree's cells and in none, and far away; then the same from trimesh, if what it needs is installed.
"""

import platform
import resource
import sys
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "src")]

from benchmarks.pieces import ring  # noqa: E402
from pourwell.geometry.distance import SignedDistance  # noqa: E402
from pourwell.geometry.kernels.compiled import thread_count  # noqa: E402
from pourwell.geometry.mesh import Mesh  # noqa: E402
from pourwell.geometry.solidity import weld  # noqa: E402

CELL_MM = 0.25
BLOCK = 8
TRIANGLES = 100_000
FAR_COUNT = 100_000
PEER_COUNT = 5_000


def band(mesh: Mesh, distance: SignedDistance) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 3) [mm] in cells of half the size within three cells of the surface, block by block, and points farther away."""
    low, high = mesh.bounds
    axes = [np.arange(a - 1, b + 1 + BLOCK * CELL_MM, CELL_MM) for a, b in zip(low, high, strict=True)]
    axes = [axis[: len(axis) // BLOCK * BLOCK].reshape(-1, BLOCK) for axis in axes]
    grid = np.stack(np.meshgrid(*[np.arange(a.size) for a in axes], indexing="ij"), axis=-1).reshape(-1, 3)
    order = np.lexsort((*grid.T[::-1], *(grid.T[::-1] // BLOCK)))
    cells = np.column_stack([axis.reshape(-1)[grid[order, i]] for i, axis in enumerate(axes)])
    near = np.abs(distance(cells)) < 3 * CELL_MM
    eighths = CELL_MM / 4 * np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    return (cells[near][:, None] + eighths).reshape(-1, 3), cells[~near][:FAR_COUNT]


def best_s(work: Callable[[], object], *, runs: int = 5) -> float:
    """The shortest of some runs [s]."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def machine() -> str:
    """What the processor calls itself."""
    told = Path("/proc/cpuinfo")
    lines = told.read_text(encoding="utf-8").splitlines() if told.is_file() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.processor() or platform.machine()


def peer(mesh: Mesh, points: np.ndarray) -> str:
    """Points a second from trimesh, or why there is no figure."""
    try:
        import rtree  # noqa: F401
        import trimesh
    except ImportError as missing:
        return f"not timed: {missing.name} is not installed"
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    some = points[:: max(len(points) // PEER_COUNT, 1)]
    trimesh.proximity.signed_distance(solid, some[:10])
    seconds = best_s(lambda: trimesh.proximity.signed_distance(solid, some), runs=1)
    return f"{len(some) / seconds:12,.0f} points/s (trimesh {trimesh.__version__}, {len(some):,} points)"


def main() -> None:
    """Print the table."""
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else TRIANGLES
    across = max(round(np.sqrt(wanted / 20)), 8)
    mesh = weld(
        Mesh(
            (c := ring(bore_mm=17, width_mm=4, wall_mm=2, around=10 * across, across=across)).reshape(-1, 3), np.arange(3 * len(c))
        )
    )
    distance = SignedDistance(mesh)
    near, far = band(mesh, distance)
    mixed = np.random.default_rng(1).permutation(near)
    print(f"{machine()}, {thread_count()} threads, Python {platform.python_version()}, numba {version('numba')}")
    print(f"ring of {len(mesh.faces):,} triangles, ready in {best_s(lambda: SignedDistance(mesh)):.3f} s")
    for name, points in (("band, block by block", near), ("band, in no order", mixed), ("far away", far)):
        print(f"{name:22} {len(points) / best_s(lambda p=points: distance(p)):12,.0f} points/s ({len(points):,} points)")
    print(f"{'band, trimesh':22} {peer(mesh, near)}")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")


if __name__ == "__main__":
    main()
