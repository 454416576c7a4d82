"""A load of several sizes in a week: the programme that rules it is safe for each of them."""

from pourwell.steps.burnout.legs import legs_as_typed
from pourwell.steps.burnout.sizes import as_seen_by
from pourwell.steps.day.week_mates import safe_with_mates
from tests.unit.day.weeks import asked, entry

DISC = {"flask": "102x60", "pattern": "wax-injection"}
TALL = {"flask": "100x203", "pattern": "wax-injection"}


def test_each_programme_keeps_the_limits_of_all_that_it_may_rule():
    found = asked(entry("studs", **DISC), entry("studs", **TALL)).candidates
    assert len({one.fired[0].programme.total_min for one in found}) == len(found), "each size has its own"
    for ruler in found:
        for mate in found:
            one, other = ruler.fired[0], mate.fired[0]
            if other.programme.total_min <= one.programme.total_min:
                seen = as_seen_by(other.case, one.programme, until_min=one.programme.total_min)
                assert all(verdict.keeps for verdict in seen.verdicts)


def test_what_is_alone_or_the_users_own_is_left_as_it_is():
    alone = asked("studs").candidates
    assert safe_with_mates(alone) == alone
    own = asked(entry("bronze", programme="stone-wax"), entry("bronze", flask="102x203", programme="stone-wax")).candidates
    assert safe_with_mates(own) == own
    assert len({legs_as_typed(one.fired[0].programme) for one in own}) > 1
