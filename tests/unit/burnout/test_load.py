"""Several flasks in one kiln: one programme for the worst, the hottest out first, a soak for each temperature."""

from dataclasses import replace
from itertools import pairwise

import pytest

from pourwell.errors import BadRequestError
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.load import Wanted, evenly, served, until
from pourwell.steps.burnout.plan import programme
from tests.unit.burnout.test_inside import case


def wanted(label, diameter_mm, height_mm, flask_c=540.0):
    return Wanted(case=case(diameter_mm, height_mm, flask_c=flask_c), label=label)


def test_one_flask_is_its_own_programme():
    one = wanted("a", 76, 100)
    made, out, _ = served([one], turn_min=20)
    assert made == programme(one.case)
    (only,) = out
    assert (only.out_min, only.soak_min, only.flask_c) == (made.total_min, made.segments[-1].hold_min, 540)


def test_the_programme_of_a_full_kiln_is_that_of_its_worst_flask_hidden_by_the_others():
    load = [wanted("a", 50, 60), wanted("b", 76, 100), wanted("c", 76, 100)]
    made, _, worst = served(load, turn_min=20)
    assert worst.flasks_count == 3
    alone = programme(load[1].case)
    assert made.inside.dry_min.likely > alone.inside.dry_min.likely
    assert made.total_min >= alone.total_min
    assert all(v.keeps for v in made.verdicts)


def test_the_hottest_comes_out_first_and_each_temperature_has_its_soak():
    load = [wanted("cool", 50, 60, 460.0), wanted("hot", 64, 64, 600.0), wanted("middle", 76, 100, 540.0)]
    made, out, _ = served(load, turn_min=20)
    assert [o.label for o in out] == ["hot", "middle", "cool"]
    assert [o.flask_c for o in out] == [600, 540, 460]
    assert [s.target_c for s in made.segments[-3:]] == [600, 540, 460]
    assert all(o.soak_min >= 60 for o in out)
    assert [o.out_min for o in out] == sorted({o.out_min for o in out})
    assert out[-1].out_min == made.total_min
    assert all(s.ramp_c_per_h < 0 for s in made.segments[-3:])


def test_flasks_of_one_temperature_are_poured_in_turn_from_one_longer_hold():
    load = [wanted("a", 76, 100), wanted("b", 64, 64), wanted("c", 50, 60)]
    made, out, _ = served(load, turn_min=20)
    assert [o.label for o in out] == ["c", "b", "a"], "the small ones, which cool fastest, first"
    assert [b.out_min - a.out_min for a, b in pairwise(out)] == [20, 20]
    assert made.total_min == out[-1].out_min


def test_the_kiln_falls_to_the_next_temperature_only_when_the_pour_is_done():
    load = [wanted("hot", 64, 64, 565.0), wanted("cool", 64, 64, 540.0)]
    hand = [replace(one, case=replace(one.case, kiln=Kiln(segments_count=0))) for one in load]
    made, (first, second), _ = served(hand, turn_min=38, pour_min=3)
    fall = made.by_hand[-1]
    assert (fall.set_c, fall.at_min) == (540, first.out_min + 3)
    assert second.out_min == made.total_min


def test_no_fall_is_faster_than_the_kiln():
    slow = case(76, 100, flask_c=480.0)
    slow = replace(slow, kiln=slow.kiln.model_copy(update={"fall_c_per_h": 60.0}))
    hot = replace(slow, flask_c=600.0)
    made, _, _ = served([Wanted(case=hot, label="a"), Wanted(case=slow, label="b")], turn_min=20)
    assert [s.ramp_c_per_h for s in made.segments[-2:]] == [-60, -60]


def test_each_flask_is_judged_for_evenness_as_it_comes_out():
    """The wide one is poured at 540; that it would be uneven when the small one comes out at 450 harms nobody."""
    load = [wanted("wide", 127, 150), wanted("small", 50, 55, 450.0)]
    made, out, _ = served(load, turn_min=20)
    told = evenly(made, out, flasks_count=2)
    (before,), (after,) = ([v for v in p.verdicts if v.key == "uneven"] for p in (made, told))
    assert after.keeps
    assert after.measure < before.measure
    assert [v for v in told.verdicts if v.key != "uneven"] == [v for v in made.verdicts if v.key != "uneven"]


def test_a_flask_that_comes_out_too_soon_is_seen_though_the_last_is_even():
    load = [wanted("wide", 127, 150), wanted("small", 50, 55, 450.0)]
    made, out, _ = served(load, turn_min=20)
    hasty = [replace(out[0], out_min=out[0].out_min - out[0].soak_min), *out[1:]]
    (verdict,) = (v for v in evenly(made, hasty, flasks_count=2).verdicts if v.key == "uneven")
    assert not verdict.keeps
    assert "mould conducts" in verdict.at_end


def test_a_course_up_to_a_moment_ends_on_its_line():
    assert until(((0, 20), (60, 140), (90, 140)), 30) == ((0, 20), (30, 80))
    assert until(((0, 20), (60, 140), (90, 140)), 75) == ((0, 20), (60, 140), (75, 140))


def test_an_empty_kiln_is_refused_in_a_sentence():
    with pytest.raises(BadRequestError, match="No flask stands in the kiln"):
        served([], turn_min=20)
