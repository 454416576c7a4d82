"""Wires: which places count as one, how thick it is told, and where it is thinnest."""

import math
from itertools import pairwise

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import sampled
from pourwell.geometry.touching import Touching
from pourwell.geometry.wires import Wires, wires
from tests.unit.geometry.distance_samples import turned
from tests.unit.geometry.feature_pieces import Solid, with_wire


def made_up(*places):
    """Wires from pairs of gauge and area; places lie a millimetre apart along x."""
    gauge, area = np.array(places, dtype=float).reshape(-1, 2).T
    at = np.column_stack((np.arange(len(gauge)), np.zeros((len(gauge), 2))))
    return Wires(at_mm=at, area_mm2=area, gauge_mm=gauge, ball_mm=gauge)


def on(mesh, limit_mm=0.8):
    """Wires of a mesh, thinner than a limit."""
    caster = Caster(mesh)
    samples = sampled(mesh, caster)
    balls = Touching(mesh).balls(samples.points, samples.face)
    return wires(samples.points, samples.area_mm2, balls=balls, caster=caster, limit_mm=limit_mm)


def between_cubes(rod):
    """A rod along z that joins two cubes 6 apart."""
    cube = Solid.cube((5, 5, 5), True)
    return from_manifold(rod + cube.translate((0, 0, 5.5)) + cube.translate((0, 0, -5.5)))


def test_no_place_is_no_wire():
    assert len(made_up()) == 0
    assert made_up().thinnest() is None


def test_a_stretch_as_long_as_it_is_thick_is_a_wire_and_a_shorter_one_is_none():
    """Its surface is then pi times its gauge squared: 0.785 mm2 at half a millimetre."""
    assert made_up((0.5, 0.78)).thinnest() is None
    gauge, at = made_up((0.5, 0.79)).thinnest()
    assert gauge == 0.5
    assert at.tolist() == [0, 0, 0]


def test_places_add_up_to_a_stretch_from_the_thinnest_on():
    """0.4 of surface at 0.45 is too little (0.64), so are 0.7 up to 0.5 (0.79); 1.2 up to 0.6 is enough (1.13)."""
    gauge, at = made_up((0.6, 0.5), (0.45, 0.4), (0.7, 9.0), (0.5, 0.3)).thinnest()
    assert gauge == 0.6
    assert at[0] == 0


def test_the_thinnest_does_not_hang_on_the_order_of_places():
    rng = np.random.default_rng(4)
    gauge, area = rng.uniform(0.3, 0.8, 60), rng.uniform(0.01, 0.1, 60)
    told = made_up(*zip(gauge, area, strict=True)).thinnest()
    for _ in range(5):
        mixed = rng.permutation(60)
        assert made_up(*zip(gauge[mixed], area[mixed], strict=True)).thinnest()[0] == told[0]


def test_more_wire_never_makes_the_thinnest_thicker():
    rng = np.random.default_rng(5)
    places = list(zip(rng.uniform(0.3, 0.8, 40), rng.uniform(0.02, 0.2, 40), strict=True))
    gauges = [told[0] for k in range(1, 41) if (told := made_up(*sorted(places)[-k:]).thinnest())]
    assert len(gauges) > 20
    assert all(later <= before for before, later in pairwise(gauges))


@pytest.mark.parametrize(("wide", "thick"), [(0.5, 0.5), (0.7, 0.5), (0.6, 0.35)])
def test_an_oval_wire_is_told_by_the_diameter_between_its_two(wide, thick):
    """Never thicker; up to an eighth thinner, for away from its four vertices the chord square to the surface misses the middle."""
    oval = Solid.cylinder(8, 0.5, 0.5, 48, True).scale((wide, thick, 1))
    gauge, _ = on(between_cubes(oval)).thinnest()
    assert max(thick, 0.86 * math.sqrt(wide * thick)) * 0.99 < gauge < math.sqrt(wide * thick) * 1.01


def test_nothing_thicker_than_the_limit_is_told():
    mesh = with_wire(0.6)
    assert len(on(mesh, 0.55)) == 0
    assert on(mesh, 0.65).gauge_mm.max() < 0.65


def test_all_of_a_wire_is_found_and_nothing_else():
    """Six millimetres of 0.6: its mantle, but for about a diameter at the foot and the end."""
    told = on(with_wire(0.6), 0.8)
    mantle = math.pi * 0.6 * 6
    assert 0.75 * mantle < told.area_mm2.sum() <= mantle * 1.05
    assert told.at_mm[:, 2].min() > 2.9
    assert np.hypot(told.at_mm[:, 0], told.at_mm[:, 1]).max() < 0.31


def test_a_wire_closed_to_a_ring_is_one():
    for diameter, thin in ((0.6, True), (0.9, False)):
        section = manifold3d.CrossSection.circle(diameter / 2, 32).translate((8, 0))
        told = on(from_manifold(Solid.revolve(section, 96))).thinnest()
        assert (told is not None) == thin
        if thin:
            assert told[0] == pytest.approx(diameter, rel=0.02)


def test_a_tapered_wire_is_thinnest_towards_its_tip():
    """A prong from 0.75 down to 0.35 over 6 mm: some way down from the tip it is long enough to count."""
    prong = Solid.cube((6, 6, 6), True) + Solid.cylinder(6, 0.375, 0.175, 48).translate((0, 0, 3))
    gauge, at = on(from_manifold(prong)).thinnest()
    assert 0.35 < gauge < 0.5
    assert at[2] > 6.5
    assert gauge == pytest.approx(0.75 - 0.4 * (at[2] - 3) / 6, rel=0.05)


@pytest.mark.parametrize("seed", range(4))
def test_a_wire_that_lies_aslant_is_as_thick(seed):
    move = np.column_stack((turned(np.random.default_rng(seed)), (3, -8, 20)))
    gauge, _ = on(with_wire(0.6).moved(move)).thinnest()
    assert gauge == pytest.approx(0.6, rel=0.02)


def test_a_square_wire_is_no_thicker_than_its_corners_and_no_thinner_than_its_flats_however_it_lies():
    for turn in (0, 11, 30):
        square = Solid.cube((0.5, 0.5, 8), True).rotate((0, 0, turn))
        gauge, _ = on(between_cubes(square)).thinnest()
        assert 0.5 * 0.999 <= gauge <= 0.5 * math.sqrt(2)
        assert gauge == pytest.approx(0.5, rel=0.03)


def test_of_two_wires_the_thinner_is_told():
    thin = Solid.cylinder(8, 0.25, 0.25, 32, True).translate((1.5, 0, 0))
    thick = Solid.cylinder(8, 0.35, 0.35, 32, True).translate((-1.5, 0, 0))
    gauge, at = on(between_cubes(thin + thick)).thinnest()
    assert gauge == pytest.approx(0.5, rel=0.02)
    assert at[0] == pytest.approx(1.5, abs=0.3)


def test_the_wire_of_our_ear_stud_is_told_once_the_limit_is_over_it():
    mesh = SHAPES["stud"].make(wire_mm=0.9)
    assert on(mesh, 0.85).thinnest() is None
    gauge, _ = on(mesh, 1.2).thinnest()
    assert gauge == pytest.approx(0.9, rel=0.03)
