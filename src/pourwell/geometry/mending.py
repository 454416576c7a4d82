"""An unsound surface made a solid: seams sewn, triangles turned, holes covered, crossings united, at worst all made anew [mm].

Each step does only what is needed, and says how much that was. A mended surface never replaces the file that it came from.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from pourwell.geometry.crossing import crossings
from pourwell.geometry.heap import heap_of
from pourwell.geometry.holes import filled
from pourwell.geometry.mesh import Mesh, joined
from pourwell.geometry.places import flakes
from pourwell.geometry.remeshing import cell_for, remeshed
from pourwell.geometry.sheets import without_inner_walls
from pourwell.geometry.solidity import (
    NotSolidError,
    bodies,
    edges_of,
    from_manifold,
    repeats,
    to_manifold,
    turned_out,
    unite,
    weld,
)
from pourwell.geometry.turning import agreeing, sewn, without_repeats
from pourwell.geometry.uncrossing import uncrossed


class Step(StrEnum):
    """What can be done to a surface, in this order."""

    WELD = "weld"
    WINDING = "winding"
    HOLES = "holes"
    UNION = "union"
    REMESH = "remesh"


STRAY_SHARE: Final = 0.01
"""A patch that cannot be closed and has less than this share of the surface is left away."""

SAME_SHARE: Final = 1e-6
"""Bodies that have less than this share of their volume in common only touch."""

SHRED_SHARE: Final = 0.25
"""A surface with more open edges than this share of all is in shreds: a loose triangle has nothing else."""

ALL_STEPS: Final = frozenset(Step)
NO_NEW_SURFACE: Final = ALL_STEPS - {Step.REMESH}


class Deed(StrEnum):
    """What was done."""

    SEAM = "open edges sewn"
    REPEAT = "repeated triangles dropped"
    WALL = "triangles of inner walls dropped"
    TURNED = "triangles turned"
    BODY_TURNED = "bodies turned"
    FILLED = "holes covered"
    FLAKE = "flakes dropped"
    COPY = "copies dropped"
    UNITED = "bodies united"
    UNCROSSED = "bodies united with themselves"
    REMESHED = "bodies made anew"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that was done, and how often."""

    deed: Deed
    count: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mended:
    """What came of mending."""

    mesh: Mesh | None
    """A solid, or several side by side where they were not to be united; None where there is no sound one to be had."""
    changes: tuple[Change, ...]
    kept: Mesh
    """The triangles of the original that the solid goes back to: without flakes, copies and repeats."""


def mended(mesh: Mesh) -> Mesh | None:
    """A best guess at the solid that an unsound mesh was meant to be, or None where there is none; nothing is made anew.

    A guess never replaces a sound file: its figures are only a stand-in.
    """
    return mend([mesh], NO_NEW_SURFACE).mesh


def mend(meshes: Sequence[Mesh], steps: Iterable[Step] = ALL_STEPS) -> Mended:
    """Make one sound solid of some surfaces.

    Parameters
    ----------
    meshes : bodies of a file [mm]
    steps : what may be done; each is done only where it is needed
    """
    allowed, log = frozenset(steps), Counter[Deed]()
    whole = weld(joined(meshes))
    if Step.WELD in allowed:
        whole, log[Deed.SEAM] = sewn(whole)
        whole, log[Deed.REPEAT] = without_repeats(whole)
    parts = list(bodies(whole))
    if Step.UNION in allowed:
        for gone in reversed(flakes(parts)):
            del parts[gone]
            log[Deed.FLAKE] += 1
    kept = parts
    heap = frozenset(heap_of(parts))
    solids: list[Mesh] = []
    bad = [joined([parts[k] for k in sorted(heap)])] if heap else []
    for number, part in enumerate(parts):
        if number in heap:
            continue
        solid = _closed(part, allowed, log)
        (bad if solid is None else solids).append(part if solid is None else solid)
    if bad and Step.REMESH in allowed:
        solids += _anew(bad, log)
        bad = []
    if Step.UNION in allowed:
        least = STRAY_SHARE * sum(part.area_mm2 for part in parts)
        bad = [part for part in bad if part.area_mm2 >= least]  # flat or a shred, far less surface than the rest: beside the point
    mesh = None if bad or not solids else _whole(solids, allowed, log)
    return Mended(mesh=mesh, changes=_told(log), kept=joined(kept))


def _told(log: Counter[Deed]) -> tuple[Change, ...]:
    return tuple(Change(deed=deed, count=log[deed]) for deed in Deed if log[deed])


def _closed(part: Mesh, allowed: frozenset[Step], log: Counter[Deed]) -> Mesh | None:
    """One body closed and wound one way, or None."""
    done = Counter[Deed]()
    if not edges_of(part).regular.all():
        if Step.UNION in allowed and (edges_of(part).count > 2).any():
            part, done[Deed.WALL] = without_inner_walls(part)
        if Step.WINDING in allowed:
            part, done[Deed.TURNED] = agreeing(part)
        if Step.HOLES in allowed and (edges_of(part).count == 1).any():
            part, done[Deed.FILLED] = filled(part)
    try:
        solid = to_manifold(part)
    except NotSolidError:
        return None
    if not edges_of(part).regular.all():
        part = from_manifold(solid)
    if not part.volume_mm3:
        return None
    log.update(done)
    return part


def _whole(solids: Sequence[Mesh], allowed: frozenset[Step], log: Counter[Deed]) -> Mesh | None:
    """One mesh of closed bodies: turned outward, copies dropped, each freed of crossings, all united; None where that fails."""
    if Step.WINDING in allowed:
        solids, turned = turned_out(solids)
        log[Deed.BODY_TURNED] += len(turned)
    if Step.UNION not in allowed:
        whole = joined(solids)
        return whole if not len(crossings(whole)) else None
    copies = repeats(solids)
    log[Deed.COPY] += len(copies)
    free: list[Mesh] = []
    for number, solid in enumerate(solids):
        if number in copies:
            continue
        if not len(crossings(solid)):
            free.append(solid)
            continue
        united = uncrossed(solid)
        if united is not None:
            log[Deed.UNCROSSED] += 1
            free.append(united)
        elif Step.REMESH in allowed:
            free += _anew([solid], log)
        else:
            free.append(solid)
    if len(free) < 2:
        return free[0] if free else None
    try:
        whole, overlap = unite(free)
    except NotSolidError:
        return None
    if overlap > SAME_SHARE * whole.volume_mm3:
        log[Deed.UNITED] += len(free)
    return whole


def _anew(parts: Sequence[Mesh], log: Counter[Deed]) -> list[Mesh]:
    """Bodies made anew as one surface; none where they wind round nothing."""
    sheets = [part for part in parts if not _shredded(part)]
    whole = joined(sheets)
    if not len(whole.faces):
        return []
    try:
        new = remeshed(whole, cell_mm=cell_for(whole))
    except NotSolidError:
        return []
    log[Deed.REMESHED] += len(sheets)
    return [new]


def _shredded(part: Mesh) -> bool:
    """Is a surface more rims than sheet, so that nothing can be said about what it was to enclose."""
    return float((edges_of(part).count == 1).mean()) > SHRED_SHARE


def hull(mesh: Mesh) -> Mesh | None:
    """The convex hull, wound outward; None if all corners lie in a plane."""
    points = mesh.vertices[np.unique(mesh.faces)]
    try:
        found = ConvexHull(points)
    except (QhullError, ValueError):
        return None
    corners = points[found.simplices]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = np.einsum("ij,ij->i", normals, found.equations[:, :3]) < 0
    return weld(Mesh(points, np.where(inward[:, None], found.simplices[:, ::-1], found.simplices)))
