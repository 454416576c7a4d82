"""Words of printing a pattern in resin."""

from dataclasses import dataclass
from typing import Literal

from pourwell.steps.pattern.model import Point

Reach = Literal["open", "bore", "recess"]
"""Where a face lies: open to any tool, in the finger bore, or where no tool gets in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintTime:
    """How long a print takes, from the printer's own figures."""

    layer_mm: float
    layers_count: int
    """Supports and piece."""
    bottom_layers_count: int
    """Of these, the first, which get more light."""
    print_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Resin:
    """What a print takes out of the bottle."""

    piece_g: float
    piece_low_g: float
    piece_high_g: float
    piece_ml: float
    waste_fraction: float
    """Supports, filter and vat, on top of the piece."""
    waste_low_fraction: float
    waste_high_fraction: float
    waste_source: str
    waste_grade: str
    used_g: float
    used_ml: float
    """Piece and waste."""
    cost_money: float | None = None
    """None: no price is known."""
    cost_low_money: float | None = None
    cost_high_money: float | None = None
    """At the ends of the waste."""
    currency: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Steps of the layers on the faces of one reach."""

    reach: Reach
    area_mm2: float
    """All faces of this reach."""
    stepped_mm2: float
    """Of these, with steps that show."""
    proud_mm: float
    """How far the steps stand out at the most."""
    wide_mm: float
    """How wide the widest of them is."""
    at_mm: Point | None
    """In the middle of the largest patch of them."""
    seen_mm: float
    """Steps that stand less proud than this do not show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to stand, by quick measures."""

    direction: Point
    """Unit vector away from the plate, in the file's own frame."""
    words: str
    turn_x_deg: float
    turn_y_deg: float
    """How to turn the file so that the direction points along z: about x, then about y."""
    height_mm: float
    print_min: float
    islands_count: int
    cups_count: int
    proud_mm: float
    """How far steps stand out, on the average of the weighed surface."""
    under_fraction: float
    """Share of the surface that needs supports."""
    held_mm3: float
    """What hollows hold in it."""
    hidden_mm2: float
    """Undersides that need supports where nobody takes them out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MidAir:
    """Material that begins with nothing beneath it."""

    at_mm: Point
    height_mm: float
    """Over the lowest point of the piece."""
    first_mm2: float
    largest_mm2: float
    """Its largest layer before it joins what stands already."""
    layers_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Holds:
    """A hollow that holds resin."""

    kind: Literal["suction", "bowl", "closed"]
    at_mm: Point
    volume_mm3: float
    low_mm: float
    high_mm: float
    """Over the lowest point of the piece."""
    mouth_mm2: float
    """Its largest section."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintPlan:
    """How a pattern is printed."""

    name: str
    file: str
    material: str
    volume_mm3: float
    layers_mm3: float
    """What the layers hold together: the volume once more, by sections."""
    resin: Resin
    time: PrintTime
    way: Way
    chosen: Literal["asked", "best"]
    """Whose choice the direction is."""
    why: str
    """In a sentence."""
    others: tuple[Way, ...]
    """Next best, each well away from those before."""
    compared_count: int
    steps: tuple[Steps, ...]
    under_deg: float
    under_mm2: float
    under_at_mm: Point | None
    """Undersides flatter than this to the level, which need supports, and the middle of the largest patch."""
    hidden_mm2: float
    hidden_at_mm: Point | None
    """Of these, what lies inside a hollow from where nobody takes supports out, and the middle of its largest patch."""
    ceiling_mm2: float
    ceiling_height_mm: float
    ceiling_at_mm: Point | None
    """The largest area in one layer with nothing beneath it, its height over the lowest point, and a place on it."""
    islands: tuple[MidAir, ...]
    cups: tuple[Holds, ...]
    assumed: tuple[str, ...]
    """Figures of the printer that the studio does not say."""
    cautions: tuple[str, ...]
