"""Times and verdicts of the freezing as the bench says them: whole seconds under a minute, then half minutes."""

from typing import Final

from pourwell.steps.freeze.model import Freezing, Spell, SprueClock
from pourwell.units import min_from_s

MINUTE_S: Final = 60.0
HALF_MIN: Final = 0.5
FEW: Final = 6
"""So many numbers are told one by one."""


def bench_time(seconds: float) -> str:
    """Whole seconds under a minute, then half minutes."""
    if round(seconds) < MINUTE_S:
        return f"{seconds:.0f} s"
    return f"{round(min_from_s(seconds) / HALF_MIN) * HALF_MIN:g} min"


def about(spell: Spell) -> str:
    """A time without its band."""
    return bench_time(spell.value_s)


def banded(spell: Spell) -> str:
    """The band of a time; nothing where it is too narrow to be told."""
    low, high = bench_time(spell.low_s), bench_time(spell.high_s)
    return low if low == high else f"{low} to {high}"


def verdict_words(freezing: Freezing) -> str:
    """The verdict on the tree in a sentence."""
    cut = [c.place for c in freezing.clocks if c.verdict == "cut off"]
    doubt = [c.place for c in freezing.clocks if c.verdict == "uncertain"]
    if not cut and not doubt:
        return "Every piece stays fed until it is solid."
    parts = []
    if cut:
        parts.append(f"{_pieces(cut)} cut off from the metal before {'it is' if len(cut) == 1 else 'they are'} solid.")
    if doubt:
        parts.append(f"{_pieces(doubt)} uncertain: the runs disagree.")
    return " ".join(parts)


def _pieces(places: list[int]) -> str:
    told = ", ".join(map(str, places[:FEW])) + (f" and {len(places) - FEW} more" if len(places) > FEW else "")
    return f"Piece {told} is" if len(places) == 1 else f"Pieces {told} are"


def fed_words(clock: SprueClock) -> str:
    """A sprue against what lies behind it."""
    behind = f"piece {clock.piece} behind it {about(clock.section)}"
    if clock.verdict == "fed":
        return f"{behind}: fed"
    return f"{behind}: {clock.verdict}, {clock.void_low_mm3:.1f} to {clock.void_high_mm3:.1f} mm3 missed"
