"""A block about the stem's axis that froze, made by hand, for the freezing page."""

import manifold3d
import numpy as np

from pourwell.geometry.solidity import from_manifold
from pourwell.steps.freeze.model import Fields

HIGH, WIDE, FOOT_MM = 12, 5, 9.5
NAMES = ("piece 1 A", "sprue 1", "piece 2 B", "sprue 2", "stem", "button")
CURVES = (*NAMES, "mould at the wall")
SOLID = from_manifold(manifold3d.Manifold.cube((WIDE, WIDE, HIGH)).translate((-WIDE / 2, -WIDE / 2, FOOT_MM)))


def rising(points):
    """Times that rise with the height."""
    return 5 + points[:, 2]


def beside(points):
    """The stem in the middle, piece 1 at +x, piece 2 at -x."""
    return np.select([points[:, 0] > 0.6, points[:, 0] < -0.6], [0, 2], 4).astype(np.int32)


def block(*, time=rising, body=beside, pool=lambda points: np.zeros(len(points), dtype=np.int32)):
    """Cubes of 1 mm, twelve high and five wide, whose times, bodies and pools follow from their places.

    They pass 0.7 of solid at half the time at which they are solid.
    """
    axis = np.arange(WIDE) - 2.0
    centre = np.stack(np.meshgrid(axis, axis, 10 + np.arange(HIGH), indexing="ij"), axis=-1).reshape(-1, 3).astype(float)
    n = len(centre)
    end = time(centre).astype(np.float32)
    flat = np.zeros(n, dtype=np.float32)
    seconds = np.linspace(0, 100, 101)
    falling = np.stack([980 - 10 * seconds / (1 + i) for i in range(len(CURVES))], axis=1)
    return Fields(
        centre_mm=centre,
        size_mm=np.ones(n, dtype=np.float32),
        body=body(centre),
        begin_s=end / 4,
        end_s=end,
        rate_k_per_s=flat,
        gradient_k_per_mm=flat.copy(),
        niyama=flat.copy(),
        pool=pool(centre),
        solid_fraction=np.array([0.0, 0.6, 0.8, 1.0], dtype=np.float32),
        passed_s=np.stack([end / 4, 0.4 * end, 0.6 * end, end], axis=1),
        curve_s=seconds.astype(np.float32),
        curve_c=falling.astype(np.float32),
        curve_low_c=(falling - 40).astype(np.float32),
        curve_high_c=(falling + 20).astype(np.float32),
        curve_names=CURVES,
        bodies=NAMES,
    )
