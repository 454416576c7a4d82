"""Words of the pour step."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Depth:
    """Temperatures at one depth inside the wall, at the seconds of `Transfer`; the likely, and the coldest of the band."""

    depth_mm: float | None
    """None: the steel itself."""
    likely_c: tuple[float, ...]
    low_c: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfer:
    """How a flask cools in the air of the room."""

    seconds_s: tuple[int, ...]
    depths: tuple[Depth, ...]
    """Wall, the pieces nearest to it, twice as deep, and the core."""
    piece_depth_mm: float
    drop_k: float
    most_s: int
    """By then the pieces nearest to the wall have lost so much, at the end of the inputs where it goes fastest."""


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
    transfer: Transfer | None = None
    """How the flask cools on its way from the kiln."""


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
