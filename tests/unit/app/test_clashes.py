"""Two runs in hand that want one kiln, or one pair of hands, at once: it is told to both, whatever each plan says by itself.

The limits are stated by hand: one load at a time in a kiln, and a next one when it has cooled (common practice, no source).
"""

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest

from pourwell.app.clashes import CODES, load_of, with_clashes
from pourwell.app.desk_work import kiln_free_at
from pourwell.app.in_hand import forbidden, forbids, soonest, standing
from pourwell.materials.library import load_library
from pourwell.materials.studio import Studio
from pourwell.store.model import KeptResult, KeptRun

THURSDAY = datetime(2026, 11, 26, tzinfo=UTC)
NOW = THURSDAY + timedelta(hours=12)


def at(hours):
    return (THURSDAY + timedelta(hours=hours)).isoformat(timespec="minutes")


def plan(on_h, pour_h, *, free_h=None, invest_h=None):
    invest_h = on_h - 3 if invest_h is None else invest_h
    spans = (("invest", invest_h, invest_h + 0.5, 30), ("kiln", on_h, pour_h, 0), ("pour", pour_h, pour_h + 0.1, 6))
    timeline = [
        {"key": key, "says": f"{key.capitalize()} it", "starts_at": at(a), "ends_at": at(b), "hands_on_min": hands}
        for key, a, b, hands in spans
    ]
    out = {"timeline": timeline, "findings": [], "burnout": {"starts_at": at(on_h)}, "pour": {"at": at(pour_h)}}
    return out if free_h is None else out | {"kiln_free_at": at(free_h)}


def run(number, *plans, now=NOW):
    kept = KeptRun(id=10 + number, number=number, form={}, pieces=(), made_at=NOW, changed_at=NOW)
    result = KeptResult(id=number, asked={}, data={"plans": list(plans)}, made_at=NOW) if plans else None
    return standing(kept, result, now)


def told(*runs, kilns=("",), now=NOW):
    """The codes of the clashes of each run, by its number."""
    found = with_clashes(runs, kilns=kilns, zone=UTC, now=now)
    return {one.run.number: [f["code"] for f in one.clashes] for one in found}


def first_two(**how):
    """Run 1 from Thursday 17:25 and run 3 from 18:32, both poured on Friday at 11:00."""
    runs = [run(1, plan(17 + 25 / 60, 35, free_h=40)), run(3, plan(18 + 32 / 60, 35, free_h=40, invest_h=13))]
    return with_clashes(runs, **({"kilns": ("",), "zone": UTC, "now": NOW} | how))


def test_kiln_taken_fires():
    late = first_two()[1]
    stop = late.clashes[0]
    assert (stop["code"], stop["severity"]) == ("kiln-taken", "stop")
    assert stop["says"].startswith("The kiln is taken by run 1 from Thu 17:25 to Fri 11:00, and this run is to go in at Thu 18:32.")
    assert "a damp flask in a hot kiln can burst" in stop["says"]
    assert "Move the pour of this run to about Sat 08:28 or later: the kiln is free again at Fri 16:00" in stop["do"]
    assert late.forbidden.startswith("Do not fire: The kiln is taken by run 1")


def test_kiln_taken_fires_while_the_kiln_is_still_hot():
    """Out at 11:00, cool at 16:00: a load at 12:00 meets a hot kiln, though the first one is out."""
    early, late = run(1, plan(17, 35, free_h=40)), run(2, plan(36, 54, free_h=60))
    found = with_clashes([early, late], kilns=("",), zone=UTC, now=NOW)
    assert found[1].clashes[0]["code"] == "kiln-taken"
    assert found[1].clashes[0]["says"].startswith("The kiln is still hot from run 1")


@pytest.mark.parametrize("free_h", [None, 35, 40])
def test_kiln_taken_stays_silent(free_h):
    """The second goes in when the first one is out and its kiln is cool, to the minute."""
    second = 35 if free_h is None else free_h
    assert told(run(1, plan(17, 35, free_h=free_h)), run(2, plan(second, second + 18))) == {1: [], 2: []}


def test_kiln_wanted_fires():
    early = first_two()[0]
    warn = early.clashes[0]
    assert (warn["code"], warn["severity"]) == ("kiln-wanted", "warn")
    assert "Run 3 is planned into the kiln at Thu 18:32" in warn["says"]
    assert "from Thu 17:25 to Fri 11:00; it is cool enough for another at Fri 16:00" in warn["says"]
    assert not early.forbidden, "who came first is poured as planned"


def test_kiln_wanted_stays_silent():
    assert told(run(1, plan(17, 35, free_h=40))) == {1: []}
    assert told(run(1, plan(17, 35, free_h=40)), run(2)) == {1: [], 2: []}, "a run that is not worked out wants no kiln"


def test_hands_twice_fires():
    early, late = first_two()
    says = next(f for f in early.clashes if f["code"] == "hands-twice")
    assert says["says"] == "Runs 1 and 3 want hands at once, Fri 11:00: “pour it” of run 1, “pour it” of run 3."
    assert says["severity"] == "warn"
    assert says in late.clashes


def test_hands_twice_stays_silent():
    """A step begins in the minute in which the other one ends."""
    early, late = run(1, plan(17, 35, invest_h=13)), run(2, in_kiln("small", plan(17.5, 35.1, invest_h=13.5)))
    assert told(early, late, kilns=("tall", "small")) == {1: [], 2: []}


def in_kiln(name, made):
    return made | {"inputs": {"studio": {"kiln": {"name": name}}}}


def test_each_kiln_has_its_own_loads():
    """Run 1 names none, which is the first; run 2 has the other; run 3 comes into the first."""
    later = in_kiln("tall", plan(19, 38, free_h=43))
    runs = [run(1, plan(17, 36, free_h=41)), run(2, in_kiln("small", plan(18, 37, free_h=42))), run(3, later)]
    found = with_clashes(runs, kilns=["tall", "small"], zone=UTC, now=NOW)
    assert [one.run.number for one in found if any(f["code"] == "kiln-taken" for f in one.clashes)] == [3]
    stop = found[2].clashes[0]
    assert stop["says"].startswith("The kiln “tall” is taken by run 1 from Thu 17:00 to Fri 12:00, and this run")
    assert "as the kiln of this run" not in stop["do"], "the other one is taken, too"
    assert stop["do"].startswith("Do not open the kiln for it. Move the pour")
    assert [f["code"] for f in found[0].clashes if f["code"].startswith("kiln")] == ["kiln-wanted"]


def test_another_kiln_is_offered_where_it_stands_empty_all_the_while():
    runs = [run(1, plan(17, 36, free_h=41)), run(2, plan(19, 38, free_h=43)), run(3, in_kiln("small", plan(43, 60, free_h=65)))]
    stop = with_clashes(runs, kilns=["tall", "small", "old"], zone=UTC, now=NOW)[1].clashes[0]
    assert stop["do"].startswith(
        "Do not open the kiln for it. Choose “small” or “old” as the kiln of this run, which stands empty then, and work it out "
        "anew by its figures. Or move"
    )
    small = {"tall": None, "small": 1, "old": 4}
    two = [runs[0], run(2, *[plan(19, 38, free_h=43)] * 2), runs[2]]
    stop = with_clashes(two, kilns=list(small), zone=UTC, now=NOW, takes=small)[1].clashes[0]
    assert "Choose “old” as" in stop["do"], "the small one takes one flask, and these are two"
    assert "Choose" not in with_clashes(two, kilns=list(small), zone=UTC, now=NOW, takes={})[1].clashes[0]["do"]
    soon = [*runs[:2], run(3, in_kiln("small", plan(37, 54, free_h=59)))]
    assert "Choose “old” as" in with_clashes(soon, kilns=["tall", "small", "old"], zone=UTC, now=NOW)[1].clashes[0]["do"]


def test_a_kiln_that_the_studio_names_no_more_may_be_any_of_them():
    """Two runs planned into "small", which is called "tiny" since; a third is planned into "tiny"."""
    runs = [run(1, in_kiln("small", plan(17, 36, free_h=41))), run(2, in_kiln("tiny", plan(19, 38, free_h=43)))]
    found = with_clashes(runs, kilns=["tall", "tiny"], zone=UTC, now=NOW)
    stop = next(f for f in found[1].clashes if f["code"] == "kiln-taken")
    assert "The studio has no kiln “small” any more, so it may be any of them." in stop["says"]
    assert "Choose" not in stop["do"], "nobody knows which one is free"
    assert "kiln-wanted" in [f["code"] for f in found[0].clashes]
    one_left = with_clashes(runs, kilns=[""], zone=UTC, now=NOW)
    assert "kiln-taken" in [f["code"] for f in one_left[1].clashes]


def test_of_two_that_go_in_in_the_same_minute_the_earlier_run_has_the_kiln():
    same = plan(17, 35)
    found = told(run(2, same), run(1, same))
    assert "kiln-wanted" in found[1]
    assert "kiln-taken" in found[2]


def test_the_flasks_of_one_run_are_one_load_until_the_last_is_out():
    """The first is poured at 11:00, the second at 11:30; their kiln is free when the hotter of both has cooled."""
    load = load_of(run(1, plan(17, 35, free_h=40), plan(17, 35.5, free_h=39)))
    assert (load.on_at, load.out_at, load.free_at) == tuple(THURSDAY + timedelta(hours=h) for h in (17, 35.5, 40))
    assert told(run(1, plan(17, 35), plan(17, 35.5))) == {1: []}


def test_what_is_over_is_told_no_more():
    after = THURSDAY + timedelta(hours=41)
    assert {tuple(one.clashes) for one in first_two(now=after)} == {()}


def test_a_run_whose_day_is_over_still_leaves_its_kiln_hot():
    now = THURSDAY + timedelta(hours=37.5)
    early = run(1, plan(17, 35, free_h=40), now=now)
    assert early.over
    assert told(early, run(2, plan(38, 56), now=now), now=now)[2] == ["kiln-taken"]


def test_what_a_finding_forbids_is_said_with_its_reason():
    stop, warn = ({"severity": kind, "code": "wall-thin", "says": "It will leak."} for kind in ("stop", "warn"))
    kiln = {"severity": "stop", "code": "kiln-taken", "says": "The kiln is taken."}
    assert (forbids([warn]), forbidden([warn])) == ("", "")
    assert forbidden([stop, warn]) == "Do not pour: It will leak."
    assert forbidden([kiln]) == "Do not fire: The kiln is taken."
    assert forbidden([kiln, stop]) == "Do not pour: It will leak (and 1 more)."


def test_what_is_stopped_is_not_what_is_next():
    runs = first_two(now=NOW)
    late, early = runs[1], runs[0]
    assert late.next.starts_at < early.next.starts_at, "by its plan it would come first"
    assert soonest(runs) is early
    assert soonest([late]) is None


def test_the_worst_is_first_and_each_code_has_its_severity():
    order = ["stop", "warn"]
    severities = {code.code: [str(s) for s in code.severities] for code in CODES}
    for one in first_two():
        assert all(f["severity"] in severities[f["code"]] for f in one.clashes)
        assert all(order.index(a["severity"]) <= order.index(b["severity"]) for a, b in pairwise(one.clashes))


@pytest.mark.parametrize(("flask_c", "minutes"), [(540, 333), (150, 0), (95, 0)])
def test_a_kiln_is_free_when_it_has_fallen_under_150_c(flask_c, minutes):
    """Newton's law of cooling towards 20 °C, at 120 °C/h where it stands at 500 °C: t = 480/120 h * ln((T - 20)/(150 - 20))."""
    library = load_library()
    poured = SimpleNamespace(temperatures=SimpleNamespace(flask_c=flask_c), pour_at=NOW, studio=Studio(time_zone="UTC"))
    assert minutes == (math.ceil(60 * 4 * math.log((flask_c - 20) / 130)) if flask_c > 150 else 0)
    assert kiln_free_at(poured, library) == NOW + timedelta(minutes=minutes + library.rule("pour_min"))


# ---- edges


def test_three_loads_at_once_are_told_to_the_last_with_both_that_are_there():
    """Out at 11:00 and 12:00, cool at 16:00 and 17:00: the third finds both, and waits for the later."""
    runs = [run(1, plan(17, 35, free_h=40)), run(2, plan(17.5, 36, free_h=41)), run(3, plan(18, 37, free_h=42))]
    stop = with_clashes(runs, kilns=("",), zone=UTC, now=NOW)[2].clashes[0]
    assert "taken by run 1 from Thu 17:00 to Fri 11:00 and run 2 from Thu 17:30 to Fri 12:00" in stop["says"]
    assert "the kiln is free again at Fri 17:00. Or move run 1 or run 2." in stop["do"]
    assert "to about Sat 12:00 or later" in stop["do"], "its pour is as much later as its start: 18:00 to 17:00 on the next day"


def test_a_pour_that_is_proposed_is_free_of_the_clash_that_it_is_proposed_for():
    """The load of 18 h moved to begin when the kiln is free, to the minute: nothing is left to tell."""
    late_h = 35 + (40 - 18.5)
    moved = plan(40, late_h, free_h=late_h + 5)
    assert told(run(1, plan(17, 35, free_h=40)), run(3, plan(18.5, 35, free_h=40, invest_h=13)))[3][0] == "kiln-taken"
    assert told(run(1, plan(17, 35, free_h=40)), run(3, moved)) == {1: [], 3: []}


def test_hours_are_told_on_the_clock_of_the_studio_and_with_their_date_where_the_week_does_not_say_it():
    """New York is five hours behind UTC in November; a load ten days ahead is on Sunday 6 December."""
    found = with_clashes([run(1, plan(17, 35)), run(2, plan(20, 38))], kilns=("",), zone=ZoneInfo("America/New_York"), now=NOW)
    assert "from Thu 12:00 to Fri 06:00, and this run is to go in at Thu 15:00" in found[1].clashes[0]["says"]
    far = [run(1, plan(240, 258)), run(2, plan(241, 259))]
    says = with_clashes(far, kilns=("",), zone=UTC, now=NOW)[1].clashes[0]["says"]
    assert "from Sun 6 Dec 00:00 to Sun 6 Dec 18:00" in says


def test_a_load_over_the_night_in_which_the_clock_goes_back_is_held_by_moments_not_by_hours_of_the_clock():
    """Lisbon, 25 October 2026: at 02:00 summer time it is 01:00 again, so 01:30 is twice, an hour apart."""
    zone = ZoneInfo("Europe/Lisbon")
    first, again = (datetime(2026, 10, 25, 1, 30, tzinfo=zone, fold=fold) for fold in (0, 1))
    assert again.astimezone(UTC) - first.astimezone(UTC) == timedelta(hours=1)

    def load(on, off):
        made = plan(0, 18)
        line = {"key": "kiln", "says": "Kiln", "starts_at": on.isoformat(), "ends_at": off.isoformat(), "hands_on_min": 0}
        return made | {"burnout": {"starts_at": on.isoformat()}, "pour": {"at": off.isoformat()}, "timeline": [line]}

    begin = datetime(2026, 10, 24, 12, tzinfo=zone)
    runs = [run(1, load(begin, first), now=begin), run(2, load(again, again + timedelta(hours=20)), now=begin)]
    found = with_clashes(runs, kilns=("",), zone=zone, now=begin.astimezone(UTC))
    assert [one.clashes for one in found] == [(), ()]


def test_several_times_at_which_hands_are_wanted_twice_are_counted_and_the_first_is_named():
    early, late = run(1, plan(17, 35, invest_h=13)), run(2, in_kiln("small", plan(17.5, 35, invest_h=13.25)))
    (says,) = [f["says"] for f in with_clashes([early, late], kilns=("", "small"), zone=UTC, now=NOW)[0].clashes]
    assert says.startswith("Runs 1 and 2 want hands at once, Thu 13:15: “invest it” of run 1, “invest it” of run 2")
    assert says.endswith(", and at one other time.")


def test_a_name_of_a_kiln_is_told_as_it_is_written():
    evil = "<b>tall</b>"
    runs = [run(1, in_kiln(evil, plan(17, 35))), run(2, in_kiln(evil, plan(18, 36)))]
    stop = with_clashes(runs, kilns=(evil, "small"), zone=UTC, now=NOW)[1].clashes[0]
    assert stop["says"].startswith(f"The kiln “{evil}” is taken by run 1")
    assert stop["do"].startswith("Do not open the kiln for it. Choose “small” as")
