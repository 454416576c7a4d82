"""What the freezing page shows: the verdict, what is lost and what helps, each sprue against its piece, a section, cooling curves."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.materials.model import STUDIO_SOURCE
from pourwell.sheets.display import Display
from pourwell.sheets.freeze_curves import curves_view
from pourwell.sheets.freeze_section import PX_MM, Section, bands, legend, numbers, section, shaded, shades, svg, ways
from pourwell.steps.freeze.model import Change, Fields, Floats, Freezing, Pool, SprueClock
from pourwell.steps.freeze.words import QUENCH_SIGN, about, ball_mm, banded, bench_time, verdict_words

MARK: Final = {"fed": "fed", "cut off": "CUT OFF", "uncertain": "uncertain"}
"""The verdict as it prints: one that must not be overlooked in capitals."""
BAR_MM: Final = {"metric": 20.0, "imperial": 12.7}
"""The bar of the section's scale, 20 mm or half an inch."""
MOST_POOLS: Final = 4
MOST_ROWS: Final = 8
"""So many pools and sprues have room on the page; of more sprues the kinds are told, each by its worst."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poured:
    """What is cast, and how: the tree as one closed solid in its own frame [mm]; is it cast under vacuum."""

    solid: Mesh
    vacuum: bool


def freeze_view(freezing: Freezing, fields: Fields, *, poured: Poured, show: Display) -> dict[str, Any]:
    """All words and pictures of the page."""
    right, left = ways(freezing, fields)
    cut = section(fields, stiff_s(freezing, fields), poured.solid, right=right, left=left)
    told = _rows(freezing)
    return {
        "verdict": verdict_words(freezing),
        "pools": [_lost(pool, show) for pool in freezing.pools[:MOST_POOLS]],
        "more_pools": max(0, len(freezing.pools) - MOST_POOLS),
        "tried": [_tried(change, show) for change in freezing.changes],
        "rows": [_row(clocks, show) for clocks in told],
        "stiff": f"{100 * freezing.feeds_to_fraction:.0f} %",
        "facts": _facts(freezing, poured.vacuum, show),
        "picture": _picture(cut, fields),
        "marks": _marks(freezing, cut),
        "scale": {"mm": BAR_MM[show.shown], "says": f"{show.length(BAR_MM[show.shown], 0)} {show.length_unit}"},
        "curves": curves_view(freezing, fields, show=show),
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


def _lost(pool: Pool, show: Display) -> dict[str, str]:
    """A pool for someone who knows castings and no simulations: where, through which neck, when, how much."""
    lead = f"Pits {'likely' if pool.verdict == 'cut off' else 'possible'} in {show.text(pool.where)}."
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
    gave = (
        "Computed so: it stays fed."
        if change.helps
        else f"Computed so: it still misses a ball of {_across(change.after_mm3, show)}, not {_across(change.before_mm3, show)}."
    )
    return {"lead": "Change:" if change.helps else "Tried:", "does": show.text(change.does), "gave": gave}


def _rows(freezing: Freezing) -> list[list[SprueClock]]:
    """The sprues, each alone; where they are many, those of a kind and a verdict together, the worst of them first."""
    if len(freezing.clocks) <= MOST_ROWS:
        return [[clock] for clock in freezing.clocks]
    kinds: dict[tuple[str, str], list[SprueClock]] = {}
    for clock in freezing.clocks:
        kinds.setdefault((clock.piece, clock.verdict), []).append(clock)
    return [sorted(clocks, key=lambda clock: (-clock.void_high_mm3, clock.place)) for clocks in kinds.values()]


def _row(clocks: list[SprueClock], show: Display) -> dict[str, str]:
    """One sprue against its piece; of several the first, with all their numbers."""
    clock = clocks[0]
    return {
        "number": _listed([c.place for c in clocks]),
        "piece": clock.piece,
        "sprue": about(clock.sprue),
        "sprue_band": banded(clock.sprue),
        "section": about(clock.section),
        "section_band": banded(clock.section),
        "verdict": MARK[clock.verdict],
        "missed": f"pits up to a ball of {_across(clock.void_high_mm3, show)}" if clock.verdict != "fed" else "",
    }


def _listed(places: list[int]) -> str:
    """Numbers in their order, three or more in a row as "4 to 9"."""
    rows: list[list[int]] = []
    for place in sorted(places):
        if rows and place == rows[-1][-1] + 1:
            rows[-1].append(place)
        else:
            rows.append([place])
    return ", ".join(f"{row[0]} to {row[-1]}" if len(row) > 2 else ", ".join(map(str, row)) for row in rows)


def _facts(freezing: Freezing, vacuum: bool, show: Display) -> list[list[str]]:
    """Label, value, its band, and what to do: the button, the quench, the flask's outside."""
    hold = "Hold the vacuum until it is solid: count on the later time." if vacuum else "Leave the flask alone until the later time."
    outside = show.temperatures(freezing.outside_c, freezing.outside_high_c)
    return [
        ["button solid", about(freezing.button), banded(freezing.button), hold],
        ["no red in the shade", about(freezing.dark), banded(freezing.dark), QUENCH_SIGN],
        ["flask outside", outside, "", "When the last metal is solid. Tongs and gloves."],
    ]


def _picture(cut: Section, fields: Fields) -> dict[str, Any]:
    """The section: raster, outlines [mm], the key to its greys, and the numbers of its pieces."""
    edges = bands(cut.times_s)
    rows, columns = cut.times_s.shape
    found = numbers(cut, fields)
    return {
        "svg": svg(shaded(cut, edges)),
        "width": columns * PX_MM,
        "height": rows * PX_MM,
        "loops": [[[round(float(x), 2), round(float(y), 2)] for x, y in loop] for loop in cut.loops],
        "bands": [{"grey": round(shade / 2.55), "says": says} for shade, says in zip(shades(edges), legend(edges), strict=True)],
        "numbers": [{"x": x, "y": y, "says": str(number)} for number, (x, y) in found.items()],
        "pool": bool((cut.pool > 0).any()),
    }


def _marks(freezing: Freezing, cut: Section) -> dict[str, list[dict[str, float]]]:
    """Places [mm from the left top corner]: what is solid last in the pieces, in the tree if not its button, and the necks of pools."""

    def seen(places: list[tuple[float, float, float]]) -> list[dict[str, float]]:
        found = [cut.place(place) for place in places]
        return [{"x": at[0], "y": at[1]} for at in found if at is not None]

    late = [] if freezing.last.value_s <= freezing.button.value_s else [freezing.last_at_mm]
    return {
        "last": seen([*(piece.last_at_mm for piece in freezing.pieces), *late]),
        "necks": seen([pool.neck_at_mm for pool in freezing.pools if pool.neck_mm > 0]),
    }


def _source(freezing: Freezing, show: Display) -> str:
    """Where the alloy's freezing curve comes from, and how sure it is."""
    wide = show.temperatures(freezing.solidus_c, freezing.liquidus_c)
    if freezing.curve == "computed":
        band = f"{show.difference(freezing.curve_band_k)} {show.temperature_unit}"
        return f"Freezing curve: computed for this recipe, as it freezes in a casting (Scheil), {wide}; either end within {band}."
    whose = "your own figures" if freezing.curve_source == STUDIO_SOURCE else f"tabulated ({freezing.curve_source})"
    return f"Freezing range: {whose}, {wide}; taken as straight between its ends."


def _grid(freezing: Freezing, show: Display) -> str:
    """How it was computed, and what was not."""
    cells = f"cells of {show.length(freezing.edge_mm, 2)} {show.length_unit}"
    return f"{'Fine' if freezing.fine else 'Draft'}: {cells}. Not computed: {'; '.join(freezing.not_modelled)}."
