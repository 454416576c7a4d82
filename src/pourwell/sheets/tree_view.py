"""The tree page: elevation and tiers as polygons in millimetres, the sprueing card, weights and clearances."""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

from pourwell.plan import Plan
from pourwell.sheets.display import DASH, Display, pieces
from pourwell.sheets.paper import Paper, Scales, scales
from pourwell.steps.flask.model import Flask
from pourwell.steps.tree.model import Outline, Place, Polygon, Tier, Tree
from pourwell.units import MM_PER_INCH

LABEL_STEP_MM = 4.2
"""Ordinates on paper stand at least this far apart."""
EACH_UP_TO = 12
"""Up to so many pieces the card has a row each; above, a row for each tier and pattern."""
SIDE_OF_STEM_MM = 3.0
"""A piece nearer to the plane of the stem than this is beside it, neither before nor behind."""
DOME_STEPS = 24
GAP_LABEL_MM = 4.0
NUMBER_STEP_MM = 4.9
"""Numbers of pieces on paper stand at least this far apart: their circle, and a little white."""
PUSHES = 40
"""So many times touching numbers are pushed apart; a crowd of a dozen settles in twenty."""
ASIDE_DEG = 16
"""An angle steps so far aside of the line to the wall."""
TO = "\u2013"
"""Between the ends of a range in a narrow column."""


def tree_view(plan: Plan, tree: Tree, show: Display, *, paper: Paper) -> dict[str, Any]:
    """All that the tree page sets; lengths in it are millimetres of the thing, not of the paper."""
    flask = plan.flask
    tiers = _alike([_tier(tree, tier, flask=flask, show=show) for tier in tree.tiers], show)
    scale = scales(flask, tiers_count=len(tiers), paper=paper, stopped=plan.stopped)
    button = cap(tree.button.diameter_mm, foot_mm=tree.button.foot_mm, height_mm=tree.button.height_mm)
    named = [
        ("tip", tree.top_mm),
        ("stem", tree.stem.top_mm),
        *((f"tier {t.number}", t.height_mm) for t in tree.tiers),
        ("button", tree.button.foot_mm + tree.button.height_mm),
        ("base", tree.button.foot_mm),
    ]
    return {
        **flask_view(flask, show, button=button, named=named, scale=scale),
        "stem": {"d": tree.stem.diameter_mm, "foot": tree.stem.foot_mm, "top": tree.stem.top_mm},
        "top": tree.top_mm,
        "limit": None,
        "places": _all_seen(tree.places, step_mm=NUMBER_STEP_MM / scale.elevation_ratio),
        "tip": _tip(tree, show),
        "tiers": list(reversed(tiers)),
        "weights": _weights(plan, tree, show),
        "clearances": _clearances(tree, show),
        "card": _card(plan, tree, show),
        "proposals": [show.text(words) for words in _proposals(tree, show)],
    }


def _round(points: Iterable[tuple[float, float]]) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in points]


def _polygons(outline: Outline) -> list[list[list[float]]]:
    return [_round(p) for p in outline.polygons]


def cap(diameter_mm: float, *, foot_mm: float, height_mm: float) -> Polygon:
    """The button from the side: a spherical cap on its wide face, as the dome of the rubber base shapes it."""
    half = diameter_mm / 2
    if height_mm <= 0:
        return ((-half, foot_mm), (half, foot_mm))
    radius = (half**2 + height_mm**2) / (2 * height_mm)
    middle = foot_mm + height_mm - radius
    xs = [half * (2 * i / DOME_STEPS - 1) for i in range(DOME_STEPS + 1)]
    return tuple((x, middle + math.sqrt(max(radius**2 - x**2, 0.0))) for x in xs)


def flask_view(
    flask: Flask, show: Display, *, button: Polygon, named: Iterable[tuple[str, float]], scale: Scales
) -> dict[str, Any]:
    """What every elevation shows: the flask, the rubber base with the button, heights and widths.

    `named` are heights over the foot of the flask by their names [mm]; rim, fill and foot are added.
    """
    outside = [("rim", flask.height_mm), ("foot", 0.0)]
    if flask.headspace_mm:
        outside.append(("fill", flask.height_mm - flask.headspace_mm))
    return {
        "flask": {"d": flask.diameter_mm, "h": flask.height_mm, "wall": flask.wall_mm, "base": flask.base_depth_mm},
        "level": flask.height_mm - flask.headspace_mm,
        "button": _round(button),
        "marks": ordinates([*outside, *named], show=show, step_mm=LABEL_STEP_MM / scale.elevation_ratio),
        "widths": {
            "button": f"button {show.height(button[-1][0] - button[0][0])}",
            "flask": f"flask inside {show.height(flask.diameter_mm)}",
        },
        "scale": {
            "elevation": scale.elevation_ratio,
            "plan": scale.plan_ratio,
            "ordinates": scale.ordinates_mm,
            "beside": scale.beside_count,
        },
        "bar": {"mm": 2 * MM_PER_INCH if show.inches else 50.0, "says": "2 in" if show.inches else "50 mm"},
        "unit": "inches" if show.inches else "mm",
    }


def _all_seen(places: Iterable[Place], *, step_mm: float) -> list[dict[str, Any]]:
    """The pieces from the side, the far ones first, their numbers apart."""
    far_first = sorted(places, key=lambda q: -q.depth_mm)
    at = apart([(q.centre_mm[0], q.centre_mm[2]) for q in far_first], step=step_mm)
    return [_seen(q) | {"centre": [round(x, 2), round(z, 2)]} for q, (x, z) in zip(far_first, at, strict=True)]


def apart(points: Sequence[tuple[float, float]], *, step: float) -> list[tuple[float, float]]:
    """Points of the plane pushed apart, sideways where they lie upon each other, until no two are nearer than the step."""
    at = [complex(*point) for point in points]
    for _ in range(PUSHES):
        near = [(i, k) for i in range(len(at)) for k in range(i) if abs(at[i] - at[k]) < step - 1e-6]
        for i, k in near:
            between = at[i] - at[k]
            way = between / abs(between) if abs(between) > 1e-6 else 1.0
            push = way * (step - min(abs(between), step)) / 2
            at[i], at[k] = at[i] + push, at[k] - push
        if not near:
            break
    return [(point.real, point.imag) for point in at]


def _seen(place: Place) -> dict[str, Any]:
    lies = "back" if place.depth_mm > SIDE_OF_STEM_MM else "front" if place.depth_mm < -SIDE_OF_STEM_MM else "side"
    return {
        "n": str(place.number),
        "lies": lies,
        "outline": _polygons(place.elevation),
        "sprue": _round(place.sprue_elevation),
    }


# ---- heights


def ordinates(named: Iterable[tuple[str, float]], *, show: Display, step_mm: float) -> list[dict[str, Any]]:
    """Heights with their names; names that share a height share a line; lines stand at least a step apart."""
    lines: list[dict[str, Any]] = []
    for name, z in sorted(named, key=lambda mark: mark[1]):
        value = show.height(z)
        if lines and lines[-1]["value"] == value:
            lines[-1]["says"] += f", {name}"
        else:
            lines.append({"says": name, "value": value, "y": round(z, 2)})
    for line, at in zip(lines, spread([m["y"] for m in lines], step=step_mm), strict=True):
        line["at"] = round(at, 2)
    return lines


def spread(heights: Sequence[float], *, step: float) -> list[float]:
    """Ascending heights pushed apart, as little as may be, until no two are nearer than the step."""
    groups: list[tuple[float, int]] = []  # middle and count of a run of labels that touch
    for y in heights:
        groups.append((y, 1))
        while len(groups) > 1:
            (low, m), (high, n) = groups[-2:]
            if high - low >= step * (m + n) / 2:
                break
            groups[-2:] = [((low * m + high * n) / (m + n), m + n)]
    return [middle + step * (i - (count - 1) / 2) for middle, count in groups for i in range(count)]


def _tip(tree: Tree, show: Display) -> dict[str, Any]:
    c = tree.clearances
    return {"from": tree.top_mm, "to": round(tree.top_mm + c.tip_mm, 2), "value": show.length(c.tip_mm)}


# ---- tiers


def _tier(tree: Tree, tier: Tier, *, flask: Flask, show: Display) -> dict[str, Any]:
    here = [q for q in tree.places if q.tier == tier.number]
    return {
        "number": tier.number,
        "height": show.height(tier.height_mm),
        "count": len(here),
        "letters": ", ".join(sorted({q.piece for q in here})),
        "places": [
            {
                "n": str(q.number),
                "angle": round(q.azimuth_deg),
                "angle_at": round(q.azimuth_deg + _aside_deg(tree, q), 1),
                "outline": _polygons(q.plan),
                "sprue": _round(q.sprue_plan),
                "centre": [round(q.centre_mm[0], 2), round(q.centre_mm[1], 2)],
            }
            for q in here
        ],
        "gap": _gap(tree, flask, show=show) if any(q.number == tree.clearances.wall_place for q in here) else None,
        "key": [(q.piece, round(q.azimuth_deg), q.sprue.gauge_mm, round(q.sprue.length_mm, 1), round(q.tilt_deg)) for q in here],
    }


def _aside_deg(tree: Tree, place: Place) -> float:
    """How far round the angle of a piece is written: on its spoke, but aside of the line to the wall and of its figure."""
    if place.number != tree.clearances.wall_place:
        return 0.0
    return -math.copysign(ASIDE_DEG, _label_side(tree, place))


def _label_side(tree: Tree, place: Place) -> float:
    """Positive where the figure of the way to the wall stands clockwise of its line: away from the piece's middle."""
    x, y, _ = tree.clearances.wall_at_mm
    cx, cy, _ = place.centre_mm
    return x * cy - y * cx or 1.0


def _gap(tree: Tree, flask: Flask, *, show: Display) -> dict[str, Any]:
    """The smallest way to the wall, and where its figure stands: beside the line, on the side away from the piece's middle."""
    x, y, _ = tree.clearances.wall_at_mm
    near = math.hypot(x, y) or 1.0
    radius = flask.diameter_mm / 2
    ux, uy = x / near, y / near
    place = next(q for q in tree.places if q.number == tree.clearances.wall_place)
    side = -math.copysign(GAP_LABEL_MM, _label_side(tree, place))
    middle = (near + radius) / 2
    return {
        "from": [round(x, 2), round(y, 2)],
        "to": [round(ux * radius, 2), round(uy * radius, 2)],
        "label": [round(ux * middle - uy * side, 2), round(uy * middle + ux * side, 2)],
        "value": show.length(tree.clearances.wall_mm),
    }


def _alike(tiers: list[dict[str, Any]], show: Display) -> list[dict[str, Any]]:
    """Tiers that repeat the one below are drawn once."""
    runs: list[list[dict[str, Any]]] = []
    for tier in tiers:
        if runs and runs[-1][0]["key"] == tier["key"] and not tier["gap"]:
            runs[-1].append(tier)
        else:
            runs.append([tier])
    return [_run(run, show) for run in runs]


def _run(run: list[dict[str, Any]], show: Display) -> dict[str, Any]:
    first, last = run[0], run[-1]
    heights = ", ".join(t["height"] for t in run)
    each = " each" if len(run) > 1 else ""
    title = f"Tier {first['number']}" if len(run) == 1 else f"Tiers {first['number']} to {last['number']}, alike"
    says = f"{heights} {show.length_unit} up; {pieces(first['count'])}{each}: {first['letters']}"
    return {"title": title, "says": says, "places": first["places"], "gap": first["gap"]}


# ---- figures


def _weights(plan: Plan, tree: Tree, show: Display) -> list[tuple[str, str]]:
    unit = show.metal_unit
    parts = (
        ("Pieces", tree.pieces_g),
        ("Sprues", tree.sprues_g),
        ("Stem", tree.stem_g),
        ("Button", tree.button_g),
        ("Tree in metal", tree.metal_g),
        ("Charge, with loss", plan.charge.total_g),
    )
    if plan.doubt:
        return [(name, DASH) for name, _ in parts]
    rows = [(name, f"{show.metal(g, beside_g=tree.metal_g)} {unit}") for name, g in parts]
    return [
        *rows,
        ("Pieces' share", f"{100 * tree.yield_fraction:.0f} %"),
        ("Tree as pattern", f"{show.metal(tree.pattern_g)} {unit}"),
    ]


def _clearances(tree: Tree, show: Display) -> list[dict[str, Any]]:
    c = tree.clearances
    rows = [("to the wall", c.wall_mm, c.wall_limit_mm), ("over the tip", c.tip_mm, c.tip_limit_mm)]
    if c.pieces_mm is not None:
        rows.append(("piece to piece", c.pieces_mm, c.pieces_limit_mm))
    return [
        {"says": says, "value": show.length(value), "limit": show.length(limit), "short": value < limit}
        for says, value, limit in rows
    ]


def _card(plan: Plan, tree: Tree, show: Display) -> list[dict[str, str]]:
    names = {p.piece.id: p.piece.name for p in plan.patterns}
    if len(tree.places) <= EACH_UP_TO:
        groups = [[q] for q in tree.places]
    else:
        by_kind: dict[tuple[int, str], list[Place]] = {}
        for q in tree.places:
            by_kind.setdefault((q.tier, q.piece), []).append(q)
        groups = list(by_kind.values())
    return [_card_row(group, names, show) for group in sorted(groups, key=lambda g: g[0].number)]


def _card_row(group: list[Place], names: dict[str, str], show: Display) -> dict[str, str]:
    first = group[0]
    return {
        "no": numbers([q.number for q in group]),
        "letter": first.piece,
        "name": names[first.piece],
        "tier": str(first.tier),
        "height": show.height(first.height_mm),
        "angle": angles([q.azimuth_deg for q in group]),
        "gauge": _range([q.sprue.gauge_mm for q in group], show, digits=1),
        "length": _range([q.sprue.length_mm for q in group], show, digits=1 if show.inches else 0),
        "tilt": f"{first.tilt_deg:.0f}",
        "attach": first.sprue.attachment.words,
        "ratio": f"{first.sprue.area_ratio:.2f}",
    }


def _range(values_mm: list[float], show: Display, *, digits: int) -> str:
    low, high = show.length(min(values_mm), digits), show.length(max(values_mm), digits)
    return low if low == high else f"{low}{TO}{high}"


def numbers(run: list[int]) -> str:
    """Piece numbers: one, a run written as its ends, or a list."""
    if len(run) > 2 and run == list(range(run[0], run[-1] + 1)):
        return f"{run[0]}{TO}{run[-1]}"
    return ", ".join(map(str, run))


def angles(azimuths_deg: list[float]) -> str:
    """One angle, an even division written short, or a list; whole degrees."""
    whole = [round(a) for a in azimuths_deg]
    steps = {round((b - a) % 360, 1) for a, b in pairwise(azimuths_deg)}
    if len(whole) > 2 and len(steps) == 1 and abs(steps.pop() * len(whole) - 360) < 1:
        return f"{azimuths_deg[0]:g} and every {360 / len(whole):g}"
    return ", ".join(map(str, whole))


def _proposals(tree: Tree, show: Display) -> list[str]:
    """A second sprue, where the first feeds a heavy section through a thinner neck."""
    unit = show.length_unit
    return [
        f"{p.piece}: the section of {show.length(p.section_mm)} {unit} lies behind a neck of {show.length(p.neck_mm)} {unit}. "
        f"A second sprue of {show.length(p.gauge_mm)} {unit} at the {p.attachment.words} would feed it."
        for p in tree.proposals
    ]
