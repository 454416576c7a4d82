"""At the limit is not under it, and no finding tells two figures that read alike."""

import re

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.solidity import from_manifold
from pourwell.steps.pattern.faults_told import CHORD_MM, HUNDREDTHS, under
from tests.unit.geometry.feature_pieces import block, drilled, groove, line, with_wire
from tests.unit.pattern.case import measured

TOLD = ("wall-thin", "wire-thin", "gap-narrow", "engraving-narrow", "engraving-shallow", "relief-fine", "relief-low")


def band(wall, count=160):
    cylinder = manifold3d.Manifold.cylinder
    return from_manifold(cylinder(4, 8.6 + wall, 8.6 + wall, count, True) - cylinder(5, 8.6, 8.6, count, True))


def test_what_is_short_by_the_chord_of_a_mesh_is_at_the_limit():
    assert not under(0.6, 0.6)
    assert not under(0.6 - CHORD_MM, 0.6)
    assert under(0.6 - CHORD_MM - 0.01, 0.6)
    assert not under(0.7, 0.6)


@pytest.mark.parametrize("limit", [0.25, 0.3, 0.4, 0.6, 0.8, 1.0])
def test_two_figures_that_are_told_never_read_alike(limit):
    for measure in np.linspace(0, limit * 1.1, 2001):
        if under(measure, limit):
            assert f"{measure:.{HUNDREDTHS}f}" != f"{limit:.{HUNDREDTHS}f}"
            assert measure < limit
    told = [under(measure, limit) for measure in np.linspace(0, limit, 101)]
    assert told == sorted(told, reverse=True), "once at the limit, always at the limit"


def test_a_band_at_the_limit_is_not_told_to_be_under_it():
    pattern, found = measured(band(0.6))
    assert found == {}
    assert pattern.piece.wall.under_limit_fraction == 0
    assert pattern.piece.wall.thinnest_mm == pytest.approx(0.6, rel=0.005)


@pytest.mark.parametrize(("wall", "count"), [(0.4, 64), (0.4, 128), (0.3, 128), (0.4, 200), (0.55, 160)])
def test_a_thin_band_is_told_as_thin_as_it_is(wall, count):
    told = measured(band(wall, count))[1]["wall-thin"]
    assert float(told.measure.removesuffix(" mm")) == pytest.approx(wall, abs=0.006)
    assert "100% of the surface" in told.says


@pytest.mark.parametrize(
    "mesh",
    [
        *(block(groove(width, depth)) for width, depth in ((0.29, 0.24), (0.27, 0.22), (0.28, 0.3))),
        *(block(on=[line(width, height)]) for width, height in ((0.39, 0.29), (0.37, 0.27))),
        *(block(drilled(width)) for width in (0.39, 0.37)),
        *(with_wire(gauge) for gauge in (0.79, 0.76)),
        *(band(wall) for wall in (0.59, 0.57)),
    ],
)
def test_no_finding_near_a_limit_has_a_measure_that_reads_as_the_limit(mesh):
    for code, told in measured(mesh)[1].items():
        if code in TOLD:
            measure, limit = (float(re.match(r"[\d.]+", text)[0]) for text in (told.measure, told.limit))
            assert measure + CHORD_MM < limit, code
