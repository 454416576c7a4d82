"""What to do for a piece that loses its feed: each change is made to the tree and run, and told with what the run gave."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pourwell.errors import BadDataError, BadRequestError, UnsoundResultError
from pourwell.geometry.joints import bar
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.materials.library import Library
from pourwell.physics.properties import Substance
from pourwell.steps.freeze.cast import Cast, Fed, Shape
from pourwell.steps.freeze.feed import feeding
from pourwell.steps.freeze.model import Change, SprueClock
from pourwell.steps.freeze.nearer import nearer
from pourwell.steps.freeze.route import rod, route
from pourwell.steps.freeze.run import RUNS, Run, Tell, meshed, run
from pourwell.steps.tree.gauge import gauges_mm

MOST: Final = 5
"""Changes that are tried for one plan: each is a run of its own."""
FLASK_K: Final = 50.0
"""By how much the flask is made cooler or hotter, within the band of the plan. Common practice, no source."""
MOST_GAUGES: Final = 2
"""By so many stock gauges a sprue is made thicker. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Try:
    """A changed tree and what was done, as a sentence."""

    cast: Cast
    does: str


def changes(
    cast: Cast,
    clocks: Sequence[SprueClock],
    *,
    alone: Sequence[SprueClock],
    edge_mm: float,
    metal: Substance,
    library: Library,
    tell: Tell,
) -> tuple[Change, ...]:
    """What helps the pieces that lose their feed, the worst first; for each kind until one change heals it.

    `clocks` are those of all runs, which say what is lost; `alone` those of the run as the rows say, to compare with. What heals in
    that run is run at the slow and the fast end too: it helps where all three stay fed.
    """
    tried: list[Change] = []
    bad = sorted((c for c in clocks if c.verdict != "fed"), key=lambda c: -c.void_high_mm3)
    for piece in dict.fromkeys(c.piece for c in bad):
        once, banded = (max(c.void_high_mm3 for c in some if c.piece == piece) for some in (alone, clocks))
        for attempt in _tries(cast, piece, library):
            if len(tried) >= MOST:
                return tuple(tried)
            tell(f"Trying: {attempt.does}")
            try:
                clocks_now, whole = _frozen(attempt.cast, piece, edge_mm=edge_mm, metal=metal, library=library, tell=tell)
            except (BadRequestError, BadDataError, UnsoundResultError):
                continue  # what was asked is known without it
            mine = [c for c in clocks_now if c.piece == piece]
            after, helps = max(c.void_high_mm3 for c in mine), all(c.verdict == "fed" for c in mine)
            before = banded if whole else once
            tried.append(Change(piece=piece, does=attempt.does, before_mm3=before, after_mm3=after, helps=helps))
            if helps:
                break
    return tuple(tried)


def _frozen(
    cast: Cast, piece: str, *, edge_mm: float, metal: Substance, library: Library, tell: Tell
) -> tuple[tuple[SprueClock, ...], bool]:
    """The clocks of the run as the rows say or, where the pieces of a kind stay fed in it, of all; and whether of all."""
    shape = Shape(cast)
    made = meshed(cast, shape, edge_mm=edge_mm)
    runs: list[Run] = []
    clocks: tuple[SprueClock, ...] = ()
    for ends in RUNS:
        once = run(cast, made, metal=metal, library=library, ends=ends, tell=tell, probes=np.empty((0, 3)), glow=False)
        runs.append(once)
        clocks = feeding(cast, shape, made, runs=runs, library=library).clocks
        if any(c.verdict != "fed" for c in clocks if c.piece == piece):
            break
    return clocks, len(runs) > 1


def _tries(cast: Cast, piece: str, library: Library) -> Iterator[Try]:
    """Changed trees, what heals most surely first."""
    mine = [fed for fed in cast.fed if fed.piece == piece]
    second = _second(cast, mine)
    if second is not None:
        yield second
    thicker = _thicker(mine, library)
    if thicker:
        bars = [(f"sprue {fed.number}", rod(np.array(fed.from_mm), np.array(fed.to_mm), thicker)) for fed in mine]
        yield Try(cast=_with(cast, bars), does=f"Take a sprue of {{l:{thicker:g}}} in place of {{l:{mine[0].gauge_mm:g}}}.")
    near = nearer(cast, mine, library)
    if near is not None:
        yield Try(cast=near[0], does=f"Set it nearer to the stem, on a sprue {{l:{near[1]:.3g}}} long.")
    cooler = max(cast.flask_c - FLASK_K, cast.flask_band_c[0])
    if cooler < cast.flask_c:
        yield Try(
            cast=replace(cast, flask_c=cooler),
            does=f"Pour into a flask at {{t:{cooler:.0f}}}, but thin walls may not fill.",
        )
    hotter = min(cast.flask_c + FLASK_K, cast.flask_band_c[1])
    if hotter > cast.flask_c:
        yield Try(
            cast=replace(cast, flask_c=hotter), does=f"Pour into a flask at {{t:{hotter:.0f}}}, but watch for gas and coarse grain."
        )


def _thicker(mine: Sequence[Fed], library: Library) -> float | None:
    """The thickest stock gauge, two above at most, whose section is still within the published share of what it feeds."""
    most = library.rules["sprue_area_ratio"].high or 1.0
    now = max(fed.gauge_mm for fed in mine)
    above = [gauge for gauge in gauges_mm(library) if gauge > now][:MOST_GAUGES]
    fits = [gauge for gauge in above if all(fed.area_ratio * (gauge / fed.gauge_mm) ** 2 <= most for fed in mine)]
    return max(fits, default=None)


def _second(cast: Cast, mine: Sequence[Fed]) -> Try | None:
    """A second sprue on the heavy section of each piece of a kind; None where one of them has no place or no way for it."""
    routes = [(fed, route(cast, fed)) for fed in mine if fed.second_mm is not None]
    ways = [(fed, way) for fed, way in routes if way is not None]
    if not ways or len(ways) < len(mine):
        return None
    gauge, stem = ways[0][0].second_gauge_mm, dict(cast.bodies)["stem"]
    bars = [(f"sprue {fed.number} second", rod(way.begin, way.end, gauge)) for fed, way in ways]
    low, high = stem.bounds
    top, carried = max(way.stem_top for _, way in ways), ""
    if top > high[2]:
        whole = to_manifold(stem) + bar((0, 0, high[2] - gauge / 2), (0, 0, top), diameter_mm=float(high[0] - low[0]))
        bars.append(("stem", from_manifold(whole)))
        carried = f", from a stem carried on by {{l:{top - high[2]:.0f}}}"
    x, y, z = ways[0][0].in_pattern(ways[0][1].end)
    does = f"Set a second sprue of {{l:{gauge:g}}} on the heavy section, at ({x:.1f}, {y:.1f}, {z:.1f}) mm in its file{carried}."
    return Try(cast=_with(cast, bars), does=does)


def _with(cast: Cast, bars: Sequence[tuple[str, Mesh]]) -> Cast:
    """The tree with more bodies; one of a name that it has takes its place."""
    names = dict(cast.bodies) | dict(bars)
    metal = to_manifold(cast.metal)
    for _, mesh in bars:
        metal = metal + to_manifold(mesh)
    return replace(cast, bodies=tuple(names.items()), metal=from_manifold(metal))
