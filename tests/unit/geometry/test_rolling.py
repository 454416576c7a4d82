"""The ball that rolls over a surface: what it does not reach, how far it sinks in, and how wide recesses are."""

from functools import partial

import numpy as np
import pytest

from pourwell.geometry import thickness
from pourwell.geometry.rays import Caster
from pourwell.geometry.recesses import recesses
from pourwell.geometry.rolling import Places, Rolling, Stands, ways_across
from pourwell.geometry.thickness import sampled, speakers, spread
from pourwell.geometry.touching import Touching
from tests.unit.geometry.distance_samples import icosphere, turned
from tests.unit.geometry.feature_pieces import TOP, blind_hole, block, drilled, found, groove, line, refined, slot, v_groove
from tests.unit.geometry.test_recesses import middle, typical

UP = np.array([[0.0, 0.0, 1.0]])


def prepared(mesh, *, ball_mm=4.0, outside=True, owner=None):
    """Places on a mesh with the ball that rolls, and what touches there."""
    points, face, area = spread(mesh, owner)
    touching = Touching(mesh)
    touch = touching.balls(points, face, outside=outside, most_mm=ball_mm if outside else np.inf)
    return Places(points=points, face=face, area_mm2=area, touch=touch, ball_mm=ball_mm, outside=outside, owner=owner), touching


def across(mesh, start, out=UP, **more):
    places, _ = prepared(mesh, **more)
    return ways_across(Caster(mesh), places, start=np.array([start], dtype=float), out=np.asarray(out, dtype=float))


def stand(which, start, **more):
    """One place to measure a recess from, with the way out upward."""
    none = np.zeros(1)
    return Stands(
        **{"which": np.array([which]), "area_mm2": none, "start": np.array([start], dtype=float), "out": UP}
        | {"above": none, "below": none, "through": np.array([True]), "flush": np.array([True])}
        | more
    )


# --- what the ball reaches ---


def test_the_ball_reaches_all_of_a_convex_piece_and_lies_over_no_recess():
    places, touching = prepared(icosphere(3.0, halvings=3))
    assert not places.narrow.any()
    assert not Rolling(places, touching).there
    assert len(recesses(places, touching, caster=Caster(touching.mesh), least_mm=0.05)) == 0


def test_the_ball_does_not_reach_into_a_groove_narrower_than_itself():
    mesh = refined(block(groove(1.0, 0.8)), 3)
    wide, _ = prepared(mesh, ball_mm=4.0)
    small, _ = prepared(mesh, ball_mm=0.2)
    low = wide.points[:, 2] < TOP - 0.1
    low &= (np.abs(wide.points[:, 1]) < 0.51) & (np.abs(wide.points[:, 0]) < 6.9) & (wide.points[:, 2] > 1.1)
    assert wide.narrow[low].all()
    floor = low & (np.abs(wide.points[:, 1]) < 0.35)
    assert floor.any()
    assert not small.narrow[floor].any(), "a ball of 0.2 rolls along the floor"


def test_every_place_that_sees_a_ball_sees_it_over_its_own_groove():
    """Two grooves 3 apart: the balls over the one lie nowhere over the other."""
    mesh = refined(block(groove(0.4, 0.5).translate((0, -2, 0)), groove(0.4, 0.5).translate((0, 2, 0))), 3)
    places, touching = prepared(mesh)
    rolling = Rolling(places, touching)
    which, ball = rolling.seen(np.flatnonzero(places.narrow), Caster(mesh))
    assert len(which) > 100
    sides = places.points[which, 1]
    assert (np.sign(rolling.centres[ball, 1]) == np.sign(sides)).all()
    assert (rolling.centres[ball, 2] > TOP).all()


def test_balls_rest_at_their_own_radius_over_the_surface():
    mesh = refined(block(groove(0.6, 0.5)), 3)
    places, touching = prepared(mesh)
    centres = Rolling(places, touching).centres
    assert touching.feet(centres)[0] == pytest.approx(2.0, rel=1e-3)


def test_that_each_triangle_speaks_for_itself_is_the_same_as_saying_nothing():
    mesh = refined(block(groove(0.4, 0.5)), 2)
    said, touching = prepared(mesh, owner=np.arange(len(mesh.faces)))
    unsaid, _ = prepared(mesh)
    one, other = (Rolling(places, touching).centres for places in (said, unsaid))
    assert (one == other).all()


# --- how far it sinks ---


@pytest.mark.parametrize("width", [0.5, 1.0, 2.0])
def test_a_ball_sinks_into_a_groove_until_both_rims_hold_it(width):
    """Its middle comes to lie the root of R^2 - (w/2)^2 over the rims."""
    places, touching = prepared(refined(block(groove(width, 1.5)), 2))
    from_above = np.array([[0.0, 0.3, TOP + 2.5], [2.0, -0.2, TOP + 2.1]])
    towards = np.array([[0.0, 0.0, TOP - 1.0], [2.0, 0.0, TOP - 1.0]])
    sunk = Rolling(places, touching).sunk(from_above, towards=towards)
    assert sunk[:, 2] == pytest.approx(TOP + np.sqrt(4 - width**2 / 4), abs=0.06)
    assert np.abs(sunk[:, 1]).max() < 0.15
    assert (touching.feet(sunk)[0] > 2 * 0.99).all()


def test_a_ball_that_is_where_it_is_to_go_stays_there():
    places, touching = prepared(refined(block(groove(0.5, 0.5)), 2))
    here = np.array([[0.0, 0.0, TOP + 5.0]])
    assert (Rolling(places, touching).sunk(here, towards=here) == here).all()


def test_sinking_does_not_touch_the_balls_that_it_was_given():
    places, touching = prepared(refined(block(groove(0.5, 0.5)), 2))
    here = np.array([[0.0, 0.0, TOP + 3.0]])
    Rolling(places, touching).sunk(here, towards=np.array([[0.0, 0.0, 0.0]]))
    assert here.tolist() == [[0.0, 0.0, TOP + 3.0]]


# --- how wide recesses are ---


def test_a_groove_is_as_wide_as_cut_and_has_no_end():
    told = across(block(groove(0.6, 1.0)), (1.0, 0.1, TOP - 0.4))
    assert told.width_mm == pytest.approx([0.6])
    assert np.isinf(told.long_mm).all()
    assert np.abs(told.heading[0]) == pytest.approx((0, 1, 0), abs=1e-9)
    assert told.facing == pytest.approx([-1])
    assert told.steep.all()


def test_a_slanted_groove_is_as_wide_as_at_that_height_and_its_sides_meet_at_its_angle():
    """At 0.5 over the bottom of 60 degrees: 2 * 0.5 * tan 30; the sides' normals make 120 degrees."""
    told = across(block(v_groove(60, 1.0)), (0.0, 0.0, TOP - 0.5))
    assert told.width_mm == pytest.approx([2 * 0.5 * np.tan(np.radians(30))])
    assert told.facing == pytest.approx([np.cos(np.radians(120))])
    assert told.steep.all()


def test_sides_that_hardly_fall_away_are_not_steep():
    assert not across(block(v_groove(140, 0.5)), (0.0, 0.0, TOP - 0.2)).steep.any()


def test_from_beside_the_middle_of_a_round_hole_the_way_leads_to_the_middle():
    told = across(block(blind_hole(1.6, 1.5)), (0.35, 0.0, TOP - 0.7))
    assert told.aside[0] == pytest.approx((-0.35, 0, 0), abs=0.05)
    assert told.width_mm[0] == pytest.approx(2 * np.sqrt(0.8**2 - 0.35**2), rel=0.02)
    assert told.long_mm[0] == pytest.approx(1.6, rel=0.02)


def test_from_the_middle_of_a_round_hole_there_is_no_way_to_go():
    told = across(block(blind_hole(1.6, 1.5)), (0.0, 0.0, TOP - 0.7))
    assert np.linalg.norm(told.aside) < 0.01
    assert told.long_mm == pytest.approx(told.width_mm, rel=0.01)


def test_from_inside_the_metal_it_is_the_raised_line_that_is_measured():
    told = across(block(on=[line(0.5, 0.6)]), (1.0, 0.05, TOP + 0.3), outside=False, ball_mm=1.0)
    assert told.width_mm == pytest.approx([0.5])
    assert told.long_mm[0] > 7.9
    assert told.steep.all()


@pytest.mark.parametrize("seed", range(3))
def test_widths_do_not_hang_on_how_a_piece_lies(seed):
    """But for what the eight directions leave between them: up to a fiftieth."""
    move = np.column_stack((turned(np.random.default_rng(seed)), (4, -9, 30)))
    start = np.array([(1.0, 0.05, TOP - 0.4)]) @ move[:, :3].T + move[:, 3]
    told = across(block(groove(0.6, 1.0)).moved(move), start[0], UP @ move[:, :3].T)
    assert 0.6 <= told.width_mm[0] * 1.0001 <= 0.6 / np.cos(np.pi / 16) * 1.0002


def test_the_other_end_of_a_hole_is_as_far_as_the_block_is_thick():
    mesh = refined(block(drilled(0.8)), 2)
    places, touching = prepared(mesh)
    rolling = Rolling(places, touching)
    within = np.flatnonzero(places.narrow & (np.hypot(*places.points[:, :2].T) < 0.41))[0]
    end = rolling.other_end(stand(within, (0.0, 0.0, TOP - 0.5), below=np.full(1, np.inf)), width=np.array([0.8]))
    assert end[0] == pytest.approx(2 * TOP - 0.5, abs=0.25)
    blind = rolling.other_end(stand(within, (0.0, 0.0, TOP - 0.5), through=np.array([False])), width=np.array([0.8]))
    assert np.isinf(blind).all(), "what has a floor has no other end"


# --- very fine meshes: one triangle speaks for several ---

FINE = {
    "groove": (lambda: refined(block(groove(0.3, 0.3)), 4), "sunk", (0.3, 0.3, 0.3)),
    "hole": (lambda: refined(block(blind_hole(1.0, 1.5)), 2), "sunk", (1.0, 1.0, 1.5)),
    "slot": (lambda: refined(block(slot(0.3)), 4), "sunk", (0.3, 0.3, 4.0)),
    "line": (lambda: refined(block(on=[line(0.3, 0.4)]), 4), "raised", (0.3, 0.3, 0.4)),
}


@pytest.mark.parametrize("name", FINE)
def test_a_feature_is_found_whole_where_one_triangle_speaks_for_several(name, monkeypatch):
    """Triangles that speak for others do not share corners: what lies between them belongs to their recess all the same."""
    make, side, truth = FINE[name]
    mesh = make()
    whole = getattr(found(mesh), side)
    monkeypatch.setattr(thickness, "speakers", partial(speakers, most=len(mesh.faces) // 3))
    assert sampled(mesh).spared_count > len(mesh.faces) / 3
    thinned = getattr(found(mesh), side)
    assert typical(thinned) == pytest.approx(truth, rel=0.04)
    assert thinned.area_mm2.sum() == pytest.approx(whole.area_mm2.sum(), rel=0.25)
    assert thinned.through.mean() == pytest.approx(whole.through.mean(), abs=0.05)
    assert middle(thinned.flush.astype(float), thinned.area_mm2) == middle(whole.flush.astype(float), whole.area_mm2)


def test_a_plain_block_stays_without_features_where_one_triangle_speaks_for_several(monkeypatch):
    mesh = refined(block(), 4)
    monkeypatch.setattr(thickness, "speakers", partial(speakers, most=len(mesh.faces) // 4))
    told = found(mesh)
    assert len(told.sunk) == len(told.raised) == 0
    assert told.wires.thinnest() is None
    assert told.corners.sharpest() is None
