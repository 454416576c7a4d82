"""Words of the burnout step."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One ramp and hold, as typed into the controller."""

    number: int
    ramp_c_per_h: float
    """Negative when falling."""
    target_c: float
    hold_min: int
    ramp_min: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint:
    """For a kiln set by hand: what to set, minutes after the start."""

    at_min: int
    set_c: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """The burnout without a date: segments and what follows from them."""

    id: str
    name: str
    grade: str
    """How far its table can be trusted: a grade of the library."""
    segments: tuple[Segment, ...]
    by_hand: tuple[SetPoint, ...]
    """Filled for a kiln without a controller, or for the segments that the controller does not take."""
    total_min: int
    start_c: float
    peak_c: float
    ceiling_c: float
    """Never above, kiln error included."""
    energy_kwh: float
    energy_low_kwh: float
    energy_high_kwh: float
    core_dry_min: float
    core_dry_early_min: float
    core_dry_late_min: float
    """Minutes from the start until the bookkeeping says the core is dry, with its band; inf: not dry at the end."""
    passes_400_min: float
    """Minutes from the start until the kiln passes 400 degC; inf: never."""
    stones: bool = False
    """Are stones in place: the ceiling is then what they stand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedSegment:
    """A segment with its clock times."""

    number: int
    ramp_c_per_h: float
    target_c: float
    hold_min: int
    ramp_min: int
    why: str
    starts_at: datetime
    reached_at: datetime
    ends_at: datetime
