"""Tiers of pieces round the stem, none touching: the search, on sampled surfaces.

Heavy pieces hang near the button. A tier has equal angles, the next one is turned by half a step and comes down until a piece,
a sprue or the stem is too near. Whole degrees, whole millimetres of height and half ones of length, as a bench can keep them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

from pourwell.materials.library import Library
from pourwell.steps.tree.gauge import round_mm2, stem_mm
from pourwell.steps.tree.hang import QUARTERS_DEG, UPRIGHT_DEG, Extent, Hanger, Nearness, Neighbours, Pairing, Style, extent
from pourwell.steps.tree.model import Room
from pourwell.steps.tree.tiers import dealt, first_azimuth_deg, plans

LENGTH_STEP_MM: Final = 0.5
HEIGHT_STEP_MM: Final = 1.0
"""What a bench can keep to. Own choice."""

LEANS_DEG: Final = (0.0, 15.0, -15.0, 30.0, -30.0)
"""Tilts tried, off the usual one, in this order. Own choice."""

FEW_COUNT: Final = 20
"""Up to so many pieces, further divisions into tiers are tried for a shorter tree; of more, they save a small share. Own choice."""

MORE_TIERS: Final = 2
"""So many tiers more than the fewest that do are tried as well: slim tiers can nest. Own choice."""

CLEARLY_MM3: Final = 100.0
"""A tree that is less orderly is taken if it saves so much: a gram of silver. Own choice."""

SHARES: Final = (0.5, 0.25, 0.75, 0.0)
"""How far, in steps, a tier of another count than the one below is turned against it; the best is taken. Own choice."""

WORSE_COUNT: Final = 2
"""After so many more tiers that do not fit under the cover, further ones are not tried. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """One piece on the tree."""

    kind: int
    style: Style
    azimuth_deg: float
    height_mm: float
    tier: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A tree that was found."""

    pieces: tuple[Hung, ...]
    stem_mm: float
    stem_top_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What one attempt keeps to."""

    gap_mm: float
    longest_mm: float
    tilt_deg: float
    mode: str
    """Of the turn about the sprue."""
    crown: bool = False
    """Does the last piece stand on the stem's end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Distances kept by every attempt, each with the margin of the search [mm]."""

    wall_mm: float
    stem_mm: float
    sprue_mm: float
    feet_mm: float
    margin_mm: float
    """Samples overstate a gap by no more."""


def grades(library: Library) -> tuple[tuple[Wish, ...], ...]:
    """Attempts in grades, the best first: roomy and short at 45 degrees, then longer, leaning otherwise, and at last closer."""
    gap, tilt = library.rules["piece_gap_mm"], library.rule("sprue_tilt_deg")
    roomy = gap.high or gap.value
    short, long_, longest = (library.rule(name) for name in ("sprue_short_mm", "sprue_long_mm", "sprue_longest_mm"))
    steps = (
        (roomy, short, LEANS_DEG[:1]),
        (roomy, long_, LEANS_DEG[:1]),
        (roomy, long_, LEANS_DEG[1:3]),
        (gap.value, long_, LEANS_DEG[:3]),
        (gap.value, longest, LEANS_DEG),
    )
    return tuple(
        tuple(Wish(gap_mm=between, longest_mm=most, tilt_deg=tilt + lean, mode=mode) for lean, mode in product(leans, QUARTERS_DEG))
        for between, most, leans in steps
    )


@dataclass(frozen=True, slots=True)
class _Found:
    """What came of one attempt: a tree, or how many pieces found place and whether the cover stopped it."""

    layout: Layout | None
    placed_count: int
    under_cover: bool = False


class Search:
    """The search for one tree: kinds of pieces, how many of each, and the room."""

    def __init__(
        self, hangers: Sequence[Hanger], counts: Sequence[int], *, room: Room, neighbours: Neighbours, library: Library
    ) -> None:
        self.hangers = tuple(hangers)
        self.room, self.library = room, library
        order = sorted(range(len(self.hangers)), key=self._rank)
        self.items = tuple(kind for kind in order for _ in range(counts[kind]))
        gauges = [self.hangers[kind].gauge_mm for kind in self.items]
        self.stem_mm = stem_mm(gauges, socket_mm=room.socket_mm, library=library)
        self.beyond_mm = library.rule("stem_beyond_mm")
        self._neighbours = neighbours
        self._extents: dict[tuple[int, Style], Extent] = {}

    def _rank(self, kind: int) -> tuple[float, ...]:
        """Heavy before light; equals by their size, so that the order of the files does not matter."""
        piece = self.hangers[kind].ready.pattern.piece
        return (-round(piece.volume_mm3, 3), *(-round(side, 3) for side in sorted(piece.envelope_mm)), kind)

    def alone(self, kind: int) -> Layout | None:
        """A tree of a single piece, if there is one."""
        single = [int(k == kind) for k in range(len(self.hangers))]
        search = Search(self.hangers, single, room=self.room, neighbours=self._neighbours, library=self.library)
        return search.run(margin_mm=0.0)[0]

    def run(self, *, margin_mm: float) -> tuple[Layout | None, int]:
        """The best tree, or None and how many of the pieces find place.

        The last grade keeps to the least, so it alone tells whether there is a tree; then the best grade that has one is taken.
        """
        rule = self.library.rule
        limits = Limits(
            wall_mm=rule("wall_gap_mm"),
            stem_mm=rule("stem_gap_mm") + margin_mm,
            sprue_mm=rule("sprue_gap_mm") + margin_mm,
            feet_mm=rule("sprue_foot_gap_mm"),
            margin_mm=margin_mm,
        )
        *better, last = grades(self.library)
        fallback, most = self._any(last, limits)
        if fallback is None:
            return None, most
        for wishes in better:
            layout, _ = self._any(wishes, limits)
            if layout is not None:
                return layout, len(self.items)
        return fallback, len(self.items)

    def _any(self, wishes: Sequence[Wish], limits: Limits) -> tuple[Layout | None, int]:
        """The first of some wishes that places all pieces, and the most pieces that any placed.

        A single piece stands best on the stem's end; of several, one does where all but one find place otherwise.
        """
        count, most = len(self.items), 0
        if count == 1:
            wishes = [replace(wishes[0], crown=True), *wishes]
        for wish in wishes:
            layout, placed = self._tiers(wish, limits)
            if layout is None and not wish.crown and placed == count - 1 > 0:
                layout, _ = self._tiers(replace(wish, crown=True), limits)
            if layout is not None:
                return layout, count
            most = max(most, placed)
        return None, most

    def _tiers(self, wish: Wish, limits: Limits) -> tuple[Layout | None, int]:
        """Under one wish, the tree of the least feed metal, and the most pieces that found place.

        Fewer tiers, pieces alike in a tier and equal angles go first: another tree is taken where it saves clearly.
        """
        items = tuple(self.items[:-1] if wish.crown else self.items)
        attempt = _Attempt(self, wish, limits)
        best: Layout | None = None
        most = worse = 0
        first = len(items)
        for tiers in range(1 if items else 0, len(items) + 1):
            covered = False
            for groups, spokes in plans(items, tiers, finely=len(items) <= FEW_COUNT):
                found = attempt.build(groups, spokes)
                most, covered = max(most, found.placed_count), covered or found.under_cover
                if found.layout and (best is None or self._feed_mm3(found.layout) < self._feed_mm3(best) - CLEARLY_MM3):
                    best, first = found.layout, min(first, tiers)
            worse += covered
            if worse > WORSE_COUNT or (best and tiers >= first + (MORE_TIERS if len(items) <= FEW_COUNT else 0)):
                break
        return best, most

    def _feed_mm3(self, layout: Layout) -> float:
        """Metal in stem and sprues, near enough to choose by."""
        sprues = sum(round_mm2(self.hangers[p.kind].gauge_mm) * p.style.length_mm for p in layout.pieces)
        return round_mm2(layout.stem_mm) * (layout.stem_top_mm - self.room.floor_mm) + sprues

    def extent_of(self, kind: int, style: Style) -> Extent:
        """Where a piece reaches, remembered."""
        if (kind, style) not in self._extents:
            self._extents[kind, style] = extent(
                self.hangers[kind], style, stem_radius_mm=self.stem_mm / 2, stem_end_mm=self.beyond_mm
            )
        return self._extents[kind, style]

    def first_miss_mm(self, some: Sequence[Hung], others: Sequence[Hung], *, gap_mm: float, limits: Limits) -> float:
        """By how much the first two pieces found, the nearest in angle first, miss their distances; 0 if all keep them."""
        pairs = [
            (_apart_deg(a, b), a, b)
            for a in some
            for b in others
            if a is not b and (some is not others or a.azimuth_deg < b.azimuth_deg)
        ]
        pairs.sort(key=lambda pair: pair[0])
        for _, a, b in pairs:
            slack = self.slack_mm(a, b, gap_mm=gap_mm, limits=limits)
            if slack < 0:
                return slack
        return 0.0

    def meet(self, some: Sequence[Hung], others: Sequence[Hung]) -> bool:
        """Do pieces with their sprues come within reach of others in height."""
        (low, high), (other_low, other_high) = self._levels(some), self._levels(others)
        return max(low, other_low) - min(high, other_high) < self._neighbours.reach_mm

    def _levels(self, pieces: Sequence[Hung]) -> tuple[float, float]:
        reaches = [(piece.height_mm, self.extent_of(piece.kind, piece.style)) for piece in pieces]
        return min(h + min(r.low_mm, 0.0) for h, r in reaches), max(h + max(r.high_mm, 0.0) for h, r in reaches)

    def key(self, a: Hung, b: Hung) -> Pairing:
        """What decides the distance of two pieces."""
        turn, rise = b.azimuth_deg - a.azimuth_deg, b.height_mm - a.height_mm
        return self._neighbours.key((a.kind, a.style), (b.kind, b.style), turn_deg=turn, rise_mm=rise)

    def near(self, a: Hung, b: Hung) -> Nearness:
        """How near two pieces come to each other, by their samples."""
        return self._neighbours.near(self.key(a, b))

    def slack_mm(self, a: Hung, b: Hung, *, gap_mm: float, limits: Limits) -> float:
        """By how much two pieces keep their distances; below nothing by how much they miss one of them."""
        near = self.near(a, b)
        return min(near.pieces_mm - gap_mm - limits.margin_mm, near.sprue_mm - limits.sprue_mm, near.feet_mm - limits.feet_mm)


@dataclass(frozen=True, slots=True)
class _Attempt:
    """One attempt: a search under one wish."""

    search: Search
    wish: Wish
    limits: Limits

    def build(self, groups: Sequence[Sequence[int]], spokes: Sequence[int]) -> _Found:
        """Hang the groups on a tier each, from the button up, each on as many equal steps as it has spokes."""
        search, room = self.search, self.search.room
        done: list[list[Hung]] = []
        height = room.floor_mm + search.library.rule("first_row_mm") - HEIGHT_STEP_MM
        for number, group in enumerate(groups, start=1):
            ends = number == len(groups) and not self.wish.crown
            options = [
                raised
                for start in _starts(spokes[:number], done)
                if (tier := self._tier(group, start, step_deg=360 / spokes[number - 1], number=number, ends=ends)) is not None
                and (raised := self._raised(tier, done, above_mm=height)) is not None
            ]
            if not options:
                return _Found(None, sum(map(len, done)), under_cover=bool(done))
            done.append(min(options, key=lambda pieces: pieces[0].height_mm))
            height = done[-1][0].height_mm
        pieces = [piece for tier in done for piece in tier]
        top = _up(height + search.beyond_mm if done else height + HEIGHT_STEP_MM, HEIGHT_STEP_MM)
        if self.wish.crown:
            crown = self._crown(search.items[-1], pieces, top_mm=top)
            if crown is None:
                return _Found(None, len(pieces), under_cover=True)
            pieces.append(crown)
        return _Found(Layout(pieces=tuple(pieces), stem_mm=search.stem_mm, stem_top_mm=top), len(pieces))

    def _tier(self, group: Sequence[int], start_deg: float, *, step_deg: float, number: int, ends: bool) -> list[Hung] | None:
        """A tier at height 0: equal steps, sprues as short as the neighbours let them."""
        spread = dealt(group)
        pieces = []
        for k, kind in enumerate(spread):
            style = self._shortest(kind, ends=ends)
            if style is None:
                return None
            azimuth = round(start_deg + k * step_deg) % 360
            pieces.append(Hung(kind=kind, style=style, azimuth_deg=float(azimuth), height_mm=0.0, tier=number))
        widens = 2 * math.sin(math.radians(step_deg) / 2)
        while len(pieces) > 1:
            slack = self.search.first_miss_mm(pieces, pieces, gap_mm=self.wish.gap_mm, limits=self.limits)
            if slack >= 0:
                break
            more = max(LENGTH_STEP_MM, math.floor(-slack / widens / LENGTH_STEP_MM) * LENGTH_STEP_MM)
            pieces = [replace(p, style=replace(p.style, length_mm=p.style.length_mm + more)) for p in pieces]
            if any(p.style.length_mm > self.wish.longest_mm or not self._inside(p) for p in pieces):
                return None
        return pieces

    def _shortest(self, kind: int, *, ends: bool) -> Style | None:
        """The shortest sprue that keeps a piece off the stem and inside the wall."""
        hanger = self.search.hangers[kind]
        length = self.search.library.rule("sprue_shortest_mm")
        while length <= self.wish.longest_mm:
            style = Style(
                tilt_deg=self.wish.tilt_deg,
                roll_deg=hanger.roll_deg[self.wish.mode],
                length_mm=length,
                start_mm=self.search.stem_mm / 2,
            )
            reach = self.search.extent_of(kind, style)
            if self.search.room.radius_mm - reach.far_mm < self.limits.wall_mm:
                return None
            off = (reach.stem_end_mm if ends else reach.stem_mm) - self.limits.stem_mm
            if off >= 0:
                return style
            length += max(LENGTH_STEP_MM, math.floor(-off / LENGTH_STEP_MM) * LENGTH_STEP_MM)
        return None

    def _inside(self, piece: Hung) -> bool:
        far = self.search.extent_of(piece.kind, piece.style).far_mm
        return self.search.room.radius_mm - far >= self.limits.wall_mm

    def _slack(self, a: Hung, b: Hung) -> float:
        return self.search.slack_mm(a, b, gap_mm=self.wish.gap_mm, limits=self.limits)

    def _raised(self, tier: list[Hung], done: Sequence[list[Hung]], *, above_mm: float) -> list[Hung] | None:
        """The tier at the lowest height above another where it keeps its distances, or None if the cover is too low."""
        room = self.search.room
        reaches = [self.search.extent_of(p.kind, p.style) for p in tier]
        floor = room.floor_mm + self.search.library.rule("base_gap_mm")
        height = _up(max(above_mm + HEIGHT_STEP_MM, *(floor - reach.low_mm for reach in reaches)), HEIGHT_STEP_MM)
        ceiling = room.ceiling_mm - max(self.search.beyond_mm, *(reach.high_mm for reach in reaches))
        while height <= ceiling:
            placed = [replace(p, height_mm=height) for p in tier]
            slack = 0.0
            for below in reversed(done):
                if slack >= 0 and self.search.meet(below, placed):
                    slack = self.search.first_miss_mm(below, placed, gap_mm=self.wish.gap_mm, limits=self.limits)
            if slack >= 0:
                return placed
            height += max(HEIGHT_STEP_MM, math.floor(-slack / HEIGHT_STEP_MM) * HEIGHT_STEP_MM)
        return None

    def _crown(self, kind: int, done: list[Hung], *, top_mm: float) -> Hung | None:
        """One piece upright on the stem's end."""
        room, hanger = self.search.room, self.search.hangers[kind]
        length = self.search.library.rule("sprue_shortest_mm")
        while length <= self.wish.longest_mm:
            style = Style(tilt_deg=UPRIGHT_DEG, roll_deg=hanger.roll_deg[self.wish.mode], length_mm=length, start_mm=0.0)
            reach = self.search.extent_of(kind, style)
            piece = Hung(kind=kind, style=style, azimuth_deg=0.0, height_mm=top_mm, tier=done[-1].tier + 1 if done else 1)
            if top_mm + reach.high_mm > room.ceiling_mm or not self._inside(piece):
                return None
            stem = top_mm + reach.low_mm - top_mm - self.limits.stem_mm
            slack = min([stem, *(self._slack(a, piece) for a in done)])
            if slack >= 0:
                return piece
            length += max(LENGTH_STEP_MM, math.floor(-slack / LENGTH_STEP_MM) * LENGTH_STEP_MM)
        return None


def _apart_deg(a: Hung, b: Hung) -> float:
    """Angle between two pieces seen from above."""
    turn = abs(a.azimuth_deg - b.azimuth_deg) % 360
    return min(turn, 360 - turn)


def _starts(spokes: Sequence[int], done: Sequence[list[Hung]]) -> tuple[float, ...]:
    """Azimuths for the first piece of the last of some tiers: between the pieces below."""
    if not done:
        return (first_azimuth_deg(spokes[-1]),)
    below, here = spokes[-2:]
    shares = SHARES[:1] if here == below else SHARES
    return tuple(done[-1][0].azimuth_deg + 360 / max(here, below) * share for share in shares)


def _up(value: float, step: float) -> float:
    return math.ceil(round(value / step, 6)) * step
