"""Several sizes in one kiln: the programme keeps the limits of each, at every end of the inputs."""

from dataclasses import replace
from functools import cache

import pytest

from pourwell.steps.burnout.inside import ALL, all_traits, corners_of, ends_of, windows
from pourwell.steps.burnout.legs import course, legs_as_typed, legs_of, passes_min
from pourwell.steps.burnout.load import Wanted, served
from pourwell.steps.burnout.plan import programme, usual_row
from pourwell.steps.burnout.sizes import as_seen_by, findings_for, for_all, last_to_dry, safe_for, sizes_of, told_for
from tests.unit.burnout.test_inside import case

DISC, TALL = case(102, 60), case(100, 203)
LOAD = tuple(replace(one, flasks_count=2) for one in (DISC, TALL))


@cache
def both():
    return for_all(LOAD)


def test_a_tall_flask_that_is_narrower_dries_last_and_rules():
    """A disc of 102 x 60 mm is dry more than an hour before a flask of 100 x 203 mm."""
    made, worst = both()
    assert worst.flask.height_mm == 203
    assert last_to_dry(LOAD, legs_as_typed(made)) == worst
    assert last_to_dry(LOAD[:1], legs_as_typed(made)) == LOAD[0]


def test_the_programme_made_for_the_widest_alone_would_be_left_while_the_tall_one_is_wet():
    """What the width alone would have chosen: the slow end of the tall flask is wet more than an hour too long."""
    legs = legs_as_typed(programme(LOAD[0]))
    found = all_traits(ends_of(TALL), corners_of(*course(legs)), windows(TALL))
    assert max(t.dry for t in found.values()) > passes_min(legs, 400.0) + 30


@pytest.mark.parametrize("one", LOAD, ids=["disc", "tall"])
def test_each_size_is_dry_in_time_and_keeps_every_limit_at_every_end(one):
    made, _ = both()
    seen = as_seen_by(one, made, until_min=made.total_min)
    assert all(verdict.keeps for verdict in seen.verdicts)
    assert seen.core_dry_late_min <= seen.passes_400_min + 5
    assert set(ends_of(one)) == set(ALL)


@pytest.mark.parametrize("one", LOAD, ids=["disc", "tall"])
def test_nothing_is_shorter_than_published_for_any_of_the_sizes(one):
    made, _ = both()
    for leg, segment in zip(legs_of(usual_row(one, own=None), one, own=False), made.segments, strict=True):
        assert segment.hold_min >= leg.hold_min
        assert abs(segment.ramp_c_per_h) <= leg.ramp_c_per_h


def test_each_size_is_there_once_the_widest_first():
    assert [c.flask.height_mm for c in sizes_of([TALL, DISC, case(50, 60), TALL])] == [60, 203, 60]


def test_one_size_alone_is_left_as_it_is():
    made = programme(LOAD[0])
    assert safe_for(legs_as_typed(made), LOAD[:1], like=made) == legs_as_typed(made)
    assert for_all([LOAD[0], LOAD[0]])[0] == made


def test_a_flask_that_is_poured_first_is_judged_at_its_own_pour():
    """At 600 the small one, then the large one an hour or more later at 480: the first is even, at its own temperature."""
    load = [Wanted(case=case(50, 60, flask_c=600.0), label="hot"), Wanted(case=case(76, 100, flask_c=480.0), label="cool")]
    made, out, _ = served(load, turn_min=20)
    seen = as_seen_by(load[0].case, made, until_min=out[0].out_min)
    assert seen.segments[-1].target_c == 600
    assert seen.total_min == out[0].out_min < made.total_min
    assert "flask-uneven" not in {finding.code for finding in findings_for(load[0].case, seen, own=False)}


def test_one_whole_programme_is_told_for_each_flask_of_its_load():
    """The disc dries sooner and has measures of its own; what is typed stays the same."""
    made, worst = both()
    mine = told_for(DISC.flask, made, like=worst, until_min=made.total_min)
    assert mine.segments == made.segments
    assert mine.core_dry_late_min < made.core_dry_late_min
    assert [v.measure for v in mine.verdicts] != [v.measure for v in made.verdicts]
    assert told_for(worst.flask, made, like=worst, until_min=10) is made
