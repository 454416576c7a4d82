"""Times and verdicts of the freezing as the bench says them: whole seconds under a minute, then half minutes."""

import math
from typing import Final

from pourwell.steps.freeze.model import Freezing, Spell, SprueClock
from pourwell.units import min_from_s

MINUTE_S: Final = 60.0
HALF_MIN: Final = 0.5
FEW: Final = 6
"""So many numbers, or rows of them, are told one by one."""
QUENCH_SIGN: Final = "No red on the button in the shade, never minutes alone."


def bench_time(seconds: float) -> str:
    """Whole seconds under a minute, then half minutes."""
    if round(seconds) < MINUTE_S:
        return f"{seconds:.0f} s"
    return f"{round(min_from_s(seconds) / HALF_MIN) * HALF_MIN:g} min"


def about(spell: Spell) -> str:
    """A time without its band."""
    return bench_time(spell.value_s)


def banded(spell: Spell) -> str:
    """The band of a time, its unit said once where both ends have it; one time where it is too narrow to be told."""
    return _joined(bench_time(spell.low_s), bench_time(spell.high_s))


def _joined(low: str, high: str) -> str:
    if low == high:
        return low
    number, unit = low.split()
    return f"{number if high.endswith(f' {unit}') else low} to {high}"


def latest(spell: Spell) -> str:
    """The late end of a time, never told too early."""
    return _rounded(spell.high_s, up=True)


def outward(spell: Spell) -> str:
    """The band of a time that someone waits for: its early end told no later, its late end no earlier than it is."""
    return _joined(_rounded(spell.low_s, up=False), _rounded(spell.high_s, up=True))


def _rounded(seconds: float, *, up: bool) -> str:
    """Whole seconds under a minute, then half minutes, up or down."""
    to = math.ceil if up else math.floor
    if to(seconds) < MINUTE_S:
        return f"{to(seconds)} s"
    return f"{to(min_from_s(seconds) / HALF_MIN) * HALF_MIN:g} min"


def ball_mm(volume_mm3: float) -> float:
    """Diameter [mm] of the ball of a volume [mm3]."""
    return math.cbrt(6 * volume_mm3 / math.pi)


def verdict_words(freezing: Freezing) -> str:
    """The verdict on the tree in a sentence or two."""
    cut = [c.place for c in freezing.clocks if c.verdict == "cut off"]
    doubt = [c.place for c in freezing.clocks if c.verdict == "uncertain"]
    if not cut and not doubt:
        return "Every piece stays fed until it is solid."
    parts = []
    if cut:
        one = len(cut) == 1
        parts.append(
            f"{_pieces(cut)} {'is' if one else 'are'} cut off from the button before {'it is' if one else 'they are'} solid."
        )
    if doubt:
        parts.append(f"{_pieces(doubt)} may be cut off: a slow and a fast mould disagree.")
    return " ".join(parts)


def listed(places: list[int]) -> str:
    """Numbers in their order, three or more in a row as "4 to 9"; of many scattered ones the first and how many more."""
    rows: list[list[int]] = []
    for place in sorted(places):
        if rows and place == rows[-1][-1] + 1:
            rows[-1].append(place)
        else:
            rows.append([place])
    parts = [f"{row[0]} to {row[-1]}" if len(row) > 2 else ", ".join(map(str, row)) for row in rows]
    more = sum(len(row) for row in rows[FEW:])
    return ", ".join(parts[:FEW]) + (f" and {more} more" if more else "")


def numbered(places: list[int]) -> str:
    """With the word: "piece 3", "pieces 1 to 4"."""
    return f"piece{'' if len(places) == 1 else 's'} {listed(places)}"


def _pieces(places: list[int]) -> str:
    told = numbered(places)
    return told[0].upper() + told[1:]


def fed_words(clock: SprueClock) -> str:
    """A sprue against what lies behind it."""
    behind = f"piece {clock.piece} behind it needs feed until {about(clock.section)}"
    if clock.verdict == "fed":
        return f"{behind}: fed"
    return f"{behind}: {clock.verdict}, pits up to a ball of {ball_mm(clock.void_high_mm3):.1f} mm"
