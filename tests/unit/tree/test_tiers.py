"""Which pieces share a tier, and where they hang."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.steps.tree.tiers import dealt, first_azimuth_deg, partition

KINDS = st.lists(st.integers(0, 4), min_size=1, max_size=24).map(sorted)


@given(KINDS, st.integers(1, 8))
def test_tiers_take_all_pieces_in_their_order(kinds, tiers):
    if tiers > len(kinds):
        return
    groups = partition(tuple(kinds), tiers)
    assert len(groups) == tiers
    assert [kind for group in groups for kind in group] == kinds
    assert all(groups)


def test_pieces_alike_are_spread_evenly():
    assert [len(group) for group in partition((0,) * 12, 3)] == [4, 4, 4]
    assert sorted(len(group) for group in partition((0,) * 7, 2)) == [3, 4]


def test_kinds_are_kept_apart_where_it_costs_little():
    assert partition((0, 0, 1, 1, 1, 1), 2) == ((0, 0), (1, 1, 1, 1))


def test_a_single_odd_one_does_not_get_a_tier_of_its_own_among_many():
    groups = partition((0, *[1] * 11), 2)
    assert min(len(group) for group in groups) > 1


@given(KINDS)
def test_dealing_loses_no_piece(kinds):
    assert sorted(dealt(kinds)) == kinds


def test_heavy_and_light_go_round_in_turn():
    assert dealt([0, 0, 0, 1, 1, 1]) == [0, 1, 0, 1, 0, 1]
    assert dealt([0, 1, 2]) == [0, 2, 1]


@pytest.mark.parametrize("count", range(1, 11))
def test_no_piece_of_the_lowest_tier_hides_straight_behind_the_stem(count):
    start = first_azimuth_deg(count)
    assert start == round(start)
    sides = [
        abs(math.sin(math.radians(start + k * 360 / count)))
        for k in range(count)
        if math.cos(math.radians(start + k * 360 / count)) > 0
    ]
    assert min(sides) > 0.05


@pytest.mark.parametrize("count", range(2, 9))
def test_in_elevation_no_two_pieces_of_a_tier_stand_in_one_line(count):
    start = first_azimuth_deg(count)
    across = sorted(math.sin(math.radians(start + k * 360 / count)) for k in range(count))
    assert all(b - a > 0.02 for a, b in pairwise(across))
