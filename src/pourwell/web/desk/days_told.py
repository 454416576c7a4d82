"""The days ahead as they were placed: what to do when, the kilns, the picture, the findings; or what to give up."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, time
from functools import partial
from typing import Any, Final

from pourwell.app.desk_days import Placing
from pourwell.app.desk_words import DASH
from pourwell.steps.burnout.model import BAG_WINS
from pourwell.steps.day import mains
from pourwell.web.desk import drawn, parts, when
from pourwell.web.desk.drawn import WIDE, Heat, TimeLine
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.kiln_told import segment_row
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

Told = Mapping[str, Any]
HIGH, TOP, FOOT, HAND_TOP, HAND_HIGH = 132, 6.0, 92.0, 98.0, 14.0
WORD_TOP, WORD_HIGH, WORD_ROWS = 2, 15, 3
UNDER_TOP: Final = 114
HOURS_Y: Final = 164
"""Of one day's drawing [px]: the kiln over the work, words over each, the clock at the foot."""
WORD_WIDE: Final = 0.13
"""The share of a day that a word over the kiln takes on a phone."""
WORK_WIDE: Final = 0.105
"""... and one under the work on a desk; on a phone there is no room for those."""
LINES: Final = ("c-ink", "c-acc", "c-ink dotted")
"""Of the first kiln, of the second, of all others."""
ON_A_BUTTON: Final = {
    "later": "Pour then",
    "earlier": "Pour then",
    "bag": "Bag them damp",
    "late": "Work so long",
    "early": "Begin then",
    "overnight": "Allow it",
    "hold": "Hold them longer",
    "pour": "Let it go",
}
"""What can be given up at one press; all else (a day off, another kiln, a helper) is no field of this page."""


def nothing(found: Told, give_up: Callable[[Told], None]) -> None:
    """Why nothing fits, and what may be given up."""
    text = here().text
    with parts.section(found["what"].rstrip(".")):
        Tag("p", text(found["why"]), "lead")
        if not found["offers"]:
            Tag("p", "Nothing that could be given up alone or together helps: plan fewer runs.")
            return
        Tag("h3", "Give up one of these")
        with Tag("ul", classes="give-up"):
            for offer in found["offers"]:
                with Tag("li"):
                    with Tag("div"):
                        Tag("b", text(parts.capital(offer["says"])))
                        Tag("p", text(parts.capital(offer["buys"])), "small")
                    if offer["key"] in ON_A_BUTTON:
                        words = ON_A_BUTTON[offer["key"]]
                        parts.button(words, partial(give_up, offer), "btn", aria_label=f"{words}: {offer['says']}")


def told(placing: Placing, page: Frame, findings: Sequence[Told], *, take: Callable[[], None]) -> None:
    """Everything that was placed; `take` builds what may become of the runs."""
    data = placing.data
    with Tag("div", classes="told-days"):
        Tag("p", here().text(parts.capital(data["says"])), "lead")
        with Tag("div", classes="cols two-lists"):
            with Tag("div", id="work"):
                _work(data, page)
            with Tag("div"):
                take()
                with Tag("div", id="kiln"):
                    _pours(data, page)
                    _kilns(data, page)
        _picture(data, page)
        with Tag("div", id="findings"), parts.section("Findings", parts.counted(findings)), Tag("ul"):
            for one in findings:
                parts.finding(one)


def _at(text: str, page: Frame) -> datetime:
    return when.told(text, page.lists.zone)


def _work(data: Told, page: Frame) -> None:
    """When to be where: day by day."""
    units = page.units
    with parts.section("What to do when", "filled: hands at the flask; open: at the kiln"):
        for day in data["days"]:
            if not day["jobs"]:
                continue
            Tag("h3", when.long_day(_at(day["starts_at"], page)))
            with Tag("ol", classes="day of-days"):
                for job in day["jobs"]:
                    with Tag("li", classes="hand" if job["minutes"] else "at-kiln"):
                        Tag("span", when.clock(_at(job["at"], page)), "t")
                        Tag("i")
                        with Tag("span", classes="w"):
                            Tag("span", units.text(job["says"]))
                            Tag("small", job["where"])
                            if job["why"] and job["key"] != "set":
                                Tag("small", units.text(job["why"]), "why-of")
                        Tag("span", when.span(job["minutes"]) if job["minutes"] else "", "d")


def _pours(data: Told, page: Frame) -> None:
    """The pours in their order."""
    with parts.section("Pours"), parts.wide_table("Pours", "segs stacked"):
        heads = (("Run", ""), ("Pour", ""), ("Flask", ""), ("Flask at", "num"), ("Metal at", "num"))
        parts.head_row(*heads)
        with Tag("tbody"):
            for run in sorted(data["runs"], key=lambda run: _at(run["pour_at"], page).timestamp()):
                with Tag("tr") as row:
                    with Tag("th", scope="row"):
                        Tag("span", f"{run['number']}  {run['name']}")
                        if run["alloy_name"] not in run["name"]:
                            Tag("small", run["alloy_name"], "band")
                    at = _at(run["pour_at"], page)
                    Tag("td", f"{when.day(at)} {when.clock(at)}", "nowrap strong")
                    Tag("td", (run["mark"] or page.units.text(run["flask"])) + (", bagged damp" if run["bagged"] else ""))
                    parts.as_shown(*page.units.degrees(run["flask_c"]), tag="td", classes="num")
                    parts.as_shown(*page.units.degrees(run["metal_c"]), tag="td", classes="num")
                for cell, (name, _) in zip(row.default_slot.children, heads, strict=True):
                    cell.props["data-label"] = name


def _kilns(data: Told, page: Frame) -> None:
    """Each firing: when it goes on, what goes in, what is typed or set."""
    for load in data["loads"]:
        on, off, free = (_at(load[key], page) for key in ("on_at", "off_at", "free_at"))
        runs = f"run{'s' if len(load['runs']) > 1 else ''} {', '.join(map(str, load['runs']))}"
        with parts.section(f"Firing {load['number']}, {load['kiln']}", runs):
            parts.keys([
                ("Kiln on", f"{when.day(on)} {when.clock(on)}", ""),
                ("First pour", _first_pour(data, load, page), ""),
                ("Last pour, kiln off", f"{when.day(off)} {when.clock(off)}", ""),
                ("Cool enough again", f"{when.day(free)} {when.clock(free)}", ""),
            ])  # fmt: skip
            words = (load["programme"], load["typed"], _longer(load))
            Tag("p", "; ".join(word for word in words if word), "small")
            if load["segments"]:
                _segments(load)
            if load["settings"]:
                _settings(load, page)
    with Tag("div", classes="cautions"):
        Tag("p", f"Whenever somebody reaches in, {mains.OFF}. {mains.LOST}: for flasks that stay set it by hand.", "caution")
        Tag("p", BAG_WINS, "small")
        if data["overnight"]:
            Tag("p", f"It fires while you sleep. {data['overnight']}", "caution")


def _first_pour(data: Told, load: Told, page: Frame) -> str:
    at = min(_at(run["pour_at"], page) for run in data["runs"] if run["number"] in load["runs"])
    return f"{when.day(at)} {when.clock(at)}"


def _longer(load: Told) -> str:
    return f"held {when.span(load['longer_min'])} longer than the programme itself" if load["longer_min"] > 0 else ""


def _segments(load: Told) -> None:
    Tag("h3", load["how"])
    with parts.wide_table(f"Controller segments of firing {load['number']}"):
        parts.head_row(("Segment", ""), ("Ramp", "num"), ("To", "num"), ("Hold", "num"), ("Why", ""))
        with Tag("tbody"):
            for one in load["segments"]:
                segment_row(one)


def _settings(load: Told, page: Frame) -> None:
    Tag("h3", "Set by hand, by the clock" if not load["segments"] else "Then by hand, by the clock")
    with parts.wide_table(f"Settings by hand of firing {load['number']}"):
        parts.head_row(("Time", ""), ("Set", "num"), ("Should show", "num"), ("Look", ""))
        with Tag("tbody"):
            for one in load["settings"]:
                at, seen_c = _at(one["at"], page), one.get("seen_c")
                with Tag("tr"):
                    Tag("th", f"{at:%a} {when.clock(at)}", "nowrap", scope="row")
                    parts.as_shown(*page.units.degrees(one["set_c"]), tag="td", classes="num")
                    parts.as_shown(*(page.units.degrees(seen_c) if seen_c is not None else (DASH, "")), tag="td", classes="num")
                    Tag("td", page.units.text(one["why"]), "why")


# ---- the picture


def _picture(data: Told, page: Frame) -> None:
    """A strip a day: the kilns' lines over the work."""
    kilns = sorted({load["kiln"] for load in data["loads"]})
    heat = Heat.over(*(point["set_c"] for load in data["loads"] for point in load["curve"]), top=TOP + 10, foot=FOOT)
    with parts.section("The days as a picture", "light: your hours; filled: hands"):
        if len(kilns) > 1:
            Tag(
                "p",
                "; ".join(f"{name}: {line}" for name, line in zip(kilns, ("whole line", "dashed", "dotted"), strict=False)),
                "small",
            )
        for day in data["days"]:
            axis = TimeLine(start=_at(day["starts_at"], page), end=_at(day["ends_at"], page), zone=page.lists.zone)
            Tag("h3", when.long_day(axis.start))
            _strip(data, day, axis, kilns=kilns, heat=heat, page=page)


def _strip(data: Told, day: Told, axis: TimeLine, *, kilns: Sequence[str], heat: Heat, page: Frame) -> None:
    with Tag("div", classes="chart timed one-day"):
        with drawn.svg(HIGH, _says(data, day, axis)):
            if axis.start.date().isoformat() not in data["closed_days"]:
                for a, b in axis.open_hours(*(time.fromisoformat(text) for text in data["work_hours"])):
                    drawn.box(WIDE * a, TOP, width=WIDE * (b - a), height=HAND_TOP + HAND_HIGH - TOP, classes="c-open")
            drawn.line([(0, FOOT), (WIDE, FOOT)], "c-axis")
            for c, _ in page.units.grid_c(heat.most_c):
                drawn.line([(0, heat.y(c)), (WIDE, heat.y(c))], "c-grid")
            for load in data["loads"]:
                corners = [(_at(point["at"], page), point["set_c"]) for point in load["curve"]]
                points = [(WIDE * x, heat.y(c)) for x, c in drawn.clipped(corners, axis)]
                if points:
                    drawn.line(points, LINES[min(kilns.index(load["kiln"]), len(LINES) - 1)])
            for block in day["blocks"]:
                a, b = (axis.x(_at(block[key], page)) for key in ("starts_at", "ends_at"))
                drawn.box(WIDE * a, HAND_TOP, width=max(WIDE * (b - a), 3), height=HAND_HIGH, classes="c-hand")
            x = axis.x(page.moment())
            if 0 < x < 1:
                drawn.line([(WIDE * x, TOP), (WIDE * x, HAND_TOP + HAND_HIGH)], "c-now")
        says, unit = page.units.grid_c(heat.most_c)[-1][1], page.units.unit("°C")
        drawn.word(f"{says} {unit}", 0.0, heat.y(page.units.grid_c(heat.most_c)[-1][0]) + 2, classes="axis halo", anchor="start")
        for x, row, text in stacked(_moments(data, axis, page), WORD_WIDE):
            drawn.word(text, x, WORD_TOP + WORD_HIGH * row, classes="strong halo", anchor="start" if x < 1 - WORD_WIDE else "end")
        work = [(axis.x(_at(block["starts_at"], page)), f"{block['run']} {block['word']}") for block in day["blocks"]]
        for x, row, text in stacked(work, WORK_WIDE):
            drawn.word(text, x, UNDER_TOP + WORD_HIGH * row, classes="wide", anchor="start" if x < 1 - WORK_WIDE else "end")
        drawn.hour_words(axis, HOURS_Y, when.clock)


def _moments(data: Told, axis: TimeLine, page: Frame) -> list[tuple[float, str]]:
    """What happens at the kilns on a day: where across, and a word."""
    found = [(axis.x(_at(load["on_at"], page)), f"on {when.clock(_at(load['on_at'], page))}") for load in data["loads"]]
    found += [(axis.x(_at(run["pour_at"], page)), f"pour {run['number']}") for run in data["runs"]]
    return sorted((x, word) for x, word in found if 0 <= x < 1)


def stacked(words: Sequence[tuple[float, str]], wide: float) -> Iterator[tuple[float, int, str]]:
    """Words side by side, those that would meet one below the other; one for which no row is left stands in the list alone.

    `words`: where across, 0 to 1, and the text, in order; `wide`: the share of the width that one takes.
    """
    ends = [0.0] * WORD_ROWS
    for x, text in words:
        begins = min(x, 1 - wide)
        row = next((k for k in range(WORD_ROWS) if ends[k] <= begins), None)
        if row is not None:
            ends[row] = begins + wide
            yield x, row, text


def _says(data: Told, day: Told, axis: TimeLine) -> str:
    """The strip in a sentence; its times stand in the list."""
    pours = [run for run in data["runs"] if 0 <= axis.x(datetime.fromisoformat(run["pour_at"])) < 1]
    hands = sum(job["minutes"] for job in day["jobs"])
    words = (
        f"{when.long_day(axis.start)}: {when.span(hands)} of work" if hands else f"{when.long_day(axis.start)}: no hands-on work"
    )
    count = len(pours)
    return f"{words}, {count} pour{'s' if count != 1 else ''}."
