"""The day: marks on full hours, sums, and what a change of the clocks does."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from pourwell.sheets.day_view import KILN_STEPS_H, Axis, clock_change, day_view
from pourwell.sheets.display import Display
from pourwell.steps.day.clock import local
from tests.golden.sheets.plans import plan
from tests.golden.sheets.variants import clock_change as over_the_change

LISBON = ZoneInfo("Europe/Lisbon")
SHOW = Display()


def axis(start_utc: datetime, hours: float) -> Axis:
    return Axis(starts_at=local(start_utc, LISBON), length_h=hours, zone=LISBON, steps=KILN_STEPS_H)


def labels(of: Axis) -> list[str]:
    return [m["label"] for m in of.marks(SHOW)]


def test_marks_stand_on_full_hours_whatever_the_start():
    marks = axis(datetime(2026, 12, 3, 17, 23, tzinfo=UTC), 5.0).marks(SHOW)
    assert [(m["label"], m["x"]) for m in marks] == [
        ("18", 0.6167),
        ("19", 1.6167),
        ("20", 2.6167),
        ("21", 3.6167),
        ("22", 4.6167),
    ]


def test_a_longer_line_is_marked_more_rarely():
    marks = labels(axis(datetime(2026, 12, 3, 17, 23, tzinfo=UTC), 40.0))
    assert marks[:4] == ["20", "00", "04", "08"]


def test_an_hour_that_the_clocks_skip_has_no_mark():
    assert labels(axis(datetime(2027, 3, 27, 23, 30, tzinfo=UTC), 4.0)) == ["00", "02", "03", "04"]


def test_an_hour_that_comes_twice_is_marked_twice():
    assert labels(axis(datetime(2026, 10, 24, 22, 30, tzinfo=UTC), 4.0)) == ["00", "01", "01", "02"]


def test_midnight_is_known_with_its_date():
    marks = axis(datetime(2026, 12, 3, 22, 30, tzinfo=UTC), 3.0).marks(SHOW)
    assert [m["day"] for m in marks if m["midnight"]] == ["Fri 4 Dec"]


def test_both_sums_make_the_whole_time():
    view = day_view(plan(), SHOW)

    def minutes(text: str) -> int:
        hours, rest = text.split(":")
        return int(hours) * 60 + int(rest)

    entries = plan().timeline
    whole = (entries[-1].ends_at - entries[0].starts_at) / timedelta(minutes=1)
    assert minutes(view["hands"]) + minutes(view["wait"]) == whole
    assert minutes(view["hands"]) == sum(e.hands_on_min for e in entries)


def test_each_day_opens_with_its_date_and_each_line_with_its_hour():
    rows = day_view(plan(), SHOW)["rows"]
    assert [r["day"] for r in rows if "day" in r] == ["Thu 3 Dec", "Fri 4 Dec"]
    pour = next(r for r in rows if r.get("says") == "Pour")
    assert pour == {"clock": "10:00", "says": "Pour", "hands": "0:02", "wait": "", "on": True}


def test_waiting_is_what_remains_of_a_line_beside_the_hands():
    rows = day_view(plan(), SHOW)["rows"]
    patterns = next(r for r in rows if r.get("says", "").startswith("Look over"))
    assert (patterns["hands"], patterns["wait"]) == ("0:15", "0:35")


def test_a_change_of_the_clocks_is_said_and_durations_stay_elapsed_time():
    view = day_view(over_the_change(), SHOW)
    assert view["change"] == "The clocks go forward by 1:00 in this run; durations are elapsed time."
    burnout = next(r for r in view["rows"] if r.get("says") == "Burnout")
    ordinary = next(r for r in day_view(plan(), SHOW)["rows"] if r.get("says") == "Burnout")
    assert burnout["wait"] == ordinary["wait"]
    assert day_view(plan(), SHOW)["change"] == ""


def test_the_clocks_can_also_go_back():
    start = datetime(2026, 10, 24, 20, 0, tzinfo=UTC)
    assert "go back by 1:00" in clock_change(local(start, LISBON), local(start + timedelta(hours=12), LISBON))


def test_the_strip_ends_with_the_last_line_even_when_lines_overlap():
    made = plan()
    long = replace(made.timeline[0], key="cure", ends_at=made.timeline[-1].ends_at + timedelta(hours=3), hands_on_min=0)
    view = day_view(replace(made, timeline=(long, *made.timeline[1:])), SHOW)
    assert view["hours"] >= max(s["b"] for s in view["spans"])


def test_settings_by_hand_are_counted_as_work_and_drawn_at_their_hours():
    made = plan()
    kiln = next(e for e in made.timeline if e.key == "kiln")
    moments = (kiln.starts_at, kiln.starts_at + timedelta(hours=5))
    lines = tuple(replace(e, hands_on_min=4, moments=moments) if e is kiln else e for e in made.timeline)
    plain, shown = day_view(made, SHOW), day_view(replace(made, timeline=lines), SHOW)
    hands = [s for s in shown["spans"] if s not in plain["spans"]]
    assert len(shown["spans"]) == len(plain["spans"]) + 2
    assert [round(s["hands"] * 60) for s in hands] == [2, 2]
    assert round(hands[1]["a"] - hands[0]["a"], 3) == 5

    def minutes(text):
        return int(text.split(":")[0]) * 60 + int(text.split(":")[1])

    assert minutes(shown["hands"]) == minutes(plain["hands"]) + 4
    assert minutes(shown["wait"]) == minutes(plain["wait"]) - 4
