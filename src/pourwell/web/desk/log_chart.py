"""A log as curves over the hours: the kiln as a line, readings in the flask as dots, the model as lines, the rest cut off."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from pourwell.web.desk import drawn, parts
from pourwell.web.desk.drawn import WIDE, Heat
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

HIGH: Final = 340
TOP, FOOT, LABEL_Y = 16.0, 304.0, 312.0
STEPS_H: Final = (0.5, 1, 2, 3, 6, 12, 24, 48)
MOST_WORDS: Final = 14
WORDS: Final = {"kiln": "kiln", "core": "core", "half": "half radius", "wall": "wall"}
"""Places that have a name."""
DEPTH: Final = re.compile(r"([\d.]+)mm(?:@([\d.]+)mm)?")
STYLES: Final = (("c-acc", "c-dots acc"), ("c-ink dotted", "c-dots"), ("c-rim", "c-dots quiet"))
"""Of the model and of the readings, place after place."""
KILN_AT: Final = 0.12
"""Where along the time the kiln's line bears its name."""
RISE: Final = 0.3
"""Where a curve first passes this share of the hottest, and its name stands: the flanks lie apart there, the core's last."""
RISES: Final = (RISE, 0.2, 0.45, 0.6, 0.75)
"""... and those of the others, so that no name covers another."""
Curve = Mapping[str, Any]


def called(place: str, name: str = "") -> str:
    """How a place is called, else how its column is."""
    found = DEPTH.fullmatch(place)
    if found:
        return here().text(f"{found[1]} mm deep" + (f", {found[2]} mm up" if found[2] else ""))
    return WORDS.get(place, name)


def log_chart(curves: Sequence[Curve], *, cut_h: float | None, fall_c: float) -> None:
    """The drawing. `cut_h`: what is later is not read; `fall_c`: where the kiln's fall is wanted."""
    ends = max(curve["read"][-1][0] for curve in curves)
    hottest = [max(c for _, c in curve["read"]) for curve in curves]
    heat = Heat.over(*hottest, fall_c, top=TOP, foot=FOOT)
    modelled = any(curve.get("model") for curve in curves)

    def points(values: Sequence[Sequence[float]]) -> list[tuple[float, float]]:
        return [(WIDE * h / ends, heat.y(max(c, 0.0))) for h, c in values]

    with Tag("div", classes="chart timed log"):
        with drawn.svg(HIGH, _says(curves, ends=ends, modelled=modelled)):
            drawn.line([(0, heat.y(0.0)), (WIDE, heat.y(0.0))], "c-axis")
            for level, _ in here().grid_c(heat.most_c):
                drawn.line([(0, heat.y(level)), (WIDE, heat.y(level))], "c-grid")
            drawn.line([(0, heat.y(fall_c)), (WIDE, heat.y(fall_c))], "c-limit")
            for curve, (line, dots) in _styled(curves):
                if curve.get("model"):
                    drawn.line(points(curve["model"]), line)
                if dots:
                    _dots(points(curve["read"]), dots)
                else:
                    drawn.line(points(curve["read"]), line)
            if cut_h is not None and cut_h < ends:
                x = WIDE * cut_h / ends
                drawn.box(x, 0, width=WIDE - x, height=FOOT, classes="c-cut")
                drawn.line([(x, 0), (x, FOOT)], "c-now")
        _words(curves, heat, ends=ends, fall_c=fall_c, cut_h=cut_h)


def _styled(curves: Sequence[Curve]) -> list[tuple[Curve, tuple[str, str]]]:
    """Curves with the style of their line, and of their dots, which the kiln has none of."""
    out, count = [], 0
    for curve in curves:
        if curve["place"] == "kiln":
            out.append((curve, ("c-ink thin", "")))
        else:
            out.append((curve, STYLES[count % len(STYLES)]))
            count += 1
    return out


def _dots(places: Sequence[tuple[float, float]], classes: str) -> None:
    Tag("path", classes=classes, d=" ".join(f"M{x:.1f},{y:.1f}h0.01" for x, y in places), vector_effect="non-scaling-stroke")


def _words(curves: Sequence[Curve], heat: Heat, *, ends: float, fall_c: float, cut_h: float | None) -> None:
    for level, says in here().grid_c(heat.most_c):
        drawn.word(says, 0.0, heat.y(level) - 16, classes="axis halo", anchor="start")
    drawn.word(f"fall wanted at {' '.join(here().degrees(fall_c))}", 1.0, heat.y(fall_c) - 16, classes="halo", anchor="end")
    kiln = [curve for curve in curves if curve["place"] == "kiln"]
    inside = sorted((curve for curve in curves if curve["place"] != "kiln"), key=lambda one: -_passes(one, RISE)[0])
    for curve in kiln:
        hour, c = curve["read"][int(KILN_AT * (len(curve["read"]) - 1))]
        drawn.word("kiln", hour / ends, heat.y(max(c, 0.0)) - 22, classes="strong halo")
    for k, curve in enumerate(inside):
        hour, c = _passes(curve, RISES[k % len(RISES)])
        side = "before" if k else "behind"
        drawn.word(
            called(curve["place"], curve["name"]), hour / ends, heat.y(max(c, 0.0)) - 8, classes=f"strong halo {side}",
            anchor="end" if k else "start",
        )  # fmt: skip
    step = next((step for step in STEPS_H if ends / step <= MOST_WORDS), STEPS_H[-1])
    for k in range(int(ends / step) + 1):
        edge = "start" if k == 0 else "end" if k * step > 0.96 * ends else "middle"
        drawn.word(f"{k * step:g} h", k * step / ends, LABEL_Y, classes="wide" if k % 2 else "", anchor=edge)
    if cut_h is not None and cut_h < ends:
        side = "end" if cut_h > ends / 2 else "start"
        drawn.word(here().number(f"read up to {cut_h:g} h"), cut_h / ends, 0, classes="now halo", anchor=side)


def _passes(curve: Curve, share: float) -> tuple[float, float]:
    """Where a curve first passes a share of its hottest: hour and temperature."""
    level = share * max(c for _, c in curve["read"])
    hour, c = next((point for point in curve["read"] if point[1] >= level), curve["read"][-1])
    return hour, c


def _says(curves: Sequence[Curve], *, ends: float, modelled: bool) -> str:
    """The chart in a sentence."""
    most = [
        f"{parts.small(called(curve['place'], curve['name']))} up to {' '.join(here().degrees(max(c for _, c in curve['read'])))}"
        for curve in curves
    ]
    return here().number(f"The log over {ends:.1f} h: {'; '.join(most)}.") + (" Dots are read, lines computed." if modelled else "")
