"""Every end of the inputs is held against its own limit, and the search and the verdict see the same."""

from dataclasses import replace

import pytest

from pourwell.steps.burnout.inside import ALL, FAST, LIKELY, SLOW, all_traits, corners_of, ends_of, traits, windows
from pourwell.steps.burnout.legs import course, legs_of
from pourwell.steps.burnout.limits import KINDS, Limits, broken, judge, limits_of
from pourwell.steps.burnout.model import SLACK
from pourwell.steps.burnout.plan import usual_row
from tests.unit.burnout.test_inside import case

STEAM = next(kind for kind in KINDS if kind.key == "steam")
CARBON = next(kind for kind in KINDS if kind.key == "carbon")


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
