"""What the check list is written from, and how one of its lines is made."""

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from pourwell.materials.model import Alloy, Investment, PatternMaterial, When
from pourwell.materials.studio import Studio
from pourwell.steps.burnout.model import Programme
from pourwell.steps.day.model import CheckStep, Entry
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.pattern.model import Piece, doubt_about
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.tree.model import Tree, WeighedTree

MINUTE_S: Final = 60
FINE_STEP_S: Final = 5
COARSE_STEP_S: Final = 30
"""What a wide band is told to: 5 s under a minute, half minutes above."""
HALF_HOUR_MIN: Final = 30
LONG_MIN: Final = 120
"""A wait over the second is told in steps of the first."""
WAIT_STEP_MIN: Final = 5
"""What a wait over an hour is told to."""
_DEGREES: Final = re.compile(r"(\d+(?:\.\d+)?) °C")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Everything of a plan that the check list speaks of."""

    pieces: tuple[Piece, ...]
    tree: Tree | None
    weighed: WeighedTree | None
    alloy: Alloy
    investment: Investment
    pattern_material: PatternMaterial
    flask: Flask
    mix: Mix
    charge: Charge
    temperatures: Temperatures
    programme: Programme
    soak_min: int
    """How long this flask is held at its temperature at the least: the last hold, without what later flasks or hours add."""
    pour: Pour
    quench: Quench
    entries: tuple[Entry, ...]
    studio: Studio
    stay: tuple[int, ...] = ()
    """Numbers of the runs whose flasks are still in the kiln after this one."""

    @property
    def doubt(self) -> str:
        """Why nothing is weighed by this plan; empty if nothing is against it."""
        return doubt_about(self.pieces)

    def starts(self, key: str) -> datetime:
        """When a line of the day begins."""
        return next(e.starts_at for e in self.entries if e.key == key)

    def warned(self, when: When, *ours: str) -> str:
        """Our own cautions of a step, then those of the rows that belong there; a caution of a row without a place has its own."""
        rows = ((self.pattern_material, None), (self.investment, "mix"), (self.alloy, "melt"))
        told = [c.text for row, usual in rows for c in row.cautions if (c.when or usual) == when]
        return " ".join(said for said in (*ours, *map(quantified, told)) if said)


def quantified(sentence: str) -> str:
    """A sentence of the library with its temperatures as quantities, so that a sheet shows them in the reader's degrees."""
    return _DEGREES.sub(r"{t:\1}", sentence)


def step(text: str, **more: Any) -> CheckStep:
    """One step."""
    return CheckStep(kind="step", text=text, **more)


def phase(text: str, at: datetime) -> CheckStep:
    """The head of a phase, with its clock time."""
    return CheckStep(kind="phase", text=text, starts_at=at, fill=False)


def gate(text: str, *checks: str) -> CheckStep:
    """A gate: go on only when all is ticked."""
    return CheckStep(kind="gate", text=text, checks=tuple(c for c in checks if c), fill=False)


def clocked(start_s: int, end_s: int) -> str:
    """A span of a stop-clock, as 0:50 to 4:35."""

    def show(seconds: int) -> str:
        return f"{seconds // MINUTE_S}:{seconds % MINUTE_S:02d}"

    return show(start_s) if end_s <= start_s else f"{show(start_s)} to {show(end_s)}"


def roughly(low_s: int, high_s: int) -> str:
    """A wide band in what the bench can tell apart, rounded outward: as 25 s to 1½ min, 1 to 4½ min."""
    low, high = _rough(low_s, up=False), _rough(high_s, up=True)
    if low == high:
        return low
    return f"{low.removesuffix(' min') if high.endswith(' min') else low.removesuffix(' s')} to {high}"


def _rough(seconds: int, *, up: bool) -> str:
    grain_s = FINE_STEP_S if seconds < MINUTE_S else COARSE_STEP_S
    whole_s = (-(-seconds // grain_s) if up else seconds // grain_s) * grain_s
    minutes, rest_s = divmod(whole_s, MINUTE_S)
    return f"{minutes}{'½' if rest_s else ''} min" if whole_s >= MINUTE_S else f"{whole_s} s"


def hours(minutes: float) -> str:
    """A long wait in half hours, rounded up, as 5½ h."""
    halves = -(-minutes // HALF_HOUR_MIN)
    return f"{f'{halves // 2:.0f}' if halves > 1 else ''}{'½' if halves % 2 else ''} h"


def waits(low_min: int, high_min: int) -> str:
    """A band of waiting, rounded up: over an hour to five minutes, over two hours to half hours."""
    if high_min > MINUTE_S:
        low_min, high_min = (-(-m // WAIT_STEP_MIN) * WAIT_STEP_MIN for m in (low_min, high_min))
    if high_min > LONG_MIN:
        low, high = hours(low_min), hours(high_min)
        return low if low == high else f"{low.removesuffix(' h')} to {high}"
    return f"{low_min} to {high_min} min" if low_min < high_min else f"{low_min} min"
