"""A week in words that the command line and the desk share."""

from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from pourwell.app.days_told import goal_words, named, runs_words

LAST = datetime(2027, 3, 5, 10, 40, tzinfo=UTC)


def week(*goals, status="proven", tried=None):
    """As much of a plan as its sentence is made of."""
    made = [SimpleNamespace(key=key, value=value) for key, value in goals]
    return SimpleNamespace(last_pour_at=LAST, goals=made, status=status, tried_apart_min=tried)


def test_the_last_pour_stands_first_and_what_is_proven_is_said():
    assert goal_words(week(("last_pour", 600))) == "last pour Friday 05 March, 10:40: nothing sooner fits."


def test_what_is_not_proven_is_not_said_to_be():
    assert goal_words(week(("last_pour", 600), status="found")) == "last pour Friday 05 March, 10:40."


def test_of_a_kiln_set_by_hand_it_is_the_soonest_of_those_tried():
    words = goal_words(week(("last_pour", 600), tried=120))
    assert words == "last pour Friday 05 March, 10:40: the soonest of those tried, 120 min apart."


def test_odd_hours_are_told_and_bagged_flasks_where_there_are_any():
    words = goal_words(week(("last_pour", 600), ("odd", 25), ("bagged", 2)))
    assert words == "last pour Friday 05 March, 10:40; 25 min of work at odd hours; 2 bagged damp: nothing sooner fits."
    assert "bagged" not in goal_words(week(("bagged", 0)))


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("Studs", "Studs, sterling silver"),
        ("sterling silver 2", "sterling silver 2"),
        ("old sterling silver", "old sterling silver"),
    ],
)
def test_a_run_is_named_with_its_alloy_once(name, says):
    assert named(SimpleNamespace(name=name, alloy_name="sterling silver")) == says


def test_numbers_of_runs_are_one_or_several():
    assert (runs_words([2]), runs_words([1, 3])) == ("run 2", "runs 1, 3")
