"""Words of the pour step."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """From the kiln door to a solid button."""

    transfer_s: int
    vacuum_kpa: float | None
    """None: cast without vacuum."""
    button_solid_s: int
    button_solid_low_s: int
    button_solid_high_s: int
    """Computed freezing time of the button, and its band."""
    entry_kpa: float | None
    """Pressure to enter the thinnest section; None when no shape is known."""
    head_kpa: float | None
    """What metal head and vacuum give."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quench:
    """When the flask goes into water, if it does."""

    way: str
    """"water" or "air"."""
    wait_min: int
    low_min: int
    high_min: int
    sign: str
    about: str
