"""Words of the day step."""

from dataclasses import dataclass
from datetime import datetime, time, tzinfo
from typing import Literal

from pourwell.steps.burnout.model import Programme
from pourwell.steps.flask.model import Mix
from pourwell.steps.pour.model import Quench


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """When somebody is at the bench, on the studio's clock."""

    work_from: time
    work_to: time
    zone: tzinfo | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What the day of one flask depends on."""

    kinds_count: int
    """Kinds of patterns; 0 when the tree stands on the scale already."""
    pieces_count: int
    resin: bool
    mix: Mix
    programme: Programme
    """From kiln on to the pour of the first flask; all flasks of a kiln load have the same."""
    quench: Quench
    vacuum_min: float = 0.0
    """How long the vacuum may be needed after the pour; 0: cast without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One line of the day before it has a clock time; its hands-on part comes first."""

    key: str
    says: str
    whole_min: float
    hands_on_min: float
    free: bool = False
    """May it be done earlier, on its own, when the line after it starts too early in the morning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the day."""

    key: str
    says: str
    starts_at: datetime
    ends_at: datetime
    hands_on_min: int
    """At the start of the line, or, where `moments` are given, at these."""
    moments: tuple[datetime, ...] | None = None
    """When somebody must be at the kiln, where it is set by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnLoad:
    """The kiln load that this flask is part of. All its flasks go in together, and one programme is typed for all."""

    runs: tuple[int, ...]
    """Numbers of the runs that share the kiln, in the order in which they come out."""
    comes_out_at: datetime
    """When this flask comes out; the others stay in."""
    longer_for_turns_min: int
    """By how much the last hold is longer so that the flasks are poured in turn."""
    longer_for_hours_min: int
    """By how much the holds are longer in all so that melt and pour fall in the studio's hours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckStep:
    """One line of the check list."""

    kind: Literal["day", "phase", "step", "gate"]
    text: str
    starts_at: datetime | None = None
    plan: str = ""
    """The number to meet, as text; quantities as in a Finding."""
    quantity: Literal["", "metal_g", "bulk_g", "temperature_c", "clock"] = ""
    value: float | None = None
    at: datetime | None = None
    caution: str = ""
    prevents: str = ""
    """The mistake that this step prevents."""
    checks: tuple[str, ...] = ()
    """Of a gate."""
    fill: bool = True
    """Is there something to write down."""
