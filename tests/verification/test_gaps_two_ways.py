"""Gaps by two methods that share no query, rays outward and balls from outside, against closed forms."""

import math

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.gaps_outside import MOST_NARROW, MOST_WIDE, gaps_outside
from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import sampled
from pourwell.geometry.touching import Touch, Touching
from tests.unit.geometry.feature_pieces import TOP, Solid, blind_hole, block, drilled, groove, refined, slot, v_groove

LEAST_MM = 0.4
ENOUGH_MM2 = 0.3


def both(mesh, chosen=None, *, least_mm=LEAST_MM):
    """The gaps of a mesh at the places that are chosen."""
    caster, samples = Caster(mesh), sampled(mesh)
    outer = Touching(mesh).balls(samples.points, samples.face, outside=True, most_mm=10 * least_mm)
    gaps, _ = gaps_outside(samples, outer, caster, least_mm=least_mm)
    return gaps if chosen is None else gaps.only(chosen(gaps.at_mm))


def open_shank(gap_mm):
    """A flat ring 2 by 2 mm with a saw cut across it."""
    section = manifold3d.CrossSection.square((2, 2)).translate((8, -1))
    return from_manifold(Solid.revolve(section, 128) - Solid.cube((10, gap_mm, 10), True).translate((9, 0, 0)))


def two_balls(radius, gap_mm):
    ball = Solid.sphere(radius, 192)
    return from_manifold(ball + ball.translate((2 * radius + gap_mm, 0, 0)))


SIDES = {
    "slot": (lambda w: block(slot(w)), lambda p, w: (np.abs(np.abs(p[:, 1]) - w / 2) < 1e-9) & (np.abs(p[:, 0]) < 3 - w)),
    "groove": (
        lambda w: block(groove(w, 1.6)),
        lambda p, w: (np.abs(np.abs(p[:, 1]) - w / 2) < 1e-9) & (p[:, 2] > 0.4 + w / 2) & (p[:, 2] < TOP - w / 2),
    ),
    "open shank": (open_shank, lambda p, w: (np.abs(np.abs(p[:, 1]) - w / 2) < 1e-9) & (p[:, 0] > 8.2) & (p[:, 0] < 9.8)),
}


@pytest.mark.parametrize("width", [0.2, 0.35, 0.6])
@pytest.mark.parametrize("shape", SIDES)
def test_between_parallel_sides_both_find_their_distance(shape, width):
    """Farther from a rim and a floor than half the width, for the ball; rays find it everywhere."""
    make, on_sides = SIDES[shape]
    gaps = both(make(width), lambda at: on_sides(at, width))
    assert len(gaps.at_mm) > 20
    assert gaps.rays_mm == pytest.approx(width, rel=1e-5)
    assert gaps.square_mm == pytest.approx(width, rel=1e-5)
    assert gaps.ball_mm == pytest.approx(width, rel=1e-3)
    assert gaps.width_mm == pytest.approx(width, rel=1e-3)


@pytest.mark.parametrize(
    ("make", "low", "high"), [(lambda d: block(blind_hole(d, 1.5)), 0.5, TOP), (lambda d: block(drilled(d)), -2, 2)]
)
@pytest.mark.parametrize("diameter", [0.35, 0.6])
def test_in_a_round_hole_both_find_its_diameter(make, low, high, diameter):
    """A prism of 48 sides: between its flats it is cos(180/48) = 0.998 of the diameter."""

    def side(at):
        clear = (at[:, 2] > low + diameter / 2) & (at[:, 2] < high - diameter / 2)
        return clear & (np.hypot(at[:, 0], at[:, 1]) < diameter / 2 + 1e-6)

    gaps = both(make(diameter), side)
    assert len(gaps.at_mm) > 20
    for told in (gaps.rays_mm, gaps.ball_mm, gaps.width_mm):
        assert told == pytest.approx(diameter, rel=0.015)


def test_between_two_balls_the_ray_and_the_ball_are_each_as_geometry_has_them():
    """At an angle t from the line of the middles, D apart, R each: the ball that touches both is D / cos t - 2 R wide; straight out
    it is D cos t - sqrt(R^2 - D^2 sin^2 t) - R. Both are the gap where t is 0."""
    radius, gap = 5.0, 0.2
    apart = 2 * radius + gap
    gaps = both(two_balls(radius, gap), lambda at: np.abs(at[:, 0] - apart / 2) < 0.2)
    from_first = gaps.at_mm[:, 0] < apart / 2
    away = np.where(from_first, gaps.at_mm[:, 0], apart - gaps.at_mm[:, 0])
    turn = np.arctan2(np.hypot(gaps.at_mm[:, 1], gaps.at_mm[:, 2]), away)
    near = turn < math.radians(9)
    assert near.sum() > 40
    turn = turn[near]
    assert gaps.ball_mm[near] == pytest.approx(apart / np.cos(turn) - 2 * radius, abs=0.015)
    straight = apart * np.cos(turn) - np.sqrt(radius**2 - (apart * np.sin(turn)) ** 2) - radius
    told = np.isfinite(gaps.square_mm[near])
    assert told.sum() > 30
    assert gaps.square_mm[near][told] == pytest.approx(straight[told], abs=0.05)
    narrowest = gaps.worst(ENOUGH_MM2)
    assert gaps.width_mm[narrowest] == pytest.approx(gap, abs=0.06), "of a stretch of more than 0.3 mm2 the median"


@pytest.mark.parametrize("angle_deg", [20, 30])
def test_in_a_groove_with_slanted_sides_the_rays_lie_between_the_ball_and_the_chord(angle_deg):
    """As in a wedge of metal: the ball is 2 s tan(a/2) at s from the bottom, the chord square to the side s tan a."""
    depth, a = 1.5, math.radians(angle_deg)

    def side(at):
        return (np.abs(at[:, 0]) < 6) & (at[:, 2] > TOP - 0.9 * depth) & (at[:, 2] < TOP - 0.5 * depth) & (np.abs(at[:, 1]) < 1)

    gaps = both(refined(block(v_groove(angle_deg, depth)), 2), side)
    s = (gaps.at_mm[:, 2] - (TOP - depth)) / math.cos(a / 2)
    assert len(s) > 20
    ball = 2 * s * math.tan(a / 2)
    assert gaps.ball_mm == pytest.approx(ball, rel=0.005)
    assert (gaps.rays_mm >= ball * 0.995).all()
    assert (gaps.rays_mm <= s * math.tan(a) * 1.005).all()


def test_the_two_share_no_query():
    """Whatever the balls say, the rays say the same; where the balls say all is open, a few rays still see it."""
    mesh = block(slot(0.3))
    samples, caster = sampled(mesh), Caster(mesh)
    true = Touching(mesh).balls(samples.points, samples.face, outside=True, most_mm=4.0)
    _, rays = gaps_outside(samples, true, caster, least_mm=LEAST_MM)
    blind = Touch(diameter_mm=np.full(len(samples.points), np.inf), stop=true.stop, way=true.way)
    few, again = gaps_outside(samples, blind, caster, least_mm=LEAST_MM)
    asked = np.isfinite(rays) & np.isfinite(again)
    assert asked.any()
    np.testing.assert_array_equal(rays[asked], again[asked])
    assert len(few.at_mm) <= MOST_WIDE < MOST_NARROW
    assert few.width_mm[few.worst(ENOUGH_MM2)] == pytest.approx(0.3, rel=1e-5)
    assert few.area_mm2.sum() == pytest.approx(mesh.area_mm2, rel=0.01), "the few stand for all"


def test_beside_an_inner_corner_and_round_what_is_convex_there_is_no_gap():
    """In the corner the ball is small, but no face looks back; the shallow scratch is no deeper than a ball in its corner."""
    for mesh in (block(on=(Solid.cube((4, 4, 12), True),)), from_manifold(Solid.sphere(3.0, 96)), block(groove(0.3, 0.05))):
        gaps = both(mesh)
        assert gaps.worst(ENOUGH_MM2) is None
