"""Words of the burnout step."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Final

SLACK: Final = 0.03
"""Share by which a measure may miss its limit and still keep it: grids and the typing of ramps differ by as much. Own choice."""


BAG_WINS: Final = "A schedule on the bag, or of the maker of your investment or resin, wins over any programme here."
"""Said once wherever a programme is told."""
NOT_PUBLISHED: Final = {
    "memory": "put together from memory",
    "estimate": "our estimate",
    "practice": "common practice",
}
"""Grades of a table that nobody published as it stands."""
KILN_WRONG: Final = "what your kiln may be wrong"


def published_word(grade: str) -> str:
    """What the programme that another is compared with is to be called, by the grade of its table."""
    return NOT_PUBLISHED.get(grade, "published")


def ruled_words(ruled_by: str, *, grade: str, target_c: float = 0.0, lowered_to_c: float | None = None) -> str:
    """What rules a segment, in words: a table that nobody published is not called so, a peak lowered for the kiln is.

    `grade`: of the programme that it is compared with; `lowered_to_c`: the peak where it was lowered, else None.
    """
    word = published_word(grade)
    said = ruled_by if word == "published" else ruled_by.replace("published programme", f"programme {word}")
    if lowered_to_c is None or target_c != lowered_to_c:
        return said
    return f"{said}; its level by {KILN_WRONG}" if said else f"its level by {KILN_WRONG}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """What a log or a weighing found, over the likely default [-], with the ends of its uncertainty and where it comes from."""

    value: float
    low: float
    high: float
    source: str
    unit: str = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What was measured of this investment, kiln and flask; None: not measured, and the default band stands."""

    conductivity: Factor | None = None
    """Of the mould, wet and dry."""
    film: Factor | None = None
    """From kiln to flask, air and radiation alike."""
    water: Factor | None = None
    """Free water that goes into the kiln, over that of the mould as mixed."""

    @property
    def names(self) -> tuple[str, ...]:
        """What was measured, in words, each with its source."""
        given = (("conductivity", self.conductivity), ("film of the kiln", self.film), ("water", self.water))
        return tuple(f"{what}: {factor.source}" for what, factor in given if factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A figure, and its ends over the ends of the inputs; inf: not before the end."""

    low: float
    likely: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """What the kiln shows and the flask does at half height, minute by minute as listed: equally long rows."""

    times_min: tuple[int, ...]
    kiln_c: tuple[float, ...]
    rim_c: tuple[float, ...]
    half_radius_c: tuple[float, ...]
    core_c: tuple[float, ...]
    core_low_c: tuple[float, ...]
    core_high_c: tuple[float, ...]
    """The core at the ends of the inputs."""
    water_fraction: tuple[float, ...]
    """Free water left, over that at the start."""
    water_high_fraction: tuple[float, ...]
    """The same at the slow end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """What a programme does inside the flask: computed, with bands from the inputs that nobody knows well."""

    curves: Curves
    core_passes_100_min: Band
    dry_min: Band
    """Minutes from the start until the last free water is gone."""
    steam_kw_per_m2: Band
    """Greatest heat through the wall at half height while water is left there, over 20 min: steam comes off with it."""
    pressure_kpa: Band
    """Greatest overpressure of the steam, its ends from the mould's permeability."""
    cristobalite_lag_k: Band
    quartz_lag_k: Band
    """Rim less core, most of it, while the core inverts."""
    softening_min: Band
    """The pattern between softening and 200 degC, where it lies longest."""
    charring_min: Band
    carbon_min: Band
    """Between 300 and 550 degC, and over 650 in a kiln that reads high by its error; where it is shortest."""
    uneven_k: Band
    """Hottest less coldest place of the mould at the end."""
    heat_kwh: Band
    """What the flask takes up; the kiln's own loss is not in it."""
    measured: tuple[str, ...]
    """Which inputs were measured; the others are estimates."""
    not_modelled: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One measure of a programme against its limit, where its margin is least."""

    key: str
    what: str
    measure: float
    limit: float
    unit: str
    at_most: bool
    """Must it stay under the limit; else it must reach it."""
    published: float
    """What the published programme does there."""
    at_end: str
    """At which end of the inputs."""
    source: str
    """Of the limit's figure: the rule's, or that of the row whose course set it."""
    by: str = "the published programme"
    """What gives the pattern the time that a programme here never undercuts."""
    held_to: float | None = None
    """That time, where it is more than the limit: by its table's course, no need of the pattern's; None: the limit itself."""
    held_source: str = ""
    """Of the table that it comes from."""
    widest: float | None = None
    """The widest that the limit is at any end of the inputs; None: the same at all."""
    reached: float | None = None
    """The most at any end of the inputs, where a limit of the mould is wider than the rule's own figure and that is passed."""
    rule: float | None = None
    """That figure."""
    judged: bool = True
    """False: the table never gets there, so nothing is held against it."""

    @property
    def asked(self) -> float:
        """What the programme is held to: the limit, or the table's longer time."""
        return self.limit if self.held_to is None else self.held_to

    @property
    def keeps(self) -> bool:
        """Is what it is held to kept, as far as its figures are shown."""
        slack = SLACK * abs(self.asked)
        kept = self.measure <= self.asked + slack if self.at_most else self.measure >= self.asked - slack
        return kept or not self.judged

    @property
    def meets(self) -> bool:
        """Is it met without any slack."""
        met = self.measure <= self.asked if self.at_most else self.measure >= self.asked
        return met or not self.judged


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
    ruled_by: str = ""
    """What makes it no shorter: the published programme, or the limit or wish that asked for more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What the kiln's own thermocouple may show [degC]: in whole degrees, never rounded up, the same wherever it is told."""

    never_over_c: int
    """Over it the mould may be over what is warned of: the kiln is turned down."""
    off_c: int
    """There the kiln is switched off: the run is lost."""

    @classmethod
    def of(cls, *, warn_c: float, stop_c: float, unseen_k: float) -> "Reading":
        """For a mould warned of over `warn_c` and lost over `stop_c`, in a kiln that may show so much too little."""
        return cls(never_over_c=_floored(warn_c - unseen_k), off_c=_floored(stop_c - unseen_k))


def _floored(c: float) -> int:
    return math.floor(round(c, 6))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint:
    """For a kiln set by hand: what to set, minutes after the start."""

    at_min: int
    set_c: float
    why: str
    seen_c: float | None = None
    """What the kiln should show just before it is set; None: not worked out."""


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
    warn_c: float
    """Of the mould: over it, all that the kiln may be hotter included, there is a warning."""
    stop_c: float
    """Over it, a stop."""
    energy_kwh: float
    energy_low_kwh: float
    energy_high_kwh: float
    core_dry_min: float
    core_dry_early_min: float
    core_dry_late_min: float
    """Minutes from the start until the last free water is gone, with its band; computed, not measured; inf: not at the end."""
    passes_400_min: float
    """Minutes from the start until the kiln passes 400 degC; inf: never."""
    stones: bool = False
    """Are stones in place: the ceiling is then what they stand."""
    inside: Inside | None = None
    """What it does inside the flask."""
    verdicts: tuple[Verdict, ...] = ()
    """Its measures against their limits."""
    published_grade: str = ""
    """How far the table of the programme that it is compared with can be trusted."""
    published_min: int = 0
    """How long the published programme takes for this investment, size and pattern, in this kiln."""
    published: tuple[Segment, ...] = ()
    """Its table as it stands, where ramps or levels had to be held to what this flask and kiln take; else empty."""
    lowered_to_c: float | None = None
    """The peak, where it is lower than its table's because the kiln may be so far wrong."""
    shortest_min: int = 0
    """The shortest known to keep the limits, were all inputs as is likely; a search may miss a shorter one. No advice."""
    soak_min: int = 0
    """How much of the last hold the flask needs; what it is longer by, for turns or hours, is not in it."""
    least_drying_min: float = 0.0
    """No drying takes less, by the heat of the water and the steam that the mould is let give off."""

    def reading(self, unseen_k: float) -> Reading:
        """What a kiln may show whose flasks may be so much hotter than its reading [K]."""
        return Reading.of(warn_c=self.warn_c, stop_c=self.stop_c, unseen_k=unseen_k)


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
    ruled_by: str = ""
