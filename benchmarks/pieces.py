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


def write_stl(path: Path, corners: np.ndarray) -> Path:
    """Write (m, 3, 3) corners [mm] as a binary STL file; normals are left to the reader, as the format allows."""
    facets = np.zeros(len(corners), dtype=FACET)
    facets["corners"] = corners
    path.write_bytes(b"a ring".ljust(80, b" ") + np.uint32(len(corners)).tobytes() + facets.tobytes())
    return path
