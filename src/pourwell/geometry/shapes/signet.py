"""A signet ring: a flat table over a shank that tapers to the back."""

from dataclasses import dataclass
from math import atan, hypot, pi

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.shapes.bands import band_section
from pourwell.geometry.shapes.build import FINE, Fineness, ImpossibleShapeError, loft, positive


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """Where the table ends and how the shank leaves it."""

    height_mm: float
    half_angle: float

    def outer_mm(self, angles: Floats, back_mm: float) -> Floats:
        """Outside radius: flat over the table, then falling to the back with the square of what is left of the way."""
        away = np.abs(angles)
        flat = self.height_mm / np.cos(np.minimum(away, self.half_angle))
        return np.where(away <= self.half_angle, flat, self.tapered(angles, float(flat.max()), back_mm))

    def tapered(self, angles: Floats, at_table_mm: float, back_mm: float) -> Floats:
        """From one measure at the table's end to another at the back."""
        way = np.clip((np.abs(angles) - self.half_angle) / (pi - self.half_angle), 0, 1)
        return back_mm + (at_table_mm - back_mm) * (1 - way) ** 2


def signet(
    *,
    bore_mm: float = 18.8,
    table_length_mm: float = 12.0,
    table_width_mm: float = 10.0,
    head_mm: float = 2.4,
    shank_width_mm: float = 3.4,
    shank_thickness_mm: float = 1.7,
    edge_mm: float = 0.25,
    fineness: Fineness = FINE,
) -> Mesh:
    """A signet ring.

    From the table's ends (angle a from the head) to the back (pi), width and outside radius follow
    back + (at the table - back) (1 - u)^2 with u = (|angle| - a) / (pi - a).

    Parameters
    ----------
    bore_mm : inside diameter
    table_length_mm : of the flat table, round the finger
    table_width_mm : of the flat table, along the finger
    head_mm : from the bore to the table, in its middle
    shank_width_mm : at the back, along the finger
    shank_thickness_mm : at the back
    edge_mm : radius of the long edges, 0 for sharp ones
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no ring.

    Source: own design; the defaults are common practice, no source.
    """
    positive(bore_mm=bore_mm, table_length_mm=table_length_mm, table_width_mm=table_width_mm, head_mm=head_mm)
    positive(shank_width_mm=shank_width_mm, shank_thickness_mm=shank_thickness_mm)
    inner = bore_mm / 2
    if table_length_mm > bore_mm + 2 * head_mm:
        raise ImpossibleShapeError(
            f"the table is {table_length_mm:g} mm long",
            why=f"a bore of {bore_mm:g} mm with a head of {head_mm:g} mm carries {bore_mm + 2 * head_mm:g}",
            try_this="shorten the table or raise the head",
        )
    table = _Table(height_mm=inner + head_mm, half_angle=atan(table_length_mm / 2 / (inner + head_mm)))
    end_mm = hypot(table.height_mm, table_length_mm / 2)
    angles = _angles(table.half_angle, end_mm, fineness=fineness)
    signed = np.where(angles > pi, angles - 2 * pi, angles)
    width = table.tapered(signed, table_width_mm, shank_width_mm)
    height = table.outer_mm(signed, inner + shank_thickness_mm) - inner
    for narrow_mm, deep_mm in zip(width.tolist(), height.tolist(), strict=True):
        if 2 * edge_mm > min(narrow_mm, deep_mm):
            band_section(narrow_mm, deep_mm, edge_mm=edge_mm)  # refuses, saying why
    template = band_section(float(width.max()), float(height.max()), edge_mm=edge_mm, fineness=fineness)
    y = _stretched(template[:, 0], width, edge_mm=edge_mm)
    over = _stretched(template[:, 1] - height.max() / 2, height, edge_mm=edge_mm) + height[:, None] / 2
    return loft(np.stack([y, inner + over], axis=-1), angles)


def _angles(half: float, end_mm: float, *, fineness: Fineness) -> Floats:
    """Angles of the sections [rad], from one end of the table once round; the table's ends and the back are among them."""
    on_table = fineness.segments(end_mm, 2 * half)
    beyond = 2 * ((fineness.segments(end_mm, 2 * (pi - half)) + 1) // 2)
    table = np.linspace(-half, half, on_table, endpoint=False)
    return np.concatenate([table, np.linspace(half, 2 * pi - half, beyond, endpoint=False)])


def _stretched(template: Floats, spans_mm: Floats, *, edge_mm: float) -> Floats:
    """(n, p) float array [mm]: the template's coordinates for other spans; rounded edges move, what lies between stretches."""
    half = float(np.abs(template).max()) - edge_mm
    inside = np.clip(template, -half, half)
    return inside / half * (spans_mm[:, None] / 2 - edge_mm) + (template - inside)
