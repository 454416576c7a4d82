"""Flasks of one kiln load at one pair of hands: no two hands-on parts overlap, whatever the flasks are and however they cool."""

from dataclasses import replace
from itertools import pairwise, product

import pytest

from pourwell.steps.day.turns import FROM_KILN, tasks, timetable, turns_min
from tests.unit.day.test_schedule import LIBRARY, WORK

WET = replace(WORK, quench=replace(WORK.quench, way="water"))
AIR = replace(WORK, quench=replace(WORK.quench, way="air"))
RULE = LIBRARY.rule
LOADS = [list(load) for count in (1, 2, 3) for load in product((WET, AIR), repeat=count)]


def says(load):
    return "-".join(work.quench.way for work in load)


@pytest.mark.parametrize("load", LOADS, ids=says)
def test_one_pair_of_hands_is_never_in_two_places(load):
    lines = [line for flask in timetable(load, LIBRARY) for line in flask if line.task.hands_on_min]
    busy = sorted((line.start_min, line.start_min + line.task.hands_on_min) for line in lines if line.task.key != "kiln")
    for (_, before_ends), (next_begins, _) in pairwise(busy):
        assert next_begins >= before_ends - 1e-9


@pytest.mark.parametrize("load", LOADS, ids=says)
def test_the_lines_of_a_flask_touch_each_other_from_the_wrap_to_the_saw(load):
    for flask in timetable(load, LIBRARY):
        assert [line.task.key for line in flask] == ["wrap", "invest", "set", "strip", *FROM_KILN]
        for line, after in pairwise(flask):
            assert line.end_min == pytest.approx(after.start_min)
            assert line.task.whole_min >= line.task.hands_on_min - 1e-9


@pytest.mark.parametrize("load", LOADS, ids=says)
def test_all_flasks_go_into_the_kiln_together_when_it_is_switched_on(load):
    on_min = {line.start_min for flask in timetable(load, LIBRARY) for line in flask if line.task.key == "kiln"}
    assert on_min == {-float(load[0].programme.total_min)}


@pytest.mark.parametrize("load", LOADS, ids=says)
def test_no_flask_sets_shorter_than_it_must_and_none_is_knocked_out_sooner_than_it_cools(load):
    for work, flask in zip(load, timetable(load, LIBRARY), strict=True):
        by_key = {line.task.key: line for line in flask}
        assert by_key["set"].task.whole_min >= work.mix.set_h * 60 - 1e-9
        assert by_key["stand"].task.whole_min >= work.quench.cool_min - 1e-9
        assert by_key["pickle"].task.whole_min >= RULE("pickle_min")


def test_the_first_pour_is_the_hour_that_all_is_counted_from():
    for load in LOADS:
        turns = turns_min(load, LIBRARY)
        assert turns[0] == 0.0
        assert len(turns) == len(load)
        assert list(turns) == sorted(set(turns))


def test_after_water_the_next_is_poured_a_pour_a_wait_a_quench_and_a_melt_later():
    slow = replace(WET, quench=replace(WET.quench, cool_min=30))
    quick = replace(WET, quench=replace(WET.quench, cool_min=10))
    assert turns_min([slow, WET], LIBRARY)[1] - turns_min([quick, WET], LIBRARY)[1] == 20
    by_hand = RULE("pour_min") + 10 + RULE("quench_min") + RULE("set_out_next_min") + RULE("melt_min")
    assert turns_min([quick, WET], LIBRARY)[1] == by_hand


def test_in_air_the_next_waits_for_the_vacuum_only_where_that_is_longer_than_its_melt():
    melt = RULE("set_out_next_min") + RULE("melt_min")
    for vacuum, busy in ((0.0, melt), (melt - 1, melt), (melt + 7, melt + 7)):
        assert turns_min([replace(AIR, vacuum_min=vacuum), AIR], LIBRARY)[1] == RULE("pour_min") + busy


def test_the_last_flask_holds_nobody_up():
    late = replace(WET, quench=replace(WET.quench, cool_min=500))
    assert turns_min([WET, late], LIBRARY) == turns_min([WET, WET], LIBRARY)


def test_what_cools_in_air_is_opened_only_when_the_last_pour_is_over():
    flasks = timetable([AIR, AIR, AIR], LIBRARY)
    last = next(line for line in flasks[-1] if line.task.key == "pour").end_min
    opened = [line.start_min for flask in flasks for line in flask if line.task.key == "quench"]
    assert all(moment >= last for moment in opened)
    assert all(b - a >= RULE("quench_min") for a, b in pairwise(opened))


def test_a_longer_load_reaches_further_on_both_sides():
    """More flasks are invested sooner and cut off later."""
    spans = []
    for count in (1, 2, 3):
        lines = [line for flask in timetable([WET] * count, LIBRARY) for line in flask]
        spans.append((min(line.start_min for line in lines), max(line.end_min for line in lines)))
    assert spans[0][0] > spans[1][0] > spans[2][0]
    assert spans[0][1] < spans[1][1] < spans[2][1]


def test_resin_is_washed_by_hand_and_dries_by_itself():
    wax, resin = (tasks(replace(WORK, kinds_count=2, resin=kind), LIBRARY)[0][0] for kind in (False, True))
    assert resin.hands_on_min - wax.hands_on_min == RULE("resin_wash_min")
    assert resin.whole_min - resin.hands_on_min == RULE("resin_dry_min") + RULE("resin_cure_min")
    assert wax.whole_min == wax.hands_on_min == 2 * RULE("look_over_min")


def test_a_tree_takes_so_much_more_for_each_piece_and_so_does_the_saw():
    def minutes(pieces, key):
        return next(
            t.whole_min for part in tasks(replace(WORK, kinds_count=1, pieces_count=pieces), LIBRARY) for t in part if t.key == key
        )

    assert minutes(9, "tree") - minutes(4, "tree") == 5 * RULE("sprue_one_min")
    assert minutes(9, "cut") - minutes(4, "cut") == 5 * RULE("cut_one_min")


def test_a_tree_on_the_scale_has_no_patterns_to_look_over():
    before, _ = tasks(replace(WORK, kinds_count=0), LIBRARY)
    assert [task.key for task in before][:2] == ["wrap", "invest"]


def test_only_work_that_can_lie_overnight_may_be_done_sooner():
    before, behind = tasks(replace(WORK, kinds_count=2), LIBRARY)
    assert [task.key for task in (*before, *behind) if task.free] == ["patterns", "tree"]
