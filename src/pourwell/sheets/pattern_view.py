"""The patterns page: each kind of piece with its picture at one common scale, bore and sizes, weights and walls."""

import base64
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Protocol

from pourwell.findings import Severity
from pourwell.plan import Plan
from pourwell.sheets.display import DASH, NO_BREAK, TIMES, Display
from pourwell.sheets.paper import Paper, live_mm
from pourwell.sheets.tree_view import numbers, spread
from pourwell.steps.pattern.model import Bore, Piece, Sizes
from pourwell.steps.pattern.sizes import sizes

LARGEST_SCALE = 2.0
PICTURE_WIDTH_MM = 84.0
"""Room for both views, beside the names of the points and the figures."""
HEAD_MM = 28.0
ROWS_A_PAGE = 4
ROW_FRAME_MM = 13.0
"""Of a row, for its rule and for names over and under the picture."""
LABEL_HIGH_MM, LABEL_WIDE_MM = 4.6, 18.0
"""Names of points stand at least so far apart, below and beside each other."""


class Picture(Protocol):
    """What the page needs of a picture: front and side of a pattern in one raster, at a known scale."""

    @property
    def png(self) -> bytes:
        """The raster."""

    @property
    def width_mm(self) -> float:
        """What its width spans of the pattern."""

    @property
    def height_mm(self) -> float:
        """What its height spans of the pattern."""

    @property
    def points(self) -> Mapping[str, tuple[float, float]]:
        """Where "thinnest", "thickest" and "sprue" lie in it, from its upper left corner [mm]; what is not seen is absent."""

    @property
    def tones(self) -> Sequence[tuple[float, int]]:
        """Grey (0 to 255) of walls below a limit [mm], limits ascending, the last one infinite."""


class CloseUp(Protocol):
    """What the page needs of a finding's picture: a square without words."""

    @property
    def svg(self) -> str:
        """The picture."""

    @property
    def letter(self) -> str:
        """What it is called by."""

    @property
    def severity(self) -> Severity:
        """The finding's."""

    @property
    def measure(self) -> str:
        """What was found, with its unit; as a finding has it."""

    @property
    def limit(self) -> str:
        """What it was held against, with its unit; as a finding has it."""

    @property
    def span_mm(self) -> float:
        """How much of the pattern its edge spans."""


DOUBTS = {"unit": "not told: the unit is in doubt", "hull": "not told: measured on a skin stretched over loose triangles"}
"""What stands beside the dash of a figure that is not to be worked by."""

INSIDE = {"flat": "flat inside", "comfort": "comfort curve inside", "hollow": "hollow inside", "tapered": "tapered inside"}
"""How the inside of a band is called."""

MINUS = "\u2212"

CloseUps = Mapping[str, Sequence[CloseUp]]
"""Pictures of findings by the id of their piece."""

NONE: CloseUps = MappingProxyType({})


def patterns_view(
    plan: Plan, pictures: Mapping[str, Picture], *, show: Display, paper: Paper, close_ups: CloseUps = NONE
) -> dict[str, Any]:
    """All that the patterns page sets."""
    shown = [pictures[p.piece.id] for p in plan.patterns if p.piece.id in pictures]
    scale = common_scale(shown, paper=paper, stopped=plan.stopped)
    return {
        "scale": round(scale, 3),
        "times": f"{scale:.1f}",
        "legend": legend(shown[0].tones, show) if shown else [],
        "unit": "inches" if show.inches else "mm",
        "rings": any(p.piece.bore for p in plan.patterns),
        "pieces": [
            _piece(plan, p.piece, pictures.get(p.piece.id), show=show, scale=scale)
            | {"close_ups": [_close_up(seen, show) for seen in close_ups.get(p.piece.id, ())]}
            for p in plan.patterns
        ],
    }


def common_scale(shown: Sequence[Picture], *, paper: Paper, stopped: bool = False) -> float:
    """The largest scale, up to twice the size, at which every picture fits its row."""
    _, height = live_mm(paper, stopped=stopped)
    row_mm = (height - HEAD_MM) / ROWS_A_PAGE - ROW_FRAME_MM
    limits = [LARGEST_SCALE, *(PICTURE_WIDTH_MM / p.width_mm for p in shown), *(row_mm / p.height_mm for p in shown)]
    return min(limits)


def legend(tones: Sequence[tuple[float, int]], show: Display) -> list[dict[str, Any]]:
    """Each tone with the walls it stands for."""
    out, low = [], 0.0
    for limit, grey in tones:
        if not low:
            says = f"under {show.length(limit)}"
        elif limit == float("inf"):
            says = f"over {show.length(low)}"
        else:
            says = f"{show.length(low)} to {show.length(limit)}"
        out.append({"says": says, "percent": round(grey / 255 * 100, 1)})
        low = limit
    return out


def _piece(plan: Plan, piece: Piece, picture: Picture | None, *, show: Display, scale: float) -> dict[str, Any]:
    return {
        "id": piece.id,
        "name": piece.name,
        "file": piece.file,
        "facts": _facts(plan, piece, show),
        "picture": _picture(piece, picture, show=show, scale=scale) if picture else None,
    }


def _close_up(seen: CloseUp, show: Display) -> dict[str, str]:
    return {
        "svg": seen.svg,
        "letter": seen.letter,
        "severity": seen.severity.value,
        "measure": show.text(seen.measure),
        "limit": f"limit {show.text(seen.limit)}" if seen.limit else "",
        "span": f"picture {show.length(seen.span_mm)} {show.length_unit} across",
    }


def _picture(piece: Piece, picture: Picture, *, show: Display, scale: float) -> dict[str, Any]:
    """The raster inside an SVG, because a template takes text alone; points with the place of their names round it."""
    data = base64.b64encode(picture.png).decode("ascii")
    width, height = round(picture.width_mm, 3), round(picture.height_mm, 3)
    return {
        "svg": (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">'
            f'<image width="{width}" height="{height}" href="data:image/png;base64,{data}"/></svg>'
        ),
        "width": width,
        "height": height,
        "alt": f"{piece.name}, front and side, walls in grey tones",
        "points": named_points(picture, _names(piece, show), scale=scale),
    }


def _names(piece: Piece, show: Display) -> dict[str, tuple[str, str]]:
    """Words and figure of each point; walls that are even all round have one name for all."""
    thin, thick = show.length(piece.wall.thinnest_mm), show.length(piece.wall.thickest_mm)
    if piece.doubt:
        return {"sprue": ("sprue", "")}
    walls = {"thinnest": ("wall", thin)} if thin == thick else {"thinnest": ("thin", thin), "thickest": ("thick", thick)}
    return walls | {"sprue": ("sprue", "")}


def named_points(picture: Picture, names: Mapping[str, tuple[str, str]], *, scale: float) -> list[dict[str, Any]]:
    """Each point with the nearest edge but the right one, where the figures stand, and the place of its name on that edge.

    `x` and `y` are millimetres of the pattern; `at` is millimetres of paper along the edge, from the upper left corner.
    """
    by_edge: dict[str, list[dict[str, Any]]] = {"left": [], "top": [], "bottom": []}
    for name, (says, value) in names.items():
        if name in picture.points:
            x, y = picture.points[name]
            edge = min((x, "left"), (y, "top"), (picture.height_mm - y, "bottom"))[1]
            by_edge[edge].append({"says": says, "value": value, "x": round(x, 2), "y": round(y, 2), "edge": edge})
    for edge, points in by_edge.items():
        axis, step = ("y", LABEL_HIGH_MM) if edge == "left" else ("x", LABEL_WIDE_MM)
        points.sort(key=lambda point: float(point[axis]))
        for point, at in zip(points, spread([p[axis] * scale for p in points], step=step), strict=True):
            point["at"] = round(at, 2)
    return [point for points in by_edge.values() for point in points]


def _facts(plan: Plan, piece: Piece, show: Display) -> list[tuple[str, str, str]]:
    places = [q.number for q in plan.tree.places if q.piece == piece.id] if plan.tree else []
    metal, length = show.metal_unit, show.length_unit
    count = ("Count", str(piece.count), f"on the tree as no. {numbers(places)}" if places else "")
    if piece.doubt:
        return [count, *((name, DASH, DOUBTS[piece.doubt]) for name in ("Size", "Bore", "Weight", "Wall"))]
    wall = piece.wall
    thin, thick = show.length(wall.thinnest_mm), show.length(wall.thickest_mm)
    limit = f"limit {show.length(wall.limit_mm)}"
    if wall.under_limit_fraction > 0:
        limit += f", {100 * wall.under_limit_fraction:.0f} % of the surface under it"
    return [
        count,
        ("Size", f"{_envelope(piece, show)} {length}", f"{piece.volume_mm3:.0f} mm³" if not show.inches else ""),
        *(_bore_facts(piece.bore, show) if piece.bore else [("Bore", "none", "")]),
        *_other_bores(piece, show),
        ("Weight", f"{show.metal(piece.metal_g)} {metal}", f"as cast; {show.metals(piece.metal_low_g, piece.metal_high_g)}"),
        ("", f"{show.metals(piece.finished_low_g, piece.finished_high_g)} {metal}", "filed and polished"),
        (
            "",
            f"{show.metal(piece.pattern_g)} {metal}",
            f"the pattern itself; {show.metals(piece.pattern_low_g, piece.pattern_high_g)}",
        ),
        ("Wall", f"{thin} {length} all round" if thin == thick else f"{thin} to {thick} {length}", limit),
    ]


def _bore_facts(bore: Bore, show: Display) -> list[tuple[str, str, str]]:
    unit = show.length_unit
    low, high = bore.finished_low_sizes, bore.finished_high_sizes
    facts = [
        ("Bore", f"{show.length(bore.diameter_mm, 2)} {unit}", _passes(bore, show)),
        (
            "",
            f"{show.length(bore.finished_mm, 2)} {unit}",
            f"finished; {show.lengths(bore.finished_low_mm, bore.finished_high_mm)}",
        ),
        *([("", "", _between(bore, show))] if bore.parts else []),
        ("Ring size", _sizes(bore.finished_sizes), ""),
        ("", "", ", ".join([_ends("ISO", low.iso, high.iso), _ends("US", low.us, high.us), _ends("UK", low.uk, high.uk)])),
    ]
    if bore.wanted_mm is not None and bore.scale_ratio is not None:
        asked = sizes(bore.wanted_mm)
        facts += [
            ("Wanted", f"{show.length(bore.wanted_mm, 2)} {unit}", _comes_out(bore)),
            ("", "", f"ISO{NO_BREAK}{asked.iso}, US{NO_BREAK}{asked.us}, UK{NO_BREAK}{asked.uk}"),
        ]
    return facts


def _comes_out(bore: Bore) -> str:
    """Whether a wanted size lies within what comes out of a pattern, and else the scale that hits it."""
    assert bore.wanted_mm is not None
    if bore.finished_low_mm <= bore.wanted_mm <= bore.finished_high_mm:
        return "within what comes out of it as it is"
    scale = f"scale the pattern by {bore.scale_ratio:.3f}"
    if bore.scale_low_ratio is not None and bore.scale_high_ratio is not None:
        scale += f" ({bore.scale_low_ratio:.3f} to {bore.scale_high_ratio:.3f})"
    return scale


def _passes(bore: Bore, show: Display) -> str:
    """What the diameter of a bore is that of, and what it goes through."""
    inside = bore.inside
    if inside is None:
        return "the pattern as it is"
    told = [f"largest cylinder through the pattern; band {show.length(inside.width_mm)} wide", INSIDE[inside.profile]]
    if inside.open_deg:
        told.append(f"open over {inside.open_deg:.0f}°")
    return ", ".join(told)


def _between(bore: Bore, show: Display) -> str:
    """What makes the finished bore out of the pattern's, largest first."""
    parts = sorted(bore.parts, key=lambda part: -abs(part.by_mm))
    return "from drawn to finished: " + ", ".join(f"{part.what} {_signed(part.by_mm, show)}" for part in parts)


def _signed(mm: float, show: Display) -> str:
    return f"{'+' if mm > 0 else MINUS}{show.length(abs(mm), 2)}"


def _other_bores(piece: Piece, show: Display) -> list[tuple[str, str, str]]:
    """The further finger bores, in a line."""
    if not piece.other_bores:
        return []
    told = ", ".join(f"{show.length(bore.diameter_mm, 2)} (ISO {bore.sizes.iso})" for bore in piece.other_bores)
    return [("", "", f"other bores: {told}; a wanted size is for the largest")]


def _envelope(piece: Piece, show: Display) -> str:
    return f" {TIMES} ".join(show.length(mm) for mm in piece.envelope_mm)


def _ends(system: str, low: str, high: str) -> str:
    return f"{system} {low}" if low == high else f"{system} {low} to {high}"


def _sizes(of: Sizes) -> str:
    named = (("ISO", of.iso), ("US", of.us), ("UK", of.uk), ("JP", of.jp), ("CH", of.ch))
    return ", ".join(f"{system}{NO_BREAK}{size}" for system, size in named)
