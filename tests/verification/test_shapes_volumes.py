"""Volumes of the parametric pieces against closed forms and independent integrals."""

from itertools import pairwise
from math import pi

import numpy as np
import pytest

from pourwell.geometry.shapes import Fineness, about, plain_band


def observed_orders(errors: list[float], factor: float) -> list[float]:
    """Order of convergence between neighbours of a series whose edges shrink by a factor each."""
    return [float(np.log(a / b) / np.log(factor)) for a, b in pairwise(errors)]


@pytest.mark.parametrize("edge_mm", [0.0, 0.3])
def test_a_plain_band_holds_the_volume_that_pappus_gives(edge_mm):
    """Pappus' second theorem: V = 2 pi (middle radius) (area of the section), the section being a rounded rectangle."""
    truth = 2 * pi * (8.6 + 0.9) * (4.0 * 1.8 - (4 - pi) * edge_mm**2)
    fine = [Fineness(chord_mm=0.02 / 4**k, longest_mm=1e3) for k in range(4)]
    size = {"bore_mm": 17.2, "width_mm": 4.0, "thickness_mm": 1.8, "edge_mm": edge_mm}
    errors = [truth - plain_band(**size, fineness=f).volume_mm3 for f in fine]
    assert all(error > 0 for error in errors), "vertices on the surface of a convex section never overstate"
    assert errors[0] / truth < 3 * 0.02 / 9.5 + 0.02
    assert min(observed_orders(errors, 2)) > 1.7, f"observed {observed_orders(errors, 2)}"


def test_the_default_plain_band_is_within_a_permille():
    truth = 2 * pi * (8.6 + 0.9) * (4.0 * 1.8 - (4 - pi) * 0.2**2)
    assert plain_band().volume_mm3 == pytest.approx(truth, rel=1.5e-3)
    assert about(20_000, plain_band).volume_mm3 == pytest.approx(truth, rel=5e-4)
