"""The best rota of a week: small weeks whose answer can be told by hand."""

import itertools
from dataclasses import replace

import pytest

from pourwell.errors import UnsoundResultError
from pourwell.steps.day import rota as at_work
from pourwell.steps.day.rota import solve
from pourwell.steps.day.week import alike, fall_min
from pourwell.steps.day.week_loads import rules
from pourwell.steps.day.week_model import ROOM, Calendar, Firing, Goal, Rota, Week, WeekKiln, WeekRun, with_runs
from pourwell.steps.day.week_vars import fits, inside
from tests.unit.day.week_case import DAY, faults, hours, line, odd_min, run, week

EIGHT_FORTY = DAY + 520
"""Set out at eight, melt at 8:25, pour at 8:40 on the second day."""


def solved(given: Week, **how: object) -> Rota:
    """The rota, proven and without a fault."""
    rota = solve(given, **how)  # type: ignore[arg-type]
    assert rota.status == "proven"
    assert faults(given, rota) == []
    return rota


def kilned(own: WeekRun, **changes: object) -> WeekRun:
    """The run with its one firing changed."""
    (firing,) = own.firings
    return replace(own, firings=(replace(firing, **changes),))  # type: ignore[arg-type]


def test_one_flask_is_poured_as_soon_as_the_bench_opens_again():
    """16 h of burnout: from 8:35 (wrap and invest) set until 10:35, in at 10:50, over at 2:50; nobody pours before eight."""
    rota = solved(week(run()))
    assert rota.runs[0].pour_min == EIGHT_FORTY
    assert rota.goals == (Goal(key="last_pour", value=EIGHT_FORTY, bound=EIGHT_FORTY),)


def test_the_kiln_is_begun_no_sooner_than_its_programme_needs():
    rota = solved(week(run()))
    assert rota.loads[0].on_min == EIGHT_FORTY - 960
    assert rota.loads[0].on_min - rota.runs[0].starts["strip"] - 15 < 5, "and the flask goes in just before"


def test_a_short_burnout_is_poured_on_the_first_day():
    """35 min to wrap and invest from eight, 2 h set, 15 min strip, 5 h fire: a pour at 15:50."""
    assert solved(week(kilned(run(), total_min=300))).runs[0].pour_min == 480 + 35 + 120 + 15 + 300


def test_two_flasks_of_one_load_are_poured_in_turn():
    """The second: pour 3, wait 12, quench 15, set out 5, melt 15: 50 min later."""
    rota = solved(week(run(), run()))
    assert len(rota.loads) == 1
    assert [times.pour_min for times in rota.runs] == [EIGHT_FORTY, EIGHT_FORTY + 50]
    assert [times.set_out_min for times in rota.runs] == [25, 5]


def test_another_alloy_takes_another_crucible():
    rota = solved(week(run(), run(alloy="gold")))
    assert max(times.pour_min for times in rota.runs) == EIGHT_FORTY + 60
    assert sorted(times.set_out_min for times in rota.runs) == [15, 25]


def test_flasks_of_one_alloy_are_poured_one_after_the_other():
    """Silver, gold, silver: one change of crucible, not two."""
    rota = solved(week(run(), run(alloy="gold"), run()))
    assert max(times.pour_min for times in rota.runs) == EIGHT_FORTY + 50 + 60
    assert sorted(times.set_out_min for times in rota.runs) == [5, 15, 25]


def test_the_hotter_flask_is_poured_first_and_the_cooler_one_soaks():
    """30 degrees fall in 15 min; after the pour of 3 min and a soak of 60 the next is poured 78 min later, at the full five."""
    rota = solved(week(run(flask_c=510.0), run(flask_c=540.0)))
    assert [times.pour_min for times in rota.runs] == [EIGHT_FORTY + 80, EIGHT_FORTY]


def test_a_kiln_that_is_full_takes_the_rest_another_day():
    alone = kilned(run(), room_parts=ROOM)
    rota = solved(week(alone, alone))
    assert len(rota.loads) == 2
    assert rota.loads[1].on_min >= rota.runs[rota.loads[0].runs[0]].pour_min + 3 + 360


def test_two_kilns_fire_at_once():
    alone = run(firings=(Firing(total_min=960, free_after_min=360, fall_c_per_h=120.0, room_parts=ROOM),) * 2)
    rota = solved(week(alone, alone))
    assert {load.kiln for load in rota.loads} == {0, 1}
    assert max(times.pour_min for times in rota.runs) == EIGHT_FORTY + 70, "each load has a whole set-out"


def test_the_longest_programme_rules_its_load():
    rota = solved(week(kilned(run(), total_min=700), kilned(run(), total_min=960)))
    assert (rota.loads[0].ruling, len(rota.loads)) == (1, 1)


def test_which_programme_rules_is_asked_of_each_kiln():
    def firing(total):
        return Firing(total_min=total, fall_c_per_h=120.0)

    given = week(run(firings=(firing(900), firing(700))), run(firings=(firing(800), firing(800))))
    assert (rules(given, 0, 1, kiln=0), rules(given, 1, 0, kiln=0)) == (True, False)
    assert (rules(given, 0, 1, kiln=1), rules(given, 1, 0, kiln=1)) == (False, True)


def test_runs_that_may_not_share_are_fired_apart():
    assert len(solved(week(run(), run(), share=False)).loads) == 2


def test_a_pour_that_was_asked_for_is_kept_and_the_hold_is_stretched():
    asked = DAY + 480 + 7 * 60 + 2
    rota = solved(week(run(pour_at_min=asked)))
    assert rota.runs[0].pour_min == asked
    assert 0 <= asked - rota.loads[0].on_min - 960 <= 360


def test_the_first_of_all_pours_may_be_asked_for():
    rota = solved(week(run(), run(), first_pour_min=DAY + 601))
    assert sorted(times.pour_min for times in rota.runs) == [DAY + 601, DAY + 651]


def test_a_flask_is_poured_by_its_day():
    free = solved(week(kilned(run(), room_parts=ROOM), kilned(run(alloy="gold"), room_parts=ROOM)))
    late = next(i for i in (0, 1) if free.runs[i].pour_min == max(t.pour_min for t in free.runs))
    wanted = [run(), run(alloy="gold")]
    wanted[late] = replace(wanted[late], pour_by_min=2 * DAY - 1)
    rota = solved(week(*(kilned(own, room_parts=ROOM) for own in wanted)))
    assert rota.runs[late].pour_min < 2 * DAY


def test_nothing_is_begun_before_the_patterns_are_there():
    lines = {**run().lines, "patterns": line(20, waits=75), "tree": line(45)}
    rota = solved(week(run(lines=lines, ready_min=DAY + 600)))
    assert rota.runs[0].starts["patterns"] >= DAY + 600
    assert rota.runs[0].pour_min == 2 * DAY + 520


def test_a_flask_does_not_stand_longer_than_its_investment_allows():
    """Four hours from eight to noon: with a limit of three hours between investing and kiln a longer set cannot be waited out."""
    given = week(run(set_min=170, stand_max_min=180), calendar=short_days())
    rota = solved(given)
    stood = rota.loads[0].on_min - 15 - rota.runs[0].starts["invest"] - 20
    assert stood <= 180


def short_days() -> Calendar:
    work = hours(6, 480, 720)
    return Calendar(work=work, easy=work, awake=hours(6, 420, 1380))


def test_bagged_damp_it_may_stand_overnight_and_it_is_told_which():
    tight = week(run(set_min=230, stand_max_min=240, wait_max_min=600), calendar=short_days())
    assert solve(tight).status == "nothing", "set for 230 min from 8:35 it is stripped after noon"
    given = replace(tight, bag_damp=True, bag_max_min=DAY)
    rota = solved(given)
    assert rota.runs[0].bagged
    assert rota.goals[-1] == Goal(key="bagged", value=1, bound=1)


def test_no_flask_is_bagged_that_need_not_be():
    rota = solved(week(run(), bag_damp=True, bag_max_min=DAY))
    assert not rota.runs[0].bagged


def test_a_day_that_has_no_hours_is_left_out():
    work = hours(6, 480, 1140, off=(1,))
    given = week(run(), calendar=Calendar(work=work, easy=work, awake=hours(6, 420, 1380)))
    rota = solved(given)
    assert rota.runs[0].pour_min == 3 * DAY + 520, "from the first day it would stand at temperature for a day"
    assert solved(with_runs(given, wait_max_min=2 * DAY)).runs[0].pour_min == 2 * DAY + 520


def test_firing_overnight_can_be_forbidden():
    assert solve(week(run(), overnight=False)).status == "nothing"
    rota = solved(week(kilned(run(), total_min=420), overnight=False))
    assert rota.runs[0].pour_min < DAY


def test_a_kiln_is_begun_by_hand_unless_it_can_begin_alone():
    long = kilned(run(stand_max_min=900), total_min=1500)
    given = week(long)
    alone = replace(given, kilns=(WeekKiln(name="kiln", delayed_start=True),))
    by_hand, itself = solved(given), solved(alone)
    assert any(a <= by_hand.loads[0].on_min <= b for a, b in given.calendar.work)
    assert max(t.pour_min for t in itself.runs) <= max(t.pour_min for t in by_hand.runs)


def test_set_points_fall_into_waking_hours():
    """Set at once, after 5 h and after 15 h: begun in the afternoon the last one would fall into the night."""
    own = kilned(run(), set_at_min=(0, 300, 900), total_min=960)
    rota = solved(week(own))
    awake = week(own).calendar.awake
    for at in (0, 300, 900):
        assert any(a <= rota.loads[0].on_min + at <= b for a, b in awake)


def test_one_pair_of_hands_sets_the_kiln_too():
    own = kilned(run(), set_at_min=(0, 240), total_min=700)
    rota = solved(week(own, run(alloy="gold", pour_by_min=None)))
    assert rota.fits


def test_work_at_odd_hours_is_the_second_goal():
    work, easy = hours(6, 480, 1140), hours(6, 600, 1020)
    given = week(run(), calendar=Calendar(work=work, easy=easy, awake=hours(6, 420, 1380)))
    rota = solved(given)
    assert rota.runs[0].pour_min == EIGHT_FORTY, "the earlier pour counts for more"
    assert rota.goals[1] == Goal(key="odd", value=50, bound=50), "only set-out to quench lie before ten"


def test_an_air_cooled_flask_is_knocked_out_when_it_has_cooled():
    rota = solved(week(run(water=False, cool_min=150)))
    assert rota.runs[0].starts["quench"] >= rota.runs[0].pour_min + 153


def test_between_pours_into_air_only_the_vacuum_is_waited_for():
    rota = solved(week(run(water=False, cool_min=150), run(water=False, cool_min=150)))
    assert sorted(times.pour_min for times in rota.runs)[1] == EIGHT_FORTY + 25, "3 min pour, 20 melt: the next full five"


def test_a_run_that_no_kiln_takes_fits_nowhere():
    assert solve(week(run(firings=(None,)))).status == "nothing"


def test_a_search_that_is_cut_off_says_so():
    rota = solve(week(*[run(alloy=a, flask_c=c) for a in "abc" for c in (480.0, 540.0)]), effort=1e-6)
    assert rota.status in ("unknown", "found")
    assert rota.status == "unknown" or not all(goal.proven for goal in rota.goals)


def test_a_goal_is_proven_when_its_bound_reaches_it():
    assert Goal(key="odd", value=20, bound=20).proven
    assert not Goal(key="odd", value=20, bound=5).proven


@pytest.mark.parametrize(("minutes", "after", "steps"), [(50, 0, [(0, 10), (40, 48)]), (101, 0, []), (30, 42, [(9, 14), (40, 52)])])
def test_a_line_begins_at_full_steps_where_it_fits(minutes, after, steps):
    found = fits([(0, 100), (200, 290)], minutes, after_min=after)
    assert found == steps


def test_all_moments_of_a_programme_must_fall_into_the_windows():
    assert inside([(0, 100), (200, 300)], (0, 150), 400) == [(50, 100)]
    assert inside([(0, 100)], (0, 150), 400) == []


def test_runs_that_are_alike_in_all_but_name_change_places_freely():
    given = week(run(name="a"), run(name="b"), run(name="c", alloy="gold"))
    a, b, c = given.runs
    assert alike(a, b, i=0, j=1)
    assert not alike(a, c, i=0, j=2)


def test_the_slowest_kiln_sets_how_long_a_fall_takes():
    """From 540: 60 an hour for 30 degrees, and far down as Newton says: 240 degrees at a mean of 48, typed 45, take 5 h 20 min."""
    slow = Firing(total_min=900, fall_c_per_h=60.0)
    given = week(run(flask_c=540.0, firings=(slow, replace(slow, fall_c_per_h=120.0))))
    assert fall_min(given, 0, 510.0) == 30
    assert fall_min(given, 0, 300.0) == 320


@pytest.mark.parametrize(
    "closed",
    [
        {"work": (), "easy": (), "awake": ()},
        {"work": ((0, 20),), "easy": ((0, 20),), "awake": ((0, 20),)},
        {"work": hours(6, 480, 1140), "easy": (), "awake": hours(6, 420, 1380)},
        {"work": hours(6, 480, 1140), "easy": hours(6, 480, 1140), "awake": ()},
    ],
)
def test_weeks_without_open_hours_are_answered_not_broken(closed):
    """No hours at all, hours too short, none that are comfortable, nobody ever awake."""
    by_hand = kilned(run(), set_at_min=(0, 60))
    given = week(by_hand, calendar=Calendar(**closed))
    rota = solve(given)
    assert rota.status == ("nothing" if not closed["awake"] or closed["work"] in ((), ((0, 20),)) else "proven")
    assert not rota.fits or faults(given, rota) == []


def test_what_is_ready_after_the_last_hour_fits_nowhere():
    assert solve(week(run(ready_min=20 * DAY))).status == "nothing"


def test_a_week_of_six_runs_is_proven_with_little_work():
    """The solver's own count of work is the same on every machine; five of its units are about five seconds."""
    made = [
        run(alloy=alloy, flask_c=flask_c, water=alloy != "bronze", cool_min=100 if alloy == "bronze" else 12)
        for alloy, flask_c in zip(("silver", "gold", "bronze") * 2, (540.0, 565.0, 480.0) * 2, strict=True)
    ]
    third = [kilned(own, room_parts=ROOM // 3, total_min=700 + 40 * k) for k, own in enumerate(made)]
    work = hours(12, 480, 1140, off=(6,))
    given = week(*third, days=12, calendar=Calendar(work=work, easy=hours(12, 540, 1020, off=(6,)), awake=hours(12, 420, 1380)))
    rota = solved(given, effort=5.0)
    assert len(rota.loads) == 2
    assert [goal.key for goal in rota.goals] == ["last_pour", "odd"]


def cut_off(monkeypatch, *which):
    """Have the solver end without an answer at these of its calls."""
    calls = itertools.count(1)

    def solved_or_not(model, effort):
        return (None, "UNKNOWN") if next(calls) in which else as_it_is(model, effort)

    as_it_is = at_work._solved
    monkeypatch.setattr(at_work, "_solved", solved_or_not)


SHORT = {"work": hours(6, 480, 1140), "easy": hours(6, 600, 900), "awake": hours(6, 420, 1380)}


@pytest.mark.parametrize("tidy", [True, False])
@pytest.mark.parametrize("alloys", [("silver",), ("silver", "gold"), ("silver", "silver", "gold")])
def test_a_goal_without_an_answer_is_told_as_the_rota_is(monkeypatch, alloys, tidy):
    """The odd minutes are counted anew from the moments of the rota, by rules that know nothing of the solver."""
    given = week(*(run(alloy=alloy) for alloy in alloys), calendar=Calendar(**SHORT), bag_damp=True, bag_max_min=DAY)
    cut_off(monkeypatch, 2)
    rota = solve(given, tidy=tidy)
    last, odd, bagged = rota.goals
    assert faults(given, rota) == []
    assert (odd.key, odd.value, odd.bound) == ("odd", odd_min(given, rota), 0)
    assert rota.status == "found"
    assert last.proven
    assert last.value == max(times.pour_min for times in rota.runs)
    assert (bagged.key, bagged.value) == ("bagged", sum(times.bagged for times in rota.runs)), "the next goal is asked all the same"


def test_tidying_makes_no_goal_worse_that_had_no_answer(monkeypatch):
    given = week(run(), run(alloy="gold"), calendar=Calendar(**SHORT))
    cut_off(monkeypatch, 2)
    loose = solve(given, tidy=False).goals[1].value
    monkeypatch.undo()
    cut_off(monkeypatch, 2)
    assert solve(given).goals[1].value <= loose


@pytest.mark.parametrize("which", [(2, 3), (3,), (2, 3, 4), (4,)])
def test_whatever_has_no_answer_all_goals_are_told_as_the_rota_is(monkeypatch, which):
    given = week(run(set_min=150, stand_max_min=160), calendar=Calendar(**SHORT), bag_damp=True, bag_max_min=DAY)
    cut_off(monkeypatch, *which)
    rota = solve(given)
    assert faults(given, rota) == []
    told = {goal.key: goal.value for goal in rota.goals}
    assert told == {"last_pour": rota.runs[0].pour_min, "odd": odd_min(given, rota), "bagged": int(rota.runs[0].bagged)}


def test_rules_that_refuse_what_they_let_through_are_no_answer(monkeypatch):
    answers = iter([at_work._solved, lambda *_: (None, "INFEASIBLE")])
    monkeypatch.setattr(at_work, "_solved", lambda model, effort: next(answers)(model, effort))
    with pytest.raises(UnsoundResultError, match="let through before"):
        solve(week(run(), calendar=Calendar(**SHORT)))
