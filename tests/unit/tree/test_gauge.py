"""Gauges of sprues and stems."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.steps.tree.gauge import fed_mm2, gauge_mm, gauges_mm, round_mm2, stem_mm
from tests.unit.tree.making import library

SECTIONS = st.floats(0.5, 60)


def gauge(section: float) -> float:
    return gauge_mm(section, library())


def stem(*gauges: float, socket: float = 8.0) -> float:
    return stem_mm(gauges, socket_mm=socket, library=library())


def test_stock_goes_in_half_millimetres():
    stock = gauges_mm(library())
    assert stock[:4] == (1.5, 2.0, 2.5, 3.0)
    assert {round(b - a, 9) for a, b in pairwise(stock)} == {0.5}


@given(SECTIONS)
def test_a_gauge_is_in_stock(section):
    assert gauge(section) in gauges_mm(library())


@given(SECTIONS, SECTIONS)
def test_a_larger_section_gets_no_thinner_sprue(one, other):
    small, large = sorted((one, other))
    assert gauge(small) <= gauge(large)


@given(st.floats(1.2, 55))
def test_what_stock_can_serve_lies_within_the_published_band(section):
    assert 0.7 <= round_mm2(gauge(section)) / section <= 1.5


def test_a_section_between_two_gauges_takes_the_thicker_unless_that_is_too_thick():
    assert gauge(7.2) == 3.0
    assert gauge(8.0) == 3.5
    assert round_mm2(2.0) / 2.0 > 1.5
    assert gauge(2.0) == 1.5


def test_a_huge_section_gets_the_heaviest_sprue():
    assert gauge(500) == gauges_mm(library())[-1]


def test_a_narrow_section_counts_whole_and_a_wide_plate_in_part():
    assert fed_mm2(8, thickness_mm=2, library=library()) == 8
    assert fed_mm2(200, thickness_mm=1.5, library=library()) == pytest.approx(6 * 1.5**2)


def test_a_usual_tree_has_a_usual_stem():
    assert stem(3, 3, 3, 3, 3, 3) == 8


def test_a_thick_sprue_asks_for_a_stem_half_as_thick_again():
    assert stem(6) == 9
    assert stem(7) == 10.5


def test_many_sprues_ask_for_a_thicker_stem_but_not_beyond_the_usual_most():
    assert stem(*[3] * 30) == 9.5
    assert stem(*[3] * 60) == 10


def test_the_stem_fills_the_socket_where_that_is_usual():
    assert stem(3, socket=9) == 9
    assert stem(3, socket=6) == 8
    assert stem(3, socket=14) == 10


@given(st.lists(st.sampled_from([1.5, 2.0, 3.0, 4.5, 6.0]), min_size=1, max_size=60), st.floats(4, 14))
def test_no_stem_is_thinner_than_published_or_than_its_thickest_sprue_needs(gauges, socket):
    found = stem(*gauges, socket=socket)
    assert found >= 7
    assert found >= 1.5 * max(gauges)
