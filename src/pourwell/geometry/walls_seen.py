"""How thick a piece is under every pixel of a picture [mm]."""

from collections.abc import Callable
from math import pi, radians
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.picture import Picture, barycentric
from pourwell.geometry.rays import Caster
from pourwell.geometry.surface import Mask, Surface
from pourwell.geometry.thickness import CONE_COUNT, CONE_DEG, GRAZING

COARSER: Final = 2
"""Rays go inward from every second pixel of every second row."""

LARGE_MM2: Final = 0.1
"""On a larger triangle one value is too coarse for a picture: the wall is measured again under the pixel."""

LARGE_PX2: Final = 60.0
"""... and, where only the surface's own wall is shown, on one of so many pixels."""

UNDER_MM: Final = 0.5
"""How deep under the visible surface the walls beside it are sought: past the rounding of an edge."""

UNDER_SHARE: Final = 0.4
"""... but no deeper than this share of the wall there."""

COMPASS_COUNT: Final = 8
"""Directions along the surface in which they are sought."""

FACING: Final = 0.85
"""A wall beside is met square, within 32 degrees: a slanted way through a corner is no wall."""

WALL_SLACK: Final = 1.1
"""A place belongs to a wall if the wall's face is no farther than the wall is thick, along a ray between two directions."""

SPECK_MM: Final = 0.4
"""Thin places narrower than this between thicker ones are left out of the picture: the tips of edges and corners."""

THICK_STEP: Final = 3
"""Every third pixel that is thick enough is asked whether it carries a thin one."""


def walls_seen(picture: Picture, surface: Surface, wall_mm: ArrayLike, *, caster: Caster) -> Floats:
    """The least wall of the metal just under every pixel.

    The face looked at tells only how thick the piece is along its own normal: on the side of a band that is the band's
    width. So from a place a little under it rays go out along the surface, and the walls of the faces that they leave through
    count as well, if the place lies within them.

    Parameters
    ----------
    picture : of the surface's mesh
    surface : the mesh with its smooth joints
    wall_mm : (m,) float array [mm], wall thickness at every triangle
    caster : of the same mesh

    Returns
    -------
    (h, w) float array [mm], nan where nothing is hit
    """
    corners = surface.blended(wall_mm)
    own = picture.seen(corners)
    every = (slice(None, None, COARSER),) * 2
    looked = picture.hit[every]
    chosen = np.zeros(picture.shape, dtype=bool)
    chosen[every] = True
    face, places = picture.face[every][looked], picture.places[chosen[picture.hit]]
    under = _measured(surface, corners, face, places=places, weights=picture.weights[chosen[picture.hit]], caster=caster)
    beside = _least_beside(surface, corners, face, places=places, own=under, axes=picture.axes, caster=caster)
    coarse = np.full(looked.shape, np.inf)
    coarse[looked] = np.minimum(beside, np.where(surface.areas[face] > LARGE_MM2, under, np.inf))
    rows, columns = picture.shape
    grown = np.repeat(np.repeat(coarse, COARSER, axis=0), COARSER, axis=1)[:rows, :columns]
    large = np.zeros(picture.shape, dtype=bool)
    large[picture.hit] = surface.areas[picture.face[picture.hit]] > LARGE_MM2
    least = np.where(large & np.isfinite(grown), grown, np.minimum(own, grown))
    return _without_specks(np.where(picture.hit, least, np.nan), picture)


def walls_at(picture: Picture, surface: Surface, wall_mm: ArrayLike, *, caster: Caster) -> Floats:
    """The wall at every pixel, along the surface's own normal: blended from triangles, measured again on those that show as such.

    Parameters and result as for `walls_seen`.
    """

    def wall(places: Floats, face: Ints) -> Floats:
        return np.minimum(_by_rays(surface, face, places, caster=caster), float(surface.blended(wall_mm).max()))

    return values_at(picture, surface, wall_mm, measure=wall)


def values_at(picture: Picture, surface: Surface, values: ArrayLike, *, measure: Callable[[Floats, Ints], Floats]) -> Floats:
    """What is measured at every pixel: blended from triangles, measured again on those that show as such.

    Parameters
    ----------
    picture, surface : as for `walls_seen`
    values : (m,) float array, at every triangle
    measure : what is measured at places, (k, 3) [mm], of faces, (k,); nan where nothing is told

    Returns
    -------
    (h, w) float array
    """
    large_mm2 = min(LARGE_MM2, LARGE_PX2 * picture.mm_per_px**2)
    blended = picture.seen(surface.blended(values))
    large = np.zeros(picture.shape, dtype=bool)
    large[picture.hit] = surface.areas[picture.face[picture.hit]] > large_mm2
    looked = np.zeros(picture.shape, dtype=bool)
    every = (slice(None, None, COARSER),) * 2
    looked[every] = large[every]
    if not looked.any():
        return blended
    measured = np.full(picture.shape, np.nan)
    measured[looked] = measure(picture.places[looked[picture.hit]], picture.face[looked])
    rows, columns = picture.shape
    grown = np.repeat(np.repeat(measured[every], COARSER, axis=0), COARSER, axis=1)[:rows, :columns]
    return np.where(large & ~np.isnan(grown), grown, blended)


def edges_carried(picture: Picture, walls: Floats, *, limit_mm: float, reach_mm: float) -> Floats:
    """Walls seen in which a tip or edge that something thicker carries is shown at the limit, not under it.

    Parameters
    ----------
    picture : the look
    walls : (h, w) float array [mm], as `walls_seen` gives them
    limit_mm : the least castable wall
    reach_mm : how near what carries an edge must be

    Returns
    -------
    (h, w) float array [mm]
    """
    seen = walls[picture.hit]
    thin = np.flatnonzero(seen < limit_mm)
    thick = np.flatnonzero(seen >= limit_mm)[::THICK_STEP]
    if not len(thin) or not len(thick):
        return walls
    places = picture.places
    near = cKDTree(places[thick]).query(places[thin], distance_upper_bound=reach_mm)[0]
    seen[thin[np.isfinite(near)]] = limit_mm
    shown = walls.copy()
    shown[picture.hit] = seen
    return shown


def _measured(surface: Surface, corners: Floats, face: Ints, *, places: Floats, weights: Floats, caster: Caster) -> Floats:
    """(k,) float array [mm]: the wall at places on faces, from the corners' values or, on a large face, by rays from there.

    Nothing is thicker than the thickest triangle.
    """
    wall: Floats = np.einsum("ij,ij->i", weights, corners[face])
    large = np.flatnonzero(surface.areas[face] > LARGE_MM2)
    if len(large):
        found = _by_rays(surface, face[large], places[large], caster=caster)
        told = ~np.isnan(found)
        wall[large[told]] = np.minimum(found[told], corners.max())
    return wall


def _by_rays(surface: Surface, leaving: Ints, start: Floats, *, caster: Caster) -> Floats:
    """(k,) float array [mm]: the wall at places on faces by rays from there; nan where none tells.

    The rays are those that the walls of triangles are measured by: one along the normal and a narrow cone, dropped where they
    leave at a grazing angle.
    """
    inward = -surface.normals[leaving]
    least = np.full(len(start), np.inf)
    aside, beside = _along(inward, np.eye(3))
    angle = radians(CONE_DEG)
    for turn in (None, *(np.arange(CONE_COUNT) * (2 * pi / CONE_COUNT))):
        lean = 0.0 if turn is None else angle
        way = 0.0 if turn is None else np.cos(turn) * aside + np.sin(turn) * beside
        heading = np.cos(lean) * inward + np.sin(lean) * way
        length, met = caster.first(start, heading, leaving=leaving)
        leaves = np.einsum("ij,ij->i", surface.normals[met], heading)
        told = (met >= 0) & (leaves >= GRAZING)
        least = np.where(told, np.minimum(least, length / np.cos(lean)), least)
    return np.where(np.isfinite(least), least, np.nan)


def _along(normals: Floats, axes: Floats) -> tuple[Floats, Floats]:
    """Two directions along surfaces, (k, 3) each, upright to the normals and to each other; the first two axes lead."""
    one = np.cross(normals, axes[np.where(np.abs(normals @ axes[0]) < 0.7, 0, 1)])
    one /= np.linalg.norm(one, axis=1, keepdims=True)
    return one, np.cross(normals, one)


def _least_beside(
    surface: Surface, corners: Floats, face: Ints, *, places: Floats, own: Floats, axes: Floats, caster: Caster
) -> Floats:
    """(k,) float array [mm]: the least wall beside places on faces, inf where none is near."""
    outward = surface.normals[face]
    under = places - np.minimum(UNDER_MM, UNDER_SHARE * own)[:, None] * outward
    one, two = _along(outward, axes)
    least, by, at = np.full(len(face), np.inf), np.full(len(face), -1), under.copy()
    per_face = corners.mean(axis=1)
    for turn in np.arange(COMPASS_COUNT) * (2 * pi / COMPASS_COUNT):
        heading = np.cos(turn) * one + np.sin(turn) * two
        distance, met = caster.first(under, heading)
        facing = np.einsum("ij,ij->i", surface.normals[met], heading) > FACING
        less = np.flatnonzero((met >= 0) & facing & (distance <= WALL_SLACK * per_face[met]) & (per_face[met] < least))
        least[less], by[less] = per_face[met[less]], met[less]
        at[less] = under[less] + distance[less][:, None] * heading[less]
    found = np.flatnonzero(by >= 0)
    weights = barycentric(surface.mesh, by[found], at[found])
    least[found] = _measured(surface, corners, by[found], places=at[found], weights=weights, caster=caster)
    return least


def _without_specks(walls: Floats, picture: Picture) -> Floats:
    """Fill thin places narrower than SPECK_MM, then thick ones up to twice that, and soften what is left; nan stays nan.

    Single thick pixels go first, lest they join to a patch. Against the background a place counts double, since nothing bounds
    it there.
    """
    half = round(SPECK_MM / picture.mm_per_px / 2)
    hit: Mask = picture.hit
    nowhere, walls = ~hit, walls.copy()
    fill, carve = (maximum_filter, -np.inf), (minimum_filter, np.inf)
    for (filtered, nothing), reach in (
        *((step, max(COARSER, half // 2)) for step in (carve, fill)),
        *((step, half) for step in (fill, carve)),
        *((step, 2 * half) for step in (carve, fill)),
    ):
        walls[nowhere] = nothing
        walls = filtered(walls, 2 * reach + 1)
    width = SPECK_MM / 4 / picture.mm_per_px
    weight = gaussian_filter(hit.astype(np.float64), width)
    walls[nowhere], weight[nowhere] = 0.0, 1.0
    softened: Floats = gaussian_filter(walls, width) / weight
    softened[nowhere] = np.nan
    return softened
