"""Words of the day step."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the day."""

    key: str
    says: str
    starts_at: datetime
    ends_at: datetime
    hands_on_min: int


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
