"""Every end of the inputs is held against its own limit, and the search and the verdict see the same."""

from dataclasses import replace

import pytest

from pourwell.cli.burnout import _limit
from pourwell.steps.burnout.inside import ALL, FAST, LIKELY, SLOW, all_traits, corners_of, ends_of, traits, windows
from pourwell.steps.burnout.legs import course, legs_of
from pourwell.steps.burnout.limits import KINDS, Limits, broken, judge, limits_of
from pourwell.steps.burnout.model import SLACK
from pourwell.steps.burnout.plan import programme, row_beside, usual_row
from tests.unit.burnout.case import altered, own_programme, with_row
from tests.unit.burnout.test_inside import case, library

CRISTOBALITE = next(kind for kind in KINDS if kind.key == "cristobalite")
STEAM = next(kind for kind in KINDS if kind.key == "steam")
CARBON = next(kind for kind in KINDS if kind.key == "carbon")
RULES = {kind.key: kind.rule for kind in KINDS}


def limits(kind, allowed):
    asked = case(50, 60)
    each = {which: {kind.key: allowed.get(which, 1e3 if kind.at_most else 0.0)} for which in ALL}
    return Limits(allowed=each, published=each, kinds=(kind,), sources={kind.key: "a test"}, look=windows(asked))


def found(kind, values):
    asked = case(50, 60)
    corners = corners_of(*course(legs_of(usual_row(asked, own=None), asked, own=False)))
    usual = traits(ends_of(asked)[LIKELY], corners, windows(asked))
    return {which: usual._replace(**{kind.key: values.get(which, 1.0)}) for which in ALL}


def test_a_small_excess_over_a_small_limit_is_seen_beside_a_larger_one_over_a_large_limit():
    """5.2 over 5.0 is 4 %; 103 over 100 is 3 kW/m2 more, and only 3 %: the first breaks its limit, the second does not."""
    given = limits(STEAM, {SLOW: 5.0, FAST: 100.0})
    measured = found(STEAM, {SLOW: 5.2, FAST: 102.9})
    assert broken(measured, given) == [(STEAM, SLOW)]
    (verdict,) = judge(measured, given)
    assert (verdict.measure, verdict.limit, verdict.keeps) == (5.2, 5.0, False)


@pytest.mark.parametrize(("high_k", "reached"), [(152.0, 152.0), (150.2, None), (149.0, None)])
def test_the_most_at_any_end_is_told_where_it_is_over_the_rule_s_own_figure(high_k, reached):
    """143 of 150 K is where the margin is least; 152 K of a widened 215 is over the rule's 150 all the same."""
    given = replace(limits(CRISTOBALITE, {SLOW: 150.0, FAST: 215.0}), rules={"cristobalite": 150.0})
    (verdict,) = judge(found(CRISTOBALITE, {SLOW: 143.0, FAST: high_k}), given)
    assert verdict.keeps
    assert (verdict.reached, verdict.rule) == (reached, reached and 150.0)
    if reached:
        assert (verdict.measure, verdict.limit) == (143.0, 150.0)
        assert "; at its highest 152, OVER the rule's own 150;" in _limit(verdict)
    else:
        assert "OVER" not in _limit(verdict)


@pytest.mark.parametrize("share", [0.9, 0.96, 0.98, 1.0, 1.02, 1.04, 1.2])
@pytest.mark.parametrize("kind", [STEAM, CARBON], ids=["at most", "at least"])
def test_the_search_and_the_verdict_agree(kind, share):
    given = limits(kind, {LIKELY: 0.5, SLOW: 200.0, FAST: 3.0})
    measured = found(kind, {LIKELY: 0.5, SLOW: 200.0 * share, FAST: 3.0})
    (verdict,) = judge(measured, given)
    assert verdict.keeps == (not broken(measured, given))
    assert verdict.keeps == (share <= 1 + SLACK if kind.at_most else share >= 1 - SLACK)


def test_nothing_asked_is_nothing_missed():
    assert broken(found(CARBON, {}), limits(CARBON, {})) == []


def test_what_the_pattern_needs_is_that_of_a_flask_alone_however_full_the_kiln():
    """Flasks shade each other: in a full kiln the published cycle itself burns off less, which is no reason to ask for less."""
    alone = case(76, 100)
    full = replace(alone, flasks_count=4)
    row = usual_row(alone, own=None)
    for kind in KINDS:
        for which in ALL:
            assert limits_of(full, row).allowed[which][kind.key] == limits_of(alone, row).allowed[which][kind.key]
    corners = corners_of(*course(legs_of(row, full, own=False)))
    shaded, free = (all_traits(ends_of(one), corners, windows(one)) for one in (full, alone))
    assert shaded[SLOW].draining < free[SLOW].draining


def judged(asked):
    """The limits of a case, the verdicts on its own table by their keys, and what that table does at every end."""
    row = usual_row(asked, own=None)
    made = limits_of(asked, row)
    done = all_traits(ends_of(asked), corners_of(*course(legs_of(row, asked, own=False))), windows(asked))
    return made, {verdict.key: verdict for verdict in judge(done, made)}, done


@pytest.mark.parametrize("size", [(50, 60), (76, 100), (100, 130)])
def test_the_pattern_s_limit_is_the_rule_s_and_the_table_s_course_stands_beside_it(size):
    """A table that is held against itself says nothing: the shortest published hold, with its source, is the limit."""
    asked = case(*size)
    made, told, done = judged(asked)
    row = usual_row(asked, own=None)
    for key in ("draining", "charring", "carbon"):
        verdict, rule = told[key], asked.library.rules[RULES[key]]
        assert (verdict.limit, verdict.source) == (rule.value, rule.source)
        assert verdict.held_to == verdict.published > verdict.limit
        assert verdict.held_source == row.source != verdict.source
        assert verdict.measure == min(getattr(traits_, key) for traits_ in done.values())
        assert all(made.allowed[which][key] == made.published[which][key] for which in ALL)


def test_less_than_the_table_is_not_kept_though_the_rule_is():
    asked = case(76, 100)
    made, told, done = judged(asked)
    less = {which: one._replace(carbon=one.carbon * 0.8) for which, one in done.items()}
    verdict = next(v for v in judge(less, made) if v.key == "carbon")
    assert told["carbon"].keeps
    assert not verdict.keeps
    assert not verdict.meets
    assert verdict.limit < verdict.measure < verdict.asked


def test_what_the_table_never_reaches_is_told_and_not_judged():
    """The cycle for stones is never over 650 degC: seven rows as elsewhere, and one of them says so."""
    stones = replace(case(76, 100, flask_c=440), investment=library().investment("gypsum-stone"), stones=True)
    made, told, _ = judged(stones)
    assert list(told) == [kind.key for kind in KINDS]
    carbon = told["carbon"]
    assert (carbon.measure, carbon.judged, carbon.keeps, carbon.meets) == (0.0, False, True, True)
    assert "never gets there" in carbon.at_end
    assert carbon.source == stones.library.rules["carbon_least_min"].source
    assert [kind.key for kind in made.unjudged] == ["carbon"]
    assert all(told[kind.key].judged for kind in made.kinds)


def test_a_mould_s_limit_names_the_row_that_widened_it_and_how_wide_it_gets():
    """In 100 mm the published cycle for wax sets the differences, in 50 mm the rule sets that at quartz."""
    wide, narrow = case(100, 130), case(50, 60)
    wax = wide.library.programme("gypsum-wax")
    made, told, _ = judged(wide)
    assert told["cristobalite"].source == wax.source
    assert told["cristobalite"].widest == max(made.allowed[which]["cristobalite"] for which in ALL) > told["cristobalite"].limit
    quartz = judged(narrow)[1]["quartz"]
    assert (quartz.limit, quartz.source, quartz.widest) == (100, "own estimate", None)


def test_a_table_from_memory_widens_no_limit_of_the_mould():
    """Phosphate's cycle was put together from memory: the rules' figures alone hold, at every end; a supplier's widens them."""
    asked = replace(case(100, 130), investment=library().investment("phosphate"))
    remembered = asked.library.programme("phosphate")
    assert remembered.grade == "memory"
    alone = limits_of(asked, remembered)
    moulds = [kind for kind in KINDS if kind.mould]
    for kind in moulds:
        assert {alone.allowed[which][kind.key] for which in ALL} == {asked.library.rule(kind.rule)}
    read = remembered.model_copy(update={"grade": "supplier"})
    shelf = replace(asked.library, programmes={**asked.library.programmes, "phosphate": read})
    wider = limits_of(replace(asked, library=shelf), read)
    assert any(wider.allowed[which][kind.key] > alone.allowed[which][kind.key] for which in ALL for kind in moulds)


def test_an_investment_s_own_programme_sets_no_limit_it_is_held_against():
    """A course of the studio's own that climbs twice as fast as any published one must not widen what it is judged by."""
    asked = case(76, 100)
    fast = own_programme((149, 300, 10), (732, 900, 30), ("flask", 300, 10))
    mine = altered(asked.investment, id="mine", programme_wax="maker", programme_resin="maker")
    own = replace(asked, investment=mine, library=with_row("programmes", fast))
    by_id = replace(asked, library=with_row("programmes", altered(fast, id="gypsum-wax")))
    usual = limits_of(asked, row_beside(asked))
    for one in (own, by_id):
        assert row_beside(one) == row_beside(asked)
        held = limits_of(one, row_beside(one))
        assert (held.allowed, held.tables) == (usual.allowed, usual.tables)
    harsh = all_traits(ends_of(own), corners_of(*course(legs_of(fast, own, own=True))), windows(own))
    assert {kind.key for kind, _ in broken(harsh, limits_of(own, row_beside(own)))} >= {"steam", "cristobalite"}
    assert programme(own).published_min == programme(asked).published_min
