"""The form of the days ahead: what stands in its fields becomes a week, or a reason beside the field."""

from datetime import UTC, datetime, time

import pytest

from pourwell.app.desk import NEW_RUN
from pourwell.app.desk_days_form import KILN_PLACED, PLACED, InHand, is_ticked, listed, numbers_in, read_form, trees_of, usual_wish
from pourwell.store.model import KeptRun

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
BEGAN = datetime(2026, 11, 26, 7, 0, tzinfo=UTC)


def kept(run_id=3, *, pieces=((1, 2),), **form):
    return KeptRun(id=run_id, number=run_id + 4, form={**NEW_RUN, **form}, pieces=pieces, made_at=NOW, changed_at=NOW)


def waiting(*runs):
    return [InHand(run=run, begun_at=None) for run in runs]


def read(typed=None, runs=(), **how):
    how = {"liquidus_c": {"sterling-925": 893.0}, "free": 21, **how}
    return read_form(typed or {}, list(runs), now=NOW, zone=UTC, **how)


def test_a_run_goes_in_under_its_number_with_the_words_of_its_own_form_but_for_its_pour():
    (entry,) = read(runs=waiting(kept(flask="76x100", returns="40", pour_day="2026-11-28", pour_hour="10:00"))).entries
    assert (entry["number"], entry["run_id"]) == (7, 3)
    assert (entry["request"]["flask"], entry["request"]["returns_fraction"]) == ("76x100", 0.4)
    assert "pour_at" not in entry["request"]


def test_a_run_without_pieces_goes_in_by_its_weight():
    (entry,) = read(runs=waiting(kept(pieces=(), weight="10 dwt"))).entries
    assert entry["request"]["weight_g"] == pytest.approx(15.55, abs=0.005), "1 dwt is 1.55517 g (NIST Handbook 44, appendix C)"


@pytest.mark.parametrize(
    ("form", "pieces", "says"),
    [
        ({}, (), "Nothing goes into it yet"),
        ({"returns": "140"}, ((1, 2),), "above what can be"),
        ({"metal_c": "700"}, ((1, 2),), "for this alloy is liquid from 893"),
    ],
)
def test_a_run_whose_form_cannot_be_read_says_why_and_is_not_placed(form, pieces, says):
    told = read(runs=waiting(kept(pieces=pieces, **form)))
    assert told.entries == []
    assert says in told.unreadable[3]
    assert not told.faults, "it does not hold up the others"


def test_runs_that_wait_are_ticked_until_they_are_taken_out_and_begun_ones_once_they_are_taken_in():
    one, begun = InHand(run=kept(3), begun_at=None), InHand(run=kept(4), begun_at=BEGAN)
    assert [is_ticked(one, {}), is_ticked(begun, {})] == [True, False]
    assert [is_ticked(one, {"off": "2.3"}), is_ticked(begun, {"on": "4"})] == [False, True]
    assert [entry["run_id"] for entry in read({"on": "4", "off": "3"}, [one, begun]).entries] == [4]


def test_an_hour_that_somebody_asked_for_is_kept_and_one_that_was_taken_from_here_is_free():
    asked = kept(pour_day="2026-11-28", pour_hour="10:00")
    taken = kept(pour_day="2026-11-28", pour_hour="10:00", **{PLACED: "2026-11-28 10:00"})
    over = kept(pour_day="2026-11-20", pour_hour="10:00")
    assert [usual_wish(run, now=NOW, zone=UTC) for run in (asked, taken, over, kept())] == ["own", "free", "free", "free"]
    pour = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    assert read(runs=waiting(asked)).entries[0]["when"]["pour_at"] == pour
    assert read({"r3.pour": "free"}, waiting(asked)).entries[0]["when"]["pour_at"] is None
    assert read({"r3.pour": "own"}, waiting(taken)).entries[0]["when"]["pour_at"] == pour
    assert read(runs=waiting(over)).entries[0]["when"]["pour_at"] is None


def test_a_pour_may_be_fixed_or_have_a_latest_hour_and_its_patterns_may_come_later():
    said = {"r3.pour": "by", "r3.day": "2026-11-29", "r3.hour": "17", "r3.ready_hour": "14:00", "r3.kiln": "small"}
    when = read(said, waiting(kept())).entries[0]["when"]
    assert when["pour_by"] == datetime(2026, 11, 29, 17, 0, tzinfo=UTC)
    assert (when["pour_at"], when["ready_at"], when["kiln"]) == (None, datetime(2026, 11, 26, 14, 0, tzinfo=UTC), "small")
    fixed = read(said | {"r3.pour": "at"}, waiting(kept())).entries[0]["when"]
    assert (fixed["pour_at"], "pour_by" in fixed) == (when["pour_by"], False)


def test_a_kiln_that_the_run_names_is_kept_and_one_that_was_taken_from_here_is_free():
    named, taken = kept(kiln="small"), kept(kiln="small", **{KILN_PLACED: "small"})
    assert [read(runs=waiting(run)).entries[0]["when"]["kiln"] for run in (named, taken, kept())] == ["small", None, None]
    assert read({"r3.kiln": "*"}, waiting(named)).entries[0]["when"]["kiln"] is None
    assert read(runs=waiting(named)).entries[0]["request"]["kiln"] == ""


def test_a_fixed_pour_without_its_hour_says_so_at_the_hour():
    assert "Enter the hour of the pour" in read({"r3.pour": "at"}, waiting(kept())).faults["r3.hour"]
    assert "is over" in read({"r3.pour": "at", "r3.hour": "7:00"}, waiting(kept())).faults["r3.hour"]


def test_trees_that_are_not_drawn_take_the_numbers_after_all_runs():
    typed = {
        "trees": "1.4",
        "t1.alloy": "sterling-925",
        "t4.alloy": "bronze",
        "t4.flasks": "2",
        "t4.pieces": "8",
        "t4.weight": "24,5",
    }
    first, other = read(typed | {"t4.name": "Studs", "t4.flask": "64x64"}).entries
    assert (first["number"], first["request"], first["flasks_count"], first["pieces_count"]) == (
        21,
        {"alloy": "sterling-925"},
        1,
        0,
    )
    assert (other["number"], other["name"], other["flasks_count"], other["pieces_count"]) == (22, "Studs", 2, 8)
    assert other["request"] == {"alloy": "bronze", "flask": "64x64", "weight_g": 24.5}


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("t1.alloy", "", "Choose its alloy"),
        ("t1.flasks", "0", "below what can be"),
        ("t1.flasks", "2.5", "no whole number"),
        ("t1.pieces", "many", "is no number"),
        ("t1.weight", "0", "below what can be"),
        ("work_from", "25:00", "no time of day"),
        ("days_off", "Sundey", "the nearest is Sunday"),
        ("wait", "9999", "Enter 0 to 2,880 min"),
        ("start_hour", "7:00", "is over"),
        ("pour_day", "2026-12-01", "needs an hour"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(key, text, says):
    at = "pour_hour" if key == "pour_day" else key
    assert says in read({"trees": "1", "t1.alloy": "sterling-925", key: text}).faults[at]


def test_what_is_said_of_the_days_wins_over_the_settings_and_what_is_not_stays_theirs():
    week = read().week
    assert all(
        week[key] is None for key in ("work_from", "work_to", "days_off", "overnight_firing", "start_at", "pour_at", "wait_max_min")
    )
    said = {"work_to": "21", "days_off": "Sunday, 2026-12-24", "overnight": "no", "wait": "90", "bag": "1", "apart": "1"}
    week = read(said | {"title": " Before the fair ", "start_hour": "12:00"}).week
    assert (week["work_to"], week["days_off"]) == (time(21), ("Sunday", "2026-12-24"))
    assert (week["overnight_firing"], week["wait_max_min"], week["bag_damp"], week["fire_apart"]) == (False, 90, True, True)
    assert (week["title"], week["start_at"].hour) == ("Before the fair", 12)
    assert read({"days_off": "none"}).week["days_off"] == ()


def test_numbers_in_an_address_are_a_list_and_what_is_no_number_is_left_out():
    assert numbers_in("3.x.5..-2") == [3, 5]
    assert listed({5, 3}) == "3.5"
    assert len(trees_of({"trees": listed(range(40))})) == 12
