"""What to give up when nothing fits: each offer is a change of what was asked, and what it buys holds."""

from dataclasses import replace
from datetime import UTC, datetime, time

import pytest

from pourwell.materials.studio import Studio
from pourwell.steps.day.give_up import Asked, Offer, offers, steps
from pourwell.steps.day.open_hours import Terms, terms_of, week_of
from pourwell.steps.day.rota import solve
from pourwell.steps.day.week_model import ROOM, Firing, WeekKiln, WeekRun
from tests.unit.day.week_case import run, week

MONDAY = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
RULES = {"bag_max_min": 1440, "crucible_change_min": 10, "set_point_min": 2}
ONE = (WeekKiln(name="kiln"),)


def terms(**studio: object) -> Terms:
    own = Studio(time_zone="UTC", **studio)  # type: ignore[arg-type]
    return terms_of(own, start_at=MONDAY, asked=(), first_pour_at=None, rules=RULES)


def asked(*runs: WeekRun, first: str | None = None, **studio: object) -> Asked:
    own = terms(**studio)
    if first:
        own = replace(own, first_pour_at=datetime.fromisoformat(first).replace(tzinfo=UTC))
    return own, week(*runs).runs, ONE


def found(given: Asked) -> dict[str, Offer]:
    return {offer.key: offer for offer in offers(given)}


def nothing_fits(given: Asked) -> bool:
    return solve(week_of(*given)).status == "nothing"


def test_a_pour_in_the_evening_asks_for_a_longer_day():
    """22 h before, 16 of burnout and 6 of holding, the kiln is begun at 20:40 at the earliest: somebody must be there."""
    given = asked(run(), first="2027-03-02 18:40")
    assert nothing_fits(given)
    late = found(given)["late"]
    assert late.says == "work until 21:00", "hours come whole"
    assert late.first_pour_at == late.last_pour_at == datetime(2027, 3, 2, 18, 40, tzinfo=UTC)


def test_a_pour_before_the_bench_opens_asks_for_an_earlier_one():
    offer = found(asked(run(), first="2027-03-02 08:10"))["early"]
    assert offer.says == "begin at 07:00"


def test_hours_are_never_made_longer_than_somebody_is_awake():
    given = asked(run(), first="2027-03-02 20:00", sleep_from=time(20, 0))
    assert "late" not in found(given)


def test_a_pour_that_comes_too_soon_can_only_be_let_go():
    given = asked(run(), first="2027-03-01 17:00")
    assert set(found(given)) == {"pour"}
    assert found(given)["pour"].first_pour_at == datetime(2027, 3, 2, 8, 40, tzinfo=UTC)


def test_the_nearest_pours_that_fit_are_named_first():
    """Asked in the middle of the night; the bench opens at eight, 40 min of set-out and melt before a pour."""
    given = asked(run(), first="2027-03-03 03:00")
    own = given[0]
    told = offers(given, pour_at=own.first_pour_at, at_pour=lambda at: (replace(own, first_pour_at=at), *given[1:]))
    assert [offer.key for offer in told[:2]] == ["later", "earlier"]
    assert told[0].says == "pour 5 h 45 min later"
    assert told[0].first_pour_at == datetime(2027, 3, 3, 8, 45, tzinfo=UTC)
    assert told[1].first_pour_at < own.first_pour_at
    assert told[1].first_pour_at.time() == time(17, 0), "the kiln on at seven at the latest, 16 h, and 6 h of holding"


def test_letting_the_pour_go_is_not_told_beside_a_nearest_one_that_is_the_same():
    given = asked(run(), first="2027-03-01 17:10")
    own = given[0]
    told = offers(given, pour_at=own.first_pour_at, at_pour=lambda at: (replace(own, first_pour_at=at), *given[1:]))
    assert [offer.key for offer in told] == ["later"]


def test_a_helper_sets_the_programme_as_it_is_where_no_night_is_minded():
    """The holds that last through the night make it 30 h; a helper sets the 16 h of the plain one."""
    slept, awake = (Firing(total_min=m, free_after_min=360, set_at_min=(0, 420, 780)) for m in (1800, 960))
    plain = asked(run(firings=(awake,)), first="2027-03-02 10:00")
    given = asked(run(firings=(slept,)), first="2027-03-02 10:00")
    told = {offer.key: offer for offer in offers(given, plain=plain)}
    assert told["awake"].first_pour_at == datetime(2027, 3, 2, 10, 0, tzinfo=UTC)


def test_a_small_kiln_asks_for_a_second_one():
    full = replace(run().firings[0], room_parts=ROOM)
    given = asked(*[run(firings=(full,), pour_by_min=1440 + 660)] * 2)
    assert nothing_fits(given)
    offer = found(given)["kiln"]
    assert offer.says == "a second kiln"
    assert offer.last_pour_at.day == 2


def test_a_long_programme_asks_to_fire_overnight():
    given = asked(run(), overnight_firing=False)
    assert found(given)["overnight"].says == "allow firing overnight"


def test_a_limit_of_standing_asks_for_a_damp_bag():
    given = asked(run(set_min=230, stand_max_min=240), work_to=time(12, 0))
    assert "bag the flasks damp, so that they may stand up to 24 h before the kiln" in found(given)["bag"].says


def test_a_day_off_can_be_worked():
    given = asked(run(), first="2027-03-02 10:00", days_off=("Tuesday",))
    offer = found(given)["day 1"]
    assert offer.says == "work on Tuesday 2"
    assert offer.last_pour_at.day == 2


def test_a_flask_that_may_not_wait_asks_for_a_longer_hold():
    given = asked(run(wait_max_min=0), first="2027-03-02 15:02", work_to=time(16, 0), work_from=time(14, 0))
    assert "hold" in " ".join(found(given))


def test_a_kiln_set_by_hand_in_the_night_asks_for_a_helper():
    own = Firing(total_min=960, free_after_min=360, fall_c_per_h=120.0, set_at_min=(0, 420, 780))
    given = asked(run(firings=(own,)))
    assert nothing_fits(given)
    assert found(given)["awake"].says == "let a helper set the kiln while you sleep"


def test_where_one_thing_is_not_enough_the_fewest_found_together_are_offered():
    given = asked(run(set_min=230, stand_max_min=240, wait_max_min=0), work_to=time(11, 0), overnight_firing=False)
    (offer,) = offers(given)
    assert " + " in offer.key
    assert " and " in offer.says
    keys = set(offer.key.split(" + "))
    assert "overnight" in keys


def test_what_nothing_helps_gets_no_offer():
    given = asked(run(firings=(None,)))
    assert offers(given) == ()


@pytest.mark.parametrize("first", ["2027-03-02 20:00", "2027-03-02 08:10", "2027-03-01 17:00"])
def test_what_an_offer_buys_holds_when_it_is_taken(first):
    """Each offer's own change, solved anew whole, has the last pour that was told."""
    given = asked(run(), first=first)
    told = found(given)
    done = set()
    for step in steps(given):
        if step.key in told and step.says == told[step.key].says and step.key not in done:
            done.add(step.key)
            changed = step.apply(given)
            rota = solve(week_of(*changed))
            assert rota.status == "proven"
            assert changed[0].moment(rota.goals[0].value) == told[step.key].last_pour_at
    assert done == set(told)


def test_nothing_is_offered_that_stands_already():
    given = asked(run())
    keys = {step.key for step in steps(given)}
    assert not {"overnight", "awake", "pour"} & keys
    assert {"bag", "late", "early", "hold", "kiln"} <= keys


def test_an_offer_says_what_to_ask_for_instead_where_that_is_one_figure():
    late = found(asked(run(), first="2027-03-02 18:40"))
    assert late["late"].value == "21:00"
    assert found(asked(run(), first="2027-03-02 08:10"))["early"].value == "07:00"
    held = {step.key: step.value for step in steps(asked(run(wait_max_min=90), run(wait_max_min=360)))}
    assert held["hold"] == "720", "twice as long as the longest of them"
    assert {held[key] for key in ("bag", "kiln")} == {""}, "a tick, and another kiln, are no figure"
