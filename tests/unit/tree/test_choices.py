"""Places for a sprue to choose from: the proposed one first, the others apart from it and told for what they do."""

from functools import cache

import numpy as np
import pytest

from pourwell.steps.tree.attach import APART_SHARE, site, size_mm
from pourwell.steps.tree.choices import MOST, SIGHTS, choices, own_choice
from pourwell.steps.tree.probe import Ready, ready
from tests.unit.tree.making import library, shaped


@cache
def made(name: str) -> Ready:
    return ready(shaped(name))


@cache
def of(name: str):
    return choices(made(name), library())


@pytest.mark.parametrize("name", ["plain-band", "signet", "pendant"])
def test_the_place_by_shape_comes_first(name):
    ours = site(made(name), library()).attachment
    assert of(name)[0].sited.attachment == ours
    assert 1 <= len(of(name)) <= MOST


def test_a_band_alike_all_round_has_one_place():
    assert len(of("plain-band")) == 1
    assert of("plain-band")[0].cut is None


@pytest.mark.parametrize("name", ["signet", "pendant"])
def test_places_lie_apart(name):
    at = np.array([one.sited.attachment.at_mm for one in of(name)])
    assert len(at) >= 3
    gaps = np.linalg.norm(at[:, None] - at[None], axis=-1)[np.triu_indices(len(at), 1)]
    assert gaps.min() > APART_SHARE * size_mm(made(name))


def test_a_signet_is_offered_a_place_from_which_its_head_is_reached_better():
    ours, *others = of("signet")
    assert ours.cut is not None, "its heavy head is behind the shank"
    necks = [one.cut.neck_mm if one.cut else np.inf for one in others]
    assert max(necks) > 1.2 * ours.cut.neck_mm


def test_what_is_well_fed_and_out_of_sight_comes_before_what_is_not():
    order = [(one.cut is not None, SIGHTS.index(one.sight)) for one in of("signet")[1:]]
    assert order == sorted(order)


def test_a_place_of_the_users_own_is_told_in_the_same_way():
    piece = made("signet")
    low, high = piece.mesh.bounds
    top = own_choice(piece, (0.0, 0.0, float(high[2])), library())
    assert top.sited.attachment.chosen_by == "user"
    assert top.sight == "in sight", "the table of a signet is what it shows"
    back = own_choice(piece, (0.0, 0.0, float(low[2])), library())
    assert back.sight == "out of sight"


def test_on_a_ring_what_is_seen_depends_on_where_round_the_finger_it_stands():
    """Closed form: a place at an angle from the head; hidden only within 60 degrees of straight opposite it."""
    piece = made("signet")
    bore = piece.pattern.piece.bore
    outer = bore.diameter_mm / 2 + 2.0
    for turn_deg, sight in ((90, "seen from the side"), (-90, "seen from the side"), (150, "out of sight"), (210, "out of sight")):
        turn = np.radians(turn_deg)
        at = np.asarray(bore.centre_mm) + outer * (np.cos(turn) * piece.faces.head + np.sin(turn) * _across(piece))
        assert own_choice(piece, tuple(at.tolist()), library()).sight == sight, turn_deg
    assert own_choice(made("plain-band"), (11.0, 0.0, 0.0), library()).sight == "in sight", "a band shows itself all round"


def test_the_side_of_a_head_is_in_full_sight_though_it_looks_aside():
    piece = made("signet")
    bore = piece.pattern.piece.bore
    at = np.asarray(bore.centre_mm) + bore.diameter_mm / 2 * piece.faces.head + 10 * np.asarray(bore.axis)
    one = own_choice(piece, tuple(at.tolist()), library())
    assert abs(np.asarray(one.sited.attachment.normal) @ piece.faces.head) < 0.8
    assert one.sight == "in sight"


def _across(piece):
    return np.cross(np.asarray(piece.pattern.piece.bore.axis), piece.faces.head)


def test_a_place_in_the_bore_is_not_used_and_says_so():
    piece = made("signet")
    bore = piece.pattern.piece.bore
    found = own_choice(piece, (0.0, 0.0, bore.diameter_mm / 2), library())
    assert found.sited.attachment.chosen_by == "shape"
    assert found.sited.trouble == "it lies in the bore, so it is not used"
