"""Several runs from the outside: what is asked arrives, what cannot be is told in a sentence, what nothing fits gets offers."""

from datetime import UTC, date, datetime, time

import pytest

from pourwell.app.days_told import goal_words
from pourwell.errors import BadRequestError
from pourwell.job import plan_runs
from pourwell.materials.studio import Kiln
from pourwell.request import Request
from pourwell.steps.day.nothing_fits import NothingFitsError
from pourwell.week import usual_weight_g
from tests.unit.day.weeks import MONDAY, asked, entry, library, placed, planned, studio, two_kilns


def refused(*runs, **week) -> BadRequestError:
    with pytest.raises(BadRequestError) as told:
        placed(*runs, **week)
    return told.value


@pytest.mark.parametrize("name", ["rings", "signets", "stones"])
def test_a_week_of_one_run_is_poured_no_later_than_its_own_plan(name):
    """Both read the same durations; the plan looks every quarter of an hour, the week every five minutes and freely in between."""
    run = entry(name, pieces_count=0, kinds_count=0)
    (plan,) = plan_runs(run.request, (), studio=studio(), library=library(), now=MONDAY, tell=lambda _: None)
    week = placed(run)
    assert week.last_pour_at <= plan.pour_at
    assert week.loads[0].programme.segments[:-1] == plan.programme.segments[:-1]
    assert week.runs[0].flask_c == plan.temperatures.flask_c


def test_three_flasks_two_alloys_one_kiln_are_one_load():
    plan = planned("rings", "signets", "studs")
    (load,) = plan.loads
    assert sorted(load.runs) == [1, 2, 3]
    assert load.runs[0] == 2, "gold is poured from the hotter flask"
    assert plan.status == "proven"


def test_start_now_is_the_earliest_in_working_hours():
    plan = placed("signets", now=datetime(2027, 3, 1, 16, 0, tzinfo=UTC))
    assert plan.starts_at == datetime(2027, 3, 1, 16, 0, tzinfo=UTC)
    assert plan.runs[0].timeline[0].starts_at >= plan.starts_at
    first = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
    assert placed("signets", now=first).last_pour_at <= plan.last_pour_at


def test_days_off_and_hours_of_the_week_win_over_the_studios():
    plan = placed("rings", days_off=("Tuesday",), work_to=time(20, 0))
    assert plan.closed_days[:2] == (date(2027, 3, 2), date(2027, 3, 9))
    assert all(e.starts_at.weekday() != 1 for run in plan.runs for e in run.timeline if e.hands_on_min)
    assert plan.work_hours == (time(8), time(20))


def test_comfortable_hours_shrink_with_the_hours_of_the_week():
    given = asked("rings", of=studio(easy_from=time(9), easy_to=time(18)), work_from=time(10), work_to=time(17))
    assert given.terms.easy == (time(10), time(17))
    assert asked("rings", of=studio(easy_to=time(9)), work_from=time(12)).terms.easy == (time(12), time(19))


@pytest.mark.parametrize("key", ["pour_at", "pour_by"])
def test_a_pour_in_the_past_is_told(key):
    past = datetime(2027, 3, 1, 7, 0, tzinfo=UTC)
    assert "lies in the past" in refused(entry("rings", **{key: past})).what


def test_a_first_pour_in_the_past_is_told():
    error = refused("rings", pour_at=datetime(2026, 3, 1, 7, 0, tzinfo=UTC))
    assert (error.what, error.why) == ("The pour at 2026-03-01 07:00 lies in the past.", "The week begins at 2027-03-01 08:00.")


def test_a_start_in_the_past_is_now():
    assert placed("signets", start_at=datetime(2020, 1, 1, tzinfo=UTC)).starts_at == MONDAY


def test_hours_that_are_none_are_told():
    assert refused("rings", work_from=time(20, 0)).what == "The hours from 20:00 to 19:00 are none."


def test_an_unknown_day_off_is_told():
    assert "the nearest is Sunday" in refused("rings", days_off=("Sundey",)).what


def test_too_many_flasks_are_told():
    error = refused(entry("studs", flasks_count=7), entry("signets", flasks_count=6))
    assert error.what == "These are 13 flasks."


def test_a_pour_outside_the_hours_says_so_and_what_to_give_up():
    error = refused("rings", pour_at=datetime(2027, 3, 4, 19, 30, tzinfo=UTC))
    assert error.what == "Nothing fits."
    assert "19:30 on Thursday lies outside the hours, 08:00 to 19:00" in error.why
    assert "work until 20:00: pour Thursday 04 March, 19:30" in error.try_this
    assert "let the pour time go: pour Tuesday 02 March" in error.try_this


def test_a_forbidden_night_names_the_burnout_and_the_way_out():
    error = refused("rings", overnight_firing=False)
    assert "a burnout of up to 17 h 35 min" in error.why
    assert "allow firing overnight: pour Tuesday 02 March" in error.try_this


def test_each_offer_stands_on_a_line_of_its_own():
    soon = {"pour_by": datetime(2027, 3, 2, 18, 0, tzinfo=UTC)}
    error = refused(entry("signets", **soon), entry("studs", **soon), of=studio(kiln=Kiln(flasks_count=1)))
    lines = error.try_this.splitlines()
    assert lines[0] == "Give up one of these:"
    assert "  a second kiln: first pour Tuesday 02 March, 08:40; last Tuesday 02 March, 09:50" in lines
    assert any(line.startswith("  let the pour time go: ") for line in lines)


def test_what_was_assumed_is_one_note():
    says = next(f.says for f in planned("rings").findings if f.code == "week-assumed")
    assert "hands-on hours 08:00 to 19:00; no days off; the kiln takes 4 flasks; it falls {k:120} an hour" in says


def test_a_usual_weight_is_told_as_assumed():
    run = entry("rings").model_copy(update={"usual_weight": True})
    says = next(f.says for f in placed(run).findings if f.code == "week-assumed")
    assert "a tree of usual weight in the flask for rings (sterling-925)" in says


def test_a_usual_tree_fills_its_flask_as_the_rule_says():
    """76 x 100: what base, cover and walls leave, filled by the rule's share, of castable resin."""
    small, large = (usual_weight_g(f, pattern="resin", studio=studio(), library=library()) for f in ("50x55", "76x100"))
    assert 2 < small < large < 100
    wax = usual_weight_g("76x100", pattern="wax-injection", studio=studio(), library=library())
    densities = [library().pattern(name).density_g_per_cm3.value for name in ("wax-injection", "resin")]
    assert wax / large == pytest.approx(densities[0] / densities[1])
    assert usual_weight_g(None, pattern="resin", studio=studio(), library=library()) == large


def test_runs_are_poured_from_the_kiln_that_was_asked_for():
    plan = placed(entry("signets", kiln="large"), entry("studs", kiln="small"), of=two_kilns())
    assert [run.kiln for run in plan.runs] == ["large", "small"]


def test_phosphate_and_gypsum_are_never_fired_together():
    def run(alloy: str, **more: str):
        weight_g = usual_weight_g("64x64", pattern="wax-injection", studio=studio(), library=library())
        from pourwell.request import RunOfWeek

        return RunOfWeek(
            name=alloy, request=Request(alloy=alloy, flask="64x64", pattern="wax-injection", weight_g=weight_g, **more)
        )

    given = asked(run("sterling-925"), run("platinum-950-cobalt"))
    assert given.runs[0].shares_with == frozenset()


def test_a_week_of_days_off_fits_nothing_and_says_which_days_to_work():
    every = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    error = refused("signets", days_off=every)
    assert error.what == "Nothing fits."
    assert error.try_this.count("work on") == 2, "one day to invest, one to pour"


def test_what_comes_late_is_planned_late():
    late = datetime(2027, 4, 12, 8, 0, tzinfo=UTC)
    plan = placed(entry("signets", ready_at=late))
    assert plan.runs[0].timeline[0].starts_at >= late
    assert (plan.last_pour_at.date() - late.date()).days == 1


def test_two_pours_at_one_moment_cannot_be():
    at = datetime(2027, 3, 3, 10, 0, tzinfo=UTC)
    assert refused(entry("rings", pour_at=at), entry("signets", pour_at=at)).what == "Nothing fits."


def test_hours_around_the_clock_are_served():
    plan = placed("rings", work_from=time(0), work_to=time(23, 59))
    assert plan.last_pour_at.hour < 8


def test_what_is_alike_is_burnt_out_by_one_programme_that_is_worked_out_once():
    six = asked(entry("studs", flasks_count=3), entry("studs", flasks_count=3))
    first = six.candidates[0].programmes[0]
    assert all(candidate.programmes[0] is first for candidate in six.candidates)
    assert asked("signets").candidates[0].programmes[0] is not first
    slow = asked("studs", of=studio(kiln=Kiln(fall_c_per_h=60))).candidates[0].programmes[0]
    assert slow.total_min > first.total_min


@pytest.mark.parametrize("name", ["studs", "bronze"])
def test_a_kiln_set_by_hand_is_left_alone_from_bedtime_to_rising(name):
    plan = placed(name, of=studio(kiln=Kiln(segments_count=0)))
    (load,) = plan.loads
    assert len(load.settings) > 5
    for setting in load.settings:
        assert time(6, 30) <= setting.at.time() <= time(22, 30)
    assert load.overnight
    assert load.curve[-1].at == plan.last_pour_at
    says = next(f.says for f in plan.findings if f.code == "week-assumed")
    assert "by hand, the best of pours tried every 30 min" in says
    assert plan.tried_apart_min == 30
    assert goal_words(plan).endswith(": the soonest of those tried, 30 min apart.")


def test_by_hand_two_flask_temperatures_share_a_load_and_nothing_is_called_the_soonest_of_all():
    plan = placed("signets", "rings", of=studio(kiln=Kiln(segments_count=0)), pour_at=datetime(2027, 3, 4, 16, 0, tzinfo=UTC))
    (load,) = plan.loads
    hot, cool = (next(run for run in plan.runs if run.number == number) for number in load.runs)
    assert (hot.flask_c, cool.flask_c) == (565, 540)
    assert (cool.pour_at - hot.pour_at).total_seconds() / 60 >= 76, "3 min of pour, 13 of fall, an hour of soak"
    assert load.settings[-1].at >= hot.pour_at
    assert "nothing sooner fits" not in goal_words(plan)


def test_time_to_spare_goes_into_the_drying_and_the_peak_hold_and_what_is_told_was_run():
    soon, late = planned("studs"), placed("studs", pour_at=datetime(2027, 3, 2, 14, 0, tzinfo=UTC))
    (quick,), (slow,) = soon.loads, late.loads
    assert slow.programme.total_min > quick.programme.total_min
    assert (
        slow.programme.segments[-1].hold_min - quick.programme.segments[-1].hold_min
        < slow.programme.total_min - quick.programme.total_min
    )
    for load in (quick, slow):
        assert load.programme.inside.curves.times_min[-1] == pytest.approx(load.programme.total_min, abs=10)
        assert all(verdict.keeps for verdict in load.programme.verdicts)


def test_runs_kept_apart_have_a_firing_each_and_flasks_of_one_run_stay_together():
    plan = placed(entry("rings"), entry("signets", flasks_count=2), fire_apart=True)
    assert sorted(sorted(load.runs) for load in plan.loads) == [[1], [2, 3]]
    given = asked("rings", "signets", fire_apart=True)
    assert [run.shares_with for run in given.runs] == [frozenset(), frozenset()]
    assert [one.fired[0].case.flasks_count for one in given.candidates] == [1, 1], "no flask of another run stands beside it"


def test_numbers_that_are_given_stand_and_further_flasks_take_the_next_free():
    given = asked(entry("rings", number=7), entry("signets", flasks_count=2), entry("studs", number=4))
    assert [one.number for one in given.candidates] == [7, 8, 9, 4]
    assert [one.number for one in asked("rings", entry("signets", flasks_count=2)).candidates] == [1, 2, 3]


def test_a_number_given_twice_is_told():
    with pytest.raises(ValueError, match="two runs have the number 4"):
        asked(entry("rings", number=4), entry("studs", number=4))


def test_what_is_to_be_given_up_says_what_to_ask_for_instead():
    with pytest.raises(NothingFitsError) as told:
        placed("rings", pour_at=datetime(2027, 3, 4, 19, 30, tzinfo=UTC))
    asks = {offer.key: offer.value for offer in told.value.offers}
    assert asks["late"] == "20:00"
    assert asks["pour"] == ""
