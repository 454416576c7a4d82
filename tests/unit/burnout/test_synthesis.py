"""How a programme grows until it keeps its limits, takes time to spare, and is fitted to a controller."""

from dataclasses import replace

import pytest

from pourwell.errors import BadRequestError
from pourwell.materials.model import Proof
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.inside import SLOW, all_traits, colder, corners_of, ends_of, traits
from pourwell.steps.burnout.legs import course, legs_as_typed, legs_of, passes_min, total_min
from pourwell.steps.burnout.limits import broken, judge, limits_of
from pourwell.steps.burnout.model import SLACK, Factor, Measured
from pourwell.steps.burnout.plan import programme, shortest_of, stretched, usual_row
from pourwell.steps.burnout.synthesis import (
    bare,
    drying_index,
    fitted,
    grown,
    peak_index,
    ruled,
    safest,
    slower,
    with_last,
    with_spare,
)
from pourwell.steps.burnout.telling import row_words
from tests.unit.burnout.case import own_programme, with_row
from tests.unit.burnout.test_inside import case, library

NEAR = Factor(value=1.0, low=0.95, high=1.05, source="log of 2026-11-20")
PROVEN = Proof(to_mm=76, pattern="wax")
LOGGED = Measured(conductivity=NEAR, film=NEAR, water=Factor(value=0.9, low=0.87, high=0.93, source="weighed"))


def published(asked):
    return legs_of(usual_row(asked, own=None), asked, own=False)


def limits(asked, **more):
    return limits_of(asked, usual_row(asked, own=None), **more)


def traits_at_all(legs, asked):
    return all_traits(ends_of(asked), corners_of(*course(legs)), limits(asked).look)


def test_the_published_programme_keeps_all_limits_by_itself_but_for_the_dry_core():
    """Nothing cries wolf: a flask of a published size under its own cycle."""
    for diameter_mm, height_mm in ((64, 64), (89, 102), (102, 102)):
        asked = case(diameter_mm, height_mm)
        assert broken(traits_at_all(published(asked), asked), limits(asked)) == []


def test_a_plunge_breaks_steam_and_differences():
    asked = case()
    (leg, *_) = published(asked)
    plunge = (replace(leg, target_c=700.0, ramp_c_per_h=4000.0, hold_min=240),)
    assert {kind.key for kind, _ in broken(traits_at_all(plunge, asked), limits(asked))} >= {"steam", "cristobalite"}


def test_what_breaks_is_mended_by_slower_climbs():
    asked = case(89, 102)
    fast = tuple(replace(leg, ramp_c_per_h=350.0) if leg.target_c > leg.start_c else leg for leg in published(asked))
    assert broken(traits_at_all(fast, asked), limits(asked))
    mended = grown(fast, asked, limits(asked))
    assert broken(traits_at_all(mended, asked), limits(asked)) == []
    ruled = {leg.ruled_by for leg in mended}
    assert ruled & {"steam", "rim and core, 200 to 300 °C", "rim and core, 560 to 590 °C"}


def test_a_hold_that_is_too_short_for_the_pattern_grows():
    asked = case(64, 64)
    legs = published(asked)
    short = (replace(legs[0], hold_min=20), legs[1], replace(legs[2], hold_min=30), legs[3])
    mended = grown(short, asked, limits(asked))
    assert broken(traits_at_all(mended, asked), limits(asked)) == []
    assert (mended[0].ruled_by, mended[2].ruled_by) == ("the pattern drains", "carbon burns off")
    assert mended[0].hold_min == pytest.approx(legs[0].hold_min, abs=10)


def test_a_last_hold_that_leaves_the_mould_uneven_grows():
    asked = case(127, 180)
    legs = published(asked)
    mended = grown((*legs[:-1], replace(legs[-1], hold_min=5)), asked, limits(asked))
    assert mended[-1].hold_min > 60
    assert mended[-1].ruled_by.startswith("the core comes to the flask temperature")


def test_the_shortest_possible_is_shorter_and_keeps_the_rules_at_the_likely_inputs():
    asked = case()
    loose = limits(asked, bare=True)
    shortest = shortest_of(published(asked), asked, loose)
    assert total_min(shortest) < 0.85 * total_min(published(asked))
    verdicts = judge({w: t for w, t in traits_at_all(shortest, asked).items() if w == (1, 1, 1)}, loose)
    assert all(v.keeps for v in verdicts)


@pytest.mark.parametrize(("investment", "pattern"), [("gypsum-standard", "wax-injection"), ("gypsum-resin", "resin")])
def test_the_shortest_possible_of_a_wider_flask_is_never_shorter(investment, pattern):
    """Heat goes by the square of the way; a wider flask cannot be done sooner, whatever the levels of its table are."""
    own = {"investment": library().investment(investment), "pattern_material": library().pattern(pattern)}
    found = []
    for diameter_mm in (50, 63, 76, 89, 100, 127):
        asked = replace(case(diameter_mm, 100), **own)
        found.append(total_min(shortest_of(published(asked), asked, limits(asked, bare=True))))
    assert found == sorted(found), f"observed {found} min"


def test_a_core_that_lags_behind_the_climb_is_waited_for_before_the_climb_is_slowed():
    """Slowing the whole climb to 732 would cost hours where minutes at the drying level do."""
    asked = case()
    loose, least = limits(asked, bare=True), bare(published(asked), asked)
    slow, quick = (grown(least, asked, loose, sure=False, slack=SLACK, quick=q) for q in (False, True))
    assert total_min(quick) < total_min(slow) - 60
    index = drying_index(quick, asked)
    assert quick[index].hold_min > slow[index].hold_min
    assert "rim and core" in quick[index].ruled_by


def test_the_bare_levels_climb_no_faster_than_the_kiln():
    asked = case(kiln=Kiln(rise_c_per_h=90))
    assert max(leg.ramp_c_per_h for leg in bare(published(asked), asked) if leg.target_c > leg.start_c) <= 90


def test_time_to_spare_goes_into_drying_and_carbon_half_each():
    asked = case()
    legs = grown(published(asked), asked, limits(asked))
    spared = with_spare(legs, asked, 100)
    more = [after.hold_min - before.hold_min for before, after in zip(legs, spared, strict=True)]
    assert more == [0, 50, 50, 0]
    assert (spared[1].ruled_by, spared[2].ruled_by) == ("your hours", "your hours")


def test_what_drying_and_carbon_cannot_take_goes_into_the_last_hold():
    asked = case()
    legs = published(asked)
    spared = with_spare(legs, asked, 2000)
    assert total_min(spared) == total_min(legs) + 2000
    assert spared[1].hold_min == asked.library.rule("drying_hold_longest_min")
    assert spared[2].hold_min == asked.library.rule("peak_hold_longest_min")
    assert spared[3].hold_min > 1000


def test_more_time_never_breaks_a_limit():
    asked = case(102, 130)
    legs = grown(published(asked), asked, limits(asked))
    for spare in (60, 300, 700):
        assert broken(traits_at_all(with_spare(legs, asked, spare), asked), limits(asked)) == []


def test_a_programme_without_a_climb_past_400_has_no_drying_hold():
    asked = case()
    legs = published(asked)
    assert drying_index(legs[:2], asked) is None
    assert drying_index(legs, asked) == 1
    assert peak_index(legs) == 2


def test_a_small_controller_leaves_a_level_out_and_keeps_the_limits():
    asked = case(102, 130, kiln=Kiln(segments_count=4))
    legs = grown(published(asked), asked, limits(asked))
    assert len(legs) == 5
    typed = fitted(legs, asked, limits(asked))
    assert [leg.target_c for leg in typed] == [149, 371, 732, 540]
    assert broken(traits_at_all(typed, asked), limits(asked)) == []
    assert total_min(typed) >= total_min(published(asked))


def test_a_controller_of_two_segments_cannot_be_served_alone():
    asked = case(kiln=Kiln(segments_count=2))
    assert len(fitted(published(asked), asked, limits(asked))) == 4
    assert len(programme(asked).by_hand) > 1


def test_slower_climbs_are_typed_in_fives_and_have_an_end():
    asked = case()
    legs = published(asked)
    once = slower(legs)
    assert [leg.ramp_c_per_h for leg in once] == [125, 125, 200, 120]
    for _ in range(20):
        once = slower(once)
    assert {leg.ramp_c_per_h for leg in once[:3]} == {20}


def test_a_longer_last_hold_is_yours():
    legs = published(case())
    assert with_last(legs, 0) == legs
    assert (with_last(legs, 30)[-1].hold_min, with_last(legs, 30)[-1].ruled_by) == (legs[-1].hold_min + 30, "your hours")


def test_a_stretched_programme_is_judged_anew_and_keeps_its_soak():
    asked = case()
    made = programme(asked)
    longer = stretched(made, asked, spare_min=120, turns_min=20, own=False)
    assert longer.total_min == made.total_min + 140
    assert longer.soak_min == made.soak_min == made.segments[-1].hold_min
    assert longer.segments[-1].hold_min == made.segments[-1].hold_min + 20
    assert longer.energy_kwh > made.energy_kwh
    assert longer.inside.carbon_min.low > made.inside.carbon_min.low + 55
    assert stretched(made, asked, spare_min=0, turns_min=0, own=False) is made


def test_your_own_programme_is_only_held_longer_at_its_end():
    asked = replace(case(), library=with_row("programmes", own_programme((149, 100, 120), (371, 100, 240), (732, 150, 180))))
    made = programme(asked, own="maker")
    longer = stretched(made, asked, spare_min=60, turns_min=0, own=True)
    assert [s.hold_min for s in longer.segments[:-1]] == [s.hold_min for s in made.segments[:-1]]
    assert longer.segments[-1].hold_min == made.segments[-1].hold_min + 60


def test_a_shorter_programme_needs_a_log_or_a_proven_one():
    with pytest.raises(BadRequestError, match="needs a log of your own flask"):
        programme(case(), shorter=True)
    made = programme(case(measured=LOGGED), shorter=True)
    assert made.total_min < made.published_min
    assert all(name in " ".join(made.inside.measured) for name in ("conductivity", "film", "water"))


def test_the_maxima_of_a_proven_programme_are_limits_of_yours():
    """An own programme climbs faster than published: judged against the published it fails, proven it is its own limit."""
    hasty = ((149, 150, 30), (371, 400, 30), (732, 400, 60), ("flask", 120, 60))
    row = own_programme(*hasty)
    doubtful = replace(case(), library=with_row("programmes", row))
    proven = replace(case(), library=with_row("programmes", row.model_copy(update={"proven": PROVEN})))
    assert not all(v.keeps for v in programme(doubtful, own="maker").verdicts)
    assert all(v.keeps for v in programme(proven, own="maker").verdicts)


@pytest.mark.parametrize("proof", [Proof(to_mm=50, pattern="wax"), Proof(to_mm=100, pattern="resin")])
def test_what_has_proven_itself_in_a_narrower_flask_or_with_another_pattern_is_no_limit_and_no_cover(proof):
    hasty = own_programme((149, 150, 30), (371, 400, 30), (732, 400, 60), ("flask", 120, 60)).model_copy(update={"proven": proof})
    asked = replace(case(), library=with_row("programmes", hasty))
    assert not all(v.keeps for v in programme(asked, own="maker").verdicts)
    with pytest.raises(BadRequestError, match="needs a log of your own flask"):
        programme(asked, own="maker", shorter=True)


def test_a_shorter_programme_takes_no_time_from_the_pattern_that_the_proven_one_gives_it():
    """The one that covers it drains 30 min, chars 60 and holds the peak 90: none is undercut; it has a name of its own."""
    row = own_programme((149, 150, 30), (371, 400, 60), (732, 400, 90), ("flask", 120, 60)).model_copy(update={"proven": PROVEN})
    asked = replace(case(), library=with_row("programmes", row))
    mine, short = programme(asked, own="maker"), programme(asked, own="maker", shorter=True)
    least = {v.key: v.limit for v in mine.verdicts if not v.at_most}
    assert all(v.keeps for v in short.verdicts)
    assert {v.key: v.limit for v in short.verdicts if not v.at_most}.keys() == least.keys() == {"draining", "charring", "carbon"}
    assert short.inside.carbon_min.low >= 0.97 * min(mine.inside.carbon_min.low, least["carbon"])
    peak = max(short.segments, key=lambda s: s.target_c)
    assert peak.hold_min >= asked.library.rule("carbon_least_min")
    assert short.segments[-1].hold_min >= asked.library.rule("flask_hold_least_min")
    assert short.shortest_min <= short.total_min < short.published_min
    assert short.name != mine.name == row.name


def test_a_shorter_programme_that_logs_cover_holds_peak_and_flask_as_the_rules_ask():
    short = programme(case(measured=LOGGED), shorter=True)
    assert max(short.segments, key=lambda s: s.target_c).hold_min >= 60
    assert short.segments[-1].hold_min >= 60
    assert short.shortest_min <= short.total_min


def test_a_proven_programme_set_by_hand_is_not_warned_of_against_itself():
    """Its limit is what it does in his kiln, not its ideal ramps, and no more than published."""
    row = own_programme((149, 150, 60), (371, 150, 90), (732, 150, 150), ("flask", 120, 60)).model_copy(update={"proven": PROVEN})
    asked = replace(case(kiln=Kiln(segments_count=0)), library=with_row("programmes", row))
    made = programme(asked, own="maker")
    assert all(v.keeps for v in made.verdicts)
    hurried = [v for v in made.verdicts if not v.at_most and v.asked < v.published]
    assert hurried
    assert {v.by for v in hurried} == {"your own proven programme"}
    assert all(v.asked <= v.published for v in made.verdicts if not v.at_most)


def test_a_low_cycle_for_stones_is_not_held_to_carbon_that_it_never_burns():
    asked = case(64, 64, stones=True)
    made = programme(asked)
    (carbon,) = [v for v in made.verdicts if v.key == "carbon"]
    assert not carbon.judged, "told, but held against nothing"
    assert carbon.measure == 0.0
    assert all(v.keeps for v in made.verdicts)


def test_a_core_that_rushes_up_to_its_rim_as_it_dries_gets_a_cooler_drying_hold():
    """127 mm: no ramp helps where the rim stands at the hold's level; the hold is lower by steps of 5 K, longer, and says so."""
    asked = case(127, 150)
    table, made = published(asked), programme(asked)
    index = drying_index(table, asked)
    lower_k = table[index].target_c - made.segments[index].target_c
    assert 0 < lower_k <= 25
    assert lower_k % 5 == 0
    assert made.segments[index].hold_min > table[index].hold_min
    assert made.segments[index].ruled_by.endswith("; its level by rim and core at 200 to 300 °C")
    assert all(v.meets or abs(v.measure - v.limit) < 0.002 * v.limit for v in made.verdicts)
    assert made.total_min > made.published_min


@pytest.mark.parametrize("size", [(50, 60), (76, 100), (100, 100), (127, 150)])
def test_the_rules_own_figures_are_kept_at_every_end_and_no_table_is_leant_on(size):
    """The published cycle itself goes over them at some ends; holding lower and longer does not."""
    asked = case(*size)
    given, made = limits(asked), programme(asked)
    over = broken(traits_at_all(published(asked), asked), given.narrow())
    assert {kind.key for kind, _ in over} & {"cristobalite", "quartz"} or size[0] == 50
    assert broken(traits_at_all(legs_as_typed(made), asked), given.narrow(), slack=0.003) == []
    assert {v.key: v.limit for v in made.verdicts if v.key in ("steam", "cristobalite", "quartz")} == {
        "steam": 5.0,
        "cristobalite": 150.0,
        "quartz": 100.0,
    }
    assert all(v.widest is None for v in made.verdicts if v.at_most)


@pytest.mark.parametrize("size", [(76, 130), (100, 100), (127, 150)])
def test_what_is_printed_holds_no_longer_than_it_must(size):
    """Two of its steps less of drying, longer than the table's even so: a limit breaks at some end, or the core is wet."""
    asked = case(*size)
    made = legs_as_typed(programme(asked))
    index = drying_index(made, asked)
    table = published(asked)[drying_index(published(asked), asked)]
    less = replace(made[index], hold_min=made[index].hold_min - 20)
    assert less.hold_min >= table.hold_min, "else nothing is tried"
    shorter = (*made[:index], less, *made[index + 1 :])
    slow = traits(ends_of(asked)[SLOW], colder(corners_of(*course(shorter)), asked.kiln.error_k), limits(asked).look)
    wet = slow.dry > passes_min(shorter, asked.library.rule("dry_before_c"))
    assert wet or broken(traits_at_all(shorter, asked), limits(asked).narrow())


def test_where_no_programme_keeps_the_rules_the_published_cycle_widens_them():
    """A limit that nothing keeps leaves the one that is widened: the legs are those of before."""
    asked = case()
    given = limits(asked)
    never = replace(given, rules={**given.rules, "steam": 0.01})
    assert safest(published(asked), asked, never) == grown(published(asked), asked, never)


def test_a_drying_hold_that_is_as_long_as_may_be_is_not_set_lower():
    asked = case(127, 150)
    longest = asked.library.rule("drying_hold_longest_min")
    index = drying_index(published(asked), asked)
    full = tuple(replace(leg, hold_min=int(longest)) if i == index else leg for i, leg in enumerate(published(asked)))
    assert grown(full, asked, limits(asked))[index].target_c == full[index].target_c


def test_what_rules_a_leg_keeps_the_reasons_of_its_ramp_and_level():
    leg = replace(published(case())[0], ruled_by="the published programme; its ramp by your kiln")
    assert ruled(leg, "the core dries") == "the core dries; its ramp by your kiln"
    assert ruled(replace(leg, ruled_by="its ramp by your kiln"), "the core dries").startswith("the core dries; its")
    assert ruled(replace(leg, ruled_by=""), "the core dries") == "the core dries"


def test_a_table_that_flask_or_kiln_does_not_take_is_shown_as_it_stands():
    """100 mm: the table climbs at 240 K/h to 732 and falls at 150; the mould bears less at 573, and the kiln falls at 120."""
    made = programme(case(100, 125))
    rows = {s.target_c: s for s in made.published}
    assert (rows[732.0].ramp_c_per_h, rows[540.0].ramp_c_per_h) == (240, -150)
    held = {s.target_c: s for s in made.segments}
    assert held[732.0].ramp_c_per_h < 240
    assert "its ramp by what the mould bears" in published(case(100, 125))[3].ruled_by
    assert "its ramp by your kiln" in held[540.0].ruled_by
    assert "240} an hour to {t:732}" in row_words(made)
    assert row_words(made).startswith("The table as it stands (published): {k:150} an hour to {t:149}, 2 h 00 min;")


def test_a_table_that_is_taken_as_it_is_is_not_told_twice():
    made = programme(case(50, 60, kiln=Kiln(fall_c_per_h=400)))
    assert made.published == ()
    assert row_words(made) == ""


def test_a_peak_lowered_for_the_kiln_is_told_with_its_level():
    wrong = programme(case(kiln=Kiln(error_k=20)))
    assert wrong.lowered_to_c == wrong.peak_c == 720
    assert programme(case()).lowered_to_c is None
