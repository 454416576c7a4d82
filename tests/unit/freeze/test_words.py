"""Times and verdicts as the bench says them."""

import pytest

from pourwell.steps.freeze.words import (
    QUENCH_SIGN,
    about,
    ball_mm,
    banded,
    bench_time,
    fed_words,
    latest,
    listed,
    numbered,
    outward,
    verdict_words,
)
from tests.unit.freeze.made import clock, freezing, spell


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.4, "0 s"),
        (6.4, "6 s"),
        (59.4, "59 s"),
        (59.6, "1 min"),
        (74.9, "1 min"),
        (75.1, "1.5 min"),
        (95.0, "1.5 min"),
        (134.0, "2 min"),
        (484.7, "8 min"),
        (500.0, "8.5 min"),
    ],
)
def test_times_are_told_as_the_bench_reads_them(seconds, said):
    """Whole seconds under a minute, then half minutes; never "60 s"."""
    assert bench_time(seconds) == said


def test_a_time_is_told_without_and_with_its_band():
    assert about(spell(68.0, 53.0, 92.0)) == "1 min"
    assert banded(spell(68.0, 53.0, 92.0)) == "53 s to 1.5 min"


def test_a_time_that_someone_waits_for_is_rounded_outward():
    """Who lets go of the vacuum at the late end must not be early."""
    assert outward(spell(80.0, 73.0, 103.0)) == "1 to 2 min"
    assert outward(spell(50.0, 43.7, 59.2)) == "43 s to 1 min"
    assert outward(spell(12.0, 11.5, 12.5)) == "11 to 13 s"
    assert latest(spell(80.0, 73.0, 103.0)) == "2 min"
    assert latest(spell(80.0, 73.0, 90.0)) == "1.5 min"
    assert latest(spell(40.0, 30.0, 41.2)) == "42 s"


def test_a_band_that_is_narrower_than_the_bench_reads_is_one_time():
    assert banded(spell(20.0, 19.6, 20.4)) == "20 s"


def test_a_tree_whose_pieces_all_stay_fed_is_told_in_one_sentence():
    assert verdict_words(freezing(clock(1), clock(2, "B"))) == "Every piece stays fed until it is solid."


def test_one_piece_that_is_cut_off_is_named():
    said = verdict_words(freezing(clock(1), clock(2, "B", "cut off")))
    assert said == "Piece 2 is cut off from the button before it is solid."


def test_several_are_named_in_one_sentence_and_the_uncertain_in_another():
    said = verdict_words(freezing(clock(1, "A", "cut off"), clock(3, "A", "cut off"), clock(4, "B", "uncertain")))
    first, second = said.split(". ")
    assert first == "Pieces 1, 3 are cut off from the button before they are solid"
    assert second == "Piece 4 may be cut off: a slow and a fast mould disagree."


def test_many_are_not_all_listed():
    said = verdict_words(freezing(*(clock(n, "A", "cut off") for n in range(1, 21, 2))))
    assert "Pieces 1, 3, 5, 7, 9, 11 and 4 more are cut off" in said


def test_a_fed_sprue_is_told_with_the_section_behind_it():
    assert fed_words(clock(3, "A", section=8.1)) == "piece A behind it needs feed until 8 s: fed"


def test_a_lost_one_is_told_with_what_it_misses():
    said = fed_words(clock(3, "B", "cut off", section=23.6, void=(1.04, 28.2)))
    assert said == "piece B behind it needs feed until 24 s: cut off, pits up to a ball of 3.8 mm"


def test_a_band_within_one_unit_names_it_once():
    assert banded(spell(20.0, 12.0, 31.0)) == "12 to 31 s"
    assert banded(spell(400.0, 300.0, 500.0)) == "5 to 8.5 min"


def test_several_that_may_be_cut_off_are_told_with_why():
    said = verdict_words(freezing(clock(1, verdict="uncertain"), clock(2, verdict="uncertain")))
    assert said == "Pieces 1, 2 may be cut off: a slow and a fast mould disagree."


def test_a_ball_of_two_millimetres_holds_four_thirds_pi():
    assert ball_mm(4.18879) == pytest.approx(2.0, rel=1e-5)
    assert ball_mm(0.0) == 0.0


def test_the_quench_goes_by_the_sign():
    assert "No red on the button" in QUENCH_SIGN
    assert "never minutes alone" in QUENCH_SIGN


@pytest.mark.parametrize(
    ("places", "said"),
    [
        ([3], "3"),
        ([2, 1], "1, 2"),
        ([1, 2, 3, 4], "1 to 4"),
        ([9, 1, 2, 3, 7, 8], "1 to 3, 7 to 9"),
        ([1, 2, 5], "1, 2, 5"),
        ([1, 3, 5, 7, 9, 11, 13, 14], "1, 3, 5, 7, 9, 11 and 2 more"),
    ],
)
def test_numbers_in_a_row_are_told_from_the_first_to_the_last(places, said):
    assert listed(places) == said


def test_numbers_come_with_their_word():
    assert numbered([4]) == "piece 4"
    assert numbered([1, 2, 3]) == "pieces 1 to 3"
