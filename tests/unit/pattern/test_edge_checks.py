"""Findings about thin edges, fired and kept silent, and what of them stands in the piece's wall."""

import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.shapes import SHAPES
from pourwell.steps.pattern.checks import CODES
from pourwell.steps.pattern.edge_checks import EDGE_CHECKS, EDGE_CODES
from tests.unit.geometry.test_edges import domed
from tests.unit.pattern.case import library, measured


def test_edge_feather_fires():
    pattern, found = measured(domed(0.0))
    told = found["edge-feather"]
    assert told.severity is Severity.NOTE
    assert "tapers to nothing over {l:108}" in told.says
    assert "Draw it {l:0.3} thick or more" in told.do
    assert (told.measure, told.limit) == ("0.00 mm", "0.3 mm")
    assert told.where.startswith("piece A, near x ")
    assert told.source == library().rules["edge_least_mm"].source
    assert "{" not in spelt_out(told.says) + spelt_out(told.do)
    assert pattern.piece.wall.edge_at_mm == told.at_mm


def test_an_edge_of_a_fifth_of_a_millimetre_is_told_with_its_width():
    told = measured(domed(0.2))[1]["edge-feather"]
    assert "tapers to {l:0.2" in told.says
    assert float(told.measure.split()[0]) == pytest.approx(0.2, abs=0.02)


def test_edge_feather_stays_silent():
    for mesh in (domed(0.3), domed(0.4), SHAPES["half-round-band"].make(), SHAPES["pendant"].make()):
        assert "edge-feather" not in measured(mesh)[1]


@pytest.mark.parametrize("edge", [0.3, 0.4, 1.0])
def test_the_edge_stands_beside_the_wall_that_carries_it(edge):
    """The wall is that of the metal within reach of the edge; the edge itself is as it was drawn."""
    wall = measured(domed(edge))[0].piece.wall
    assert wall.edge_mm == pytest.approx(edge, abs=0.02)
    assert wall.thinnest_mm > wall.edge_mm
    assert wall.edge_length_mm > 100


def test_a_band_with_square_sides_has_no_edge_to_tell():
    wall = measured(SHAPES["plain-band"].make())[0].piece.wall
    assert (wall.edge_mm, wall.edge_length_mm, wall.edge_at_mm) == (None, 0.0, None)


def test_every_check_is_registered_with_its_code():
    assert len(EDGE_CHECKS) == len(EDGE_CODES)
    assert set(EDGE_CODES) <= set(CODES)
