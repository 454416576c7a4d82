"""Run published burnout schedules through the model and write published-burnouts.md. A rule test holds that it is current.

python docs/published_burnouts.py
"""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from pourwell.materials.library import load_library
from pourwell.materials.model import FlaskRow
from pourwell.materials.studio import Kiln, Studio
from pourwell.steps.burnout.inside import LIKELY, Corners, Traits, all_traits, ends_of, windows
from pourwell.steps.burnout.plan import case_of
from pourwell.steps.flask.plan import base_for, room

VACUUM, RESIN = "forum-vacuum-temperature", "castable-resin-guides"
PAGE = Path(__file__).parent / "published-burnouts.md"
FLASK_C = 540.0
COLD, HOT, FALL = 150.0, 240.0, 120.0
"""Climb to 300 °C, climb above, and fall where a schedule names none [K/h]: machine-manual-2011, and a kiln with its door shut."""
BEFORE_C = 400.0


@dataclass(frozen=True)
class Published:
    """A schedule: its flask, and (level, hold in minutes, ramp or None) in order; None for a level is the flask temperature."""

    name: str
    size: tuple[float, float]
    steps: tuple[tuple[float | None, float, float | None], ...]
    source: str
    investment: str = "gypsum-standard"

    @property
    def corners(self) -> Corners:
        """The kiln's course."""
        out, level = [(0.0, 20.0)], 20.0
        for target, hold, ramp in self.steps:
            to = FLASK_C if target is None else target
            usual = FALL if to < level else COLD if level < 300 else HOT
            moment = out[-1][0] + abs(to - level) / (ramp or usual) * 60
            out += [(moment, to), (moment + hold, to)]
            level = to
        return tuple(dict.fromkeys(out))


SCHEDULES = (
    Published("5 h", (50, 60), ((149, 60, None), (371, 60, None), (732, 120, None), (None, 60, None)), "workshop-5h-cycle"),
    Published("6 h", (64, 64), ((149, 120, None), (371, 60, None), (732, 120, None), (None, 60, None)), VACUUM),
    Published("8 h", (89, 102), ((149, 120, None), (371, 120, None), (732, 180, None), (None, 60, None)), VACUUM),
    Published(
        "12 h",
        (102, 203),
        ((149, 120, None), (315, 120, None), (482, 120, None), (732, 240, None), (None, 120, None)),
        VACUUM,
    ),
    Published("9 h", (51, 76), ((149, 120, None), (371, 120, None), (732, 180, None), (621, 120, None)), "forum-burnout-9h"),
    Published("by ramps, small", (50, 55), ((300, 45, 140), (730, 60, 240), (None, 45, None)), "machine-manual-2011"),
    Published("by ramps, small, widest", (80, 80), ((300, 45, 140), (730, 60, 240), (None, 45, None)), "machine-manual-2011"),
    Published("by ramps, large", (102, 127), ((165, 0, 72.5), (730, 300, 300), (None, 60, None)), "machine-manual-2011"),
    Published("into a kiln of 149 °C", (76, 100), ((149, 60, 7740), (732, 120, 195), (None, 60, None)), "general-howto-page"),
    Published("one ramp, no holds", (102, 178), ((732, 60, 96), (None, 60, None)), "forum-threads"),
    Published(
        "one studio's, 11 h",
        (64, 51),
        ((149, 90, None), (204, 90, None), (677, 150, 158), (538, 60, 139)),
        "forum-casting-procedures",
    ),
    Published("stones in place, low", (64, 64), ((149, 120, None), (260, 120, None), (415, 600, 100)), "gemstone-wax-pages"),
    Published("stones in place, high", (64, 64), ((149, 120, None), (260, 120, None), (496, 720, 100)), "forum-threads"),
    Published("castable resin", (80, 80), ((150, 120, 90), (370, 120, 60), (732, 210, 150), (None, 90, 90)), RESIN),
    Published(
        "platinum investment",
        (64, 64),
        ((150, 90, None), (260, 60, None), (540, 60, None), (870, 180, None), (800, 60, None)),
        "platinum-how-to",
        "phosphate",
    ),
)

HEAD = f"""# Published burnouts, run through the model

Written by `docs/published_burnouts.py`; do not edit. Each schedule runs through the flask in the kiln (physics.md, section 11) at
its own size, as is likely and, in brackets, over all ends of conductivity, kiln's film and water. Where a schedule names no ramp,
it climbs at {COLD:.0f} K/h to 300 °C and {HOT:.0f} above (`machine-manual-2011`), falls at {FALL:.0f} and ends at {FLASK_C:.0f} °C.
*never*: the kiln never goes there, or some water is left at the end. Hours count from a cold kiln. Lags are of rim and core while
the core crosses 200 to 300 and 560 to 590 °C.

| schedule | flask, mm | kiln at 400 °C | water gone | steam, kW/m² | lag 200, K | lag 560, K | over 650 °C, h | source |
|---|---|---|---|---|---|---|---|---|
"""
TAIL = """
What it says:

- **Cycles with a hold near 370 °C dry their flask** before the kiln passes 400 °C: those of 5, 6 and 9 h at every end of the
  inputs, that of 8 h as is likely, and not at the slow end. There our own programmes are longer. The 12 h cycle holds at 315 °C
  instead, and its tall flask is likely still wet: what is grown from our table holds there at 350 to 371 °C, and longer.
- **Ramps without a hold under 400 °C leave wide flasks wet** when the kiln passes it. They are published, and flasks come out
  of them: real moulds also wick and vent, so the hours of drying are an upper estimate.
- **The differences between rim and core that published cycles reach lie around the rule's 150 K**, and over it at the bad ends: see
  [decision 0006](decisions/0006-limits-of-a-burnout-come-from-published-ones.md).
- The plain ramp for large flasks goes beyond all others, in steam and in differences: it is the one that we would not follow.
"""


def clock(minutes: float) -> str:
    """Hours, or never."""
    return "never" if minutes == float("inf") else f"{minutes / 60:.1f}"


def passes(corners: Corners) -> float:
    """Minutes until the kiln first passes 400 degC; inf if never."""
    for (t0, c0), (t1, c1) in pairwise(corners):
        if c1 > BEFORE_C >= c0:
            return t0 + (BEFORE_C - c0) / (c1 - c0) * (t1 - t0)
    return float("inf")


def row(schedule: Published) -> str:
    """One line of the table."""
    library, studio = load_library(), Studio()
    diameter, height = schedule.size
    flask = FlaskRow(id=f"{diameter:g}x{height:g}", diameter_mm=diameter, height_mm=height, wall_mm=1.6)
    base, _ = base_for(flask, studio, library)
    case = case_of(
        library.investment(schedule.investment),
        pattern_material=library.pattern("wax-injection"),
        flask=room(flask, base, studio=studio, library=library),
        flask_c=FLASK_C,
        kiln=Kiln(),
        stones=False,
        library=library,
    )
    found = all_traits(ends_of(case), schedule.corners, windows(case)._replace(carbon=case.library.rule("carbon_from_c")))

    def band(name: str, digits: int, *, hours: bool = False) -> str:
        values = [getattr(t, name) for t in found.values()]
        likely: float = getattr(found[LIKELY], name)
        if hours:
            return f"{clock(likely)} ({clock(min(values))} to {clock(max(values))})"
        return f"{likely:.{digits}f} ({min(values):.{digits}f} to {max(values):.{digits}f})"

    carbon: Traits = min(found.values(), key=lambda t: t.carbon)
    cells = (
        schedule.name,
        f"{diameter:g} x {height:g}",
        clock(passes(schedule.corners)),
        band("dry", 1, hours=True),
        band("steam", 1),
        band("cristobalite", 0),
        band("quartz", 0),
        f"{carbon.carbon / 60:.1f}",
        f"`{schedule.source}`",
    )
    return "| " + " | ".join(cells) + " |\n"


def page() -> str:
    """The whole page."""
    return HEAD + "".join(row(schedule) for schedule in SCHEDULES) + TAIL


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
