"""Where values of a raster are just so large, as lines."""

import numpy as np

from pourwell.geometry.mesh import Floats


def isolines(values: Floats, *, level: float, depth_mm: Floats, step_mm: float) -> Floats:
    """Lines between what is under a level and what is not, by straight lines across the squares between four pixels.

    Parameters
    ----------
    values : (h, w) float array; a square with one that is not finite has no line
    level : in their unit
    depth_mm : (h, w) float array [mm]; a square over a step in depth has none either: its corners do not lie on one surface
    step_mm : by how much depths of a square may differ

    Returns
    -------
    (k, 4) float array [px], from right, from down, to right, to down; pixels' middles are at halves

    Source: the usual case table of marching squares; a saddle is parted the same way everywhere.
    """
    above = values >= level
    here = above[:-1, :-1]
    row, column = np.nonzero((here != above[:-1, 1:]) | (here != above[1:, 1:]) | (here != above[1:, :-1]))
    rows, columns = row[:, None] + (0, 0, 1, 1), column[:, None] + (0, 1, 1, 0)
    corner, depths = values[rows, columns], depth_mm[rows, columns]
    known = np.isfinite(corner).all(axis=1) & np.isfinite(depths).all(axis=1)
    near = known & (np.ptp(np.where(known[:, None], depths, 0.0), axis=1) <= step_mm)
    row, column, corner = row[near], column[near], corner[near]
    over = corner >= level
    nodes = np.array([(0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5)])
    crossed = over != np.roll(over, -1, axis=1)
    following = np.roll(corner, -1, axis=1)
    share = (level - corner) / np.where(crossed, following - corner, 1.0)
    places = nodes + share[..., None] * (np.roll(nodes, -1, axis=0) - nodes) + np.stack([column, row], axis=-1)[:, None]
    order = np.argsort(~crossed, axis=1, kind="stable")
    lines = []
    for first in (0, 2):
        paired = np.flatnonzero(crossed.sum(axis=1) >= first + 2)
        ends = [places[paired, order[paired, first + k]] for k in (0, 1)]
        lines.append(np.hstack(ends))
    return np.vstack(lines)
