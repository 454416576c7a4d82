"""Nights in which nobody sets the kiln: which hold lasts through them, and courses from a start to an end."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.hand import LOOK, SLEEPS, looks, set_points
from pourwell.steps.burnout.legs import Leg, legs_as_typed, total_min
from pourwell.steps.burnout.model import Reading
from pourwell.steps.burnout.nights import Nights, after_the_night, from_to, nights_of, through_the_night
from pourwell.steps.burnout.plan import programme, relegged
from pourwell.steps.burnout.synthesis import YOURS
from tests.unit.burnout.case import SHOWS
from tests.unit.burnout.test_inside import case

HAND = Kiln(segments_count=0)
NIGHT = (time(22, 30), time(6, 30))
LEGS = (
    Leg(start_c=20.0, target_c=149.0, ramp_c_per_h=129.0, hold_min=120, why="dry"),
    Leg(start_c=149.0, target_c=371.0, ramp_c_per_h=111.0, hold_min=90, why="burn"),
    Leg(start_c=371.0, target_c=731.0, ramp_c_per_h=240.0, hold_min=150, why="carbon"),
    Leg(start_c=731.0, target_c=541.0, ramp_c_per_h=95.0, hold_min=60, why="settle"),
)
"""60 + 120, 120 + 90, 90 + 150, 120 + 60 min: 12 h 30 min."""


def nights(**more):
    usual = {"sleeps": NIGHT, "zone": UTC, "kiln": HAND, "step_min": 30, "dry_before_c": 400}
    usual |= {"drying_most_min": 480, "peak_most_min": 480, "flask_longer_min": 360}
    return Nights(**{**usual, **more})


def grown_at(legs):
    return [i for i, (a, b) in enumerate(zip(LEGS, legs, strict=True)) if b.hold_min > a.hold_min]


@pytest.mark.parametrize(
    ("hour", "asleep"), [((22, 0), 0), ((22, 1), 1), ((22, 30), 30), ((2, 0), 240), ((6, 29), 509), ((6, 30), 0), ((12, 0), 0)]
)
def test_the_evening_s_last_setting_comes_half_an_hour_before_bed(hour, asleep):
    assert nights().asleep_min(datetime(2026, 11, 28, *hour, tzinfo=UTC)) == asleep


def test_with_the_day_long_enough_after_it_the_mould_dries_through_the_night():
    """Poured at 13:30: peak and flask take 7 h, so all after drying comes after 06:30."""
    through = through_the_night(LEGS, nights(), end_at=datetime(2026, 11, 28, 13, 30, tzinfo=UTC))
    assert grown_at(through) == [1]
    assert through[1].ruled_by == SLEEPS


def test_no_hold_lasts_longer_than_its_rule_and_what_one_cannot_take_another_does():
    """Poured at 10:00 the peak would stand from 22 to 7 o'clock, 9 h: it takes its 8 h, and the flask waits for the rest."""
    end_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    through = through_the_night(LEGS, nights(), end_at=end_at)
    assert grown_at(through) == [2, 3]
    assert (through[2].hold_min, through[3].hold_min) == (480, 90)
    assert nights().bears(through, LEGS)
    assert not nights().bears((*through[:2], replace(through[2], hold_min=481), through[3]), LEGS)
    assert [leg.ruled_by for leg in through] == ["", "", SLEEPS, YOURS], "the flask's hold only moves the others"
    assert [looks(p) for p in set_points(through, kiln=HAND, step_min=30, reading=SHOWS)].count(True) == 1


def test_a_flask_waits_no_longer_than_its_rule_so_some_pours_have_no_course():
    """Poured at 08:00 all but the wait would lie in the night: 60 + 360 min do not reach back to 22 o'clock."""
    assert through_the_night(LEGS, nights(), end_at=datetime(2026, 11, 28, 8, 0, tzinfo=UTC)) is None


def test_a_published_hold_that_is_longer_than_the_rule_stays_as_long():
    long = (*LEGS[:2], replace(LEGS[2], hold_min=600), LEGS[3])
    assert nights().longest_min(long[2]) == 600
    assert nights().bears(long, long)


def test_the_last_setting_before_bed_has_a_look_after_it_that_says_what_it_must_show():
    end_at = datetime(2026, 11, 28, 16, 0, tzinfo=UTC)
    legs = through_the_night(LEGS, nights(), end_at=end_at)
    points = set_points(legs, kiln=HAND, step_min=30, reading=SHOWS)
    (look,) = (p for p in points if looks(p))
    start = end_at - timedelta(minutes=total_min(legs))
    assert (start + timedelta(minutes=look.at_min)).time() <= NIGHT[0]
    assert (look.set_c, look.seen_c) == (371, 371)
    assert "it must show {t:361} to {m:381} and no longer climb; if low, wait until it stands; if over {m:381}," in look.why
    assert look.why.endswith("turn it down and look again; at {m:754} switch off")
    assert not any(looks(p) for p in set_points(LEGS, kiln=HAND, step_min=30, reading=SHOWS))


@pytest.mark.parametrize(("rise_c_per_h", "after_min"), [(600, 16), (200, 27), (60, 30)])
def test_the_look_comes_ten_minutes_after_the_climb_is_done_and_never_after_bedtime(rise_c_per_h, after_min):
    """The last setting, 315 to 371, is 56 K: 5.6 min, 16.8 min, or too long for the half hour before bed."""
    kiln = Kiln(segments_count=0, rise_c_per_h=rise_c_per_h)
    legs = (LEGS[0], replace(LEGS[1], ruled_by=SLEEPS), *LEGS[2:])
    points = set_points(legs, kiln=kiln, step_min=30, reading=SHOWS)
    index = next(i for i, p in enumerate(points) if looks(p))
    assert points[index].at_min - points[index - 1].at_min == after_min


def test_a_flask_that_falls_into_the_night_is_only_to_be_falling():
    legs = (*LEGS[:3], replace(LEGS[3], ruled_by=SLEEPS))
    assert set_points(legs, kiln=HAND, step_min=30, reading=SHOWS)[-1].why == (
        LOOK + "it must be falling; if it is not, or at {m:754}, switch off"
    )


def look_at(set_c, reading):
    """The look before bed of a kiln that stands so through the night."""
    legs = (*LEGS[:2], replace(LEGS[2], target_c=set_c, ruled_by=SLEEPS), replace(LEGS[3], start_c=set_c))
    (look,) = (p for p in set_points(legs, kiln=HAND, step_min=30, reading=reading) if looks(p))
    return look.why


@pytest.mark.parametrize(
    ("warn_c", "stop_c", "unseen_k", "set_c", "shows", "off"),
    [
        (740.0, 760.0, 5.5, 732.0, "{t:722} to {m:734}", "{m:754}"),  # 740 - 5.5 = 734.5; 760 - 5.5 = 754.5
        (740.0, 760.0, 25.0, 715.0, "{t:705} to {m:715}", "{m:735}"),  # 15 K of thermocouple and 10 of hot spot
        (740.0, 760.0, 5.5, 720.0, "{t:710} to {m:730}", "{m:754}"),  # ten degrees over it are still allowed
        (540.0, 560.0, 9.0, 538.0, "{t:528} to {m:531}", "{m:551}"),  # with stones
        (870.0, 870.0, 5.0, 860.0, "{t:850} to {m:864}", "{m:865}"),  # one figure for both: the switch-off wins
        (740.0, 760.0, 5.5, 745.0, "no more than {m:734}", "{m:754}"),  # set too high by one's own programme
    ],
)
def test_the_look_before_bed_never_passes_a_reading_that_is_too_hot_for_the_mould(warn_c, stop_c, unseen_k, set_c, shows, off):
    """By hand: what the sheet allows is the warning less all that is unseen, and it switches off at the stop less the same."""
    said = look_at(set_c, Reading.of(warn_c=warn_c, stop_c=stop_c, unseen_k=unseen_k))
    assert said.startswith(f"{LOOK}it must show {shows} and no longer climb")
    most = shows.split()[-1]
    assert f"if over {most}, turn it down and look again; at {off} switch off" in said


def test_the_look_of_a_plan_switches_off_where_its_sheet_does():
    """By hand: gypsum is warned of over 740 and lost over 760; a kiln 8 K wrong shows 732 and 752."""
    asked = case(kiln=HAND.model_copy(update={"error_k": 8.0}))
    made = programme(asked)
    shows = made.reading(asked.kiln.unseen_k)
    assert (shows.never_over_c, shows.off_c) == (732, 752)
    peak = max(range(len(made.segments)), key=lambda i: made.segments[i].target_c)
    legs = tuple(replace(leg, ruled_by=SLEEPS) if i == peak else leg for i, leg in enumerate(legs_as_typed(made)))
    (look,) = (p for p in relegged(made, asked, legs).by_hand if looks(p))
    assert "{t:722} to {m:732} and no longer climb" in look.why
    assert look.why.endswith("at {m:752} switch off")


def test_a_hold_that_contains_bedtime_as_it_stands_has_its_look_too():
    """Poured at 10:00: set to the peak at 20:30, and to the fall at 07:00."""
    long = (*LEGS[:2], replace(LEGS[2], hold_min=600, ruled_by="the published programme"), LEGS[3])
    end_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    through = through_the_night(long, nights(), end_at=end_at)
    assert total_min(through) == total_min(long), "nothing had to grow"
    assert through[2].ruled_by == f"the published programme; {SLEEPS}"
    assert [looks(p) for p in set_points(through, kiln=HAND, step_min=30, reading=SHOWS)].count(True) == 1
    day = nights().marked(through, end_at + timedelta(hours=10))
    assert day[2].ruled_by == "the published programme", "poured in the evening it lies in the day"


def test_what_the_controller_takes_needs_nobody():
    """Only the last setting, the fall, is made by hand: it alone must fall into the day."""
    few = nights(kiln=Kiln(segments_count=3))
    end_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    assert through_the_night(LEGS, few, end_at=end_at) == LEGS
    assert grown_at(through_the_night(LEGS, few, end_at=datetime(2026, 11, 28, 6, 45, tzinfo=UTC))) == [3]


def test_from_a_start_to_an_end_the_course_fills_the_time_outside_the_night():
    asked = case(kiln=HAND)
    legs = legs_as_typed(programme(asked))
    given = nights_of(asked, NIGHT, UTC)
    start, end = datetime(2026, 11, 27, 20, 0, tzinfo=UTC), datetime(2026, 11, 28, 18, 0, tzinfo=UTC)
    found = from_to(legs, asked, given, start=start, end=end, first=len(legs))
    assert total_min(found) == 22 * 60
    assert given.asleep(found, end, begun=True) == []
    assert given.asleep(legs, end, begun=True) != [] or total_min(legs) != total_min(found)


def test_a_start_from_which_no_course_keeps_the_night_is_none():
    """20 h from 16:00 to noon: wherever the spare hours go, something must be set in the night."""
    asked = case(kiln=HAND)
    legs = legs_as_typed(programme(asked))
    start = datetime(2026, 11, 27, 16, 0, tzinfo=UTC)
    end = start + timedelta(hours=20)
    assert from_to(legs, asked, nights_of(asked, NIGHT, UTC), start=start, end=end, first=len(legs)) is None


def test_who_says_when_he_begins_is_there_then():
    late = datetime(2026, 11, 27, 23, 0, tzinfo=UTC)
    end = late + timedelta(minutes=total_min(LEGS))
    assert any(at == 0 for _, at, _ in nights().asleep(LEGS, end))
    assert all(at > 0 for _, at, _ in nights().asleep(LEGS, end, begun=True))


def test_begun_in_the_morning_what_would_be_set_in_the_night_waits_for_the_next_one():
    """From 13:00 the flask's level would be set at 23:30: the peak lasts its 8 h, till 5:00, and what is left comes before it."""
    start = datetime(2026, 11, 27, 13, 0, tzinfo=UTC)
    after = after_the_night(LEGS, nights(), start=start)
    end = start + timedelta(minutes=total_min(after))
    assert nights().asleep(after, end, begun=True) == []
    assert nights().bears(after, LEGS)
    settings = [start + timedelta(minutes=at) for _, at in nights().settings(after)]
    assert settings[-1].time() == NIGHT[1], "and no later than it must"
    assert SLEEPS in [leg.ruled_by for leg in after]


def test_begun_early_enough_nothing_waits():
    start = datetime(2026, 11, 27, 7, 0, tzinfo=UTC)
    assert after_the_night(LEGS, nights(), start=start) == LEGS


def test_begun_an_hour_before_bed_a_first_climb_that_reaches_into_the_night_has_no_course():
    """Nothing stands before it that could wait."""
    slow = (replace(LEGS[0], ramp_c_per_h=20.0), *LEGS[1:])
    assert after_the_night(slow, nights(), start=datetime(2026, 11, 27, 21, 0, tzinfo=UTC)) is None


TWO_FLASKS = (*LEGS, Leg(start_c=541.0, target_c=441.0, ramp_c_per_h=100.0, hold_min=60, why="the next flask"))
"""Two hours more, for a flask that is poured cooler."""


def test_before_a_pour_that_is_fixed_the_night_is_bridged_before_it_and_not_after():
    """Poured at 10:00 as above: the second flask, out at noon, must not bear the hours that the night asks for."""
    pour_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    through = through_the_night(TWO_FLASKS, nights(), end_at=pour_at + timedelta(hours=2), first=4)
    assert through[4].hold_min == 60
    assert nights().asleep(through, pour_at + timedelta(hours=2)) == []
    assert through[:4] == through_the_night(LEGS, nights(), end_at=pour_at)


def test_what_is_set_after_a_pour_in_the_night_cannot_be_brought_before_it():
    """Poured at 23:00, the fall to the next flask's level is set then: no hold before it moves the pour, none lies between."""
    pour_at = datetime(2026, 11, 28, 23, 0, tzinfo=UTC)
    assert through_the_night(TWO_FLASKS, nights(), end_at=pour_at + timedelta(hours=2), first=4) is None


def test_what_is_set_late_after_the_first_pour_waits_for_the_morning():
    """Poured at 21:30, a third flask's level would be set at 23:30: the second one stands until 06:30, seven hours more."""
    three = (*TWO_FLASKS, Leg(start_c=441.0, target_c=391.0, ramp_c_per_h=100.0, hold_min=60, why="the last flask"))
    wide, pour_at = nights(flask_longer_min=480), datetime(2026, 11, 28, 21, 30, tzinfo=UTC)
    through = through_the_night(three, wide, end_at=pour_at + timedelta(hours=3, minutes=30), first=4)
    assert through[4].hold_min - 60 == 7 * 60
    assert wide.asleep(through, pour_at + timedelta(minutes=total_min(through[4:]))) == []
