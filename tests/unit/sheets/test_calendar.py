"""The day as iCalendar: times, alarms, numbers that outlive a new plan."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from icalendar import Calendar

from pourwell.sheets.calendar import calendar
from tests.golden.sheets.parts import MADE_AT, POUR_AT
from tests.golden.sheets.plans import plan
from tests.golden.sheets.variants import clock_change, hand_kiln, one_stop, three_days


def events(of) -> list:
    return list(Calendar.from_ical(calendar(of)).walk("VEVENT"))


def by_summary(of) -> dict:
    return {str(e["summary"]): e for e in events(of)}


def test_every_line_of_the_day_is_one_event_at_its_time():
    made = plan()
    found = [(e["dtstart"].dt, e["dtend"].dt) for e in events(made)]
    off = made.segments[-1].ends_at
    assert found == [(e.starts_at, off if e.key == "kiln" else e.ends_at) for e in made.timeline], "the kiln is on until the pour"


def test_events_begin_and_end_at_full_minutes():
    made = plan()
    odd = replace(made, timeline=tuple(replace(e, starts_at=e.starts_at + timedelta(seconds=30)) for e in made.timeline))
    assert {e["dtstart"].dt.second for e in events(odd)} == {0}
    assert [e["dtstart"].dt for e in events(odd)] == [e["dtstart"].dt for e in events(made)]


def test_a_kiln_that_fires_in_the_night_says_what_that_asks():
    assert "carbon monoxide alarm" in str(by_summary(plan())["Burnout (run 47)"]["description"])
    awake = plan().studio.model_copy(update={"sleep_from": time(10, 30), "sleep_to": time(11, 30)})
    assert "carbon monoxide" not in str(by_summary(replace(plan(), studio=awake))["Burnout (run 47)"]["description"])


def test_the_pour_says_what_the_kiln_is_set_to_once_its_mains_was_off():
    def said(made) -> str:
        return str(by_summary(made)["Pour (run 47)"]["description"])

    alone, shared = plan(), replace(plan(), kiln_load=replace(plan().kiln_load, runs=(47, 48)))
    assert "Kiln off at the mains before the tongs go in" in said(alone)
    assert "by hand to the flask temperature of the next pour and hold" in said(alone)
    assert "kiln on again, by hand to 500 °C and hold" in said(shared)
    assert "lose their programme" in said(shared)


def test_a_look_for_carbon_before_the_kiln_falls_rings_where_somebody_is_there():
    """At a bench that never closes; the kiln falls once, as by itself, and the hold before ends 13 h 1 min after kiln on."""
    made = plan()
    once = replace(made.programme.segments[-1], ramp_c_per_h=-120.0)
    programme = replace(made.programme, segments=(*made.programme.segments[:-2], once))
    open_all_day = made.studio.model_copy(update={"work_from": time(0), "work_to": time(23, 59)})
    by_day = replace(made, programme=programme)
    assert not any("carbon before" in name for name in by_summary(by_day))
    look = by_summary(replace(by_day, studio=open_all_day))["Look for carbon before the kiln falls (run 47)"]
    assert look["dtstart"].dt - made.kiln_on_at == timedelta(hours=13, minutes=1)
    said = str(look["description"])
    assert "White: by hand to 500 °C and hold. Else by hand to 732 °C and hold" in said
    assert len(list(look.walk("VALARM"))) == 1


def test_times_are_universal_so_that_a_clock_change_cannot_move_them():
    made = clock_change()
    kiln = by_summary(made)["Burnout (run 47)"]
    assert kiln["dtstart"].dt == datetime(2027, 3, 27, 16, 23, tzinfo=UTC)
    assert kiln["dtstart"].dt.tzinfo is not None
    assert b"DTSTART:20270327T162300Z" in calendar(made)
    pour = by_summary(made)["Pour (run 47)"]
    assert pour["dtstart"].dt == datetime(2027, 3, 28, 9, 0, tzinfo=UTC), "ten o'clock in summer time"


def test_hands_on_lines_have_an_alarm_and_waiting_ones_do_not():
    made = plan()
    for entry, event in zip(made.timeline, events(made), strict=True):
        alarms = list(event.walk("VALARM"))
        assert len(alarms) == (1 if entry.hands_on_min or entry.key == "kiln" else 0), entry.key
        for alarm in alarms:
            assert alarm["trigger"].dt == timedelta(minutes=0 if entry.key == "kiln" else -10), entry.key


def by_hand():
    """The day of a kiln set by hand, its settings among the lines as the day gives them."""
    made = hand_kiln()
    moments = tuple(made.kiln_on_at + timedelta(minutes=p.at_min) for p in made.programme.by_hand)
    lines = tuple(replace(e, hands_on_min=2 * len(moments), moments=moments) if e.key == "kiln" else e for e in made.timeline)
    return replace(made, timeline=lines)


def test_every_setting_of_a_kiln_without_a_controller_is_an_event_with_an_alarm():
    made = by_hand()
    settings = [e for e in events(made) if "Set the kiln to" in str(e["summary"])]
    points = made.programme.by_hand
    assert len(settings) == len(points) > 3
    assert [e["dtstart"].dt for e in settings] == [made.kiln_on_at + timedelta(minutes=p.at_min) for p in points]
    assert [f"Set the kiln to {p.set_c:.0f} °C (run 47)" for p in points] == [str(e["summary"]) for e in settings]
    rings = [a["trigger"].dt for e in settings for a in e.walk("VALARM")]
    assert rings == [timedelta(0)] * len(settings), "at the minute"
    assert len({str(e["uid"]) for e in events(made)}) == len(events(made))


def test_the_last_look_of_a_day_is_told_as_a_look():
    made = by_hand()
    points = made.programme.by_hand
    look = replace(points[-1], seen_c=620.0, why="look before you sleep: it must be falling")
    made = replace(made, programme=replace(made.programme, by_hand=(*points[:-1], look)))
    (told,) = [e for e in events(made) if str(e["summary"]) == "Look before you sleep: it must be falling (run 47)"]
    assert told["description"] == "It should show about 620 °C now."


def test_the_burnout_of_a_kiln_set_by_hand_leaves_the_hours_between_free():
    burnout = by_summary(by_hand())["Burnout (run 47)"]
    assert str(burnout["transp"]) == "TRANSPARENT"
    assert not list(burnout.walk("VALARM"))
    assert "set by hand" in str(burnout["description"])


def test_waiting_leaves_the_time_free():
    shown = {str(e["summary"]): str(e["transp"]) for e in events(plan())}
    assert shown["Burnout (run 47)"] == "TRANSPARENT"
    assert shown["Melt (run 47)"] == "OPAQUE"


def test_numbers_of_events_are_all_different_and_outlive_a_new_plan():
    before = [str(e["uid"]) for e in events(plan())]
    later = replace(plan(pour_at=POUR_AT + timedelta(days=2)), made_at=MADE_AT + timedelta(hours=3))
    assert [str(e["uid"]) for e in events(later)] == before
    assert len(set(before)) == len(before)
    assert int(events(later)[0]["sequence"]) > int(events(plan())[0]["sequence"])


def test_another_run_has_other_numbers():
    one, other = ({str(e["uid"]) for e in events(replace(plan(), number=n))} for n in (47, 48))
    assert not one & other


def test_lines_that_share_a_key_are_told_apart():
    made = three_days()
    doubled = replace(made, timeline=tuple(replace(e, key="tree") for e in made.timeline))
    assert len({str(e["uid"]) for e in events(doubled)}) == len(made.timeline)


def test_the_same_plan_gives_the_same_bytes():
    assert calendar(plan()) == calendar(plan())


def test_the_pour_carries_its_figures():
    text = str(by_summary(plan())["Pour (run 47)"]["description"])
    assert "Flask temperature 500 °C, metal temperature 970 °C." in text
    assert "Charge 125.9 g." in text


def test_a_run_that_must_not_be_poured_says_so_in_every_event():
    made = one_stop()
    assert all(str(e["summary"]).startswith("DO NOT POUR: ") for e in events(made))
    assert all("STOP: Metal at 1060" in str(e["description"]) for e in events(made))
    assert not any("DO NOT POUR" in str(e["summary"]) for e in events(plan()))


def test_a_title_that_is_no_plain_line_does_not_break_the_file():
    made = replace(plan(), title="Rings; one,\ntwo\x07")
    assert str(Calendar.from_ical(calendar(made))["x-wr-calname"]).replace("\\", "") == "Run 47: Rings; one, two "
    assert {line.partition(b":")[0] for line in calendar(made).split(b"\r\n") if b"Rings" in line} == {b"X-WR-CALNAME"}
