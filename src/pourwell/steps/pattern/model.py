"""Words of the pattern step."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """Wall thickness by rays, weighted by area."""

    thinnest_mm: float
    thinnest_at_mm: Point
    typical_mm: float
    """Median over the surface: the section that flask and metal temperature are chosen for."""
    thickest_mm: float
    thickest_at_mm: Point
    """The thickest section: the largest sphere that fits, found from the rays."""
    limit_mm: float
    under_limit_fraction: float
    """Share of the surface under the limit."""


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """A piece with its geometry, which the plan does not store."""

    piece: Piece
    mesh: Mesh
    """One closed solid: all kept bodies united."""
    wall_mm: Floats
    """(m,) float array [mm]: wall thickness at every triangle of `mesh`."""
    sprue_at_mm: Point | None = None
    """Where the user wants the sprue."""
