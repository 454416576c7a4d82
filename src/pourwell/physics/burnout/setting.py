"""Where the flask stands, and the rings it is cut into. SI: m, W/(m2 K)."""

import math
from dataclasses import dataclass, field

import numpy as np

from pourwell.errors import BadRequestError
from pourwell.physics.boundary import STEFAN_BOLTZMANN
from pourwell.physics.burnout.substance import Steel
from pourwell.physics.kernels.oven import Array, Net, Outer

SIDE, UPPER, LOWER = 0, 1, 2
"""Faces of a flask, as the loops number them."""
RINGS, LAYERS = 18, 24
"""Cells along radius and height: see docs/physics.md for what more of them change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flask:
    """The flask from inside [m]; without a wall (0) the mould stands bare.

    Raises BadRequestError for a size that no flask has.
    """

    radius: float
    height: float
    wall: float = 0.002
    open_share: float = 0.0
    """Holes over the whole of the wall [-]: through them the kiln reaches the mould, and steam leaves."""
    contact: float = 500.0
    """Between wall and mould [W/(m2 K)]."""
    steel: Steel = field(default_factory=Steel)

    def __post_init__(self) -> None:
        """Refuse what is no flask."""
        if min(self.radius, self.height, self.contact) <= 0 or self.wall < 0 or not 0 <= self.open_share < 1:
            raise BadRequestError(
                f"A flask of radius {self.radius:g} m and height {self.height:g} m with a wall of {self.wall:g} m does not exist.",
                why=f"Its holes take {self.open_share:g} of the wall, its mould touches it with {self.contact:g} W/(m2 K).",
                try_this="Give sizes above zero in metres, and holes of less than the whole wall.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """How the surroundings reach one face: q = h (T - T_face) + view emissivity sigma (T^4 - T_face^4)."""

    convection: float
    """W/(m2 K)."""
    emissivity: float
    """Of the two grey faces together [-]."""
    view: float = 1.0
    """Share of what the face sees that is not another flask like itself [-]."""
    outside: float | None = None
    """What it faces [K], if that is not the programme's."""

    def __post_init__(self) -> None:
        """Refuse a film that no face can have."""
        if not (0 <= self.convection < math.inf and 0 <= self.emissivity <= 1 and 0 <= self.view <= 1):
            raise BadRequestError(
                f"A film of {self.convection:g} W/(m2 K), emissivity {self.emissivity:g} and view {self.view:g} does not exist.",
                why="Nothing takes heat backwards, or radiates more than a black body that sees everything.",
                try_this="Give a coefficient of zero or more, and shares from 0 to 1.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The three faces of a flask with its sprue hole down: side, upper end, and lower end above the shelf."""

    side: Face
    upper: Face
    lower: Face


def standing(*, convection: float, emissivity: float, beside: float = 1.0, shelf_convection: float, shelf_view: float) -> Place:
    """A flask in a kiln, sprue hole down on its shelf.

    convection [W/(m2 K)] and emissivity [-] hold for the open faces, `beside` is the share of its side that sees the kiln (see
    `view_past`), and the last two say what the shelf leaves of both for the lower end.
    """
    return Place(
        side=Face(convection=convection, emissivity=emissivity, view=beside),
        upper=Face(convection=convection, emissivity=emissivity),
        lower=Face(convection=shelf_convection, emissivity=emissivity, view=shelf_view),
    )


def view_past(*, diameter: float, gap: float, neighbours: int) -> float:
    """Share [-] of what the side of a flask sees that is kiln, with equal flasks beside it at a gap [m], outside diameter [m].

    Raises BadRequestError for a gap under zero, or neighbours that would fill the whole view.
    Source: crossed strings between equal parallel cylinders (Hottel), X = 1 + gap/diameter:
    F = [sqrt(X^2 - 1) + arcsin(1/X) - X] / pi for each neighbour; that they shade one another is left out, and ends are long.
    """
    if diameter <= 0 or gap < 0 or neighbours < 0:
        raise BadRequestError(
            f"Flasks of {diameter:g} m at {gap:g} m from {neighbours} others make no view.",
            try_this="Give a diameter above zero and a gap and a number of zero or more.",
        )
    wide = 1 + gap / diameter
    one = (math.sqrt(wide**2 - 1) + math.asin(1 / wide) - wide) / math.pi
    left = 1 - neighbours * one
    if left <= 0:
        raise BadRequestError(
            f"{neighbours} flasks at {gap:g} m would hide the kiln.", try_this="Set them farther apart, or count those that touch."
        )
    return left


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """A flask cut into rings: layer by layer from the lower end, from the axis out, the wall last."""

    net: Net
    outer: Outer
    shape: tuple[int, int]
    """Layers, and cells along the radius with the wall."""
    mould: int
    """Cells of mould along the radius."""
    middle: Array
    """(cells along the radius,) middles of the rings [m]."""
    level: Array
    """(layers,) middles of the layers above the lower end [m]."""
    rim: Array
    """(r,) faces of the net between mould and wall; empty for a bare mould."""
    bare: Array
    """(s,) outer faces through which the kiln reaches the mould's side."""


def cut(flask: Flask, *, rings: int = RINGS, layers: int = LAYERS) -> Rings:
    """The flask in rings [m]; raises BadRequestError for fewer than two of a kind."""
    if rings < 2 or layers < 2:
        raise BadRequestError(f"{rings} rings and {layers} layers are too few.", try_this="Ask for two of each, or more.")
    edge = np.linspace(0.0, flask.radius, rings + 1)
    middle = (edge[1:] + edge[:-1]) / 2
    area = math.pi * (edge[1:] ** 2 - edge[:-1] ** 2)
    solid = 1 - flask.open_share
    if flask.wall:
        outside = flask.radius + flask.wall
        area = np.append(area, math.pi * (outside**2 - flask.radius**2) * solid)
        middle = np.append(middle, flask.radius + flask.wall / 2)
        edge = np.append(edge, outside)
    deep = flask.height / layers
    cells = np.arange(layers * middle.size).reshape(layers, middle.size)
    round_about = _round_faces(flask, cells, edge, middle=middle, deep=deep)
    upright = _upright_faces(cells, area, deep=deep)
    steel = np.zeros(cells.shape, dtype=np.bool_)
    steel[:, rings:] = True
    volume = np.broadcast_to(area * deep, cells.shape)
    joined = [np.concatenate([a, b]) for a, b in zip(round_about, upright, strict=True)]
    order = np.argsort(joined[0], kind="stable")
    first, second, near, far, contact = (part[order] for part in joined)
    net = Net(first, second, near, far, contact, volume.ravel().copy(), steel.ravel())
    outer, bare = _outer(flask, cells, area, edge=edge, deep=deep)
    rim = np.flatnonzero(steel.ravel()[second] & ~steel.ravel()[first])
    return Rings(
        net=net,
        outer=outer,
        shape=(layers, middle.size),
        mould=rings,
        middle=middle,
        level=(np.arange(layers) + 0.5) * deep,
        rim=rim,
        bare=bare,
    )


def _round_faces(flask: Flask, cells: Array, edge: Array, *, middle: Array, deep: float) -> tuple[Array, ...]:
    """Faces between neighbours along the radius: exact resistances of rings, and the contact at the wall."""
    inner = edge[1:-1]
    area = 2 * math.pi * inner * deep
    near, far = inner * np.log(inner / middle[:-1]) / area, inner * np.log(middle[1:] / inner) / area
    contact = np.zeros(inner.size)
    if flask.wall:
        solid = 1 - flask.open_share
        near[-1], far[-1] = near[-1] / solid, far[-1] / solid
        contact[-1] = 1 / (flask.contact * area[-1] * solid)
    layers = cells.shape[0]
    return (
        cells[:, :-1].ravel(),
        cells[:, 1:].ravel(),
        np.tile(near, layers),
        np.tile(far, layers),
        np.tile(contact, layers),
    )


def _upright_faces(cells: Array, area: Array, *, deep: float) -> tuple[Array, ...]:
    """Faces between neighbours along the height."""
    half = np.tile(deep / 2 / area, cells.shape[0] - 1)
    return cells[:-1].ravel(), cells[1:].ravel(), half, half, np.zeros(half.size)


def _outer(flask: Flask, cells: Array, area: Array, *, edge: Array, deep: float) -> tuple[Outer, Array]:
    """Faces to the kiln: side, bare side, upper and lower end; and which of them are the bare side."""
    layers = cells.shape[0]
    radius, outside = flask.radius, float(edge[-1])
    mould = int(np.flatnonzero(np.isclose(edge, radius))[0]) - 1
    depth_of_wall = outside * math.log(outside / (radius + flask.wall / 2)) if flask.wall else 0.0
    first_middle = (edge[mould] + radius) / 2
    depth_of_rim = radius * math.log(radius / first_middle)
    around = 2 * math.pi * deep
    bare_share = flask.open_share if flask.wall else 1.0
    steel = (cells[:, -1], around * outside * (1 - flask.open_share), depth_of_wall, SIDE)
    rim = (cells[:, mould], around * radius * bare_share, depth_of_rim, SIDE)
    ends = [(row, area, deep / 2, face) for row, face in ((cells[-1], UPPER), (cells[0], LOWER))]
    parts = [*([steel] if flask.wall else []), *([rim] if bare_share else []), *ends]
    outer = Outer(
        cell=np.concatenate([cell for cell, *_ in parts]),
        area=np.concatenate([np.broadcast_to(np.asarray(part[1]), part[0].shape) for part in parts]),
        depth=np.concatenate([np.full(cell.shape, depth) for cell, _, depth, _ in parts]),
        face=np.concatenate([np.full(cell.shape, face) for cell, *_, face in parts]),
        film=np.zeros((3, 3)),
    )
    begin = layers if flask.wall else 0
    return outer, np.arange(begin, begin + (layers if bare_share else 0))


def fill_films(film: Array, place: Place, outside: float) -> None:
    """Write the films (3, 3) of a place whose surroundings are at a temperature [K]."""
    for row, face in ((SIDE, place.side), (UPPER, place.upper), (LOWER, place.lower)):
        faced = outside if face.outside is None else face.outside
        film[row] = face.convection, face.emissivity * face.view * STEFAN_BOLTZMANN, faced
