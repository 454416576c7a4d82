"""From a worked-out flask to whole minutes and room in a kiln."""

import math
from dataclasses import replace

import pytest

from pourwell.errors import BadRequestError
from pourwell.materials.studio import Kiln
from pourwell.steps.day.turns import tasks
from pourwell.steps.day.week_model import ROOM
from pourwell.steps.day.week_runs import Wish, cooling_min, firings, may_share, week_runs
from tests.unit.day.weeks import asked, entry, library, studio, two_kilns


def test_durations_are_those_of_the_list_of_tasks_and_of_nothing_else():
    given = asked("rings", "bronze")
    for candidate, own in zip(given.candidates, given.runs, strict=True):
        before, behind = tasks(candidate.work, library())
        by_key = {task.key: task for task in (*before, *behind)}
        for key, line in own.lines.items():
            assert (line.whole_min, line.hands_min) == (math.ceil(by_key[key].whole_min), math.ceil(by_key[key].hands_on_min))
        assert own.cool_min == math.ceil(by_key["stand"].whole_min)
        assert own.first_set_out_min == by_key["setout"].whole_min
        assert own.firings[0].total_min == candidate.programmes[0].total_min
        assert own.set_min == by_key["set"].whole_min


def test_a_tree_that_stands_ready_has_no_patterns_to_look_over():
    rings, signets = asked("rings", "signets").runs
    assert {"patterns", "tree"} <= set(rings.lines)
    assert not {"patterns", "tree"} & set(signets.lines)


def test_moments_are_minutes_from_the_first_one():
    from tests.unit.day.weeks import MONDAY

    given = asked(entry("rings", pour_at=MONDAY.replace(day=2, hour=10), ready_at=MONDAY.replace(hour=9)))
    (own,) = given.runs
    assert (own.pour_at_min, own.ready_min, own.pour_by_min) == (1560, 60, None)


def test_flasks_share_a_load_where_they_take_the_same_programme():
    rings, signets, bronze, stones = asked("rings", "signets", "bronze", "stones").candidates
    assert may_share(rings, signets)
    assert not may_share(rings, bronze), "resin and wax burn out by different programmes"
    assert not may_share(bronze, stones), "stones stand no high programme"
    assert asked("rings", "signets", "bronze").runs[0].shares_with == {1}


def test_runs_that_are_kept_apart_share_with_their_own_flasks_alone():
    given = asked(entry("studs", flasks_count=2), "signets", fire_apart=True)
    assert [run.shares_with for run in given.runs] == [{1}, {0}, frozenset()]
    first, second, other = given.candidates
    assert may_share(first, second)
    assert not may_share(second, other), "they take the same programme, but are not to stand together"
    assert [one.fired[0].case.flasks_count for one in given.candidates] == [2, 2, 1], "who stands beside it is of its own run"
    together = asked(entry("studs", flasks_count=2), "signets").candidates
    assert {one.fired[0].case.flasks_count for one in together} == {3}


def test_stones_are_held_for_their_turn_but_not_for_the_hours():
    alone, (first, second) = asked("stones").runs[0], asked("stones", "stones").runs
    assert alone.wait_max_min == 0
    assert 0 < first.wait_max_min == second.wait_max_min < 60
    assert asked("rings").runs[0].wait_max_min == 360
    assert asked("rings", wait_max_min=90).runs[0].wait_max_min == 90


def test_by_hand_a_cooler_flask_may_wait_until_the_kiln_has_fallen_to_it_and_it_has_soaked():
    """Hand sum: the other's turn takes 5 + 10 + 15 + 3 + 15 min and its time to the quench; 25 K at 120 K/h are 12.5 min.

    The rings need 3 + 13 + 60 = 76 min after the pour of the signets, with an hour of soak.
    """
    signets, rings = asked("signets", "rings", of=studio(kiln=Kiln(segments_count=0))).runs
    assert (signets.flask_c, rings.flask_c) == (565, 540)
    turn = 5 + 10 + 15 + 3 + 15
    assert signets.wait_max_min == turn + rings.cool_min
    assert rings.wait_max_min == turn + signets.cool_min + 13 + 60 > 76


def test_a_large_flask_takes_more_of_the_room():
    given = asked("rings", "signets", of=studio(kiln=Kiln(width_mm=250, depth_mm=240)))
    large, small = (own.firings[0].room_parts for own in given.runs)
    assert (large, small) == (ROOM // 4, ROOM // 4)
    given = asked("rings", "signets", of=studio(kiln=Kiln(width_mm=215, depth_mm=215)))
    large, small = (own.firings[0].room_parts for own in given.runs)
    assert (large, small) == (ROOM, ROOM // 4)


def test_a_flask_that_no_kiln_holds_is_told_in_a_sentence():
    with pytest.raises(BadRequestError) as told:
        asked("rings", of=studio(kiln=Kiln(height_mm=110)))
    assert told.value.what == "The flask of rings fits no kiln."
    assert "100 mm high" in told.value.why


def test_a_kiln_may_be_asked_for_by_its_name():
    given = asked(entry("rings", kiln="small"), of=two_kilns())
    assert [firing is None for firing in given.runs[0].firings] == [True, False]
    with pytest.raises(BadRequestError, match='No kiln is called "tiny"'):
        asked(entry("rings", kiln="tiny"), of=two_kilns())


def test_a_kiln_cools_as_newton_says_until_a_damp_flask_may_go_in():
    """At 120 an hour at 500 in a room of 20, from 540: 4 h times ln(520/130) = 5 h 33 min."""
    kiln = Kiln(fall_c_per_h=120.0)
    assert cooling_min(540.0, kiln=kiln, library=library()) == math.ceil(480 / 120 * math.log(4) * 60)
    assert cooling_min(150.0, kiln=kiln, library=library()) == 0
    assert cooling_min(540.0, kiln=Kiln(fall_c_per_h=240.0), library=library()) < 200


def test_a_line_that_is_longer_than_the_day_is_told():
    with pytest.raises(BadRequestError) as told:
        asked(entry("rings", pieces_count=300))
    assert told.value.what == "rings: building the tree takes 25 h 15 min in one go."
    with pytest.raises(BadRequestError, match="wrapping and investing takes"):
        asked("signets", work_from=_hour(10), work_to=_hour(10, 30))


def _hour(hour: int, minute: int = 0):
    from datetime import time

    return time(hour, minute)


def test_a_kiln_set_by_hand_is_set_at_the_programmes_moments():
    given = asked("signets", of=studio(kiln=Kiln(segments_count=0)))
    points = given.candidates[0].programmes[0].by_hand
    assert given.runs[0].firings[0].set_at_min == tuple(point.at_min for point in points) != ()


def test_each_kiln_has_a_programme_of_its_own():
    given = asked("signets", of=studio(kilns=(Kiln(name="a", fall_c_per_h=120), Kiln(name="b", fall_c_per_h=60))))
    quick, slow = given.runs[0].firings
    assert slow.total_min > quick.total_min
    assert slow.free_after_min > quick.free_after_min


def test_the_words_of_the_week_do_not_depend_on_the_order_of_its_runs():
    there, back = asked("rings", "signets"), asked("signets", "rings")
    own = [replace(r, shares_with=frozenset()) for r in there.runs]
    assert own == [replace(r, shares_with=frozenset()) for r in back.runs[::-1]]
    wishes = [Wish(), Wish()]
    again = week_runs(there.candidates, wishes, terms=there.terms, kilns=(Kiln(),), wait_max_min=None, library=library())
    assert again == there.runs
    assert firings(there.candidates[0], Wish(), kilns=(Kiln(),), library=library()) == there.runs[0].firings
