"""Words of the tree step. z goes up from the foot of the flask as it stands while investing: tip up, button end down."""

from dataclasses import dataclass

from pourwell.steps.pattern.model import Point

Polygon = tuple[tuple[float, float], ...]
"""A closed outline [mm], without its last point repeated."""
Transform = tuple[tuple[float, float, float, float], ...]
"""Three rows of a 3 x 4 matrix: from the piece's frame to the tree's [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What the flask offers the tree. Heights count from the foot of the flask, where the rubber base closes it."""

    radius_mm: float
    """Inside."""
    floor_mm: float
    """Top of the dome: where the stem leaves the button."""
    ceiling_mm: float
    """Nothing reaches higher: the rim less headspace and cover."""
    height_mm: float
    """The rim."""
    base_depth_mm: float
    """Foot of the dome: how deep the rubber base sits in the flask."""
    dome_diameter_mm: float
    dome_height_mm: float
    socket_mm: float
    """Of the stem, in the dome."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """Where a sprue meets a piece, and the section it feeds there."""

    at_mm: Point
    normal: Point
    """Unit vector, out of the piece."""
    words: str
    """As a jeweller would say it: "back of the shank, opposite the head"."""
    section_mm2: float
    """The smallest plane section through the piece at this point; of a wide plate, what of it one sprue feeds."""
    section_modulus_mm: float
    """Its area over its perimeter."""
    chosen_by: str
    """"shape" or "user"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sprue:
    """One round sprue."""

    gauge_mm: float
    length_mm: float
    """From the stem's surface to the piece."""
    area_ratio: float
    """Its section to the section it feeds."""
    modulus_mm: float
    """Its area over its perimeter: gauge / 4."""
    from_mm: Point
    to_mm: Point
    """Its axis in the tree's frame, from within the stem to the piece."""
    attachment: Attachment
    volume_mm3: float
    """Between stem and piece, without what lies inside either."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A silhouette: outer polygons and holes by the even-odd rule."""

    polygons: tuple[Polygon, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One piece on the tree."""

    number: int
    piece: str
    tier: int
    azimuth_deg: float
    """Clockwise from the notch, seen from above."""
    height_mm: float
    """Where its sprue leaves the stem, above the foot of the flask."""
    tilt_deg: float
    """Of the sprue, up from level."""
    transform: Transform
    sprue: Sprue
    centre_mm: Point
    depth_mm: float
    """Along the view of the elevation, positive behind the stem."""
    elevation: Outline
    plan: Outline
    sprue_elevation: Polygon
    sprue_plan: Polygon


@dataclass(frozen=True, slots=True, kw_only=True)
class Tier:
    """Pieces at one height."""

    number: int
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stem:
    """The central channel."""

    diameter_mm: float
    foot_mm: float
    """Where it leaves the dome."""
    top_mm: float
    volume_mm3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Button:
    """The metal in the dome of the rubber base."""

    diameter_mm: float
    foot_mm: float
    """Height of its wide face: how deep the base sits in the flask."""
    height_mm: float
    volume_mm3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearances:
    """Exact smallest distances and what they are held against; None where there is nothing to measure."""

    pieces_mm: float | None
    pieces_limit_mm: float
    wall_mm: float
    wall_limit_mm: float
    wall_at_mm: Point
    wall_place: int
    """Number of the place that comes nearest to the wall."""
    tip_mm: float
    tip_limit_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A second sprue for a section that the first reaches only through a thinner neck."""

    piece: str
    neck_mm: float
    neck_at_mm: Point
    section_mm: float
    section_at_mm: Point
    gauge_mm: float
    attachment: Attachment


@dataclass(frozen=True, slots=True, kw_only=True)
class Tree:
    """Pieces, sprues, stem and button as they will be cast."""

    places: tuple[Place, ...]
    tiers: tuple[Tier, ...]
    stem: Stem
    button: Button
    clearance_mm: float
    """The smallest of the clearances below: pieces to each other, to the wall and to the tip."""
    clearances: Clearances
    top_mm: float
    """The highest point of pieces and stem: the tip."""
    usable_mm: float
    """Height between the top of the dome and the cover under the rim."""
    pieces_g: float
    sprues_g: float
    stem_g: float
    button_g: float
    metal_g: float
    """All of it, as cast."""
    volume_mm3: float
    pattern_g: float
    """What the tree weighs on the scale without its base: pieces, sprues and stem."""
    yield_fraction: float
    """Pieces over all metal."""
    proposals: tuple[Proposal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedTree:
    """A tree known only by its weight on the scale."""

    pattern_g: float
    """Pieces, sprues and stem, without the base."""
    wax_g: float
    """How much of it is sprue wax, as said; a usual share where it was not."""
    mixed: bool
    """Resin and wax were weighed as one, and nobody said how much is wax."""
    body_g: float
    """In metal: pieces, sprues and stem."""
    button_g: float
    metal_g: float
    metal_low_g: float
    metal_high_g: float
    """At the ends of the densities."""
    volume_mm3: float
