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
    """When the flask goes into water, if it does. All minutes count from the pour."""

    way: str
    """"water" or "air"."""
    wait_min: int
    """Until it goes into water, or, of a flask that never does, until it may be moved."""
    low_min: int
    high_min: int
    """The band of `wait_min`."""
    cool_min: int
    """Until it may be opened by hand and under water: for "water" as `wait_min`, for "air" when it has cooled by itself."""
    cool_low_min: int
    cool_high_min: int
    sign: str
    about: str
