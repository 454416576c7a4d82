"""What the freezing page shows: the verdict, each sprue against its piece, what was tried, and a section with the times."""

import base64
import io
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.spatial import cKDTree

from pourwell.sheets.display import Display
from pourwell.steps.freeze.model import Fields, Freezing, SprueClock
from pourwell.steps.freeze.words import about, banded, bench_time, verdict_words

PX_MM: Final = 0.2
"""Edge of a pixel of the section: half of the thinnest line that it has to show."""
NEIGHBOURS: Final = 8
"""Cells whose times are weighed for a pixel, by the inverse square of their distance."""
SLACK: Final = 0.1
"""By so much of its edge a cell reaches over its side, so that cut cells leave no gaps."""
SECONDS_UP_TO: Final = 120.0
"""Bands are told in seconds up to here: half minutes would give several the same name."""
SHADES: Final = (255, 235, 212, 186, 158, 126, 92)
"""Greys of the bands, from what freezes first to what freezes last."""
LINE: Final = 20
"""Grey of the lines between bands."""
MARK: Final = {"fed": "fed", "cut off": "CUT OFF", "uncertain": "uncertain"}
"""The verdict as it prints: one that must not be overlooked in capitals."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A plane through the stem's axis: solid times (rows, columns) [s], NaN beside the metal; its left and top edge [mm]."""

    times_s: NDArray[np.float64]
    left_mm: float
    top_mm: float
    azimuth_deg: float


def freeze_view(freezing: Freezing, fields: Fields, *, show: Display) -> dict[str, Any]:
    """All words and the picture of the page."""
    cut = section(fields, toward=_toward(freezing))
    edges = bands(cut.times_s)
    rows, columns = cut.times_s.shape
    return {
        "verdict": verdict_words(freezing),
        "rows": [_row(clock) for clock in freezing.clocks],
        "button": [about(freezing.button), banded(freezing.button)],
        "dark": [about(freezing.dark), banded(freezing.dark)],
        "outside": show.temperatures(freezing.outside_c, freezing.outside_high_c),
        "tried": [
            {
                "does": show.text(change.does),
                "gave": "stays fed" if change.helps else f"{change.after_mm3:.1f} mm³ missed instead of {change.before_mm3:.1f}",
            }
            for change in freezing.changes
        ],
        "picture": {"svg": svg(shaded(cut, edges)), "width": columns * PX_MM, "height": rows * PX_MM},
        "bands": [{"grey": round(shade / 2.55), "says": says} for shade, says in zip(SHADES, legend(edges), strict=True)],
        "spots": [_spot(pool.at_mm, str(pool.number), cut) for pool in freezing.pools],
        "pools": [
            f"{pool.number}: {pool.where}; the way to it shuts after {bench_time(pool.lost.value_s)}, it is solid after "
            f"{bench_time(pool.solid.value_s)}"
            for pool in freezing.pools
        ],
        "grid": _grid(freezing, show),
    }


def _grid(freezing: Freezing, show: Display) -> str:
    """How it was computed, and what was not."""
    cells = f"cells of {show.length(freezing.edge_mm, 2)} {show.length_unit}"
    return f"{'Fine' if freezing.fine else 'Draft'}: {cells}. Not computed: {'; '.join(freezing.not_modelled)}."


def _row(clock: SprueClock) -> dict[str, str]:
    """One sprue against its piece."""
    return {
        "number": str(clock.place),
        "piece": clock.piece,
        "sprue": about(clock.sprue),
        "sprue_band": banded(clock.sprue),
        "section": about(clock.section),
        "section_band": banded(clock.section),
        "verdict": MARK[clock.verdict],
        "missed": f"{clock.void_low_mm3:.1f} to {clock.void_high_mm3:.1f} mm³ missed" if clock.verdict != "fed" else "",
    }


def _toward(freezing: Freezing) -> tuple[float, float]:
    """The way in which the section is cut: through the first pool, else through the section of the first sprue."""
    at = freezing.pools[0].at_mm if freezing.pools else freezing.clocks[0].section_at_mm
    length = float(np.hypot(at[0], at[1]))
    return (at[0] / length, at[1] / length) if length > 0 else (1.0, 0.0)


def section(fields: Fields, *, toward: tuple[float, float]) -> Section:
    """The plane through the axis in a direction, each pixel from the cells round it."""
    along = fields.centre_mm[:, :2] @ np.array(toward)
    reach = float(np.abs(along).max() + fields.size_mm.max())
    low, high = float(fields.centre_mm[:, 2].min()), float(fields.centre_mm[:, 2].max())
    r = np.arange(-reach, reach, PX_MM) + PX_MM / 2
    z = np.arange(high + 1, low - 1, -PX_MM) - PX_MM / 2
    points = np.stack([*(r[None] * toward[i] + 0 * z[:, None] for i in (0, 1)), z[:, None] + 0 * r[None]], axis=-1).reshape(-1, 3)
    away, near = cKDTree(fields.centre_mm).query(points, k=min(NEIGHBOURS, len(fields.centre_mm)))
    offset = np.abs(points[:, None] - fields.centre_mm[near]).max(axis=2)
    inside = (offset <= (0.5 + SLACK) * fields.size_mm[near]).any(axis=1)
    weight = 1 / np.maximum(away, PX_MM) ** 2
    mean = (weight * fields.end_s[near]).sum(axis=1) / weight.sum(axis=1)
    times = np.where(inside, mean, np.nan)
    azimuth = float(np.degrees(np.arctan2(toward[0], toward[1])) % 360)
    return Section(times_s=times.reshape(z.size, r.size), left_mm=-reach, top_mm=high + 1, azimuth_deg=azimuth)


def bands(times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Edges between the bands [s]: each so many times the one before, since times go with the square of thickness."""
    seen = times_s[np.isfinite(times_s)]
    edges: NDArray[np.float64] = np.geomspace(seen.min(), seen.max(), len(SHADES) + 1)[1:-1]
    return edges


def legend(edges: NDArray[np.float64]) -> list[str]:
    """What each band stands for."""
    inner = [f"{edge:.0f} s" if edge < SECONDS_UP_TO else bench_time(float(edge)) for edge in edges]
    return [f"before {inner[0]}", *(f"{a} to {b}" for a, b in pairwise(inner)), f"after {inner[-1]}"]


def shaded(cut: Section, edges: NDArray[np.float64]) -> Image.Image:
    """The section in greys, with lines round it and between its bands."""
    metal = np.isfinite(cut.times_s)
    band = np.where(metal, np.searchsorted(edges, np.nan_to_num(cut.times_s)), -1)
    grey = np.where(metal, np.array(SHADES)[np.maximum(band, 0)], 255)
    rim = np.zeros_like(metal)
    rim[:, 1:] |= band[:, 1:] != band[:, :-1]
    rim[1:] |= band[1:] != band[:-1]
    return Image.fromarray(np.where(rim, LINE, grey).astype(np.uint8))


def svg(image: Image.Image) -> str:
    """The raster inside an SVG, because a template takes text alone."""
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    data = base64.b64encode(out.getvalue()).decode("ascii")
    size = f'width="{image.width}" height="{image.height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><image {size} href="data:image/png;base64,{data}"/></svg>'


def _spot(at_mm: tuple[float, float, float], says: str, cut: Section) -> dict[str, Any]:
    """Where a pool's last liquid lies, turned into the plane of the section [mm from its left top corner]."""
    turn = np.radians(cut.azimuth_deg)
    r = at_mm[0] * np.sin(turn) + at_mm[1] * np.cos(turn)
    return {"x": float(r - cut.left_mm), "y": cut.top_mm - at_mm[2], "says": says}
