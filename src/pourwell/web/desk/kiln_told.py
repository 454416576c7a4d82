"""How the kiln is set: what is typed into the controller, what is set by hand and when; and the cautions beside it."""

import math
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from typing import Any

from pourwell.app.desk_words import DASH
from pourwell.app.in_hand import settings_of
from pourwell.steps.burnout.model import BAG_WINS
from pourwell.steps.day import mains
from pourwell.steps.day.night import OVERNIGHT
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

Plan = Mapping[str, Any]


def controller(plan: Plan, page: Frame) -> None:
    """What is typed into the controller, then what is set by hand, by the clock; either may be missing."""
    burnout = plan["burnout"]
    by_hand, segments = burnout["by_hand"], burnout["segments"]
    typed = segments[: _takes_count(plan)] if by_hand else segments
    if typed:
        with parts.section("Set the controller", burnout["name"]), _table("Controller segments"):
            parts.head_row(("Segment", ""), ("Ramp", "num"), ("To", "num"), ("Hold", "num"), ("Why", ""))
            with Tag("tbody"):
                for one in typed:
                    segment_row(one)
    if by_hand:
        title = "Then by hand, by the clock" if typed else "Set by hand, by the clock"
        with parts.section(title, "" if typed else burnout["name"]), _table("Settings by hand"):
            parts.head_row(("Time", ""), ("Set", "num"), ("Should show", "num"), ("Look", ""))
            with Tag("tbody"):
                _settings(plan, page)
    cautions(plan)


def cautions(plan: Plan) -> None:
    """What the kiln may show at most, who wins over this programme, and what a night takes."""
    reading, units = plan.get("reading_c"), here()
    with Tag("div", classes="cautions"):
        if reading:
            never, off = (f"{units.display.at_most(math.floor(reading[key]))} {units.unit('°C')}" for key in ("never_above", "off"))
            Tag("p", f"Reading never above {never}; at {off} switch off: the run is lost.", "caution")
        Tag("p", here().text(mains.told(plan["pour"]["flask_c"] if _others_stay(plan) else None)), "caution")
        Tag("p", BAG_WINS, "small")
        night = plan.get("overnight", OVERNIGHT if _over_midnight(plan) else "")
        if night:
            Tag("p", f"It fires while you sleep. {night}", "caution")


def _others_stay(plan: Plan) -> bool:
    """Are flasks of this plan's job in the kiln yet when this one comes out."""
    runs = plan.get("kiln_load", {}).get("runs", ())
    return bool(runs) and bool(runs[-1] != plan.get("run", {}).get("number"))


def _takes_count(plan: Plan) -> int:
    """How many segments the controller takes."""
    studio = plan.get("inputs", {}).get("studio", {})
    return int(studio.get("kiln", {}).get("segments_count", 0))


def _table(name: str) -> AbstractContextManager[Tag]:
    return parts.wide_table(name)


def segment_row(one: Plan) -> None:
    """One segment as it is typed."""
    with Tag("tr"):
        Tag("th", str(one["number"]), scope="row")
        parts.as_shown(*here().ramp(one["ramp_c_per_h"]), tag="td", classes="num")
        parts.as_shown(*here().degrees(one["target_c"]), tag="td", classes="num")
        Tag("td", f"{one['hold_min'] // 60}:{one['hold_min'] % 60:02d}", "num")
        with Tag("td", one["why"], "why"):
            if one.get("ruled"):
                Tag("small", f"Ruled by: {here().text(one['ruled'])}", "band")


def _settings(plan: Plan, page: Frame) -> None:
    """One row a setting; the day where it begins."""
    date = None
    for point, moment in zip(plan["burnout"]["by_hand"], _moments(plan), strict=True):
        at = when.told(moment.isoformat(), page.lists.zone)
        clock = when.clock(at) if at.date() == date else f"{at:%a} {when.clock(at)}"
        date = at.date()
        with Tag("tr"):
            Tag("th", clock, "nowrap", scope="row")
            parts.as_shown(*here().degrees(point["set_c"]), tag="td", classes="num")
            seen_c = point.get("seen_c")
            parts.as_shown(*(here().degrees(seen_c) if seen_c is not None else (DASH, "")), tag="td", classes="num")
            Tag("td", here().text(point["why"]), "why")


def _moments(plan: Plan) -> Sequence[datetime]:
    """When each setting is made, as the day has it."""
    told = [step.starts_at for step in settings_of(plan)]
    points, start = plan["burnout"]["by_hand"], datetime.fromisoformat(plan["burnout"]["starts_at"])
    return told if len(told) == len(points) else [start + timedelta(minutes=point["at_min"]) for point in points]


def _over_midnight(plan: Plan) -> bool:
    """Of a plan that was kept before nights were told: does the kiln burn from one day to another."""
    on, off = (datetime.fromisoformat(text) for text in (plan["burnout"]["starts_at"], plan["pour"]["at"]))
    return on.date() != off.date()
