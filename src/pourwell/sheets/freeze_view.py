"""What the freezing page shows: the verdict, what is lost, what helps, each sprue against its piece, sections, cooling curves."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.materials.model import STUDIO_SOURCE
from pourwell.plan import Plan
from pourwell.sheets.display import Display
from pourwell.sheets.freeze_curves import curves_view
from pourwell.sheets.freeze_section import (
    PX_MM,
    Section,
    bands,
    cells_of,
    fold,
    legend,
    numbers,
    shaded,
    shades,
    spread,
    svg,
    through,
    ways,
)
from pourwell.steps.day.bench import waits
from pourwell.steps.freeze.model import Change, Fields, Floats, Freezing, Pool, Spell, SprueClock
from pourwell.steps.freeze.words import (
    QUENCH_SIGN,
    about,
    ball_mm,
    banded,
    bench_time,
    latest,
    listed,
    numbered,
    outward,
    verdict_words,
)
from pourwell.steps.pattern.model import Point

MARK: Final = {"fed": "fed", "cut off": "CUT OFF", "uncertain": "uncertain"}
"""The verdict as it prints: one that must not be overlooked in capitals."""
BAR_MM: Final = {"metric": 20.0, "imperial": 12.7}
"""The bar of the section's scale, 20 mm or half an inch."""
LITTLE: Final = 0.05
"""A change that takes away less than this share of what a piece misses is hardly one."""
MORE: Final = 1.5
"""A piece of which another plane shows so much more is shown in that one too."""
TINY_MM3: Final = 1e-6
"""Less than this is nothing."""
ON_MM: Final = 1.0
"""So near to metal of the picture a mark must lie, and a neck to the plane that is to show it."""
MOST_POOLS: Final = 4
MOST_ROWS: Final = 8
"""So many kinds of pool and so many sprues have room on the page; of more sprues the kinds are told, each by its worst."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poured:
    """What is cast, and how: the tree as one closed solid in its own frame [mm]; is it cast under vacuum; what ends the wait.

    wait: what the check list says of it: "quench" or "move it", and after how long.
    """

    solid: Mesh
    vacuum: bool
    wait: tuple[str, str]


def poured_of(plan: Plan) -> Poured | None:
    """What is cast by a plan; None where only a weight is known."""
    if plan.tree_cast is None:
        return None
    quench = plan.quench
    wait = ("quench" if quench.way == "water" else "move it", f"after {waits(quench.low_min, quench.high_min)}")
    return Poured(solid=plan.tree_cast, vacuum=plan.pour.vacuum_kpa is not None, wait=wait)


def freeze_view(freezing: Freezing, fields: Fields, *, poured: Poured, show: Display) -> dict[str, Any]:
    """All words and pictures of the page."""
    bar_mm = BAR_MM["imperial" if show.inches else "metric"]
    return {
        **freeze_words(freezing, poured=poured, show=show),
        **_pictures(freezing, fields, poured.solid),
        "scale": {"mm": bar_mm, "says": f"{show.length(bar_mm, 0)} {show.length_unit}"},
        "curves": curves_view(freezing, fields, show=show),
    }


def freeze_words(freezing: Freezing, *, poured: Poured, show: Display) -> dict[str, Any]:
    """What the page says: the verdict, what is lost and helps, sprues against pieces, facts."""
    pools = alike(freezing)
    return {
        "verdict": verdict_words(freezing),
        "pools": [_lost(kin, show) for kin in pools[:MOST_POOLS]],
        "more_pools": sum(len(kin) for kin in pools[MOST_POOLS:]),
        "tried": [_tried(change, show) for change in freezing.changes],
        "rows": [_row(clocks, show) for clocks in rows_of(freezing)],
        "stiff": f"{100 * freezing.feeds_to_fraction:.0f} %",
        "facts": _facts(freezing, poured, show),
        "source": _source(freezing, show),
        "grid": _grid(freezing, show),
    }


def stiff_s(freezing: Freezing, fields: Fields) -> Floats:
    """When each cell passes the solid fraction up to which metal feeds (q,) [s], straight between the levels noted."""
    levels = fields.solid_fraction.astype(np.float64)
    k = int(np.clip(np.searchsorted(levels, freezing.feeds_to_fraction, side="right"), 1, levels.size - 1))
    share = (freezing.feeds_to_fraction - levels[k - 1]) / (levels[k] - levels[k - 1])
    before, after = fields.passed_s[:, k - 1].astype(np.float64), fields.passed_s[:, k].astype(np.float64)
    times: Floats = before + share * (after - before)
    return times


def alike(freezing: Freezing) -> list[list[Pool]]:
    """Pools that are told together: the first of each piece of a kind and a verdict, then the second of each; the worst first."""
    kinds = {clock.place: clock.piece for clock in freezing.clocks}
    count: dict[int, int] = {}
    kin: dict[tuple[str | int, str, int], list[Pool]] = {}
    for pool in freezing.pools:
        count[pool.place] = count.get(pool.place, 0) + 1
        kin.setdefault((kinds.get(pool.place, pool.place), pool.verdict, count[pool.place]), []).append(pool)
    return list(kin.values())


def _lost(kin: list[Pool], show: Display) -> dict[str, str]:
    """A pool for someone who knows castings and no simulations: where, through which neck, when, how much; of many the worst."""
    pool, many = kin[0], len(kin) > 1
    where = show.text(pool.where.removeprefix(f"piece {pool.place}, "))
    chance = "likely" if pool.verdict == "cut off" else "possible"
    lead = f"Pits {chance} in {numbered([p.place for p in kin])}, {'each ' if many else ''}{where}."
    behind = f"as much as a ball of {_across(pool.liquid_mm3, show)}, needs feed until {bench_time(pool.solid.value_s)}"
    missed = f"what it misses becomes pits, together at most a ball of {_across(pool.void_high_mm3, show)}."
    if pool.neck_mm <= 0:
        return {"lead": lead, "says": f"No metal leads there: the liquid, {behind}; {missed}"}
    neck = f"The neck of {show.length(pool.neck_mm)} {show.length_unit} that feeds it ({show.text(pool.neck_where)})"
    shut = f"is shut after {bench_time(pool.lost.value_s)}"
    return {"lead": lead, "says": f"{neck} {shut}; the metal still liquid behind it, {behind}; {missed}"}


def _across(mm3: float, show: Display) -> str:
    """A volume as the ball that it would fill."""
    return f"{show.length(ball_mm(mm3))} {show.length_unit}"


def _tried(change: Change, show: Display) -> dict[str, str]:
    """A change with what its own run gave."""
    after, before = _across(change.after_mm3, show), _across(change.before_mm3, show)
    if change.helps:
        gave = "it stays fed, in a slow and a fast mould too."
    else:
        ratio = change.after_mm3 / max(change.before_mm3, TINY_MM3)
        gave = f"it still misses a ball of {after}, not {before}."
        if after == before or abs(ratio - 1) < LITTLE:
            gave = "it makes hardly any difference."
        elif ratio > 1:
            gave = f"it makes it worse: it misses a ball of {after}, not {before}."
    return {"lead": "Change:" if change.helps else "Tried:", "does": show.text(change.does), "gave": f"Computed so: {gave}"}


def rows_of(freezing: Freezing) -> list[list[SprueClock]]:
    """The sprues, of a kind with the same times together; where they are many, of a kind and a verdict; the worst first."""
    many = len(freezing.clocks) > MOST_ROWS
    kinds: dict[tuple[str, ...], list[SprueClock]] = {}
    for clock in freezing.clocks:
        times = () if many else (about(clock.sprue), about(clock.section))
        kinds.setdefault((clock.piece, clock.verdict, *times), []).append(clock)
    return [sorted(some, key=lambda c: (-c.void_high_mm3, c.sprue.value_s / c.section.value_s)) for some in kinds.values()]


def _row(clocks: list[SprueClock], show: Display) -> dict[str, str]:
    """One sprue against its piece; of several the worst, with all their numbers and the band of them all."""
    clock = clocks[0]
    return {
        "number": listed([c.place for c in clocks]),
        "piece": clock.piece,
        "sprue": about(clock.sprue),
        "sprue_band": banded(_widest([c.sprue for c in clocks])),
        "section": about(clock.section),
        "section_band": banded(_widest([c.section for c in clocks])),
        "verdict": MARK[clock.verdict],
        "missed": f"pits up to a ball of {_across(clock.void_high_mm3, show)}" if clock.verdict != "fed" else "",
    }


def _widest(spells: list[Spell]) -> Spell:
    """The first time with the band of all."""
    low, high = min(s.low_s for s in spells), max(s.high_s for s in spells)
    return Spell(value_s=spells[0].value_s, low_s=low, high_s=high)


def _facts(freezing: Freezing, poured: Poured, show: Display) -> list[list[str]]:
    """Label, value, its band, and what to do: the button, the quench, the flask's outside."""
    hold = (
        f"Hold the vacuum {latest(freezing.button)} at least, until the button is dull and still."
        if poured.vacuum
        else f"Leave the flask alone {latest(freezing.button)} at least."
    )
    outside = show.temperatures(freezing.outside_c, freezing.outside_high_c)
    return [
        ["button solid", outward(freezing.button), "", hold],
        ["red inside until", outward(freezing.dark), "", "Metal inside may glow that long, also unseen."],
        [poured.wait[0], poured.wait[1], "after the pour", QUENCH_SIGN],
        ["flask outside", outside, "when all is solid", "Black, yet it burns through gloves: long tongs."],
    ]


def _pictures(freezing: Freezing, fields: Fields, solid: Mesh) -> dict[str, Any]:
    """The section along the stem; beside it one of the worst pool's piece, where the neck does not lie in the first."""
    times = stiff_s(freezing, fields)
    right, left = ways(freezing, fields)
    cuts = [(fold(fields, times, solid, right=right, left=left), "")]
    if freezing.pools and freezing.pools[0].neck_mm > 0 and cuts[0][0].place(freezing.pools[0].neck_at_mm, near_mm=ON_MM) is None:
        worst = freezing.pools[0]
        own = through(fields, times, solid, place=worst.place, two=(worst.at_mm, worst.neck_at_mm))
        if own is not None:
            cuts.append((own, f"Piece {worst.place} along its sprue, neck and pits"))
    elif freezing.clocks:
        cuts += _face_on(fields, times, solid, place=rows_of(freezing)[0][0].place, seen=cuts[0][0])
    edges = bands(np.concatenate([cut.times_s.ravel() for cut, _ in cuts]))
    return {
        "pictures": [_picture(freezing, fields, cut, edges=edges) | {"title": title} for cut, title in cuts],
        "bands": [{"grey": round(shade / 2.55), "says": says} for shade, says in zip(shades(edges), legend(edges), strict=True)],
    }


def _face_on(fields: Fields, times: Floats, solid: Mesh, *, place: int, seen: Section) -> list[tuple[Section, str]]:
    """A piece along its sprue where it is widest, if that shows far more of it than the section that is there."""
    two = spread(fields, place)
    own = through(fields, times, solid, place=place, two=two) if two else None
    if own is None:
        return []
    mine = np.unique(fields.body[cells_of(fields, "piece", place)])
    shown, there = (int(np.isin(cut.body, mine).sum()) for cut in (own, seen))
    return [(own, f"Piece {place} along its sprue")] if shown > MORE * there else []


def _picture(freezing: Freezing, fields: Fields, cut: Section, *, edges: Floats) -> dict[str, Any]:
    """A section: raster, outlines, numbers of its pieces, last places and necks, all [mm] from the left top corner."""
    rows, columns = cut.times_s.shape

    def seen(places: list[Point]) -> list[dict[str, float]]:
        found = [cut.place(place) for place in places]
        return [{"x": at[0], "y": at[1]} for at in found if at is not None and cut.holds(at, within_mm=ON_MM)]

    late = [] if freezing.last.value_s <= freezing.button.value_s else [freezing.last_at_mm]
    return {
        "svg": svg(shaded(cut, edges)),
        "width": columns * PX_MM,
        "height": rows * PX_MM,
        "loops": [[[round(float(x), 2), round(float(y), 2)] for x, y in loop] for loop in cut.loops],
        "numbers": [{"x": x, "y": y, "says": str(number)} for number, (x, y) in numbers(cut, fields).items()],
        "pool": bool((cut.pool > 0).any()),
        "last": seen([*(piece.last_at_mm for piece in freezing.pieces), *late]),
        "necks": seen([pool.neck_at_mm for pool in freezing.pools if pool.neck_mm > 0]),
    }


def _source(freezing: Freezing, show: Display) -> str:
    """Where the alloy's freezing curve comes from, and how sure it is."""
    wide = show.temperatures(freezing.solidus_c, freezing.liquidus_c)
    if freezing.curve == "computed":
        band = show.text(f"{{k:{freezing.curve_band_k:g}}}")
        return f"Freezing curve: computed for this recipe, as it freezes in a casting (Scheil), {wide}; either end within {band}."
    whose = "your own figures" if freezing.curve_source == STUDIO_SOURCE else f"tabulated ({freezing.curve_source})"
    return f"Freezing range: {whose}, {wide}; taken as straight between its ends."


def _grid(freezing: Freezing, show: Display) -> str:
    """How it was computed, and what was not."""
    cells = f"cells of {show.length(freezing.edge_mm, 2)} {show.length_unit}"
    return f"{'Fine' if freezing.fine else 'Draft'}: {cells}. Not computed: {'; '.join(freezing.not_modelled)}."
