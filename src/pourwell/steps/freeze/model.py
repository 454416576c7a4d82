"""Words of the freezing step. Times count from the pour, places are in the tree's frame: tip up, as it stands while investing."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from pourwell.steps.pattern.model import Point

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A time from the pour, and its ends: the same run with the mould and its touch at the ends of their ranges."""

    value_s: float
    low_s: float
    high_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SprueClock:
    """The sprue of a piece against the section behind it."""

    place: int
    piece: str
    sprue: Spell
    """Until no liquid way through it is left."""
    section: Spell
    """Until the last of the piece is as solid."""
    section_at_mm: Point
    void_low_mm3: float
    void_high_mm3: float
    """What an open way would still have fed: hollow room left in the piece, at the ends of runs and contraction."""
    verdict: str
    """"fed", "cut off" or "uncertain"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Liquid that loses its way to the button before it is solid."""

    number: int
    place: int
    """The piece in which its last liquid lies; pools of sprues and stem do no harm and are left out."""
    where: str
    """In words: "piece 3, {l:19} from its sprue"; the length is spelt out where it is read."""
    at_mm: Point
    """Where its last liquid lies: there the hollow will be."""
    neck_at_mm: Point
    neck_where: str
    """In words: "in sprue 3", "in the piece, {l:4} from its sprue"."""
    neck_mm: float
    """Through which it was fed, as the diameter of a round of the same section."""
    lost: Spell
    solid: Spell
    volume_mm3: float
    liquid_mm3: float
    """When it was lost."""
    void_low_mm3: float
    void_high_mm3: float
    verdict: str
    """"cut off" or "uncertain"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFreezing:
    """One piece on the tree."""

    place: int
    piece: str
    first_s: float
    """Its first place is solid."""
    last: Spell
    last_at_mm: Point
    local_s: float
    """From liquidus to solid, in the middle half of its volume (median)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Something to do differently, and what a run with it gave."""

    piece: str
    does: str
    """A sentence: what to do."""
    before_mm3: float
    after_mm3: float
    """Hollow left in a piece, as it is and with the change."""
    helps: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Freezing:
    """How the tree of one flask freezes."""

    alloy: str
    investment: str
    flask: str
    """Of the library: what is poured, and into what."""
    metal_c: float
    flask_c: float
    edge_mm: float
    """Cells at the metal's surface."""
    fine: bool
    curve: str
    """"computed" from Gibbs energies, or "straight" between solidus and liquidus."""
    curve_source: str
    """Source of solidus and liquidus; "studio": the user's own figures."""
    liquidus_c: float
    solidus_c: float
    """Where the curve that was used begins to freeze and is solid."""
    curve_band_k: float
    """By so much a computed curve may be off either way; 0: not computed."""
    feeds_to_fraction: float
    """Solid fraction up to which metal surely feeds: the clocks of sprues and sections are told for it."""
    pieces: tuple[PieceFreezing, ...]
    clocks: tuple[SprueClock, ...]
    pools: tuple[Pool, ...]
    changes: tuple[Change, ...]
    button: Spell
    """Solid throughout: until then vacuum is held."""
    last: Spell
    """All metal is solid."""
    dark: Spell
    """None of the metal glows any more, seen in the shade."""
    last_at_mm: Point
    outside_c: float
    """The flask's outside, hottest, when all metal is solid."""
    outside_high_c: float
    cells_count: int
    metal_cells_count: int
    steps_count: int
    ledger_fraction: float
    """Heat that is missing, of what has moved."""
    thinnest_cells_count: float
    """Cells across the thinnest wall, at least."""
    not_modelled: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fields:
    """What is known of every cell of the metal; arrays (q,) are closed to writing, NaN where something did not happen."""

    centre_mm: Floats
    """(q, 3) middles of cells."""
    size_mm: Singles
    """(q,) edges of cells."""
    body: Ints
    """(q,) place in `bodies`."""
    begin_s: Singles
    """(q,) falls below the liquidus."""
    end_s: Singles
    """(q,) solid."""
    rate_k_per_s: Singles
    """(q,) cooling rate at the end of freezing."""
    gradient_k_per_mm: Singles
    """(q,) of temperature, at the end of freezing."""
    niyama: Singles
    """(q,) dimensionless Niyama number, a secondary field."""
    pool: Ints
    """(q,) number of the pool that a cell froze in; 0: fed to the end."""
    solid_fraction: Singles
    """(k,) levels of solid fraction."""
    passed_s: Singles
    """(q, k) when a cell passes each level."""
    curve_s: Singles
    """(s,) times of the cooling curves."""
    curve_c: Singles
    """(s, p) temperatures of the cooling curves."""
    curve_low_c: Singles
    """(s, p) the lowest of all runs at that time; NaN where a run has ended."""
    curve_high_c: Singles
    """(s, p) the highest."""
    curve_names: tuple[str, ...]
    """p names: those of the bodies, read where each lies deepest in metal, and "mould at the wall"."""
    bodies: tuple[str, ...]
    """Names of the tree's bodies."""

    def __post_init__(self) -> None:
        """Close the arrays to writing."""
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                value.setflags(write=False)
