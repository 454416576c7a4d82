"""A week with its clock times: lines, firings, the programme of a mixed load, and what is to be done by the clock."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.model import Segment
from pourwell.steps.day.clock import minutes_between
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.week_fired import as_typed
from pourwell.steps.day.week_jobs import work_of
from pourwell.steps.day.week_plan import curve, ended_at
from tests.unit.day.weeks import MONDAY, asked, entry, library, placed, planned, studio, two_kilns

ORDER = ["patterns", "tree", "wrap", "invest", "set", "strip", "kiln", "setout", "melt", "pour", "stand", "quench", "pickle", "cut"]


def test_a_run_has_all_its_lines_in_the_order_of_the_bench():
    (run,) = planned("rings").runs
    assert [entry.key for entry in run.timeline] == ORDER
    assert [e.starts_at for e in run.timeline] == sorted(e.starts_at for e in run.timeline)
    tied = run.timeline[2:]
    assert all(a.ends_at == b.starts_at for a, b in pairwise(tied)), "waiting is part of the line that waits"


def test_every_line_takes_its_time_at_the_least():
    from pourwell.steps.day.turns import tasks

    plan, given = planned("rings", "signets", "bronze"), asked("rings", "signets", "bronze")
    for run, candidate in zip(plan.runs, given.candidates, strict=True):
        later = next(e for e in run.timeline if e.key == "setout").hands_on_min < 25
        wanted = {task.key: task for part in tasks(candidate.work, library(), later=later) for task in part}
        for line in run.timeline:
            if line.key != "kiln":
                assert minutes_between(line.starts_at, line.ends_at) >= wanted[line.key].whole_min, line.key


def test_the_pour_and_the_kiln_are_those_of_the_lines():
    plan = planned("rings", "signets")
    for run in plan.runs:
        lines = {e.key: e for e in run.timeline}
        assert lines["pour"].starts_at == run.pour_at
        assert lines["kiln"].starts_at == run.kiln_on_at == plan.loads[0].on_at
    assert plan.last_pour_at == max(run.pour_at for run in plan.runs) == plan.loads[0].off_at


def test_one_programme_serves_a_load_and_falls_to_the_cooler_flask():
    """Gold at 565, silver at 540: one more segment, down by 25 degrees, and held until the last pour."""
    (load,) = planned("rings", "signets").loads
    *_, hot, cool = load.programme.segments
    assert (hot.target_c, cool.target_c, cool.ramp_c_per_h) == (565.0, 540.0, -120.0)
    assert load.runs == (2, 1)
    assert load.programme.total_min == minutes_between(load.on_at, load.off_at)
    assert sum(s.ramp_min + s.hold_min for s in load.programme.segments) == load.programme.total_min


@pytest.mark.parametrize("names", [("rings",), ("rings", "signets"), ("signets", "studs", "rings"), ("rings", "bronze")])
def test_the_kilns_line_lasts_from_on_to_the_last_pour_at_each_flasks_temperature(names):
    plan = planned(*names)
    for load in plan.loads:
        points = [(point.at, point.set_c) for point in load.curve]
        assert (points[0][0], points[-1][0]) == (load.on_at, load.off_at)
        assert all(a[0] < b[0] for a, b in pairwise(points))
        for number in load.runs:
            run = plan.runs[number - 1]
            before, after = next((a, b) for a, b in pairwise(points) if a[0] <= run.pour_at <= b[0])
            assert before[1] == after[1] == pytest.approx(run.flask_c), f"run {number} is poured on a level"


@pytest.mark.parametrize("names", [("rings", "signets"), ("signets", "studs", "rings"), ("rings", "bronze", "signets")])
def test_no_flask_once_heated_falls_under_300_before_its_pour(names):
    plan = planned(*names)
    for load in plan.loads:
        heated = False
        for point in load.curve:
            assert not (heated and point.set_c < 300)
            heated = heated or point.set_c >= 300


def test_a_programme_ends_hotter_in_the_same_time():
    own = asked("rings").candidates[0].programmes[0]
    hotter = ended_at(own, 600.0, kiln=Kiln())
    assert hotter.segments[-1].target_c == 600.0
    assert hotter.segments[-1].ramp_min < own.segments[-1].ramp_min
    assert list(curve(hotter, Kiln()))[-1][0] == list(curve(own, Kiln()))[-1][0] == own.total_min
    assert ended_at(own, own.segments[-1].target_c, kiln=Kiln()) is own
    slow = ended_at(own, 600.0, kiln=Kiln(fall_c_per_h=100)).segments[-1]
    assert slow.ramp_min == math.ceil(60 * (732 - 600) / 100) > hotter.segments[-1].ramp_min, "as slowly as the kiln falls there"
    assert slow.ramp_min + slow.hold_min == own.segments[-1].ramp_min + own.segments[-1].hold_min


def test_a_programme_of_one_segment_can_end_hotter_too():
    own = asked("rings").candidates[0].programmes[0]
    one = replace(
        own, segments=(Segment(number=1, ramp_c_per_h=100, target_c=520.0, hold_min=60, ramp_min=300, why=""),), total_min=360
    )
    (hotter,) = ended_at(one, 540.0, kiln=Kiln()).segments
    assert (hotter.ramp_c_per_h, hotter.ramp_min, hotter.hold_min) == (100, 312, 48)


def test_firings_of_one_kiln_are_numbered_and_say_whether_they_are_typed_anew():
    first, again = placed("studs", "studs", of=studio(kiln=Kiln(flasks_count=1))).loads
    assert (first.number, again.number) == (1, 2)
    assert as_typed(first, (first, again)) == ""
    assert as_typed(again, (first, again)) in ("typed as firing 1", "its own holds: type it anew")
    longer = replace(again.programme.segments[0], hold_min=again.programme.segments[0].hold_min + 5)
    other = replace(again, programme=replace(again.programme, segments=(longer, *first.programme.segments[1:])))
    assert as_typed(other, (first, other)) == "its own holds: type it anew"
    same = replace(again, programme=first.programme)
    assert as_typed(same, (first, same)) == "typed as firing 1"


def test_a_bagged_flask_says_so_in_its_line_and_a_warning_tells_the_start():
    plan = placed("signets", work_from=_hour(10), work_to=_hour(12), bag_damp=True)
    (run,) = plan.runs
    assert run.bagged
    assert run.stands_h > run.stand_max_h
    assert next(e for e in run.timeline if e.key == "set").says.endswith("then bagged damp until its turn")
    assert "week-bagged" in {finding.code for finding in plan.findings}


def _hour(hour: int):
    from datetime import time

    return time(hour)


def test_a_kiln_set_by_hand_has_each_setting_by_the_clock():
    from pourwell.steps.day.week_model import Firing

    assert Firing(total_min=1).set_at_min == ()
    plan = placed(
        "stones",
        of=studio(kiln=Kiln(segments_count=0), sleep_from=_hour(0), sleep_to=_hour(1)),
    )
    (load,) = plan.loads
    assert [s.at for s in load.settings] == sorted(s.at for s in load.settings)
    kiln = next(e for e in plan.runs[0].timeline if e.key == "kiln")
    assert kiln.moments[0] == load.on_at
    says = [job.says for job in work_of(plan) if job.key == "set"]
    assert says[0].startswith("Set the kiln to {t:")
    (on,) = [job for job in work_of(plan) if job.key == "on"]
    assert on.at == load.on_at
    assert on.says.startswith(f"Kiln on: set it to {{t:{load.settings[0].set_c:g}}}")


def test_the_start_of_a_kiln_set_by_hand_bears_the_cautions_of_one_with_a_controller():
    plan = placed("studs", of=studio(kiln=Kiln(segments_count=0)))
    assert plan.loads[0].overnight
    (on,) = [job for job in work_of(plan) if job.key == "on"]
    assert OVERNIGHT in on.why
    controlled = placed("studs")
    assert [job.why for job in work_of(controlled) if job.key == "on"] == [OVERNIGHT]


def test_what_to_do_is_in_the_order_of_time_and_holds_every_hand_on_line():
    plan = planned("rings", "signets")
    jobs = work_of(plan)
    assert [job.at for job in jobs] == sorted(job.at for job in jobs)
    hands = sum(1 for run in plan.runs for e in run.timeline if e.hands_on_min)
    assert len(jobs) == hands + len(plan.loads) + len(plan.runs), "each start of a kiln, and each time its mains goes off"
    assert [job.says for job in jobs if job.key == "on"] == ["Kiln on: start the programme"]


def test_several_kilns_are_told_by_name():
    plan = placed("rings", "signets", "studs", of=two_kilns())
    assert {load.kiln for load in plan.loads} <= {"large", "small"}
    for load in plan.loads:
        assert all(plan.runs[n - 1].kiln == load.kiln for n in load.runs)


def test_durations_are_elapsed_time_also_over_a_clock_change():
    """Lisbon, the night to 28 March 2027: the clocks go forward at one. The programme takes its own hours all the same."""
    eve = datetime(2027, 3, 27, 8, 0, tzinfo=UTC)
    over, usual = placed("rings", now=eve), planned("rings")
    (load,), (like,) = over.loads, usual.loads
    assert load.on_at.utcoffset() != load.off_at.utcoffset()
    assert minutes_between(load.on_at, load.off_at) == load.programme.total_min >= like.programme.total_min - like.longer_min
    assert over.runs[0].pour_at.hour >= 8
    assert "week-clock-change" in {finding.code for finding in over.findings}


def test_in_autumn_the_night_is_an_hour_longer():
    eve = datetime(2027, 10, 30, 7, 0, tzinfo=UTC)
    plan = placed("rings", now=eve)
    (load,) = plan.loads
    assert minutes_between(load.on_at, load.off_at) == load.programme.total_min
    assert (plan.runs[0].pour_at.hour, plan.runs[0].pour_at.minute) == (8, 40)


def test_a_pour_on_friday_at_ten_is_that():
    friday = datetime(2027, 3, 5, 10, 0, tzinfo=UTC)
    plan = placed("rings", pour_at=friday)
    assert plan.runs[0].pour_at == friday
    assert plan.runs[0].timeline[0].starts_at.date() == friday.replace(day=4).date(), "no sooner than it must"


def test_several_flasks_of_one_entry_are_numbered():
    plan = placed(entry("studs", flasks_count=3))
    assert [run.name for run in plan.runs] == ["studs 1", "studs 2", "studs 3"]
    assert [run.number for run in plan.runs] == [1, 2, 3]
    assert plan.made_at == MONDAY


def test_a_mould_that_stands_over_two_hours_is_bagged_damp_by_the_line_of_its_investing():
    """Resin's investment sets for 2.8 h in a flask of 76 mm; the rule bags what stands over 2 h, whatever the row allows."""
    (run,) = planned("rings").runs
    lines = {e.key: e for e in run.timeline}
    hours = minutes_between(lines["set"].starts_at, lines["strip"].starts_at) / 60
    assert hours > library().rule("stand_max_h")
    assert lines["invest"].says.endswith(f"; once set, bag it damp: it stands {hours:.1f} h")
