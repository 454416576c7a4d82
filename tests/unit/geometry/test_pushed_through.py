"""A surface that was pushed through the wall across it: what lies inside out is counted, on any mesh."""

import numpy as np
import pytest

from pourwell.geometry.crossing import crossings, doubled_mm3
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.places import crossing_places
from tests.unit.geometry.test_gap import torus


def pushed(around, across, *, by_mm):
    """A ring of 18 mm, its wire 2.4 mm thick, a patch of its bore pushed outward by so much."""
    mesh = torus(9.0, 1.2, around=around, across=across)
    near = np.exp(-((mesh.vertices - [7.8, 0, 0]) ** 2).sum(axis=1) / 0.3)
    return Mesh(mesh.vertices + near[:, None] * [by_mm, 0, 0], mesh.faces)


SIZES = [(150, 40), (300, 80), (600, 160)]


@pytest.mark.parametrize(("around", "across"), SIZES)
def test_what_lies_inside_out_is_counted_on_any_mesh(around, across):
    """The lobe that stands out is about 0.3 mm3, whatever the triangles."""
    assert doubled_mm3(pushed(around, across, by_mm=4.0)) == pytest.approx(0.3, abs=0.06)


@pytest.mark.parametrize(("around", "across"), SIZES)
def test_its_extent_does_not_shrink_with_the_triangles_as_the_depth_of_a_pair_does(around, across):
    (place,) = crossing_places(pushed(around, across, by_mm=4.0))
    assert place.extent_mm == pytest.approx(0.8, abs=0.1)
    assert np.linalg.norm(np.array(place.at_mm) - [10.2, 0, 0]) < 0.8


def test_a_dent_that_stays_within_the_wall_crosses_nothing():
    dented = pushed(300, 80, by_mm=1.0)
    assert len(crossings(dented)) == 0
    assert doubled_mm3(dented) == pytest.approx(0, abs=1e-9)


def test_the_depth_of_a_single_pair_does_shrink():
    """Why no verdict rests on it."""
    coarse, fine = (float(crossings(pushed(*size, by_mm=4.0)).depth_mm.max()) for size in (SIZES[0], SIZES[2]))
    assert fine < 0.6 * coarse
