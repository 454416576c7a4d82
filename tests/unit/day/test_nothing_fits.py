"""The sentences for a week in which nothing fits: why, what may be given up, and what each of it buys."""

from dataclasses import replace
from datetime import UTC, datetime

from pourwell.steps.day.give_up import Offer
from pourwell.steps.day.nothing_fits import NothingFitsError, bought, nothing_fits
from pourwell.steps.day.open_hours import week_of
from pourwell.steps.day.week_model import Firing, Rota
from tests.unit.day.test_give_up import ONE, terms
from tests.unit.day.week_case import run, week

FRIDAY = datetime(2027, 3, 5, 10, 40, tzinfo=UTC)
NONE = Rota(status="nothing", runs=(), loads=(), goals=())


def offer(key="late", *, last=FRIDAY, **more):
    return Offer(key=key, says="work until 20:00", first_pour_at=FRIDAY, last_pour_at=last, **more)


def told(*runs, status="nothing", found=(), first=None, **studio):
    own = terms(**studio)
    if first:
        own = replace(own, first_pour_at=datetime.fromisoformat(first).replace(tzinfo=UTC))
    return nothing_fits(own, week_of(own, week(*runs).runs, ONE), replace(NONE, status=status), found=found)


def test_it_names_the_hours_and_the_longest_burnout():
    long = run(firings=(Firing(total_min=1065, free_after_min=360, fall_c_per_h=120.0, room_parts=6930),))
    error = told(run(), long)
    assert error.what == "Nothing fits."
    assert error.why == (
        "With hands-on work from 08:00 to 19:00 and a burnout of up to 17 h 45 min no rota serves all of these runs."
    )


def test_a_pour_outside_the_hours_is_named_before_all_else():
    error = told(run(name="Studs", pour_at_min=20 * 60 + 30 - 480), run())
    assert error.why.startswith("The pour of Studs at 20:30 on Monday lies outside the hours, 08:00 to 19:00")


def test_so_is_a_first_pour_on_a_day_off():
    error = told(run(), first="2027-03-07 10:00", days_off=("Sunday",))
    assert error.why == "The pour of the first flask at 10:00 on Sunday lies outside the hours, 08:00 to 19:00, or on a day off."


def test_a_search_that_came_to_no_end_rules_nothing_out():
    error = told(run(), status="unknown", found=(offer(),))
    assert error.what == "No rota was found in the time given to the search."
    assert error.why == "None is ruled out either."
    assert "work until 20:00" in error.try_this, "what is known to fit is told all the same"


def test_each_offer_stands_on_its_own_line_with_what_it_buys_and_goes_along_as_data():
    late, more = offer(value="20:00"), offer("bag", last=datetime(2027, 3, 6, 9, 0, tzinfo=UTC))
    error = told(run(), found=(late, more))
    assert error.try_this.splitlines() == [
        "Give up one of these:",
        "  work until 20:00: pour Friday 05 March, 10:40",
        "  work until 20:00: first pour Friday 05 March, 10:40; last Saturday 06 March, 09:00",
    ]
    assert error.offers == (late, more)
    assert isinstance(error, NothingFitsError)


def test_without_any_offer_fewer_runs_are_the_way():
    error = told(run())
    assert error.try_this == "Nothing that could be given up alone or together helps: plan fewer runs."
    assert error.offers == ()


def test_one_pour_is_bought_as_one_and_several_by_their_first_and_last():
    assert bought(offer()) == "pour Friday 05 March, 10:40"
    assert bought(offer(last=datetime(2027, 3, 5, 11, 50, tzinfo=UTC))).endswith("last Friday 05 March, 11:50")
