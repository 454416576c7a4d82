"""What stays fed: pools and clocks of several runs at two limits, and what can be said of them for certain."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.materials.library import Library
from pourwell.physics import feeding as flow
from pourwell.steps.freeze.cast import Cast, Fed, Shape
from pourwell.steps.freeze.model import Floats, Ints, Pool, Spell, SprueClock
from pourwell.steps.freeze.run import Meshed, Run
from pourwell.steps.pattern.model import Point
from pourwell.units import mm2_from_m2, mm3_from_m3, mm_from_m

LIMITS: Final = ("feeding_solid_low_fraction", "feeding_solid_high_fraction")
"""Rules: solid fraction up to which metal surely feeds, and beyond which none does."""
FED: Final = 0.03
"""A piece that misses less than this share of what it should be fed is fed: times err by about 2 percent between grids and steps,
which moves the solid fraction by as much. Own choice, after well-sprued bands: in alloys they miss nothing, in fine metals, whose
last liquid is a thread that any grid breaks into beads, 1 to 2 percent."""
CUT: Final = 0.08
"""A piece that misses more than this is cut off. A head of twice the shank's thickness behind the shank misses 0.15."""
Key = tuple[int, int]
"""Which run, which limit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Feeding:
    """Clocks of all sprues, pools that matter, and the number of its pool for every metal cell."""

    clocks: tuple[SprueClock, ...]
    pools: tuple[Pool, ...]
    pool: Ints


def feeding(cast: Cast, shape: Shape, made: Meshed, *, runs: Sequence[Run], library: Library) -> Feeding:
    """Follow the liquid of several runs on one mesh; the first is the one that is told, the others are its ends."""
    net = flow.web(made.mesh)
    freezes = [flow.Freeze(levels=r.frozen.levels, passed=r.frozen.passed) for r in runs]
    limits = [library.rule(name) for name in LIMITS]
    button = np.flatnonzero(net.body == shape.names.index("button"))
    places = {shape.piece(fed.number): fed for fed in cast.fed}
    found: dict[Key, tuple[flow.Pool, ...]] = {}
    times: dict[Key, Floats] = {}
    for r, freeze in enumerate(freezes):
        for k, limit in enumerate(limits):
            times[r, k] = freeze.when(limit)
            feeder = int(button[int(np.argmax(times[r, k][button]))])
            every = flow.pools(net, freeze, limit=limit, feeder=feeder)
            found[r, k] = tuple(p for p in every if _missed(p, net, limit) >= FED and int(net.body[p.last]) in places)
    contraction = library.rules["freezing_contraction_fraction"]
    losses = contraction.low or contraction.value, contraction.high or contraction.value
    pools: list[Pool] = []
    number = np.zeros(net.cells.size, dtype=np.int32)
    for told in found[0, 0]:
        fed = places[int(net.body[told.last])]
        kin = [_kin(told, others) for others in found.values()]
        number[told.cells[number[told.cells] == 0]] = len(pools) + 1
        pools.append(_pool(told, kin, fed=fed, shape=shape, net=net, number=len(pools) + 1, losses=losses, limits=limits))
    clocks = [_clock(fed, shape, net, times=times, found=found, losses=losses, limits=limits) for fed in cast.fed]
    return Feeding(clocks=tuple(clocks), pools=tuple(pools), pool=number)


def _missed(pool: flow.Pool, net: flow.Web, limit: float) -> float:
    """What a pool was not fed, as a share of what the whole piece should be that its last cell lies in."""
    return pool.unfed / (limit * float(net.volume[net.body == net.body[pool.last]].sum()))


def _kin(told: flow.Pool, others: Sequence[flow.Pool]) -> flow.Pool | None:
    """The pool of another run that holds the last cell of this one; the smallest if several do."""
    holds = [p for p in others if np.any(p.cells == told.last)]
    return min(holds, key=lambda p: p.volume, default=None)


def verdict(missed: Sequence[float]) -> str:
    """What can be said where the runs miss these shares of what should have been fed."""
    if min(missed) >= CUT:
        return "cut off"
    return "fed" if max(missed) < FED else "uncertain"


def _pool(
    told: flow.Pool,
    kin: Sequence[flow.Pool | None],
    *,
    fed: Fed,
    shape: Shape,
    net: flow.Web,
    number: int,
    losses: tuple[float, float],
    limits: Sequence[float],
) -> Pool:
    """A pool in the words of the bench."""
    known = [p for p in kin if p is not None]
    at = _point(shape.frame.to_tree(net.centre[[told.last]])[0])
    neck_at = _point(shape.frame.to_tree(net.centre[[told.neck]])[0])
    unfed = [mm3_from_m3(p.unfed) if p else 0.0 for p in kin]
    said = verdict([_missed(p, net, limits[n % len(limits)]) if p else 0.0 for n, p in enumerate(kin)])
    return Pool(
        number=number,
        place=fed.number,
        where=f"piece {fed.number}, {{l:{math.dist(at, fed.to_mm):.0f}}} from its sprue",
        at_mm=at,
        neck_at_mm=neck_at,
        neck_where=_neck_words(shape.names[net.body[told.neck]], fed=fed, away_mm=math.dist(neck_at, fed.to_mm)),
        neck_mm=2 * math.sqrt(mm2_from_m2(told.neck_area) / math.pi),
        lost=_spell(told.lost, [p.lost for p in known]),
        solid=_spell(told.end, [p.end for p in known]),
        volume_mm3=mm3_from_m3(told.volume),
        liquid_mm3=mm3_from_m3(told.liquid),
        void_low_mm3=losses[0] * min(unfed),
        void_high_mm3=losses[1] * max(unfed),
        verdict="uncertain" if said == "fed" else said,
    )


def _neck_words(body: str, *, fed: Fed, away_mm: float) -> str:
    """Where a neck lies, by its body and how far from the end of the sprue."""
    if not body.startswith("piece"):
        return f"in {body}" if body.startswith("sprue") else f"in the {body}"
    return "where the sprue meets the piece" if away_mm <= fed.gauge_mm else f"in the piece, {{l:{away_mm:.0f}}} from its sprue"


def _clock(
    fed: Fed,
    shape: Shape,
    net: flow.Web,
    *,
    times: dict[Key, Floats],
    found: dict[Key, tuple[flow.Pool, ...]],
    losses: tuple[float, float],
    limits: Sequence[float],
) -> SprueClock:
    """A sprue against its piece."""
    piece, joint = shape.piece(fed.number), shape.frame.to_solver(np.array([fed.to_mm]))[0]
    clocks = [
        flow.clock(
            net,
            times[r, 0],
            channels=shape.sprues(fed.number),
            piece=piece,
            joint=(float(joint[0]), float(joint[1]), float(joint[2])),
            apart=fed.gauge_mm / mm_from_m(1.0),
        )
        for r in range(len(found) // len(limits))
    ]
    mine = {key: [p for p in pools if net.body[p.last] == piece] for key, pools in found.items()}
    missed = [sum(_missed(p, net, limits[k]) for p in pools) for (_, k), pools in mine.items()]
    unfed = [mm3_from_m3(sum(p.unfed for p in pools)) for pools in mine.values()]
    return SprueClock(
        place=fed.number,
        piece=fed.piece,
        sprue=_spell(clocks[0].channel, [c.channel for c in clocks]),
        section=_spell(clocks[0].behind, [c.behind for c in clocks]),
        section_at_mm=_point(shape.frame.to_tree(net.centre[[clocks[0].last]])[0]),
        void_low_mm3=losses[0] * min(unfed),
        void_high_mm3=losses[1] * max(unfed),
        verdict=verdict(missed),
    )


def _spell(value: float, ends: Sequence[float]) -> Spell:
    return Spell(value_s=value, low_s=min(value, *ends), high_s=max(value, *ends))


def _point(place: Floats) -> Point:
    x, y, z = place.tolist()
    return x, y, z
