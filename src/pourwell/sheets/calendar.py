"""The day as an iCalendar file: one event for each line of the timeline, an alarm before hands-on work."""

from collections import Counter
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Alarm, Event, vText
from icalendar import Calendar as Book

from pourwell.errors import shown
from pourwell.findings import Severity, in_order
from pourwell.plan import Plan
from pourwell.sheets.display import Display, span
from pourwell.steps.burnout.hand import looks as looks_only
from pourwell.steps.day import mains
from pourwell.steps.day.carbon_look import LOOK_MIN, look_at
from pourwell.steps.day.model import Entry
from pourwell.steps.day.night import OVERNIGHT

ALARM_BEFORE = timedelta(minutes=10)
AT_ONCE = timedelta(0)
"""A kiln is switched on, and set, at the minute."""
SETTING = timedelta(minutes=5)
"""How long the event of a setting is in the calendar."""
SPACE = "https://pourwell.invalid/run/"
"""Made part of every event's own number, so that it is like no other program's."""


def calendar(plan: Plan) -> bytes:
    """The timeline as iCalendar; all times in UTC, so that a change of the clocks is right wherever it is read.

    A kiln that is set by hand has an event for every setting, with an alarm; the burnout that holds them leaves the hours free.

    An event keeps its number when the run is planned anew, so that reading the file again moves it instead of doubling it.
    """
    book = Book()
    book.add("prodid", "-//Pourwell//run sheet//EN")
    book.add("version", "2.0")
    book.add("method", "PUBLISH")
    book.add("x-wr-calname", calendar_name(f"Run {plan.number}: {plan.title}"))
    seen: Counter[str] = Counter()
    for entry in plan.timeline:
        seen[entry.key] += 1
        book.add_component(_event(plan, entry, nth=seen[entry.key]))
        for number, moment in enumerate(entry.moments or ()):
            book.add_component(_setting(plan, number, moment))
    looked_at = look_at(plan.programme, plan.studio, on_at=plan.kiln_on_at)
    if looked_at is not None:
        book.add_component(_look(plan, looked_at))
    data: bytes = book.to_ical()
    return data


def calendar_name(title: str) -> vText:
    """What a calendar is called, marked as text: the library knows no type of this property, and would write it as it is."""
    return vText(shown(title))


def _event(plan: Plan, entry: Entry, *, nth: int) -> Event:
    fires = entry.key == "kiln"
    end = max(entry.ends_at, plan.segments[-1].ends_at, key=lambda moment: moment.timestamp()) if fires else entry.ends_at
    event = _bare(plan, f"{entry.key}/{nth}", start=entry.starts_at, end=end)
    at_hand = bool(entry.hands_on_min) and entry.moments is None
    event.add("summary", _summary(plan, entry.says))
    event.add("description", _description(plan, entry))
    event.add("transp", "OPAQUE" if at_hand else "TRANSPARENT")
    if at_hand:
        event.add_component(alarm(_summary(plan, entry.says)))
    elif fires and entry.moments is None:
        event.add_component(alarm(_summary(plan, "Kiln on: start the programme"), before=AT_ONCE))
    return event


def _setting(plan: Plan, number: int, moment: datetime) -> Event:
    """One setting of a kiln without a controller."""
    point, show = plan.programme.by_hand[number], Display()
    looks, why = looks_only(point), show.text(point.why)
    says = f"{why[0].upper()}{why[1:]}" if looks else f"Set the kiln to {show.temperature(point.set_c)} {show.temperature_unit}"
    event = _bare(plan, f"set-point/{number + 1}", start=moment, end=moment + SETTING)
    event.add("summary", _summary(plan, says))
    seen = [] if point.seen_c is None else [f"It should show about {show.temperature(point.seen_c)} {show.temperature_unit} now."]
    event.add("description", " ".join([*seen, *([] if looks else [why])]))
    event.add("transp", "OPAQUE")
    event.add_component(alarm(_summary(plan, says), before=AT_ONCE))
    return event


def _look(plan: Plan, moment: datetime) -> Event:
    """The look for carbon before the kiln falls."""
    says = "Look for carbon before the kiln falls"
    event = _bare(plan, "look", start=moment, end=moment + timedelta(minutes=LOOK_MIN))
    event.add("summary", _summary(plan, says))
    found = f"White: {mains.by_hand(plan.segments[-1].target_c)}. Else {mains.by_hand(plan.programme.peak_c)}: see the sheet."
    event.add("description", shown(Display().text(f"Kiln off at the mains, then on again. {found} {mains.LOST}.")))
    event.add("transp", "OPAQUE")
    event.add_component(alarm(_summary(plan, says)))
    return event


def _bare(plan: Plan, name: str, *, start: datetime, end: datetime) -> Event:
    """An event with its number and its hours."""
    made_at = plan.made_at.astimezone(UTC)
    event = Event()
    event.add("uid", str(uuid5(NAMESPACE_URL, f"{SPACE}{plan.studio.name}/{plan.number}/{plan.title}/{name}")))
    event.add("dtstamp", made_at)
    event.add("sequence", int(made_at.timestamp()) // 60)
    event.add("dtstart", start.astimezone(UTC).replace(second=0, microsecond=0))
    event.add("dtend", end.astimezone(UTC).replace(second=0, microsecond=0))
    return event


def _summary(plan: Plan, says: str) -> str:
    stamp = "DO NOT POUR: " if plan.stopped else ""
    return shown(f"{stamp}{Display().text(says)} (run {plan.number})")


def _description(plan: Plan, entry: Entry) -> str:
    show, heat = Display(), plan.temperatures
    lines = [f"Hands on {span(entry.hands_on_min)} h." if entry.hands_on_min else "Waiting."]
    if entry.moments:
        lines = [
            f"Hands on {span(entry.hands_on_min)} h: the kiln is set by hand {len(entry.moments)} times, each an event of its own."
        ]
    if entry.key == "kiln" and plan.fires_overnight:
        lines.append(OVERNIGHT)
    if entry.key == "pour":
        lines.append(f"Flask temperature {heat.flask_c:.0f} °C, metal temperature {heat.metal_c:.0f} °C.")
        lines.append(f"Charge {plan.doubt}." if plan.doubt else f"Charge {show.metal(plan.charge.total_g)} g.")
        others = plan.kiln_load.runs[-1] != plan.number
        lines.append(shown(show.text(mains.told(heat.flask_c if others else None))))
    lines += [f"STOP: {show.text(f.says)}" for f in in_order(plan.findings) if f.severity is Severity.STOP]
    return "\n".join(lines)


def alarm(says: str, *, before: timedelta = ALARM_BEFORE) -> Alarm:
    """What rings before work by hand."""
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", says)
    alarm.add("trigger", -before)
    return alarm
