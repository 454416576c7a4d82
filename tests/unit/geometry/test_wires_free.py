"""What is a wire, and what only looks as thin: the edge of a band, a fin, a sheet."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.shapes import SHAPES, Fineness
from pourwell.geometry.solidity import from_manifold
from tests.unit.geometry.feature_pieces import Solid, block, found, line, with_wire

COARSE = Fineness(chord_mm=0.02, longest_mm=3.0)


def gauge_of(mesh):
    """The thinnest wire's gauge, None where there is none."""
    thin = found(mesh).wires.thinnest()
    return None if thin is None else thin[0]


def wire_ring(gauge, large=6.0, count=32):
    section = manifold3d.CrossSection.circle(gauge / 2, count).translate((large, 0))
    return from_manifold(Solid.revolve(section, 96))


@pytest.mark.parametrize("sizes", [{"thickness_mm": 1.2, "edge_mm": 0.1}, {"thickness_mm": 1.0, "crown_mm": 0.7}])
@pytest.mark.parametrize("fineness", [Fineness(), COARSE], ids=["fine", "coarse"])
def test_the_thin_edge_of_a_half_round_band_is_no_wire(sizes, fineness):
    mesh = SHAPES["half-round-band"].make(**{"crown_mm": 0.9, **sizes}, fineness=fineness)
    assert len(found(mesh).wires) == 0


@pytest.mark.parametrize("angle_deg", [30, 45, 60])
def test_the_edge_of_a_wedge_is_no_wire(angle_deg):
    height = 6 * np.tan(np.radians(angle_deg))
    corners = np.array([[x, y, z] for y in (0, 12) for x, z in ((0, 0), (6, 0), (6, height))], float)
    assert gauge_of(from_manifold(Solid.hull_points(corners))) is None, "specks at its corners do not count"


def test_a_raised_line_and_a_sheet_are_no_wires():
    assert gauge_of(block(on=[line(0.6, 0.6)])) is None
    assert gauge_of(from_manifold(Solid.cube((12, 9, 0.5), True))) is None


@pytest.mark.parametrize("gauge", [0.4, 0.7])
def test_a_ring_of_wire_is_a_wire_all_round(gauge):
    mesh = wire_ring(gauge)
    wires = found(mesh).wires
    assert gauge_of(mesh) == pytest.approx(gauge, rel=0.03)
    assert wires.area_mm2.sum() > 0.8 * mesh.area_mm2


@pytest.mark.parametrize(("wide", "thick"), [(0.5, 0.5), (0.7, 0.5), (0.6, 0.4)])
def test_a_square_and_a_flat_wire_stand_free_too(wide, thick):
    """Judged by the root of their product, whatever way they lie."""
    bar = Solid.cube((10, wide, thick), True).rotate((17, 31, 5))
    ends = Solid.cube((3, 3, 3), True).translate((5, 0, 0)).rotate((17, 31, 5))
    assert gauge_of(from_manifold(bar + ends)) == pytest.approx(np.sqrt(wide * thick), rel=0.05)


def test_a_prong_beside_another_still_counts():
    pair = [Solid.cylinder(8, 0.3, 0.3, 32).translate((x, 0, 0)) for x in (-1, 1)]
    mesh = from_manifold(Solid.cube((6, 6, 6), True) + pair[0] + pair[1])
    wires = found(mesh).wires
    assert gauge_of(mesh) == pytest.approx(0.6, rel=0.03)
    assert (wires.at_mm[:, 0] > 0.6).any()
    assert (wires.at_mm[:, 0] < -0.6).any()


def test_a_stub_no_longer_than_thick_is_no_wire():
    assert gauge_of(with_wire(0.6, length=0.5)) is None
    assert gauge_of(with_wire(0.6, length=4.0)) == pytest.approx(0.6, rel=0.03)
