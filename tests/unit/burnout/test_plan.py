"""The burnout: legs, limits, drying hold, own schedules, settings by hand, clock times."""

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from pourwell.errors import BadDataError, UnknownNameError
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout import checks
from pourwell.steps.burnout.legs import course, passes_min
from pourwell.steps.burnout.plan import case_of, programme, timed
from tests.unit.burnout.case import altered, flask_of, library, own_programme, run, with_row

LISBON = ZoneInfo("Europe/Lisbon")


def burnt(diameter_mm=76.0, *, investment="gypsum-standard", pattern="wax-injection", shelf=None, **more):
    shelf = shelf or library()
    own = more.pop("own", None)
    ask = {"flask_c": 540.0, "kiln": Kiln(), "stones": False, **more}
    powder = shelf.investment(investment) if isinstance(investment, str) else investment
    case = case_of(powder, pattern_material=shelf.pattern(pattern), flask=flask_of(diameter_mm, 100), library=shelf, **ask)
    return programme(case, own=own)


def targets(plan):
    return [s.target_c for s in plan.segments]


def holds(plan):
    return [s.hold_min for s in plan.segments]


def test_a_small_flask_burns_out_by_the_small_cycle():
    assert targets(burnt(50)) == [149, 361, 732, 540]
    assert holds(burnt(50))[0] == 60
    assert holds(burnt(50))[2:] == [120, 60]


def test_a_large_flask_gets_one_more_level_for_its_core():
    assert targets(burnt(102)) == [149, 351, 482, 732, 540]


def test_it_ends_at_the_flask_temperature_falling_as_the_kiln_falls():
    last = burnt(flask_c=465.0).segments[-1]
    assert (last.target_c, last.ramp_c_per_h) == (465, -120)
    assert last.ramp_min == math.ceil((732 - 465) / 120 * 60)


@pytest.mark.parametrize(("falls", "typed"), [(60, -60), (63, -60), (90, -90), (400, -150), (3, -3)])
def test_no_fall_is_programmed_that_the_kiln_cannot_follow(falls, typed):
    last = burnt(kiln=Kiln(fall_c_per_h=falls)).segments[-1]
    assert last.ramp_c_per_h == typed
    assert abs(last.ramp_c_per_h) <= falls


def test_the_total_counts_ramps_and_cooling():
    plan = burnt()
    assert plan.total_min == sum(s.ramp_min + s.hold_min for s in plan.segments)
    assert plan.total_min > sum(holds(plan)) + 4 * 60


def test_ramps_are_gentle_while_cold_and_through_the_inversion():
    for diameter in (40, 64, 76, 102, 130):
        for start, segment in zip([20, *targets(burnt(diameter))], burnt(diameter).segments, strict=False):
            if segment.ramp_c_per_h > 0:
                assert segment.ramp_c_per_h <= (150 if start < 300 else 240)
    assert burnt(130).segments[3].ramp_c_per_h < burnt(102).segments[3].ramp_c_per_h < 240


def test_a_kiln_that_may_be_far_wrong_gets_a_lower_peak():
    assert burnt(kiln=Kiln(error_k=0)).peak_c == 732
    assert burnt(kiln=Kiln(error_k=8)).peak_c == 732
    assert burnt(kiln=Kiln(error_k=15)).peak_c == 725
    assert burnt(kiln=Kiln(error_k=50)).peak_c == 690


def test_an_investment_with_a_lower_peak_is_not_heated_beyond_it():
    assert burnt(investment=altered(library().investment("gypsum-standard"), peak_c=715)).peak_c == 715


def test_phosphate_is_not_lowered_to_what_gypsum_stands():
    plan = burnt(investment="phosphate", flask_c=850.0)
    assert plan.peak_c == 870
    assert plan.ceiling_c == 1000


def test_the_drying_hold_grows_with_the_flask_until_the_core_is_dry_at_the_slow_end():
    for diameter in (64, 76, 89, 102, 115, 130):
        plan = burnt(diameter)
        assert plan.core_dry_early_min < plan.core_dry_min < plan.core_dry_late_min <= plan.passes_400_min + 0.5


def test_a_mould_that_conducts_badly_is_held_longer():
    dull = altered(library().investment("gypsum-standard"), conductivity_dry_w_per_m_k=0.2)
    assert holds(burnt(investment=dull))[1] > holds(burnt())[1]


def test_the_drying_hold_does_not_grow_beyond_what_is_sane():
    dull = altered(library().investment("gypsum-standard"), conductivity_dry_w_per_m_k=0.05)
    assert holds(burnt(130, investment=dull))[1] == library().rule("drying_hold_longest_min")


def test_resin_is_burnt_more_slowly_than_wax():
    wax, resin = burnt(), burnt(investment="gypsum-resin", pattern="resin")
    assert resin.id == "gypsum-resin"
    assert resin.total_min > wax.total_min
    assert resin.segments[0].ramp_c_per_h < wax.segments[0].ramp_c_per_h


def test_stones_get_the_low_cycle_in_any_grade():
    for investment in ("gypsum-stone", "gypsum-standard"):
        plan = burnt(investment=investment, stones=True, flask_c=450.0)
        assert plan.id == "stone-wax"
        assert plan.peak_c <= 454


def test_the_maker_s_own_schedule_is_taken_as_it_stands():
    shelf = with_row("programmes", own_programme((200, 300, 90), (750, 300, 200), ("flask", 600, 30)))
    plan = burnt(shelf=shelf, own="maker", kiln=Kiln(error_k=30))
    assert targets(plan) == [200, 750, 540]
    assert holds(plan) == [90, 200, 30]
    assert [s.ramp_c_per_h for s in plan.segments] == [300, 300, -120]


def test_an_own_schedule_that_stops_short_is_led_to_the_flask_temperature():
    shelf = with_row("programmes", own_programme((150, 120, 60), (730, 200, 180)))
    plan = burnt(shelf=shelf, own="maker")
    assert targets(plan) == [150, 730, 540]
    assert holds(plan)[-1] == 60


def test_an_own_schedule_may_write_its_fall_with_a_minus():
    shelf = with_row("programmes", own_programme((730, 200, 180), ("flask", -100, 60)))
    assert burnt(shelf=shelf, own="maker").segments[-1].ramp_c_per_h == -100


@pytest.mark.parametrize(("ramp", "hold"), [(0, 60), (100, -5)])
def test_an_own_schedule_without_sense_is_refused(ramp, hold):
    shelf = with_row("programmes", own_programme((730, ramp, hold)))
    with pytest.raises(BadDataError, match="step 1"):
        burnt(shelf=shelf, own="maker")


def test_an_own_schedule_that_does_not_exist_is_told_with_the_nearest():
    with pytest.raises(UnknownNameError, match="gypsum-wax"):
        burnt(own="gypsum-waks")


def test_a_level_without_a_hold_and_without_a_new_ramp_is_left_out():
    shelf = with_row("programmes", own_programme((300, 150, 0), (500, 150, 0), (700, 200, 60), ("flask", 100, 60)))
    assert targets(burnt(shelf=shelf, own="maker")) == [500, 700, 540]


def test_a_kiln_without_a_controller_gets_settings_that_stay_under_the_ramp():
    plan = burnt(kiln=Kiln(segments_count=0))
    times, levels = course_of(plan)
    assert plan.by_hand[0].at_min == 0
    for before, after in pairwise(plan.by_hand):
        assert before.at_min < after.at_min
        if after.set_c > before.set_c:
            assert before.set_c <= interpolate(after.at_min, times, levels) + 1
    assert plan.by_hand[-1].set_c == 540
    targets_c = {segment.target_c for segment in plan.segments}
    assert all(p.set_c % 5 == 0 for p in plan.by_hand if p.set_c not in targets_c)
    assert targets_c <= {p.set_c for p in plan.by_hand}


def test_a_controller_with_few_segments_leaves_the_last_to_the_hand():
    plan = burnt(kiln=Kiln(segments_count=3))
    assert len(plan.segments) == 4
    assert [(p.set_c, p.at_min) for p in plan.by_hand] == [
        (540, plan.total_min - plan.segments[-1].hold_min - plan.segments[-1].ramp_min)
    ]
    assert burnt(kiln=Kiln(segments_count=4)).by_hand == ()


def test_energy_is_a_band_around_what_the_kiln_loses_and_the_load_takes():
    small, large = burnt(50), burnt(102)
    for plan in (small, large):
        assert 2 < plan.energy_low_kwh < plan.energy_kwh < plan.energy_high_kwh < 40
    assert large.energy_kwh > small.energy_kwh
    assert burnt(kiln=Kiln(holding_kw=1.6)).energy_kwh > burnt().energy_kwh + 3


def test_the_kiln_passes_400_where_its_course_does():
    plan = burnt()
    times, levels = course_of(plan)
    assert interpolate(plan.passes_400_min, times, levels) == pytest.approx(400, abs=1)


def test_a_programme_that_never_passes_400_says_never():
    shelf = with_row("programmes", own_programme((380, 100, 600), ("flask", 100, 60)))
    plan = burnt(shelf=shelf, own="maker", flask_c=350.0)
    assert plan.passes_400_min == math.inf
    assert plan.core_dry_min < plan.total_min


def test_the_clock_ends_at_the_pour():
    plan = burnt()
    pour_at = datetime(2027, 3, 5, 10, 0, tzinfo=LISBON)
    segments = timed(plan, pour_at, zone=LISBON)
    assert segments[-1].ends_at == pour_at
    assert segments[0].starts_at == pour_at - timedelta(minutes=plan.total_min)
    for before, after in pairwise(segments):
        assert before.starts_at < before.reached_at <= before.ends_at == after.starts_at


def test_durations_are_elapsed_time_over_a_clock_change():
    plan = burnt()
    pour_at = datetime(2027, 3, 28, 10, 0, tzinfo=LISBON)
    segments = timed(plan, pour_at, zone=LISBON)
    elapsed = segments[-1].ends_at - segments[0].starts_at
    assert elapsed == timedelta(minutes=plan.total_min)
    wall = segments[-1].ends_at.replace(tzinfo=None) - segments[0].starts_at.replace(tzinfo=None)
    assert wall == timedelta(minutes=plan.total_min + 60)


def test_the_clock_is_shown_in_the_zone_that_is_asked_for():
    pour_at = datetime(2027, 7, 5, 10, 0, tzinfo=UTC)
    assert timed(burnt(), pour_at, zone=ZoneInfo("Asia/Tokyo"))[-1].ends_at.hour == 19


def course_of(plan):
    times, levels = [0.0], [plan.start_c]
    for s in plan.segments:
        times += [times[-1] + s.ramp_min, times[-1] + s.ramp_min + s.hold_min]
        levels += [s.target_c, s.target_c]
    return times, levels


def interpolate(x, xs, ys):
    for (x0, y0), (x1, y1) in pairwise(zip(xs, ys, strict=True)):
        if x0 <= x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0) if x1 > x0 else y1
    return ys[-1]


def test_the_course_of_the_legs_is_that_of_the_segments():
    made = run()
    facts = checks.Facts(
        programme=made.programme,
        investment=made.investment,
        pattern_material=made.pattern_material,
        flask=made.flask,
        flask_c=made.temperatures.flask_c,
        kiln=made.studio.kiln,
        stones=False,
        own=False,
        library=library(),
    )
    assert course(facts.legs) == course_of(made.programme)
    assert passes_min(facts.legs, 400) == made.programme.passes_400_min
