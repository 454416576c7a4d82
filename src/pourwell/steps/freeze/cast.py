"""What is cast, as the solver takes it: metal and mould as substances, the tree in its mould, what the flask stands in.

The tree's frame is turned over for the pour: the button is up, the open face of the mould is where the rubber base was.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.mesh import Mesh
from pourwell.materials.library import Library
from pourwell.materials.model import STUDIO_SOURCE, Alloy, Investment, Rule
from pourwell.physics.boundary import Contact, Film, Surroundings, Wall
from pourwell.physics.conduction import Setting
from pourwell.physics.domain import Cylinder
from pourwell.physics.properties import Melt, Substance, inert, pure, ranged
from pourwell.steps.burnout.energy import STEEL_J_PER_M3_K
from pourwell.steps.flask.model import Flask
from pourwell.steps.freeze.model import Floats
from pourwell.steps.melt import computed
from pourwell.steps.melt.plan import mould_side
from pourwell.steps.pattern.model import Point
from pourwell.steps.tree.model import Transform, Tree
from pourwell.units import j_per_kg_from_kj_per_kg, k_from_c, kg_per_m3_from_g_per_cm3, m_from_mm, mm_from_m

STEEL_CONDUCTIVITY: Final = 25.0
"""Of a stainless steel at some hundred degrees [W/(m K)], from memory; a wall of 2 mm is of one temperature whatever it is."""
METAL_CONDUCTIVITY: Final = (100.0, 65.0)
"""Solid and liquid [W/(m K)], own estimate, for an alloy whose row gives none: between the white golds and the yellow."""
NUDGE_K: Final = 1e-6
"""On which side of a standing temperature a knot of the curve lies."""
FLAT_MM: Final = 1e-3
"""Corners so near to the plane of the button's face lie in it."""
ROOM_C: Final = 20.0
"""The air that flask and button stand in. Own choice, as for the quench."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """A piece on its sprue, by its number on the tree; places in the tree's frame [mm]."""

    number: int
    piece: str
    gauge_mm: float
    area_ratio: float
    """The sprue's section to the section that it feeds."""
    from_mm: Point
    to_mm: Point
    """The sprue's axis, from within the stem to the piece."""
    second_mm: Point | None
    """Where a second sprue was proposed."""
    second_gauge_mm: float
    transform: Transform
    """From the frame of the pattern's file to the tree's."""

    def in_pattern(self, place_mm: Floats) -> Point:
        """A place (3,) of the tree's frame in that of the pattern's file [mm]."""
        rows = np.array(self.transform)
        return _point((rows[:, :3].T @ (place_mm - rows[:, 3])).tolist())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cast:
    """A tree of bodies (tree's frame, mm), one closed solid of them all, in its flask, and with what it is poured."""

    bodies: tuple[tuple[str, Mesh], ...]
    """"piece 1 A", "sprue 1", ... "stem", "button"."""
    metal: Mesh
    fed: tuple[Fed, ...]
    flask: Flask
    alloy: Alloy
    investment: Investment
    metal_c: float
    flask_c: float
    flask_band_c: tuple[float, float]
    """Between which flask temperatures the alloy is cast in sections of this tree."""

    @property
    def foot_mm(self) -> float:
        """Height of the mould's open face: how deep the base sat."""
        return self.flask.base_depth_mm

    @property
    def tip_mm(self) -> float:
        """Height of the mould's other face."""
        return self.flask.height_mm - self.flask.headspace_mm


def as_stored(cast: Cast) -> Cast:
    """The cast with its corners as a run's files hold them, in single precision: what is frozen again is then what was frozen.

    The tree as one solid is stored in mm, its bodies in metres.
    """

    def rounded(mesh: Mesh, unit_mm: float) -> Mesh:
        return Mesh(unit_mm * (mesh.vertices / unit_mm).astype(np.float32).astype(np.float64), mesh.faces)

    bodies = tuple((name, rounded(mesh, mm_from_m(1.0))) for name, mesh in cast.bodies)
    return replace(cast, metal=rounded(cast.metal, 1.0), bodies=bodies)


def fed_of(tree: Tree) -> tuple[Fed, ...]:
    """The pieces of a tree on their sprues."""
    seconds = {p.piece: (p.attachment.at_mm, p.gauge_mm) for p in tree.proposals}
    return tuple(
        Fed(
            number=place.number,
            piece=place.piece,
            gauge_mm=place.sprue.gauge_mm,
            area_ratio=place.sprue.area_ratio,
            from_mm=place.sprue.from_mm,
            to_mm=place.sprue.to_mm,
            second_mm=_placed(seconds[place.piece][0], place.transform) if place.piece in seconds else None,
            second_gauge_mm=seconds[place.piece][1] if place.piece in seconds else 0.0,
            transform=place.transform,
        )
        for place in tree.places
    )


def fed_of_data(place: Mapping[str, Any], proposals: Sequence[Mapping[str, Any]]) -> Fed:
    """The same from a stored plan: one of its places, and its proposals. Raises KeyError, TypeError or ValueError."""
    sprue = place["sprue"]
    second = next((p for p in proposals if p["piece"] == place["piece"]), None)
    return Fed(
        number=place["number"],
        piece=place["piece"],
        gauge_mm=float(sprue["gauge_mm"]),
        area_ratio=float(sprue["area_ratio"]),
        from_mm=_point(sprue["from_mm"]),
        to_mm=_point(sprue["to_mm"]),
        second_mm=_placed(_point(second["attachment"]["at_mm"]), place["transform"]) if second else None,
        second_gauge_mm=float(second["gauge_mm"]) if second else 0.0,
        transform=place["transform"],
    )


def _point(given: Sequence[float]) -> Point:
    x, y, z = (float(value) for value in given)
    return x, y, z


def _placed(point: Point, transform: Transform) -> Point:
    rows = np.array(transform)
    x, y, z = (rows[:, :3] @ np.array(point) + rows[:, 3]).tolist()
    return x, y, z


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """What is uncertain in a run: 0 as the rows say, -1 and 1 at the ends that freeze slower and faster."""

    mould: int = 0
    touch: int = 0


def at_end(value: float, ends: tuple[float, float], which: int) -> float:
    """A value, or its low (-1) or high (1) end."""
    return (ends[0], value, ends[1])[which + 1]


def of_rule(rule: Rule, which: int) -> float:
    """A rule's value, or its low (-1) or high (1) end."""
    low, high = (rule.value if end is None else end for end in (rule.low, rule.high))
    return at_end(rule.value, (low, high), which)


def computes(alloy: Alloy, library: Library) -> bool:
    """Is the freezing curve computed: a silver-gold-copper recipe whose melting range is not the user's own figure."""
    return alloy.solidus_c.source != STUDIO_SOURCE and not computed.why_not(alloy.composition_percent, library)


def metal_substance(alloy: Alloy, library: Library) -> Substance:
    """The metal against heat: computed, as it freezes without mixing in the solid (Scheil), or straight from solidus to liquidus.

    Density is that of the liquid, which fills the mould; what is sucked in after it is heat of the same kind.
    Raises BadRequestError for a metal that does not conduct.
    """
    solid, liquid = METAL_CONDUCTIVITY
    if alloy.conductivity_solid_w_per_m_k is not None:
        solid = alloy.conductivity_solid_w_per_m_k.value
    if alloy.conductivity_liquid_w_per_m_k is not None:
        liquid = alloy.conductivity_liquid_w_per_m_k.value
    if min(solid, liquid) <= 0:
        raise BadRequestError(
            f"The alloy {alloy.id} conducts no heat.",
            why="Its conductivity, solid or liquid, is not above zero.",
            try_this="Mend conductivity_solid_w_per_m_k and conductivity_liquid_w_per_m_k in its file.",
        )
    density = kg_per_m3_from_g_per_cm3(alloy.liquid_density_g_per_cm3.value)
    if not computes(alloy, library):
        melt = Melt(
            density=density,
            solid_heat_capacity=alloy.cp_solid_j_per_kg_k.value,
            liquid_heat_capacity=alloy.cp_liquid_j_per_kg_k.value,
            latent=j_per_kg_from_kj_per_kg(alloy.latent_kj_per_kg.value),
            solid_conductivity=solid,
            liquid_conductivity=liquid,
        )
        low, high = k_from_c(alloy.solidus_c.value), k_from_c(alloy.liquidus_c.value)
        return pure(melt, at=high) if high - low < NUDGE_K else ranged(melt, solidus=low, liquidus=high)
    curve = computed.freezing(alloy.composition_percent, library, "scheil")
    twice = np.diff(curve.temperature) <= 0
    nudge = np.append(twice, False) * -NUDGE_K + np.insert(twice, 0, False) * NUDGE_K
    fraction = np.array([curve.solid_at(t) for t in curve.temperature + nudge])
    fraction = np.maximum.accumulate(fraction[::-1])[::-1]
    return Substance(
        heat=density * curve.enthalpy,
        temperature=curve.temperature,
        conductivity=fraction * solid + (1 - fraction) * liquid,
        solid_fraction=fraction,
    )


def setting(cast: Cast, library: Library, ends: Ends, *, metal: Substance) -> Setting:
    """Substances, touch and surroundings of a run at the ends of what is uncertain."""
    k = cast.investment.conductivity_dry_w_per_m_k
    side = mould_side(cast.investment, cast.flask_c, conductivity=at_end(k.value, k.ends, ends.mould))
    mould = inert(density=side.density, heat_capacity=side.heat_capacity, conductivity=side.conductivity)
    steel = inert(density=1.0, heat_capacity=STEEL_J_PER_M3_K, conductivity=STEEL_CONDUCTIVITY)
    rule, room = library.rules, k_from_c(ROOM_C)
    wall = Wall(thickness=m_from_mm(cast.flask.wall_mm), substance=steel, contact=rule["wall_touch_w_per_m2_k"].value)
    touch = of_rule(rule["touch_liquid_w_per_m2_k"], ends.touch), of_rule(rule["touch_skin_w_per_m2_k"], ends.touch)
    return Setting(
        substances=(mould, metal, steel),
        surroundings=Surroundings(
            side=Film(
                coefficient=rule["flask_air_w_per_m2_k"].value, outside=room, emissivity=rule["flask_emissivity_fraction"].value
            ),
            below=Film(coefficient=rule["table_film_w_per_m2_k"].value, outside=room),
            above=Film(
                coefficient=rule["button_air_w_per_m2_k"].value, outside=room, emissivity=rule["button_emissivity_fraction"].value
            ),
            wall=wall,
        ),
        contact=Contact(solid_fraction=(0.0, rule["skin_solid_fraction"].value), coefficient=touch),
    )


class Frame:
    """Between the tree's frame [mm] and the solver's [m], which stands as at the pour: z up from the mould's closed face."""

    def __init__(self, cast: Cast) -> None:
        self.tip_mm = cast.tip_mm

    def to_solver(self, points_mm: Floats) -> Floats:
        """(n, 3) [mm] to (n, 3) [m]."""
        out: Floats = m_from_mm(1.0) * (np.array([0, 0, self.tip_mm]) + np.asarray(points_mm) * np.array([1, -1, -1]))
        return out

    def to_tree(self, points: Floats) -> Floats:
        """(n, 3) [m] to (n, 3) [mm]."""
        out: Floats = (mm_from_m(1.0) * np.asarray(points) - np.array([0, 0, self.tip_mm])) * np.array([1, -1, -1])
        return out


def domain(cast: Cast) -> Cylinder:
    """The mould's room."""
    return Cylinder(radius=m_from_mm(cast.flask.diameter_mm / 2), height=m_from_mm(cast.tip_mm - cast.foot_mm))


def opened(metal: Mesh, foot_mm: float) -> Mesh:
    """The metal carried on beyond the mould's open face by its mirror image, so that the button's face is no surface to the mould.

    The flat face is left out and the rest joined to its image along the rim.
    """
    points = metal.vertices.copy()
    flat = np.abs(points[:, 2] - foot_mm) < FLAT_MM
    points[flat, 2] = foot_mm
    faces = metal.faces[~flat[metal.faces].all(axis=1)]
    count = len(points)
    image = points * np.array([1, 1, -1]) + np.array([0, 0, 2 * foot_mm])
    other = np.where(flat, np.arange(count), np.arange(count) + count)
    return Mesh(np.concatenate([points, image]), np.concatenate([faces, other[faces][:, ::-1]]))


class Shape:
    """The cast tree as distances for the solver, and which body a point belongs to."""

    def __init__(self, cast: Cast) -> None:
        self.frame = Frame(cast)
        self.names = tuple(name for name, _ in cast.bodies)
        self._metal = SignedDistance(opened(cast.metal, cast.foot_mm))
        self._bodies = SignedDistance([mesh for _, mesh in cast.bodies])

    def piece(self, number: int) -> int:
        """Place in `names` of the piece on a sprue."""
        return next(i for i, name in enumerate(self.names) if name == f"piece {number}" or name.startswith(f"piece {number} "))

    def sprues(self, number: int) -> list[int]:
        """Places in `names` of its sprue, or of several."""
        return [i for i, name in enumerate(self.names) if name == f"sprue {number}" or name.startswith(f"sprue {number} ")]

    def distance(self, points: Floats) -> Floats:
        """(n, 3) [m] to (n,) [m], below zero in metal."""
        away: Floats = m_from_mm(1.0) * self._metal(self.frame.to_tree(points))
        return away

    def body(self, points: Floats) -> NDArray[np.int64]:
        """(n, 3) [m] to (n,), place in `names`."""
        return self._bodies.nearest(self.frame.to_tree(points))[1]
