"""What stands against a printed sheet and is not on it: which reasons, which title, which stamp, flask by flask."""

from dataclasses import replace

import pytest

from pourwell.app.in_hand import standing
from pourwell.app.sheet_notice import BESIDE, FORMER, against
from pourwell.store.model import KeptResult, KeptRun
from tests.unit.web.samples import NOW, finding, plan

TAKEN = {"severity": "stop", "code": "kiln-taken", "says": "The kiln is taken.", "do": "Wait."}
HANDS = {"severity": "warn", "code": "hands-twice", "says": "Runs 1 and 2 want hands at once.", "do": "Move one."}


def clash(found):
    """A finding between runs, with its quantities marked beside the plain words."""
    return found | {"marked": {"says": f"{found['says']} At {{t:150}}.", "do": found["do"]}}


def run_of(*plans, clashes=()):
    kept = KeptRun(id=7, number=3, form={}, pieces=(), made_at=NOW, changed_at=NOW)
    made = standing(kept, KeptResult(id=1, asked={}, data={"plans": list(plans)}, made_at=NOW), NOW)
    return replace(made, clashes=tuple(map(clash, clashes)))


def notice(one, *, place=0, changed=()):
    return against(one, place=place, changed=changed, now=NOW)


def test_where_nothing_stands_against_a_sheet_there_is_no_notice():
    assert notice(run_of(plan())) is None
    stopped = plan(findings=[finding("stop", "The wall is open.")])
    assert notice(run_of(stopped)) is None, "its own stamp stands on it already"


@pytest.mark.parametrize(
    ("clashes", "changed", "title", "stamp"),
    [
        ([HANDS], (), BESIDE, ""),
        ([TAKEN], (), "Do not fire", "DO NOT FIRE"),
        ([HANDS, TAKEN], (), "Do not fire", "DO NOT FIRE"),
        ([], ("flask",), "Former sheet", FORMER),
        ([HANDS], ("flask",), "Former sheet", FORMER),
        ([TAKEN], ("flask",), "Do not fire", "DO NOT FIRE"),
        ([TAKEN | {"code": "other"}], (), "Do not pour", "DO NOT POUR"),
    ],
)
def test_the_gravest_of_what_stands_against_it_is_its_title_and_its_stamp(clashes, changed, title, stamp):
    told = notice(run_of(plan(), clashes=clashes), changed=changed)
    assert (told["title"], told["stamp"], told["number"]) == (title, stamp, 3)
    assert len(told["reasons"]) == len(clashes) + bool(changed)
    assert told["seen_at"] == NOW.isoformat()


def test_a_change_is_said_last_with_every_field_that_was_changed_and_the_way_out():
    told = notice(run_of(plan(), clashes=[HANDS]), changed=("flask", "hour of the pour"))
    assert [reason["severity"] for reason in told["reasons"]] == ["warn", "warn"]
    assert told["reasons"][-1]["says"].endswith("Since it was worked out, changed: flask, hour of the pour.")
    assert told["reasons"][-1]["do"].startswith("Have the run worked out again")


def test_reasons_keep_their_quantities_marked_so_that_the_paper_has_the_units_of_the_studio():
    told = notice(run_of(plan(), clashes=[TAKEN]))
    assert told["reasons"][0]["says"] == "The kiln is taken. At {t:150}."


def test_of_several_flasks_only_the_sheet_that_has_no_stamp_of_its_own_takes_another():
    """The first is stopped by itself and its sheet says so; the second is sound, but its run finds the kiln taken."""
    stopped, sound = plan(findings=[finding("stop", "The wall is open.")]), plan(findings=[finding("warn", "Thin.")])
    one = run_of(stopped, sound, clashes=[TAKEN])
    assert [notice(one, place=place)["stamp"] for place in (0, 1)] == ["", "DO NOT FIRE"]
    assert [notice(one, place=place)["title"] for place in (0, 1)] == ["Do not fire"] * 2
