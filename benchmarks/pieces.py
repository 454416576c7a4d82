"""Rings of a chosen fineness as binary STL files: the benchmarks' own, so that a change of our shapes does not move a figure."""

from pathlib import Path

import numpy as np

FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
"""One triangle of a binary STL file."""


def ring(*, bore_mm: float, width_mm: float, wall_mm: float, around: int, across: int) -> np.ndarray:
    """A ring of elliptic section.

    Returns (2 * around * across, 3, 3) float array [mm], corners anticlockwise seen from outside; its volume tends to that of
    the torus, pi**2 / 2 * width * wall * (bore + wall) / 2 (Pappus).
    """
    turn, spin = np.meshgrid(
        np.linspace(0, 2 * np.pi, around, endpoint=False), np.linspace(0, 2 * np.pi, across, endpoint=False), indexing="ij"
    )
    radius = (bore_mm + wall_mm + wall_mm * np.cos(spin)) / 2
    points = np.stack([radius * np.cos(turn), radius * np.sin(turn), width_mm / 2 * np.sin(spin)], axis=-1)
    a, b = points, np.roll(points, -1, axis=0)
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    return np.stack([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)], axis=2).reshape(-1, 3, 3)


def bead(*, at: np.ndarray, radius_mm: float, around: int = 12, rows: int = 6) -> np.ndarray:
    """A ball of (2 * rows - 2) * around triangles, (m, 3, 3) float array [mm]; a grain of metal that holds a stone."""
    turn, fall = np.meshgrid(np.linspace(0, 2 * np.pi, around, endpoint=False), np.linspace(0, np.pi, rows + 1), indexing="ij")
    points = at + radius_mm * np.stack([np.sin(fall) * np.cos(turn), np.sin(fall) * np.sin(turn), np.cos(fall)], axis=-1)
    a, b = points[:, :-1], points[:, 1:]
    c, d = np.roll(b, -1, axis=0), np.roll(a, -1, axis=0)
    upper, lower = np.stack([a, b, c], axis=2)[:, :-1], np.stack([a, c, d], axis=2)[:, 1:]
    return np.concatenate([upper.reshape(-1, 3, 3), lower.reshape(-1, 3, 3)])


def paved(count: int) -> np.ndarray:
    """A usual ring with so many beads, half sunk into its outside in rows of three."""
    parts = [ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=125, across=80)]
    for k in range(count):
        turn, across = 2 * np.pi * (k // 3) / -(-count // 3), (k % 3 - 1) * 0.9
        out = (17.3 + 2.0 + 2.0 * np.sqrt(1 - (across / 2.0) ** 2)) / 2
        parts.append(bead(at=np.array([out * np.cos(turn), out * np.sin(turn), across]), radius_mm=0.25))
    return np.concatenate(parts)


def torn(corners: np.ndarray, *, lost: int, turned: int) -> np.ndarray:
    """The same surface with triangles lost here and there, and others wound the wrong way."""
    order = np.random.default_rng(4).permutation(len(corners))
    kept = corners.copy()
    kept[order[:turned]] = kept[order[:turned], ::-1]
    return np.delete(kept, order[turned : turned + lost], axis=0)


def write_stl(path: Path, corners: np.ndarray) -> Path:
    """Write (m, 3, 3) corners [mm] as a binary STL file; normals are left to the reader, as the format allows."""
    facets = np.zeros(len(corners), dtype=FACET)
    facets["corners"] = corners
    path.write_bytes(b"a ring".ljust(80, b" ") + np.uint32(len(corners)).tobytes() + facets.tobytes())
    return path
