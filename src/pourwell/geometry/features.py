"""What a caster looks for on a piece, at places spread over it: walls and gaps two ways each, wires, recesses, ridges [mm]."""

from dataclasses import dataclass, replace

import numpy as np

from pourwell.geometry.corners import Corners, sharp_corners
from pourwell.geometry.gaps_outside import Gaps, gaps_outside
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.recesses import Recesses, recesses
from pourwell.geometry.rolling import Places
from pourwell.geometry.thickness import Samples
from pourwell.geometry.touching import Touch, Touching
from pourwell.geometry.wires import Wires, wires


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What is looked for.

    Attributes
    ----------
    gap_mm : a gap wider than this is open [mm]; no recess is wider
    gap_least_mm : a gap that is wide enough [mm]
    ridge_mm : nothing wider than this stands up as a line [mm]
    least_mm : depth or height under which nothing counts [mm]
    wire_mm : gauge of a wire that is thick enough [mm]
    corner_deg : a corner less acute than this is none [degrees]
    corner_mm : a corner rounded by more than this is not sharp [mm]
    """

    gap_mm: float
    gap_least_mm: float
    ridge_mm: float
    least_mm: float
    wire_mm: float
    corner_deg: float
    corner_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Features:
    """What was found.

    Attributes
    ----------
    ball_mm : (m,) float array [mm], at every triangle the largest ball that touches it from inside
    gap_mm : (m,) float array [mm], the largest that touches it from outside, infinite where the gap is open
    gaps : at the places where they matter, by rays and by balls
    wires : thinner than was asked for
    sunk : recesses
    raised : ridges, as recesses of the air
    corners : sharp inner ones
    """

    ball_mm: Floats
    gap_mm: Floats
    gaps: Gaps
    wires: Wires
    sunk: Recesses
    raised: Recesses
    corners: Corners


def features(
    mesh: Mesh,
    samples: Samples,
    caster: Caster,
    *,
    looked: Looked,
    touching: Touching | None = None,
    inner: Touch | None = None,
) -> Features:
    """Measure a piece at the places where its walls were measured.

    Parameters
    ----------
    mesh : a closed solid, wound outward
    samples : its walls
    caster : its rays
    looked : what is looked for
    touching : its balls, if made already
    inner : those that touch from inside at the samples, if sought already
    """
    touching = touching or Touching(mesh)
    points, face, area = samples.points, samples.face, samples.area_mm2
    inner = inner or touching.balls(points, face)
    outer = touching.balls(points, face, outside=True, most_mm=looked.gap_mm, way=-inner.way)
    gaps, rays = gaps_outside(samples, outer, caster, least_mm=looked.gap_least_mm)
    air = Places(points=points, face=face, area_mm2=area, touch=outer, ball_mm=looked.gap_mm, owner=samples.owner, rays_mm=rays)
    metal = replace(air, touch=inner, ball_mm=looked.ridge_mm, outside=False, rays_mm=None)
    return Features(
        ball_mm=samples.spread_out(np.minimum(inner.diameter_mm, samples.wall_mm.max(initial=0.0))),
        gap_mm=samples.spread_open(outer.diameter_mm),
        gaps=gaps,
        wires=wires(points, area, balls=inner, caster=caster, limit_mm=looked.wire_mm),
        sunk=recesses(air, touching, caster=caster, least_mm=looked.least_mm),
        raised=recesses(metal, touching, caster=caster, least_mm=looked.least_mm),
        corners=sharp_corners(air, touching, sharp_deg=looked.corner_deg, radius_mm=looked.corner_mm),
    )
