"""Time the measures of a piece: `python benchmarks/thickness.py`, with numbers of triangles if 20,000 and 100,000 do not suit.

Takes a plain ring, and one whose outside is engraved all over, of so many triangles each. Prints how long walls by rays, walls by
balls, gaps both ways, and all features take, the shortest of three runs after one that compiles, and the most memory at once.
"""

import platform
import resource
import sys
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "src")]

from benchmarks.distance import best_s, machine  # noqa: E402
from benchmarks.pieces import ring  # noqa: E402
from pourwell.geometry.features import Looked, features  # noqa: E402
from pourwell.geometry.kernels.compiled import thread_count  # noqa: E402
from pourwell.geometry.mesh import Mesh  # noqa: E402
from pourwell.geometry.rays import Caster  # noqa: E402
from pourwell.geometry.solidity import weld  # noqa: E402
from pourwell.geometry.thickness import per_triangle, sampled  # noqa: E402
from pourwell.geometry.touching import Touching  # noqa: E402

TRIANGLES = (20_000, 100_000)
RUNS = 3
LINES_COUNT = 40
LINE_DEEP_MM = 0.3
LOOKED = Looked(gap_mm=4.0, ridge_mm=1.0, least_mm=0.05, wire_mm=0.8, corner_deg=45.0, corner_mm=0.1)


def plain(triangles: int) -> Mesh:
    """A ring of about so many triangles."""
    across = max(round(np.sqrt(triangles / 20)), 8)
    corners = ring(bore_mm=17, width_mm=4, wall_mm=2, around=10 * across, across=across)
    return weld(Mesh(corners.reshape(-1, 3), np.arange(3 * len(corners))))


def engraved(triangles: int) -> Mesh:
    """The same with grooves along it: wherever it looks outward, its outside sinks and rises forty times round."""
    mesh = plain(triangles)
    radius = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1])
    turn = np.arctan2(mesh.vertices[:, 1], mesh.vertices[:, 0])
    low, high = np.quantile(radius, [0.0, 1.0])
    share = np.clip((radius - low) / (high - low) - 0.9, 0, 0.1) * 10
    down = LINE_DEEP_MM * share * (np.sin(LINES_COUNT * turn) > 0.5)
    vertices = mesh.vertices.copy()
    vertices[:, :2] *= (1 - down / radius)[:, None]
    return Mesh(vertices, mesh.faces)


def tell(name: str, mesh: Mesh) -> None:
    """Print the times of one piece."""
    runs = RUNS if len(mesh.faces) < 500_000 else 1
    caster = Caster(mesh)
    samples = sampled(mesh, caster)
    touching = Touching(mesh)
    points, face = samples.points, samples.face
    parts: tuple[tuple[str, Callable[[], object]], ...] = (
        ("rays made ready", lambda: Caster(mesh)),
        ("walls by rays", lambda: per_triangle(sampled(mesh, caster))),
        ("balls made ready", lambda: Touching(mesh)),
        ("walls by balls", lambda: touching.balls(points, face)),
        ("gaps by balls", lambda: touching.balls(points, face, outside=True, most_mm=LOOKED.gap_mm)),
        ("all features, gaps and balls with them", lambda: features(mesh, samples, caster, looked=LOOKED)),
    )
    print(f"{name} ring of {len(mesh.faces):,} triangles, {len(points):,} places")
    for part, work in parts:
        print(f"  {part:40} {best_s(work, runs=runs):7.3f} s")


def main() -> None:
    """Print the table."""
    wanted = [int(word) for word in sys.argv[1:]] or TRIANGLES
    print(f"{machine()}, {thread_count()} threads, Python {platform.python_version()}, numba {version('numba')}")
    warm = plain(2_000)
    features(warm, sampled(warm), Caster(warm), looked=LOOKED)
    for triangles in wanted:
        for name, make in (("plain", plain), ("engraved", engraved)):
            tell(name, make(triangles))
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB")


if __name__ == "__main__":
    main()
