"""What to do for a piece that loses its feed: each change is made to the tree and run, and told with what the run gave."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.joints import bar
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.materials.library import Library
from pourwell.physics.properties import Substance
from pourwell.steps.freeze.cast import Cast, Ends, Fed, Shape
from pourwell.steps.freeze.feed import feeding
from pourwell.steps.freeze.model import Change, Floats, SprueClock
from pourwell.steps.freeze.run import Tell, meshed, run
from pourwell.steps.tree.gauge import gauges_mm

MOST: Final = 3
"""Changes that are tried for one plan: each is a run of its own."""
COOLER_K: Final = 50.0
"""By how much the flask is made cooler. Common practice, no source."""
CLEAR_MM: Final = 0.5
"""A second sprue keeps so far from the piece until it meets it. Own choice."""
STEP_MM: Final = 1.0
"""Between the places along stem and sprue that are tried. Own choice."""


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

    `clocks` are those of all runs, which say what is lost; `alone` those of the run as the rows say, to compare with.
    """
    tried: list[Change] = []
    bad = sorted((c for c in clocks if c.verdict != "fed"), key=lambda c: -c.void_high_mm3)
    for piece in dict.fromkeys(c.piece for c in bad):
        before = max(c.void_high_mm3 for c in alone if c.piece == piece)
        for attempt in _tries(cast, piece, library):
            if len(tried) >= MOST:
                return tuple(tried)
            tell(f"Trying: {attempt.does}")
            clocks_now = _frozen(attempt.cast, edge_mm=edge_mm, metal=metal, library=library, tell=tell)
            mine = [c for c in clocks_now if c.piece == piece]
            after, helps = max(c.void_high_mm3 for c in mine), all(c.verdict == "fed" for c in mine)
            tried.append(Change(piece=piece, does=attempt.does, before_mm3=before, after_mm3=after, helps=helps))
            if helps:
                break
    return tuple(tried)


def _frozen(cast: Cast, *, edge_mm: float, metal: Substance, library: Library, tell: Tell) -> tuple[SprueClock, ...]:
    """The clocks of one run, as the rows say."""
    shape = Shape(cast)
    made = meshed(cast, shape, edge_mm=edge_mm)
    once = run(cast, made, metal=metal, library=library, ends=Ends(), tell=tell, probes=np.empty((0, 3)), glow=False)
    return feeding(cast, shape, made, runs=[once], library=library).clocks


def _tries(cast: Cast, piece: str, library: Library) -> Iterator[Try]:
    """Changed trees, what heals most surely first."""
    mine = [fed for fed in cast.fed if fed.piece == piece]
    seconds = [(fed, _route(cast, fed)) for fed in mine if fed.second_mm is not None]
    if seconds and all(route is not None for _, route in seconds):
        gauge = seconds[0][0].second_gauge_mm
        bars = [(f"sprue {f.number} second", _rod(*route, gauge)) for f, route in seconds if route is not None]
        x, y, z = mine[0].second_piece_mm or (0.0, 0.0, 0.0)
        yield Try(
            cast=_with(cast, bars),
            does=f"Set a second sprue of {{l:{gauge:g}}} on the heavy section, at ({x:.1f}, {y:.1f}, {z:.1f}) of the pattern.",
        )
    thicker = [gauge for gauge in gauges_mm(library) if gauge > max(fed.gauge_mm for fed in mine)]
    if thicker:
        gauge = thicker[min(1, len(thicker) - 1)]
        bars = [(f"sprue {fed.number}", _rod(np.array(fed.from_mm), np.array(fed.to_mm), gauge)) for fed in mine]
        yield Try(cast=_with(cast, bars), does=f"Take a sprue of {{l:{gauge:g}}} in place of {{l:{mine[0].gauge_mm:g}}}.")
    cooler = cast.flask_c - COOLER_K
    yield Try(cast=replace(cast, flask_c=cooler), does=f"Pour into a flask at {{t:{cooler:.0f}}}: thin walls may then not fill.")


def _rod(begin: Floats, end: Floats, gauge_mm: float) -> Mesh:
    """A sprue whose end goes on into what it meets by half its gauge."""
    way = (end - begin) / np.linalg.norm(end - begin)
    return from_manifold(bar(begin, end + 0.5 * gauge_mm * way, diameter_mm=gauge_mm))


def _with(cast: Cast, bars: Sequence[tuple[str, Mesh]]) -> Cast:
    """The tree with more bodies; one of a name that it has takes its place."""
    names = dict(cast.bodies) | dict(bars)
    metal = to_manifold(cast.metal)
    for _, mesh in bars:
        metal = metal + to_manifold(mesh)
    return replace(cast, bodies=tuple(names.items()), metal=from_manifold(metal))


def _route(cast: Cast, fed: Fed) -> tuple[Floats, Floats] | None:
    """From the stem to the place of a second sprue, straight, as short as can be and clear of the piece; None: there is no way."""
    assert fed.second_mm is not None
    bodies = dict(cast.bodies)
    low, high = bodies["stem"].bounds
    piece = SignedDistance(next(mesh for name, mesh in cast.bodies if f"{name} ".startswith(f"piece {fed.number} ")))
    end, best = np.array(fed.second_mm), None
    for z in np.arange(low[2] + fed.second_gauge_mm, high[2] - fed.second_gauge_mm / 2, STEP_MM):
        begin = np.array([0.0, 0.0, z])
        length = float(np.linalg.norm(end - begin))
        along = np.arange(0.0, length - fed.second_gauge_mm, STEP_MM)
        points = begin + along[:, None] / length * (end - begin)
        if piece(points).min() > fed.second_gauge_mm / 2 + CLEAR_MM and (best is None or length < best[0]):
            best = length, begin
    return None if best is None else (best[1], end)
