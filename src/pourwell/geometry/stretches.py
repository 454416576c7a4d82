"""Stretches of a surface on which something measures about the same, at places that each stand for some of it."""

from typing import Final

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints

ALIKE: Final = 1.15
"""Places of one stretch agree within this factor."""

NEAREST: Final = 8
APART: Final = 4.0
"""... and each is among so many nearest of the next, no farther than so many sides of the patch that a place stands for."""

SAME: Final = 0.02
"""A stretch is shown at a place that agrees with its median within this share."""


def least_stretch(at_mm: Floats, area_mm2: Floats, values: Floats, *, enough_mm2: float) -> int | None:
    """The place that shows the stretch whose values have the least median: one in its middle.

    Parameters
    ----------
    at_mm : (k, 3) float array [mm]
    area_mm2 : (k,) float array [mm2], what each place stands for
    values : (k,) float array; those that are not finite and positive say nothing
    enough_mm2 : stretches of no more surface than this are specks [mm2]

    Returns
    -------
    None where nothing is left.
    """
    good = np.flatnonzero(np.isfinite(values) & (values > 0))
    if not len(good):
        return None
    kind = np.floor(np.log(values[good]) / np.log(ALIKE)).astype(np.int64)
    part = _stretches(at_mm[good], area_mm2[good], kind)
    area = np.bincount(part, weights=area_mm2[good])
    stretches = [good[part == k] for k in np.flatnonzero(area > enough_mm2)]
    if not stretches:
        return None
    medians = [_median(values[stretch], area_mm2[stretch]) for stretch in stretches]
    least = int(np.argmin(medians))
    near = stretches[least][np.abs(values[stretches[least]] / medians[least] - 1) <= SAME]
    away = np.linalg.norm(at_mm[near] - np.average(at_mm[near], axis=0, weights=area_mm2[near]), axis=1)
    return int(near[np.argmin(away)])


def _stretches(at_mm: Floats, area_mm2: Floats, kind: Ints) -> Ints:
    """Numbers the stretches of neighbouring places of one kind."""
    count = min(NEAREST, len(at_mm))
    reach = APART * float(np.sqrt(area_mm2.max()))
    away, other = cKDTree(at_mm).query(at_mm, k=np.arange(1, count + 1))
    row = np.repeat(np.arange(len(at_mm)), count)
    away, column = away.reshape(-1), other.reshape(-1)
    joined = (away <= reach) & (kind[row] == kind[column])
    links = coo_matrix((np.ones(joined.sum()), (row[joined], column[joined])), shape=(len(at_mm), len(at_mm)))
    part: Ints = connected_components(links, directed=False)[1]
    return part


def _median(values: Floats, area_mm2: Floats) -> float:
    """By area."""
    order = np.argsort(values, kind="stable")
    summed = np.cumsum(area_mm2[order])
    return float(values[order][np.searchsorted(summed, summed[-1] / 2)])
