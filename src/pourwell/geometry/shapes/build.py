"""What the parametric pieces are made with: how fine, outlines of sections, lofting round the bore, turning, refusing."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import acos, asin, ceil, isfinite, pi, sqrt
from typing import Final

import manifold3d
import numpy as np

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.refine import refined


class ImpossibleShapeError(ValueError):
    """Dimensions that make no piece: one sentence of what, why and what to try."""

    def __init__(self, what: str, *, why: str, try_this: str) -> None:
        super().__init__(f"This piece cannot be made: {what}, but {why}; {try_this}.")


LARGEST_MM: Final = 300.0
"""No flask holds more; a mesh that fine and that large would fill the memory."""


SMALLEST_MM: Final = 0.01
"""No printer lays less; a dimension is nothing or at least this."""


def positive(**dimensions: float) -> None:
    """Refuse dimensions [mm] that are not above zero, or too large, or not numbers."""
    not_negative(**dimensions)
    for name, value in dimensions.items():
        if value == 0:
            raise ImpossibleShapeError(f"{name} is 0", why="it must be above zero", try_this=f"give {name} in millimetres")


def not_negative(**dimensions: float) -> None:
    """Refuse dimensions [mm] below zero, or too large, or not numbers."""
    for name, value in dimensions.items():
        if not isfinite(value) or value < 0:
            raise ImpossibleShapeError(f"{name} is {value:g}", why="it must be above zero", try_this=f"give {name} in millimetres")
        if 0 < value < SMALLEST_MM:
            raise ImpossibleShapeError(
                f"{name} is {value:g}", why=f"no printer lays less than {SMALLEST_MM:g} mm", try_this=f"give {name} in millimetres"
            )
        if value > LARGEST_MM:
            raise ImpossibleShapeError(
                f"{name} is {value:g}", why=f"no flask holds more than {LARGEST_MM:g} mm", try_this=f"give {name} in millimetres"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fineness:
    """How closely the triangles follow the true surface; every vertex lies on it."""

    chord_mm: float = 0.005
    """Farthest distance of a triangle from the curve that it spans."""
    longest_mm: float = 1.0
    """About the longest edge, so that flat faces carry enough places to measure a wall at."""

    def __post_init__(self) -> None:
        if not (self.chord_mm > 0 and self.longest_mm > 0):
            raise ImpossibleShapeError(
                "the triangles have no size", why="both must be above zero", try_this="give a larger fineness"
            )

    def segments(self, radius_mm: float, turn: float = 2 * pi) -> int:
        """Into how many straight pieces an arc of that radius and turn [rad] is divided."""
        if radius_mm <= self.chord_mm:
            return max(1, ceil(3 * turn / (2 * pi)))
        by_chord = turn / (2 * acos(1 - self.chord_mm / radius_mm))
        return max(1, ceil(by_chord), ceil(turn * radius_mm / self.longest_mm))

    def around(self, radius_mm: float) -> int:
        """Pieces of a whole circle: a multiple of four, so that the four outermost points are exact."""
        return 4 * max(2, ceil(self.segments(radius_mm) / 4))

    def finer(self, factor: float) -> "Fineness":
        """Edges `factor` times shorter; the chord error falls with the square."""
        return Fineness(chord_mm=self.chord_mm / factor**2, longest_mm=self.longest_mm / factor)


FINE: Final = Fineness()
"""0.005 mm: an eighth of a usual printing layer, so that the facets vanish in the first rubbing down."""

SHORTEST_MM: Final = 1e-4
"""Edges shorter than this, left by cutting bodies with each other, are closed: files in single precision keep no less."""


def about(triangle_count: int, make: Callable[..., Mesh], /, **dimensions: float) -> Mesh:
    """A piece with about so many triangles, within a tenth or as near as its shape allows.

    Parameters
    ----------
    triangle_count : wanted number of triangles
    make : a shape's function
    dimensions : its dimensions [mm]
    """
    factor, mesh = 1.0, make(**dimensions)
    best = mesh
    for _ in range(8):
        if abs(len(best.faces) / triangle_count - 1) < 0.02:
            break
        factor *= sqrt(triangle_count / len(mesh.faces))
        mesh = make(**dimensions, fineness=FINE.finer(factor))
        best = min(best, mesh, key=lambda tried: abs(len(tried.faces) - triangle_count))
    return best


def arc(centre: tuple[float, float], radius_mm: float, turn: tuple[float, float], *, fineness: Fineness) -> Floats:
    """(k, 2) float array [mm]: points from one angle to the other [rad], both ends included; the centre for no radius."""
    if radius_mm == 0:
        return np.array([centre], dtype=np.float64)
    angles = np.linspace(turn[0], turn[1], fineness.segments(radius_mm, abs(turn[1] - turn[0])) + 1)
    return np.asarray(centre) + radius_mm * np.column_stack([np.cos(angles), np.sin(angles)])


def outline(parts: Sequence[Floats], *, fineness: Fineness) -> Floats:
    """Join arcs and points to a closed outline; straight stretches are divided, repeated points dropped.

    Returns
    -------
    (p, 2) float array [mm], the first point not repeated
    """
    corners = np.concatenate(parts)
    following = np.roll(corners, -1, axis=0)
    lengths = np.linalg.norm(following - corners, axis=1)
    points = [
        start + (end - start) * np.arange(pieces)[:, None] / pieces
        for start, end, length in zip(corners, following, lengths, strict=True)
        if length > 1e-9
        for pieces in (max(1, ceil(length / fineness.longest_mm - 1e-9)),)
    ]
    return np.concatenate(points)


def loft(sections: Floats, angles: Floats) -> Mesh:
    """A ring from its sections, closed round the bore.

    The bore runs along y, the head stands towards +z: an angle counts from +z towards +x.

    Parameters
    ----------
    sections : (n, p, 2) float array [mm], y and radius of the outline at every angle, anticlockwise with y to the right
    angles : (n,) float array [rad], rising through less than one turn

    Returns
    -------
    A closed mesh of 2 n p triangles.
    """
    n, p = sections.shape[:2]
    y, radius = sections[..., 0], sections[..., 1]
    points = np.stack([radius * np.sin(angles)[:, None], y, radius * np.cos(angles)[:, None]], axis=-1)
    index = np.arange(n * p).reshape(n, p)
    along = np.roll(index, -1, axis=1)
    onward = np.roll(index, -1, axis=0)
    across = np.roll(along, -1, axis=0)
    faces = np.concatenate([np.stack([index, across, onward], axis=-1), np.stack([index, along, across], axis=-1)])
    return Mesh(points.reshape(-1, 3), faces.reshape(-1, 3))


def spin(section: Floats, bore_mm: float, *, fineness: Fineness) -> Mesh:
    """A ring of one section all round: (p, 2) float array [mm], y and height over the bore, anticlockwise with y to the right."""
    section = np.column_stack([section[:, 0], section[:, 1] + bore_mm / 2])
    angles = np.linspace(0, 2 * pi, fineness.around(float(section[:, 1].max())), endpoint=False)
    return loft(np.broadcast_to(section, (len(angles), *section.shape)), angles)


def solid(mesh: Mesh) -> manifold3d.Manifold:
    """The mesh for the boolean engine."""
    made = manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64)))
    if made.status() != manifold3d.Error.NoError:
        raise ImpossibleShapeError(
            "its faces do not close", why=f"they must ({made.status().name})", try_this="try other dimensions"
        )
    return made


def turned(profile: Floats, *, fineness: Fineness) -> manifold3d.Manifold:
    """A body turned about z: (p, 2) float array [mm], radius and z, anticlockwise."""
    cross = manifold3d.CrossSection([profile], manifold3d.FillRule.Positive)
    return cross.revolve(fineness.around(float(profile[:, 0].max())))


def lens(radius_mm: float, rim_mm: float, *, front_mm: float, back_mm: float, fineness: Fineness) -> list[Floats]:
    """Half the outline of a disc about z: a straight rim with domed faces.

    Parameters
    ----------
    radius_mm : of the disc
    rim_mm : height of the rim, about z = 0
    front_mm, back_mm : how far the faces rise over the rim in the middle, at +z and at -z; 0 for flat
    fineness : how closely the points follow

    Returns
    -------
    Two (k, 2) float arrays [mm], radius and z: the back from the axis to the rim, the front from the rim to the axis
    """
    not_negative(front_mm=front_mm, back_mm=back_mm)
    positive(rim_mm=rim_mm)
    if max(front_mm, back_mm) > radius_mm:
        raise ImpossibleShapeError(
            f"a face rises {max(front_mm, back_mm):g} mm",
            why=f"over a radius of {radius_mm:g} mm half a ball rises no more",
            try_this="give a flatter crown_mm or a larger diameter_mm",
        )
    half_rim = np.array((0, rim_mm / 2))
    front = _dome(radius_mm, front_mm, fineness=fineness) + half_rim
    back = _dome(radius_mm, back_mm, fineness=fineness)[::-1] * (1, -1) - half_rim
    return [back, front]


def _dome(radius_mm: float, rise_mm: float, *, fineness: Fineness) -> Floats:
    """From the rim at height 0 to the axis at `rise_mm`, along a sphere."""
    if rise_mm == 0:
        return np.array([(radius_mm, 0.0), (0.0, 0.0)])
    ball = (radius_mm**2 + rise_mm**2) / (2 * rise_mm)
    points = arc((0, rise_mm - ball), ball, (asin((ball - rise_mm) / ball), pi / 2), fineness=fineness)
    points[0], points[-1] = (radius_mm, 0), (0, rise_mm)
    return points


def facing(body: manifold3d.Manifold) -> manifold3d.Manifold:
    """A body turned about z, laid so that +z becomes the front, -y."""
    return body.rotate((90, 0, 0))


def meshed(body: manifold3d.Manifold) -> Mesh:
    """The mesh of a body as it is."""
    made = body.to_mesh64()
    return Mesh(np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts).astype(np.int64))


def finished(body: manifold3d.Manifold, *, fineness: Fineness) -> Mesh:
    """The mesh of bodies cut with each other: very short edges closed, edges over twice the longest halved until there are none.

    The engine's own division of edges is not used: in release 3.5.4 it crashes on turned bodies.
    """
    longest_mm = 2 * fineness.longest_mm
    return refined(meshed(body.simplify(SHORTEST_MM)), lambda start, end: np.linalg.norm(end - start, axis=1) > longest_mm)
