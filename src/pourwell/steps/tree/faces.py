"""Which way a piece shows itself, and the place of a point on it in a jeweller's words."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.steps.pattern.model import Bore

FLAT_SHARE: Final = 0.5
"""A piece is flat if its least size is at most half of the middle one. Own definition."""

FLAT_BACK_COS: Final = 0.995
"""A face counts as part of a flat back if it leans less than 6 degrees. Own definition."""

FLAT_BACK_SHARE: Final = 0.25
"""The flatter side is the back if it has so much more of the outline flat than the other. Own definition."""

HEAVY_END_SHARE: Final = 0.1
"""A long piece shows its heavy end (a stud, a pin) if its middle lies so far from its box's, of its length. Own definition."""

HEAD_SHARE: Final = 0.02
"""A ring has a head if its middle lies so far off the bore's axis, of the bore's radius. Own definition."""

FACING: Final = 0.6
"""Cosine above which a face looks in a direction, for the words. Own definition."""

MID_MM: Final = 0.25
"""What the eye takes for mid width. Own definition."""

HEAD_DEG: Final = 35.0
SHOULDER_DEG: Final = 75.0
BACK_DEG: Final = 150.0
"""Where round a ring, from its head, head, shoulder and shank end. Own definition."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Faces:
    """How a piece is looked at.

    Attributes
    ----------
    show, up : (3,) float arrays [-], the way its front looks, and up on it
    flat : is it a flat piece, whose edge is a rim
    low, high : (3,) float arrays [mm], its box
    bore : its finger bore, or None
    head : (3,) float array [-], from the bore's axis to the head of a ring; None for a band, and for what is no ring
    """

    show: Floats
    up: Floats
    flat: bool
    low: Floats
    high: Floats
    bore: Bore | None
    head: Floats | None


def centroid(mesh: Mesh) -> Floats:
    """Middle of a solid's volume, (3,) [mm]."""
    first = mesh.vertices[mesh.faces[0, 0]]
    a, b, c = np.moveaxis(mesh.corners - first, 1, 0)
    volumes = np.einsum("ij,ij->i", a, np.cross(b, c))
    middle: Floats = first + ((a + b + c) * volumes[:, None]).sum(axis=0) / (4 * volumes.sum())
    return middle


def look_at(mesh: Mesh, bore: Bore | None) -> Faces:
    """Find the front of a piece: of a ring its head; else of a flat one the large face, of a long one the heavy end, else +z."""
    low, high = mesh.bounds
    if bore is not None:
        head = _head(mesh, bore)
        axis = np.asarray(bore.axis)
        show = _fixed(axis) if head is None else head
        return Faces(show=show, up=axis, flat=False, low=low, high=high, bore=bore, head=head)
    show, flat = _front(mesh, low, high)
    up = np.array([0.0, 1.0, 0.0]) if abs(show[2]) > FACING else np.array([0.0, 0.0, 1.0])
    return Faces(show=show, up=up, flat=flat, low=low, high=high, bore=None, head=None)


def _head(mesh: Mesh, bore: Bore) -> Floats | None:
    """From the bore's axis to the middle of the material, if it lies off the axis."""
    axis = np.asarray(bore.axis)
    away = centroid(mesh) - np.asarray(bore.centre_mm)
    away -= axis * (away @ axis)
    size = float(np.linalg.norm(away))
    return away / size if size > HEAD_SHARE * bore.diameter_mm / 2 else None


def _fixed(axis: Floats) -> Floats:
    """Across an axis, the fixed way that stands for the head of a band: up, or along y where the axis stands up."""
    up = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < FACING else np.array([0.0, 1.0, 0.0])
    up = up - axis * (up @ axis)
    fixed: Floats = up / np.linalg.norm(up)
    return fixed


def _front(mesh: Mesh, low: Floats, high: Floats) -> tuple[Floats, bool]:
    """The way the front looks, and whether the piece is flat."""
    size = high - low
    order = np.argsort(size, kind="stable")
    thin, long = int(order[0]), int(order[2])
    ways = np.eye(3)
    if size[thin] <= FLAT_SHARE * size[order[1]]:
        usual = -ways[1] if thin == 1 else ways[thin]
        flatness = [float(_flat_mm2(mesh, way)) for way in (usual, -usual)]
        outline = size[order[1]] * size[long]
        return (-usual if flatness[0] - flatness[1] > FLAT_BACK_SHARE * outline else usual), True
    off = centroid(mesh) - (low + high) / 2
    if abs(off[long]) > HEAVY_END_SHARE * size[long] and size[long] > size[order[1]]:
        return ways[long] * np.sign(off[long]), False
    return ways[2], False


def _flat_mm2(mesh: Mesh, way: Floats) -> float:
    """Surface that looks straight in a direction."""
    return float(mesh.areas[mesh.normals @ way > FLAT_BACK_COS].sum())


def spread_of(faces: Faces, at: Floats) -> tuple[Floats, Floats]:
    """Where points lie on a piece as it is looked at: from left -1 to right 1, from bottom -1 to top 1; (..., 3) to (...)."""
    right = np.cross(faces.up, faces.show)
    middle, half = (faces.low + faces.high) / 2, (faces.high - faces.low) / 2
    aside: Floats = (at - middle) @ right / max(float(half @ np.abs(right)), np.finfo(float).tiny)
    high: Floats = (at - middle) @ faces.up / max(float(half @ np.abs(faces.up)), np.finfo(float).tiny)
    return aside, high


def words(faces: Faces, at: Floats, normal: Floats) -> str:
    """The place of a point of the surface, as "back of the shank, opposite the head".

    Parameters
    ----------
    at, normal : (3,) float arrays [mm], [-]
    """
    return _on_ring(faces, faces.bore, at=at, normal=normal) if faces.bore else _on_piece(faces, at, normal)


def _on_ring(faces: Faces, bore: Bore, *, at: Floats, normal: Floats) -> str:
    axis = np.asarray(bore.axis)
    away = at - np.asarray(bore.centre_mm)
    level = abs(float(away @ axis))
    away = away - axis * (away @ axis)
    outward = away / max(float(np.linalg.norm(away)), np.finfo(float).tiny)
    looks = float(normal @ outward)
    aside = abs(float(normal @ axis)) > FACING
    if looks < -FACING:
        return "inside of the bore"
    if faces.head is None:
        return "side of the band" if aside else f"outside of the band{', at mid width' if level < MID_MM else ''}"
    turn = float(np.degrees(np.arccos(np.clip(outward @ faces.head, -1, 1))))
    if turn < HEAD_DEG:
        return "side of the head" if aside or abs(float(normal @ faces.head)) < FACING else "top of the head"
    if turn < SHOULDER_DEG:
        return "side of the shoulder, beside the head" if aside else "shoulder, beside the head"
    if turn < BACK_DEG:
        return f"{'side' if aside else 'outside'} of the shank, {turn:.0f}° round from the head"
    return "side of the shank, opposite the head" if aside else "back of the shank, opposite the head"


def _on_piece(faces: Faces, at: Floats, normal: Floats) -> str:
    toward = float(normal @ faces.show)
    face = "front" if toward > FACING else "back" if toward < -FACING else "rim" if faces.flat else "side"
    aside, high = (float(share) for share in spread_of(faces, at))
    if max(abs(high), abs(aside)) < 0.5:
        return f"{face}, in the middle"
    if abs(high) >= abs(aside):
        return f"{face}, at the {'top' if high > 0 else 'bottom'}"
    return f"{face}, on the {'right' if aside > 0 else 'left'}"
