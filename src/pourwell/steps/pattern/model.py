"""Words of the pattern step."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf
from types import MappingProxyType
from typing import Final, Literal

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.units import mm_from_inch, mm_from_m

INCHES_PER_FOOT: Final = 12  # by definition
MM_PER_UNIT: Final[Mapping[str, float]] = MappingProxyType(
    {
        "mm": 1.0,
        "cm": mm_from_m(0.01),
        "m": mm_from_m(1.0),
        "um": mm_from_m(1e-6),
        "inch": mm_from_inch(1.0),
        "foot": mm_from_inch(INCHES_PER_FOOT),
    }
)
"""The units that a pattern file's numbers may be in: each in millimetres, by definition of the prefixes and the inch."""

Point = tuple[float, float, float]
"""x, y, z [mm] in the pattern file's own frame, after its units are known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """One bore in five systems, each as the trade writes it."""

    iso: str
    us: str
    uk: str
    jp: str
    ch: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreInside:
    """The inside of a band about its bore."""

    out_of_round_mm: float
    """The longest diameter less the shortest."""
    widest_mm: float
    widest_at_mm: Point
    """On the bore, where it is widest."""
    narrowest_at_mm: Point
    """On the bore, where it is narrowest: there it is as wide as the bore is told to be."""
    mean_mm: float
    """Its diameter when it is hammered round."""
    open_deg: float
    """Angle over which the band is open; 0 for a whole ring."""
    open_at_mm: Point | None
    """In the middle of the opening."""
    pierced_deg: float
    """Angle over which it is split in rails, or pierced."""
    width_mm: float
    """Of the band, along the finger: three quarters of the way round it is at least that wide."""
    width_least_mm: float
    width_most_mm: float
    profile: Literal["flat", "comfort", "hollow", "tapered"]
    """comfort: narrowest in the middle of the band; hollow: widest there."""
    rise_mm: float
    """By how much the radius grows from the middle of the band to its edge."""
    curve_mm: float | None
    """Radius of that curve; None without one."""
    taper_mm: float
    """By how much the radius differs between the two ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SizePart:
    """One of the changes between the pattern's bore and the finished one."""

    what: str
    by_mm: float
    """What it adds to this bore's diameter."""
    by_low_mm: float
    by_high_mm: float
    """The same at the ends of its range, smallest and largest bore; the other parts as they are."""
    by_fraction: float | None
    """As a share of the length; None if it takes off the same from any size."""
    source: str
    grade: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """The finger bore: the largest cylinder that passes."""

    diameter_mm: float
    centre_mm: Point
    axis: Point
    """Unit vector along the bore."""
    sizes: Sizes
    """Of the pattern as it is."""
    finished_mm: float
    finished_low_mm: float
    finished_high_mm: float
    """Predicted after casting and finishing; the ends are the prediction at the ends of shrinkage and finishing."""
    finished_sizes: Sizes
    finished_low_sizes: Sizes
    finished_high_sizes: Sizes
    wanted_mm: float | None = None
    scale_ratio: float | None = None
    """By what to scale the pattern so that the finished bore is the wanted one."""
    scale_low_ratio: float | None = None
    scale_high_ratio: float | None = None
    offset_mm: float | None = None
    """By what to move the bore's surface outward, all round, and nothing else, to the same end."""
    offset_low_mm: float | None = None
    offset_high_mm: float | None = None
    inside: BoreInside | None = None
    """None if no band was found around it."""
    parts: tuple[SizePart, ...] = ()
    """What makes the finished bore out of the pattern's, in the order of the work."""
    wide_around_mm: float = 0.0
    """How much larger around this band must be than a narrow one for the same finger; not added anywhere."""
    wide_around_low_mm: float = 0.0
    wide_around_high_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """Wall thickness, weighted by area; the thinnest by two methods that share no query."""

    thinnest_mm: float
    """The lesser figure of both methods."""
    thinnest_at_mm: Point
    typical_mm: float
    """Median over the surface: the section that flask and metal temperature are chosen for."""
    thickest_mm: float
    thickest_at_mm: Point
    """The thickest section: the largest sphere that fits, found from the rays."""
    limit_mm: float
    under_limit_fraction: float
    """Share of the surface under the limit."""
    ray_mm: float | None = None
    """The thinnest by rays across the metal."""
    ray_at_mm: Point | None = None
    ball_mm: float | None = None
    """The thinnest by the largest ball that fits between two sides; None where none does."""
    ball_at_mm: Point | None = None
    agree: bool = True
    """Whether both methods tell one wall; else both figures are to be looked at."""
    edge_mm: float | None = None
    """The thinnest edge that thicker metal carries, which is no wall; 0 of a feather, None where none is thinner than the walls."""
    edge_length_mm: float = 0.0
    edge_at_mm: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One closed body of a pattern file, as found."""

    name: str
    volume_mm3: float
    kept: bool
    """False for a stone or a support."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One kind of piece, measured; several of it may hang on the tree."""

    id: str
    """A letter: A, B, ..., Z, AA."""
    name: str
    file: str
    count: int
    units: str
    """The unit that the file's numbers were taken in."""
    triangle_count: int
    bodies: tuple[Body, ...]
    overlap_mm3: float
    """What overlapping bodies counted twice before they were united."""
    volume_mm3: float
    area_mm2: float
    envelope_mm: Point
    wall: Wall
    bore: Bore | None
    """The largest finger bore."""
    pattern_g: float
    pattern_low_g: float
    pattern_high_g: float
    metal_g: float
    """As cast, each."""
    metal_low_g: float
    metal_high_g: float
    finished_low_g: float
    finished_high_g: float
    """After cutting off, filing and polishing, each."""
    other_bores: tuple[Bore, ...] = ()
    """Further finger bores, the larger first; a size that is wanted is wanted of the first."""
    doubt: Literal["", "unit", "hull"] = ""
    """Why its figures are not to be worked by: the unit of the file is not sure; or they are those of a skin stretched over loose
    triangles, which holds more than the piece. Empty: no such reason."""


def doubt_about(pieces: Iterable[Piece]) -> str:
    """Why nothing is to be weighed by the figures of some pieces; empty if nothing is against it."""
    names = dict.fromkeys(piece.name for piece in pieces if piece.doubt)
    return f"not told: the size of {', '.join(names)} is in doubt" if names else ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """A piece with its geometry, which the plan does not store."""

    piece: Piece
    mesh: Mesh
    """One closed solid: all kept bodies united."""
    wall_mm: Floats
    """(m,) float array [mm]: wall thickness at every triangle of `mesh`, by rays."""
    ball_mm: Floats | None = None
    """(m,) float array [mm]: the same by the largest ball that touches there from inside."""
    gap_mm: Floats | None = None
    """(m,) float array [mm]: width of the gap before every triangle, infinite where it is open."""
    gap_limit_mm: float | None = None
    """The least gap that investment stands in; None: not judged."""
    gap_open_mm: float = inf
    """What is this wide is open, and is not measured."""
    sprue_at_mm: Point | None = None
    """Where the user wants the sprue."""
    thin_by: Literal["wall", "ball"] = "wall"
    """Which of the two measures tells of the thinnest wall."""
    as_read: Mesh | None = None
    """The triangles as the file has them, where they enclose no volume and `mesh` is a stand-in: pictures show what is wrong."""

    def __post_init__(self) -> None:
        for array in (self.wall_mm, self.ball_mm, self.gap_mm):
            if isinstance(array, np.ndarray):
                array.setflags(write=False)
