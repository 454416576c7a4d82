"""Cooling curves: temperature against time at a few telling places, from their shares of the plot."""

from collections.abc import Mapping, Sequence
from math import ceil, floor
from typing import Any, Final

from pourwell.units import c_from_f, f_from_c
from pourwell.web.desk import drawn, parts
from pourwell.web.desk.drawn import WIDE
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

FOOT: Final = 232.0
LABEL_Y: Final = 240
STEP_F: Final = 100
"""From line to line where degrees Fahrenheit are shown."""
STYLES: Final = {"piece": "c-ink", "sprue": "c-acc", "button": "c-ink dotted"}
"""At most three lines: more are not told apart. The stem lies between the sprue and the button."""
BESIDE: Final = {"piece": ("end", 6), "sprue": ("start", 22), "button": ("middle", -20)}
"""Where the name of a line stands from where it passes the solidus: which of its ends, and how far above [px]."""


def cooling(curves: Mapping[str, Any]) -> None:
    """The section."""
    lines = [line for line in curves["lines"] if line["style"] in STYLES]
    with parts.section("Cooling", f"after the pour, {curves['clock']}"), Tag("div", classes="chart plot"):
        levels = _levels(curves)
        with drawn.svg(int(FOOT), _says(curves, lines)):
            for level in levels:
                drawn.line([(0, _y(level["y"])), (WIDE, _y(level["y"]))], "c-grid")
            drawn.area([(WIDE * x, _y(y)) for x, y in curves["band"]], "c-band")
            for mark in curves["marks"]:
                drawn.line([(0, _y(mark["y"])), (WIDE, _y(mark["y"]))], "c-limit")
            for line in lines:
                drawn.line([(WIDE * x, _y(y)) for x, y in line["points"]], STYLES[line["style"]])
        for level in levels[1:]:
            said = f"{level['label']} {here().unit(curves['unit'])}" if level is levels[-1] else level["label"]
            drawn.word(said, 0.0, _y(level["y"]) - 7, classes="out", anchor="end")
        for mark in curves["marks"]:
            low = mark is curves["marks"][-1]
            drawn.word(
                here().text(mark["says"]),
                0.01 if low else 1.0,
                _y(mark["y"]) + (2 if low else -15),
                classes="halo",
                anchor="start" if low else "end",
            )
        for tick in curves["ticks"]:
            drawn.word(tick["label"], tick["x"], LABEL_Y, anchor="start" if tick["x"] == 0 else "middle")
        for line in lines:
            _named(line, curves["marks"][-1]["y"])


def _levels(curves: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Lines of temperature at round degrees of the reader; a plan's own where it has them in these."""
    kept = curves["levels"]
    if curves["unit"] != "°C" or not here().display.fahrenheit:
        return list(kept)
    low_c, high_c = float(kept[0]["label"]), float(kept[-1]["label"])
    first, last = ceil(f_from_c(low_c) / STEP_F), floor(f_from_c(high_c) / STEP_F)
    rounds = [STEP_F * k for k in range(first, last + 1)]
    return [{"y": (c_from_f(f) - low_c) / (high_c - low_c), "label": str(f)} for f in rounds]


def _named(line: Mapping[str, Any], solidus: float) -> None:
    anchor, up = BESIDE[line["style"]]
    x, y = (line["solid"], solidus) if line["solid"] is not None else line["points"][-1]
    if line["solid"] is not None:
        drawn.dot(x, _y(y))
    drawn.word(line["says"].partition(",")[0], x, _y(y) + up, classes="strong halo", anchor=anchor)


def _y(share: float) -> float:
    return FOOT * (1 - share)


def _says(curves: Mapping[str, Any], lines: Sequence[Mapping[str, Any]]) -> str:
    """The chart in a sentence."""
    ticks = curves["ticks"]
    per = (float(ticks[1]["label"]) - float(ticks[0]["label"])) / ticks[1]["x"] if len(ticks) > 1 else 0.0
    solid = [
        f"{line['says']} after {line['solid'] * per:.0f} {curves['clock']}" for line in lines if line["solid"] is not None and per
    ]
    marks = ", ".join(here().text(mark["says"]) for mark in curves["marks"])
    return f"Cooling curves; {marks}. Solid: {'; '.join(solid) or 'none within the plot'}."
