"""Balls that touch a surface from inside or outside [mm]: how thick the metal is there, how wide the gap before it, without rays.

At a point of a face the largest ball that touches there and lies wholly on one side is the wall by its inside diameter, the gap by
its outside one. Between parallel faces that is their distance; in a ball, a rod or a tube the diameter, or the difference of the
radii; in a wedge the inscribed circle. Faces that look the same way as the one touched but for 50 degrees round it off and do not
stop a ball: an edge so blunt is no wall, and a facet of a round surface is not the end of it. Near a sharper edge the ball is as
small as the edge makes it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from pourwell.geometry.kernels.compiled import in_parts
from pourwell.geometry.kernels.leaves import leaf_frames, longest_first
from pourwell.geometry.kernels.touch import away_all, room, smooth_normals, touch_all
from pourwell.geometry.kernels.tree import Trees, tree_order
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.picture import barycentric
from pourwell.geometry.planting import levels

CHUNK: Final = 32_768
"""Points that a thread takes at a time, at most."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """Balls that touch at some points.

    Attributes
    ----------
    diameter_mm : (k,) float array [mm], infinite where no ball of the size looked for is stopped
    stop : (k,) int array, the face that stops the ball, -1 where there is none
    way : (k, 3) float array [-], unit vectors to the balls' middles
    """

    diameter_mm: Floats
    stop: Ints
    way: Floats


class Touching:
    """A mesh made ready for many balls; it need not be closed, but wound outward.

    Parameters
    ----------
    mesh : triangles [mm]
    """

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh
        low, high = mesh.bounds
        self._middle: Floats = (low + high) / 2
        self._extent_mm = float(np.linalg.norm(high - low))
        points = Mesh(mesh.vertices - self._middle, mesh.faces).vertices  # read-only as in `planted`: one machine code for both
        faces, _ = longest_first(points, mesh.faces, np.arange(3 * len(mesh.faces)))
        self._order: Ints = tree_order(mesh.centres)
        frames, boxes, sums, _ = leaf_frames(points, faces, self._order)
        node_boxes, dipoles, first = levels(boxes, sums)
        nothing = np.empty((0, 3), dtype=np.int64)
        self._trees = Trees(
            boxes=node_boxes,
            dipoles=dipoles,
            first=first,
            frames=frames,
            corners=nothing,
            beside=nothing,
            normals=np.empty((0, 3)),
            roots=np.array([len(first) - 1]),
            bounds=np.concatenate((boxes[:, :3].min(axis=0), boxes[:, 3:].max(axis=0)))[None],
        )
        self._slot: Ints = np.empty(len(faces), dtype=np.int64)
        self._slot[self._order] = np.arange(len(faces))
        self._around: tuple[Ints, Ints] | None = None

    def balls(
        self, points: ArrayLike, face: Ints, *, outside: bool = False, most_mm: float = np.inf, way: Floats | None = None
    ) -> Touch:
        """The largest balls that touch at points of faces.

        Parameters
        ----------
        points : (k, 3) float array [mm], each on its face
        face : (k,) int array
        outside : on the air's side instead of the metal's
        most_mm : diameter beyond which none is looked for [mm]; by default, twice the piece's diagonal
        way : (k, 3) float array [-], the way out at the points as `ways` gives it, if sought already
        """
        asked = np.ascontiguousarray(points, dtype=np.float64)
        way = self.ways(asked, face) if way is None else way
        if not outside:
            way = -way
        most = min(most_mm, 2 * self._extent_mm) / 2
        order = np.argsort(self._slot[face], kind="stable")
        radius, slot = self._in_parts(asked[order] - self._middle, (way[order], 1.0 if outside else -1.0, most))
        diameter, stop = np.empty(len(asked)), np.empty(len(asked), dtype=np.int64)
        diameter[order] = np.where(slot >= 0, 2 * radius, np.inf)
        stop[order] = self._face_of(slot)
        return Touch(diameter_mm=diameter, stop=stop, way=way)

    def feet(self, points: ArrayLike) -> tuple[Floats, Floats]:
        """Distance from points to the surface, and its place that is nearest.

        Parameters
        ----------
        points : (k, 3) float array [mm]

        Returns
        -------
        distance_mm : (k,) float array [mm], never negative
        foot : (k, 3) float array [mm]
        """
        feet = np.ascontiguousarray(points, dtype=np.float64) - self._middle
        distance, _ = self._in_parts(feet.copy(), feet)
        return distance, feet + self._middle

    def ways(self, points: Floats, face: Ints) -> Floats:
        """The way out of the surface at points of faces, rounded over edges that are no crease, (k, 3) float array [-]."""
        mesh = self.mesh
        if self._around is None:
            halves = np.argsort(mesh.faces.reshape(-1), kind="stable")
            start = np.concatenate(([0], np.cumsum(np.bincount(mesh.faces.reshape(-1), minlength=len(mesh.vertices)))))
            self._around = start, halves
        weights = barycentric(mesh, face, points)
        return smooth_normals((mesh.vertices, mesh.faces, mesh.normals), self._around, (face, weights))

    def _face_of(self, slot: Ints) -> Ints:
        """The faces of slots; -1 for none."""
        return np.where(slot >= 0, self._order[np.clip(slot, 0, len(self._order) - 1)], -1)

    def _in_parts(self, points: Floats, what: tuple[Floats, float, float] | Floats) -> tuple[Floats, Ints]:
        """Balls about the ways given, or distances with the feet to be filled, in as many threads as the caller has granted."""
        first, second = np.empty(len(points)), np.empty(len(points), dtype=np.int64)

        def some(part: slice) -> None:
            out = room(part.stop - part.start)
            if isinstance(what, tuple):
                way, side, most = what
                touch_all(self._trees, (points[part], way[part], side, most), out)
            else:
                away_all(self._trees, (points[part], what[part]), out)
            first[part], second[part] = out[0], out[1]

        in_parts(some, len(points), most=CHUNK)
        return first, second
