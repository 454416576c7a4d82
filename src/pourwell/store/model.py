"""What the store hands out: frozen values, never rows."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPattern:
    """A pattern of the library."""

    id: int
    name: str
    file: str
    digest: str
    size_bytes: int
    units: str
    added_at: datetime
    removed_at: datetime | None = None
    leave_out: tuple[str, ...] = ()
    """Bodies of its file that the user does not want cast."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRun:
    """A run as its form stands."""

    id: int
    number: int
    form: Mapping[str, Any]
    pieces: tuple[tuple[int, int], ...]
    """(pattern id, how many), in the order of the list."""
    made_at: datetime
    changed_at: datetime
    removed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptResult:
    """What was computed for a pattern or a run."""

    id: int
    asked: Mapping[str, Any]
    data: Mapping[str, Any]
    made_at: datetime
    files: Mapping[str, str] = field(default_factory=dict)
    """Name to digest."""
