"""Necks: bands have none, heads behind thin shanks do, and the second sprue is a place of its own."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.tree.attach import site, site_of_user
from pourwell.steps.tree.neck import cut_off, proposal
from pourwell.steps.tree.probe import ready
from tests.unit.tree.making import library, pattern, shaped

M = manifold3d.Manifold


def cut_of(made):
    piece = ready(made)
    return piece, cut_off(piece, site(piece, library()), library())


@pytest.mark.parametrize("name", ["plain-band", "comfort-band", "half-round-band", "bezel-ring", "pendant", "stud"])
def test_an_even_piece_is_well_fed(name):
    assert cut_of(shaped(name))[1] is None


def test_the_head_of_a_signet_lies_behind_its_shank():
    _, cut = cut_of(shaped("signet"))
    assert cut is not None
    assert cut.neck_mm == pytest.approx(1.7, rel=0.05)
    assert cut.section_mm > 3
    assert cut.section_at_mm[2] > 8
    assert cut.neck_at_mm[2] < 0


def test_a_thicker_shank_feeds_the_head():
    assert cut_of(shaped("signet", shank_thickness_mm=3.0, shank_width_mm=6.0, head_mm=2.0))[1] is None


def test_the_second_sprue_stands_on_the_head_hidden_and_free():
    piece, cut = cut_of(shaped("signet"))
    second = proposal(cut)
    at, normal = np.array(second.attachment.at_mm), np.array(second.attachment.normal)
    assert np.linalg.norm(at - second.section_at_mm) <= 1.7 * second.section_mm / 2
    assert normal @ piece.faces.show < 0.5
    assert Caster(piece.mesh).first(at + 0.05 * normal, normal)[0][0] == np.inf
    assert second.gauge_mm >= 3
    assert "head" in second.attachment.words


def test_of_two_balls_the_one_behind_the_rod_is_named():
    balls = M.sphere(3, 64) + M.sphere(3, 64).translate((12, 0, 0))
    piece, cut = cut_of(pattern(from_manifold(balls + M.cylinder(12, 0.7, 0.7, 32).rotate((0, 90, 0)))))
    first = site(piece, library()).attachment.at_mm
    assert cut is not None
    assert cut.neck_mm == pytest.approx(1.4, rel=0.1)
    assert abs(cut.section_at_mm[0] - first[0]) > 6
    assert abs(cut.attachment.at_mm[0] - cut.section_at_mm[0]) < 4


def test_a_sprue_moved_to_the_head_feeds_it():
    made = shaped("signet", sprue_at_mm=(-5.8, 5.0, 9.4))
    piece = ready(made)
    ours = site(piece, library())
    own = site_of_user(piece, made.sprue_at_mm, ours=ours, library=library())
    assert cut_off(piece, own, library()) is None or cut_off(piece, own, library()).neck_mm > 2


def test_a_section_shut_in_has_no_second_sprue():
    """A ball on a stalk in a cage: nothing can be brought to it straight from outside."""
    cage = M.sphere(9, 48) - M.sphere(8, 48)
    for turn in ((0, 0, 0), (90, 0, 0), (0, 90, 0)):
        cage = cage - M.cylinder(30, 1.0, 1.0, 24, True).rotate(turn)
    body = cage + M.sphere(3, 48) + M.cylinder(9, 0.5, 0.5, 24).rotate((45, 0, 0))
    _, cut = cut_of(pattern(from_manifold(body)))
    assert cut is not None
    assert cut.attachment is None
    assert proposal(cut) is None


def test_a_plate_is_fed_from_its_rim_where_its_edge_is_farther_than_a_bars_corner():
    """A signet's table is 3.8 mm thick and its flanks are 5 mm from its middle: 2.6 radii, and yet the way in is full."""
    _, cut = cut_of(shaped("signet", triangle_count=10_000, bore_mm=58 / np.pi))
    assert cut.attachment.words.startswith("side of the head")
    assert abs(cut.attachment.normal[1]) > 0.9


@pytest.mark.parametrize("name", ["signet"])
@pytest.mark.parametrize("larger", [0.8, 1.0, 1.6])
def test_the_second_sprue_is_no_thicker_than_the_section_that_it_stands_on(name, larger):
    """A bar of 7 mm would hang over the edge of a head of 3.8."""
    _, cut = cut_of(shaped(name, head_mm=2.4 * larger, table_width_mm=10.0 * larger))
    assert cut.attachment is not None
    assert 0 < cut.gauge_mm <= cut.section_mm
