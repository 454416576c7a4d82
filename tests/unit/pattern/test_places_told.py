"""Findings about whole bodies have a place on the body that they tell of; flakes and slivers are told however many there are."""

import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, plain_band
from pourwell.geometry.solidity import inside_out
from tests.unit.files.pattern_files import cube, joined
from tests.unit.geometry.faulty import flake, with_flake
from tests.unit.pattern.case import hollow, measured
from tests.unit.pattern.test_checks import NOTE, finding, silent

CORE = cube(4, (3, 3, 3))


def on(at_mm, mesh):
    """Does a place lie on the surface of a mesh: in the middle of one of its triangles."""
    return np.linalg.norm(mesh.centres - at_mm, axis=1).min() < 1e-6


@pytest.mark.parametrize(
    ("code", "bodies", "there"),
    [
        ("pattern-apart", (joined(plain_band(), cube(4, (30, 0, 0))),), cube(4, (30, 0, 0))),
        ("pattern-void", (hollow(cube(10), CORE),), CORE),
        ("pattern-nested", (("shell", cube(10)), ("core", CORE)), CORE),
        ("pattern-doubled", (("shank", cube(4)), ("copy", cube(4))), cube(4)),
        ("pattern-inside-out", (cube(4), inside_out(cube(4, (2, 0, 0)))), cube(4, (2, 0, 0))),
    ],
)
def test_a_finding_about_a_body_has_its_place_on_that_body(code, bodies, there):
    told = measured(*bodies)[1][code]
    assert on(told.at_mm, there)
    x, y, z = (f"{round(value, 1) + 0.0:g}" for value in told.at_mm)
    assert told.where == f"piece A, near x {x}, y {y}, z {z}"


def test_an_overlap_is_told_where_the_bodies_cross():
    at = measured(cube(4), cube(4, (2, 1, 1)))[1]["pattern-overlap"].at_mm
    inner, outer = np.sort(np.abs(np.array(at) - (3, 2.5, 2.5)))[:2], np.max(np.abs(np.array(at) - (3, 2.5, 2.5)) / (1, 1.5, 1.5))
    assert outer == pytest.approx(1.0), "on the skin of what they share"
    assert (inner <= 1.5 + 1e-9).all()


def test_of_nested_bodies_the_overlap_is_told_at_the_inner_one():
    assert on(measured(("shell", cube(10)), ("core", CORE))[1]["pattern-overlap"].at_mm, CORE)


def thin_fan(least):
    """A cube with one triangle of its top parted in three from a place beside its longest side: so near that one is a sliver."""
    whole = cube(4)
    top = next(k for k, face in enumerate(whole.faces) if (whole.vertices[face][:, 2] == 4).all())
    face, corners = whole.faces[top].tolist(), whole.vertices[whole.faces[top]]
    apex = corners[
        np.argmin(
            np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
            + np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
        )
    ]
    points = np.vstack([whole.vertices, (corners.sum(axis=0) - apex) / 2 + least * (apex - (2, 2, 4))])
    new = len(whole.vertices)
    parted = [[a, b, new] for a, b in zip(face, [*face[1:], face[0]], strict=True)]
    return Mesh(points, np.vstack([np.delete(whole.faces, top, axis=0), parted]))


def test_pattern_sliver_fires():
    told = finding("pattern-sliver", NOTE, thin_fan(1e-7))
    assert told.measure == "1 sliver"
    assert "1 triangle has no height: 1 patch of slivers (1, up to {l:5.66} long near x" in told.says
    assert told.at_mm == pytest.approx((2, 2, 4), abs=1e-3)


def test_slivers_are_counted_without_a_length_where_the_unit_is_in_doubt():
    assert finding("pattern-sliver", NOTE, thin_fan(1e-7).scaled(0.1)).says == "1 triangle has no height."


def test_pattern_sliver_stays_silent():
    silent("pattern-sliver", thin_fan(0.5))
    silent("pattern-sliver", thin_fan(1e-4))
    for shape in SHAPES.values():
        silent("pattern-sliver", shape.make())


def test_more_than_a_hundred_flakes_are_counted_and_some_are_shown():
    band = plain_band()
    spots = np.random.default_rng(1).permutation(len(band.faces))[:130]
    specks = [flake(band.centres[k] + 0.3 * band.normals[k], 0.03) for k in spots]
    told = finding("pattern-flake", NOTE, joined(band, *specks))
    assert "130 loose flakes ({l:0.03} large near x" in told.says
    assert "and 127 more" in told.says
    silent("pattern-apart", joined(band, *specks))


def test_a_heap_of_small_bodies_has_no_flakes():
    rng = np.random.default_rng(2)
    heap = joined(*(flake(at, 0.1) for at in rng.uniform(0, 20, (120, 3))))
    silent("pattern-flake", heap)
    assert "pattern-apart" in measured(heap)[1]
    assert "pattern-flake" in measured(with_flake(plain_band(), 5))[1]
