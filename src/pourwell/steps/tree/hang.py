"""One piece on its sprue, and how near two such pieces come to each other, to the stem and to the wall."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy.spatial import ConvexHull

from pourwell.geometry.mesh import Floats
from pourwell.geometry.packing import Cloud, after, back, cloud, moved, nearness_mm, of_points, rigid
from pourwell.materials.library import Library
from pourwell.steps.tree.attach import Sited
from pourwell.steps.tree.probe import Ready

FINE_MM: Final = 0.4
COARSE_MM: Final = 0.7
"""Spacing of the samples of one piece, and of the other, between which nearness is taken; tried on the sample pieces: at gaps
of 1 to 6 mm the samples overstate them by 0.05 mm in the mean and by 0.26 mm at most."""

ALONG_SHARE: Final = 0.25
"""Points along a sprue's axis, in gauges. Own choice."""

BEYOND_REACH_MM: Final = 1.0
"""Distances are told apart up to this much over the widest that is asked for. Own choice."""

WIDTHS_COUNT: Final = 90
"""Directions across the sprue in which a piece's width is taken. Own choice: every 2 degrees."""

ACROSS_COS: Final = 0.5
"""A known thin direction serves if it lies at more than 60 degrees to the sprue. Own choice."""

HALF_TURN_DEG: Final = 180.0
UPRIGHT_DEG: Final = 90.0
QUARTERS_DEG: Final = {"radial": (0.0, 180.0), "tangential": (90.0, 270.0)}
"""Turns about the sprue: with the thin direction round the stem, or up and down. Definition."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How a piece hangs: what decides its distances, but for azimuth and height."""

    tilt_deg: float
    roll_deg: float
    length_mm: float
    start_mm: float
    """From the stem's axis to where the sprue leaves the stem: its radius, or 0 where it stands on the stem's end."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Hanger:
    """One kind of piece made ready to hang.

    In its own frame the foot of the sprue is the origin, x goes on along the sprue into the piece, y where the piece is thinnest.
    """

    number: int
    """Which kind it is."""
    ready: Ready
    sited: Sited
    frame: Floats
    """(3, 4) from the pattern's frame to the hanger's."""

    @property
    def gauge_mm(self) -> float:
        """Of the sprue."""
        return self.sited.gauge_mm

    @property
    def volume_mm3(self) -> float:
        """Of the piece."""
        return self.ready.pattern.piece.volume_mm3

    @cached_property
    def fine(self) -> Cloud:
        """Samples of the piece."""
        return of_points(moved(cloud(self.ready.mesh, spacing_mm=FINE_MM).points, self.frame))

    @cached_property
    def coarse(self) -> Floats:
        """(k, 3) fewer samples of the piece [mm]."""
        return moved(cloud(self.ready.mesh, spacing_mm=COARSE_MM).points, self.frame)

    @cached_property
    def hull(self) -> Floats:
        """(k, 3) the corners of its hull [mm]: the farthest and the highest point of the piece is one of them."""
        vertices = self.ready.mesh.vertices
        return moved(vertices[ConvexHull(vertices).vertices], self.frame)

    def sample(self) -> None:
        """Take hull and samples now rather than when they are first asked for, so that pieces are sampled side by side."""
        _ = self.hull, self.fine, self.coarse

    @cached_property
    def roll_deg(self) -> Mapping[str, float]:
        """The turn about the sprue for each mode, the show face up rather than down: bubbles cling below while investing."""
        show = self.frame[:, :3] @ self.ready.faces.show
        best = {}
        for mode, quarters in QUARTERS_DEG.items():
            ups = [show[1] * np.sin(np.radians(roll)) + show[2] * np.cos(np.radians(roll)) for roll in quarters]
            best[mode] = quarters[int(np.argmax(np.round(ups, 2)))]
        return best


def hanger(number: int, ready: Ready, sited: Sited) -> Hanger:
    """Make a piece with a chosen place ready to hang."""
    at, inward = np.asarray(sited.attachment.at_mm), -np.asarray(sited.attachment.normal)
    thin = _thin(ready, inward)
    axes = np.stack((inward, thin, np.cross(inward, thin)))
    return Hanger(number=number, ready=ready, sited=sited, frame=back(rigid(axes, at)))


def _thin(ready: Ready, inward: Floats) -> Floats:
    """Unit vector across the sprue along which a piece is thinnest: a ring's bore, the front of a flat piece, else by trial."""
    faces = ready.faces
    known = np.asarray(faces.bore.axis) if faces.bore else faces.show if faces.flat else None
    if known is not None and abs(float(known @ inward)) < ACROSS_COS:
        thin: Floats = known - inward * (known @ inward)
        return thin / float(np.linalg.norm(thin))
    aside = np.cross(inward, np.eye(3)[int(np.argmin(np.abs(inward)))])
    aside /= np.linalg.norm(aside)
    turns = np.arange(WIDTHS_COUNT) * (np.pi / WIDTHS_COUNT)
    ways = np.cos(turns)[:, None] * aside + np.sin(turns)[:, None] * np.cross(inward, aside)
    narrowest: Floats = ways[int(np.argmin(np.round(np.ptp(ready.mesh.vertices @ ways.T, axis=0), 6)))]
    return narrowest


def hung(style: Style, azimuth_deg: float = 0.0, height_mm: float = 0.0) -> Floats:
    """The (3, 4) transform from a hanger's frame to the tree's.

    Azimuth counts clockwise from +y, the notch, seen from above; the height is where the sprue's axis leaves the stem.
    """
    azimuth, tilt, roll = np.radians((azimuth_deg, style.tilt_deg, style.roll_deg))
    out = np.array([np.sin(azimuth), np.cos(azimuth), 0.0])
    round_ = np.array([np.cos(azimuth), -np.sin(azimuth), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    along = np.cos(tilt) * out + np.sin(tilt) * up
    over = -np.sin(tilt) * out + np.cos(tilt) * up
    thin = -np.cos(roll) * round_ + np.sin(roll) * over
    start = style.start_mm * out + height_mm * up
    return rigid(np.stack((along, thin, np.cross(along, thin))), start + style.length_mm * along)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearness:
    """How near two hung pieces come, at most the reach [mm]."""

    pieces_mm: float
    sprue_mm: float
    """From the piece of one to the sprue of the other."""
    feet_mm: float
    """From sprue to sprue."""


Pairing = tuple[int, Style, int, Style, float, float]
"""Kind and style of one piece and of another, and how far round [deg] and up [mm] the other is."""


class Neighbours:
    """Distances between hung pieces, remembered: most places on a tree repeat each other."""

    def __init__(self, hangers: tuple[Hanger, ...], *, library: Library) -> None:
        self._hangers = hangers
        gap = library.rules["piece_gap_mm"]
        self.reach_mm = (gap.high or gap.value) + BEYOND_REACH_MM
        self._known: dict[Pairing, Nearness] = {}
        self._hung: dict[Style, Floats] = {}

    def key(self, a: tuple[int, Style], b: tuple[int, Style], *, turn_deg: float, rise_mm: float) -> Pairing:
        """What decides the distance of the piece `b`, so far round clockwise and so far up from the piece `a`."""
        turn = turn_deg % 360
        if rise_mm < 0 or (rise_mm == 0 and turn > HALF_TURN_DEG):
            a, b, turn, rise_mm = b, a, -turn % 360, -rise_mm
        return (*a, *b, turn, rise_mm)

    def near(self, key: Pairing) -> Nearness:
        """How near two pieces come to each other."""
        if key not in self._known:
            self._known[key] = self._measured(key)
        return self._known[key]

    def _placed(self, style: Style) -> Floats:
        if style not in self._hung:
            self._hung[style] = hung(style)
        return self._hung[style]

    def _measured(self, key: Pairing) -> Nearness:
        one, style, other, other_style, turn_deg, rise_mm = key
        first, second = self._hangers[one], self._hangers[other]
        angle = np.radians(turn_deg)
        turn = np.array([[np.cos(angle), np.sin(angle), 0, 0], [-np.sin(angle), np.cos(angle), 0, 0], [0, 0, 1, rise_mm]])
        there = after(back(self._placed(style)), after(turn, self._placed(other_style)))
        here = back(there)
        reach = self.reach_mm
        pieces = nearness_mm(first.fine, moved(second.coarse, there), reach_mm=reach)
        lines = _line(first, style), _line(second, other_style)
        halves = first.gauge_mm / 2, second.gauge_mm / 2
        sprues = (
            nearness_mm(first.fine, moved(lines[1], there), reach_mm=reach + halves[1]) - halves[1],
            nearness_mm(second.fine, moved(lines[0], here), reach_mm=reach + halves[0]) - halves[0],
        )
        feet = np.linalg.norm(lines[0][:, None] - moved(lines[1], there), axis=2).min() - sum(halves)
        return Nearness(pieces_mm=pieces, sprue_mm=min(sprues), feet_mm=float(feet))


def _line(hanger: Hanger, style: Style) -> Floats:
    """Points along a sprue's axis in the hanger's frame, (k, 3) [mm], from the stem to the piece."""
    count = int(np.ceil(style.length_mm / (ALONG_SHARE * hanger.gauge_mm))) + 1
    line = np.zeros((count, 3))
    line[:, 0] = np.linspace(-style.length_mm, 0.0, count)
    return line


@dataclass(frozen=True, eq=False, kw_only=True)
class Extent:
    """Where a hung piece reaches, its sprue leaving the stem at height 0.

    From the stem it is measured only when asked: a piece that reaches the wall is never asked.
    """

    far_mm: float
    """From the flask's axis."""
    low_mm: float
    high_mm: float
    _samples: Callable[[], Floats]
    _stem_radius_mm: float
    _stem_top_mm: float

    @cached_property
    def _from_stem(self) -> tuple[float, float]:
        samples = self._samples()
        aside = np.hypot(samples[:, 0], samples[:, 1]) - self._stem_radius_mm
        above = samples[:, 2] - self._stem_top_mm
        around_end = np.where(above > 0, np.hypot(np.maximum(aside, 0.0), above), aside)
        return float(aside.min()), float(around_end.min())

    @property
    def stem_mm(self) -> float:
        """From the stem's surface, where that goes on without end, at the nearest."""
        return self._from_stem[0]

    @property
    def stem_end_mm(self) -> float:
        """The same, where the stem ends as given."""
        return self._from_stem[1]


def extent(hanger: Hanger, style: Style, *, stem_radius_mm: float, stem_end_mm: float) -> Extent:
    """Where a hung piece reaches; the stem may end `stem_end_mm` above the height where the sprue leaves it."""
    transform = hung(style)
    hull = moved(hanger.hull, transform)
    return Extent(
        far_mm=float(np.hypot(hull[:, 0], hull[:, 1]).max()),
        low_mm=float(hull[:, 2].min()),
        high_mm=float(hull[:, 2].max()),
        _samples=lambda: moved(hanger.fine.points, transform),
        _stem_radius_mm=stem_radius_mm,
        _stem_top_mm=stem_end_mm,
    )
