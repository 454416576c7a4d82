"""Rays against a mesh [mm]: the nearest triangle in a direction, its distance refined in double precision."""

from functools import cached_property
from typing import Final, Literal, Protocol

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.geometry.kernels.compiled import in_parts
from pourwell.geometry.mesh import Floats, Ints, Mesh

try:
    from embreex import mesh_construction, rtcore_scene
except ImportError:  # no wheel for this platform: the slower engine serves
    rtcore_scene = mesh_construction = None

EngineName = Literal["embree", "manifold"]

FLOAT32_STEP: Final = float(np.finfo(np.float32).eps)
"""Relative spacing of the numbers that the fast engine computes with."""

NUDGE_STEPS: Final = 16.0
"""How many such spacings a ray that leaves a face is lifted off it: past the rounding, far below any wall."""

RETRY_COUNT: Final = 3
"""A ray that still meets the face it leaves is lifted tenfold, this many times."""


CHUNK: Final = 16_384
"""Rays that a thread takes at a time, at most: between two lots a fault or an interrupt is noticed."""


class NoRaysError(ValueError):
    """Rays cannot be cast at a mesh on this machine."""

    def __init__(self, reason: str) -> None:
        super().__init__(
            f"Rays cannot be cast at this mesh: it is not a closed solid ({reason}), and the fast ray engine, which takes any "
            "mesh, has no build for this machine. Mend the mesh first."
        )


class Engine(Protocol):
    """What a ray engine does; coordinates are about the mesh's middle."""

    def nearest(self, origins: Floats, directions: Floats) -> tuple[Floats, Ints]:
        """Distance (inf where nothing) and face (-1) of the first hit of every ray."""
        ...


class _Embree:
    """The fast engine: single precision, about five million rays a second."""

    def __init__(self, points: Floats, faces: Ints) -> None:
        self._scene = rtcore_scene.EmbreeScene(robust=True)
        self._triangles = mesh_construction.TriangleMesh(self._scene, points.astype(np.float32), faces.astype(np.int32))

    def nearest(self, origins: Floats, directions: Floats) -> tuple[Floats, Ints]:
        distance, face = np.empty(len(origins)), np.empty(len(origins), dtype=np.int64)

        def some(part: slice) -> None:
            hits = self._scene.run(origins[part].astype(np.float32), directions[part].astype(np.float32), output=True)
            face[part] = hits["primID"]
            distance[part] = np.where(face[part] >= 0, hits["tfar"], np.inf)

        in_parts(some, len(origins), most=CHUNK)
        return distance, face


class _Manifold:
    """The slow engine where the fast one has no build: exact, one ray at a time, solids only."""

    def __init__(self, corners: Floats) -> None:
        points, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
        faces = index.reshape(-1, 3).astype(np.uint64)
        ids = np.arange(len(faces), dtype=np.uint64)
        self._solid = manifold3d.Manifold(manifold3d.Mesh64(points, faces, face_id=ids))
        if self._solid.status() != manifold3d.Error.NoError:
            raise NoRaysError(self._solid.status().name)
        self._ids = np.asarray(self._solid.to_mesh64().face_id, dtype=np.int64)
        self._reach_mm = 2 * float(np.abs(points).max(initial=0.0))

    def nearest(self, origins: Floats, directions: Floats) -> tuple[Floats, Ints]:
        distance = np.full(len(origins), np.inf)
        face = np.full(len(origins), -1, dtype=np.int64)
        reach = 2 * self._reach_mm + np.linalg.norm(origins, axis=1)
        ends = origins + directions * reach[:, None]
        for k, (origin, end) in enumerate(zip(origins.tolist(), ends.tolist(), strict=True)):
            hits = self._solid.ray_cast(tuple(origin), tuple(end))
            if hits:
                face[k] = self._ids[hits[0].face_id]
                distance[k] = np.linalg.norm(np.subtract(hits[0].position, origin))
        return distance, face


class Caster:
    """A mesh made ready for many rays.

    Parameters
    ----------
    mesh : triangles [mm]; need not be closed for the fast engine
    engine : "embree" or "manifold"; by default the first where it can be imported

    Raises
    ------
    NoRaysError where only the slow engine is at hand and the mesh is no closed solid.
    """

    def __init__(self, mesh: Mesh, *, engine: EngineName | None = None) -> None:
        self.mesh = mesh
        self.engine: EngineName = engine or ("embree" if rtcore_scene is not None else "manifold")
        low, high = mesh.bounds if len(mesh.faces) else (np.zeros(3), np.zeros(3))
        self._middle: Floats = (low + high) / 2
        self._extent_mm = float(np.linalg.norm(high - low))
        self._made: Engine | None = None if self.engine == "embree" else _Manifold(mesh.corners - self._middle)

    @property
    def _engine(self) -> Engine:
        """The fast one is made for the first ray: pictures of fine triangles cast none. Threads that meet here make it twice."""
        if self._made is None:
            self._made = _Embree(self.mesh.vertices - self._middle, self.mesh.faces)
        return self._made

    @cached_property
    def _anchor(self) -> Floats:
        """A corner of every triangle, about the middle, (m, 3) [mm]."""
        anchor: Floats = self.mesh.vertices[self.mesh.faces[:, 0]] - self._middle
        return anchor

    @cached_property
    def _normal(self) -> Floats:
        """The way out of every triangle, however small it is, (m, 3) [-]."""
        across = 2 * self.mesh.area_vectors
        normal: Floats = across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), np.finfo(float).tiny)
        return normal

    def first(
        self, origins: ArrayLike, directions: ArrayLike, *, leaving: NDArray[np.integer] | None = None
    ) -> tuple[Floats, Ints]:
        """The nearest triangle that every ray meets.

        Parameters
        ----------
        origins : (k, 3) or (3,) float array [mm]
        directions : (k, 3) or (3,) float array [-], of any length but zero; a single one serves all
        leaving : (k,) int array, the faces that the rays start on, or -1; such a face is never met by its own ray

        Returns
        -------
        distance_mm : (k,) float array [mm] from the origin, inf where nothing is met
        face : (k,) int array, -1 where nothing is met
        """
        towards = np.atleast_2d(np.asarray(directions, dtype=np.float64))
        start, heading = np.broadcast_arrays(
            np.atleast_2d(np.asarray(origins, dtype=np.float64)) - self._middle,
            towards / np.linalg.norm(towards, axis=1, keepdims=True),
        )
        if leaving is None:
            rough, face = self._engine.nearest(start, heading)
            return self._refined(start, heading, rough=rough, face=face), face
        return self._leave(start, heading, np.asarray(leaving, dtype=np.int64))

    def _leave(self, start: Floats, heading: Floats, leaving: Ints) -> tuple[Floats, Ints]:
        """First hits of rays that start on faces: lifted off along the face's normal, to the side that they go to."""
        normal = np.where(leaving[:, None] >= 0, self._normal[leaving], 0.0)
        side = np.sign(np.einsum("ij,ij->i", normal, heading))[:, None] * normal
        nudge_mm = NUDGE_STEPS * FLOAT32_STEP * self._extent_mm
        rough, face = self._engine.nearest(start + side * nudge_mm, heading)
        for _ in range(RETRY_COUNT):
            again = np.flatnonzero((face == leaving) & (face >= 0))
            if not len(again):
                break
            nudge_mm *= 10
            rough[again], face[again] = self._engine.nearest(start[again] + side[again] * nudge_mm, heading[again])
        stuck = (face == leaving) & (face >= 0)
        rough[stuck], face[stuck] = np.inf, -1
        return self._refined(start, heading, rough=rough, face=face), face

    def _refined(self, start: Floats, heading: Floats, *, rough: Floats, face: Ints) -> Floats:
        """Distance to the plane of the triangle found, in double precision; the engine's own where the ray grazes it."""
        distance = rough.copy()
        met = np.flatnonzero(face >= 0)
        normal = self._normal[face[met]]
        falling = np.einsum("ij,ij->i", normal, heading[met])
        height = np.einsum("ij,ij->i", normal, self._anchor[face[met]] - start[met])
        tilt = np.abs(falling)
        exact = height / np.where(tilt > FLOAT32_STEP, falling, 1.0)
        tolerance_mm = 10 * NUDGE_STEPS * FLOAT32_STEP * (self._extent_mm + np.abs(rough[met])) / np.maximum(tilt, FLOAT32_STEP)
        good = (tilt > FLOAT32_STEP) & (np.abs(exact - rough[met]) <= tolerance_mm)
        distance[met[good]] = np.maximum(exact[good], 0.0)
        return distance
