"""The bores of a piece: what they are in the pattern, what they will be when finished, and what makes them a wanted size."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from pourwell.geometry.bore import SURROUNDED, Cylinder, find_bores
from pourwell.geometry.bore_shape import BoreShape, bore_shape
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, PatternMaterial, Quantity, Rule
from pourwell.steps.pattern.model import Bore, BoreInside, Point, SizePart
from pourwell.steps.pattern.ranges import ends
from pourwell.steps.pattern.sizes import sizes
from pourwell.steps.pattern.wide_bands import wide_around

MOST_OPEN_DEG: Final = 360 * (1 - SURROUNDED)
"""A band that is open over more than this is a crescent, not a ring: as `find_bore` has it."""

ROOM_C: Final = 20.0
"""Where a ring is measured: ISO 1."""

EXPANSION: Final[Mapping[str, str]] = MappingProxyType(
    {
        "silver": "expansion_silver_per_k",
        "gold": "expansion_gold_per_k",
        "white gold": "expansion_gold_per_k",
        "bronze": "expansion_copper_per_k",
        "brass": "expansion_copper_per_k",
        "platinum": "expansion_platinum_per_k",
        "palladium": "expansion_platinum_per_k",
    }
)
"""The rule that says how much an alloy of each metal contracts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """One step by which all lengths change in proportion: above zero they grow."""

    what: str
    value: float
    low: float
    """What gives the smallest bore."""
    high: float
    source: str
    grade: str


def growths(material: PatternMaterial, alloy: Alloy, library: Library) -> tuple[Growth, ...]:
    """What changes all lengths between the pattern's file and the casting, in the order of the work.

    A pattern material whose sheet, or whose user's own coupon, says the net shrinkage needs no more than that. Else it is composed
    of printing, setting and heating of the mould, cooling of the metal from its solidus, and the rest that measured castings
    show. A wax is taken to be as large as its file: it is carved to it.
    """
    net = material.net_shrinkage_fraction
    if net is not None:
        return (_growth("net shrinkage of the pattern material", net, sign=-1),)
    cooling = alloy.solidus_c.value - ROOM_C
    parts = (
        _growth("mould setting", library.rules["setting_expansion_fraction"]),
        _growth("mould heating", library.rules["mould_expansion_fraction"]),
        _growth("metal cooling", library.rules[EXPANSION[alloy.metal]], sign=-cooling),
        _growth("as castings are measured", library.rules["casting_rest_fraction"], sign=-1),
    )
    if material.family == "wax":
        return parts
    return (_growth("printing", library.rules["print_shrinkage_fraction"], sign=-1), *parts)


def _growth(what: str, rule: Rule | Quantity, *, sign: float = 1) -> Growth:
    low, high = sorted(sign * end for end in ends(rule))
    return Growth(what=what, value=sign * rule.value, low=low, high=high, source=rule.source, grade=rule.grade.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkage:
    """All growths together: one less the casting's length over the file's."""

    value: float
    low: float
    """What gives the smallest bore: the largest shrinkage."""
    high: float


def shrinkage(steps: Sequence[Growth]) -> Shrinkage:
    """The net shrinkage of all steps, and of all at the end that gives the smallest and the largest bore."""
    return Shrinkage(
        value=1 - math.prod(1 + step.value for step in steps),
        low=1 - math.prod(1 + step.low for step in steps),
        high=1 - math.prod(1 + step.high for step in steps),
    )


def finished_bore_mm(pattern_mm: float, shrinkage: float, finishing_mm: float) -> float:
    """A bore after casting and finishing [mm]: shrunk by the net shrinkage, opened by what finishing takes off."""
    return pattern_mm * (1 - shrinkage) + finishing_mm


def scale_for(wanted_mm: float, pattern_mm: float, *, shrinkage: float, finishing_mm: float) -> float:
    """By what to scale a pattern so that its finished bore is the wanted one: `finished_bore_mm` turned round."""
    return (wanted_mm - finishing_mm) / (1 - shrinkage) / pattern_mm


def offset_for(wanted_mm: float, pattern_mm: float, *, shrinkage: float, finishing_mm: float) -> float:
    """By how much to move the surface of a bore outward [mm] to the same end."""
    return ((wanted_mm - finishing_mm) / (1 - shrinkage) - pattern_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What pieces are made of and finished to."""

    alloy: Alloy
    material: PatternMaterial
    library: Library
    wanted_mm: float | None


def bores_of(mesh: Mesh, rays: Caster, making: Making) -> tuple[Bore, ...]:
    """Every bore that a finger goes through, the largest first; the wanted size is wanted of that one.

    What only touches a cylinder here and there, as the strands of a knot do, is no band around a bore.
    """
    least = ends(making.library.rules["finger_bore_mm"])[0]
    found = [(cylinder, bore_shape(rays, cylinder)) for cylinder in find_bores(mesh, rays, least_mm=least)]
    bands = [(cylinder, shape) for cylinder, shape in found if shape is not None and shape.open_deg <= MOST_OPEN_DEG]
    return tuple(_bore(cylinder, shape, making, first=k == 0) for k, (cylinder, shape) in enumerate(bands))


def _bore(cylinder: Cylinder, shape: BoreShape, making: Making, *, first: bool) -> Bore:
    """A bore with its prediction, run at the value and at the ends of every input."""
    found, wanted = cylinder.diameter_mm, making.wanted_mm if first else None
    steps = growths(making.material, making.alloy, making.library)
    finish, net = making.library.rules["finishing_bore_mm"], shrinkage(steps)
    finish_low, finish_high = ends(finish)
    cases = ((net.value, finish.value), (net.low, finish_low), (net.high, finish_high))
    value, low, high = (finished_bore_mm(found, shrink, finishing) for shrink, finishing in cases)
    scales: list[float | None] = [None] * len(cases)
    offsets: list[float | None] = [None] * len(cases)
    if wanted is not None:  # the case that gives the smallest bore asks for the largest change
        scales = [scale_for(wanted, found, shrinkage=shrink, finishing_mm=finishing) for shrink, finishing in cases]
        offsets = [offset_for(wanted, found, shrinkage=shrink, finishing_mm=finishing) for shrink, finishing in cases]
    inside = _inside(cylinder, shape)
    wide, wide_low, wide_high = wide_around(inside.width_mm, making.library, comfort=inside.profile == "comfort")
    return Bore(
        diameter_mm=found,
        centre_mm=cylinder.centre,
        axis=cylinder.axis,
        sizes=sizes(found),
        finished_mm=value,
        finished_low_mm=low,
        finished_high_mm=high,
        finished_sizes=sizes(value),
        finished_low_sizes=sizes(low),
        finished_high_sizes=sizes(high),
        wanted_mm=wanted,
        scale_ratio=scales[0],
        scale_low_ratio=scales[2],
        scale_high_ratio=scales[1],
        offset_mm=offsets[0],
        offset_low_mm=offsets[2],
        offset_high_mm=offsets[1],
        inside=inside,
        parts=_parts(found, steps, finish),
        wide_around_mm=wide,
        wide_around_low_mm=wide_low,
        wide_around_high_mm=wide_high,
    )


def _parts(found_mm: float, steps: Sequence[Growth], finish: Rule) -> tuple[SizePart, ...]:
    """What every step adds to the bore, one after the other: together with the pattern's bore they make the finished one."""
    parts, size = [], found_mm
    for step in steps:
        parts.append(
            SizePart(
                what=step.what,
                by_mm=size * step.value,
                by_low_mm=size * step.low,
                by_high_mm=size * step.high,
                by_fraction=step.value,
                source=step.source,
                grade=step.grade,
            )
        )
        size *= 1 + step.value
    low, high = ends(finish)
    last = SizePart(
        what="finishing",
        by_mm=finish.value,
        by_low_mm=low,
        by_high_mm=high,
        by_fraction=None,
        source=finish.source,
        grade=finish.grade.value,
    )
    return (*parts, last)


def _inside(cylinder: Cylinder, shape: BoreShape) -> BoreInside:
    """The inside of a band, with places instead of directions."""
    centre = np.asarray(cylinder.centre)

    def at(along: Point, far_mm: float) -> Point:
        x, y, z = (centre + far_mm * np.asarray(along)).tolist()
        return x, y, z

    return BoreInside(
        out_of_round_mm=shape.out_of_round_mm,
        widest_mm=shape.widest_mm,
        widest_at_mm=at(shape.widest_along, shape.widest_mm / 2),
        narrowest_at_mm=at(shape.narrowest_along, cylinder.diameter_mm / 2),
        mean_mm=shape.mean_mm,
        open_deg=shape.open_deg,
        open_at_mm=None if shape.open_along is None else at(shape.open_along, cylinder.diameter_mm / 2),
        pierced_deg=shape.pierced_deg,
        width_mm=shape.width_mm,
        width_least_mm=shape.width_least_mm,
        width_most_mm=shape.width_most_mm,
        profile=shape.profile,
        rise_mm=shape.rise_mm,
        curve_mm=shape.curve_mm,
        taper_mm=shape.taper_mm,
    )
