"""Rings and small parts as they are drawn for casting, of known sizes, that the tests of features share; all in millimetres."""

import manifold3d
import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold
from tests.unit.geometry.feature_pieces import Solid

BORE = 8.6
"""Radius inside."""
ROUND = 128
STROKE = 3.0
"""Length of the engraved and raised strokes, along the band's width."""


def rod(length, radius, count=64):
    """A cylinder about its own middle, along z."""
    return Solid.cylinder(length, radius, radius, count, True)


def band(thickness, width, count=ROUND):
    """A flat band about the y axis."""
    return (rod(width, BORE + thickness, count) - rod(width + 1, BORE, count)).rotate((90, 0, 0))


def strokes(width, depth, *, radius, count):
    """Bars across a band, half of them within a radius."""
    bar = Solid.cube((width, STROKE, 2 * depth), True).translate((0, 0, radius))
    return [bar.rotate((0, k * 360 / count, 0)) for k in range(count)]


def engraved(width, depth, *, count=12, edge=None):
    """A band 1.8 thick and 6 wide with strokes cut into its outside; triangles no longer than an edge, if one is given."""
    body = band(1.8, 6, 256)
    for bar in strokes(width, depth, radius=BORE + 1.8, count=count):
        body -= bar
    return from_manifold(body if edge is None else body.refine_to_length(edge))


def raised(width, height, *, count=8):
    """A band 1.4 thick with strokes standing on its outside."""
    body = band(1.4, 6)
    for bar in strokes(width, height, radius=BORE + 1.4, count=count):
        body += bar
    return from_manifold(body)


def marked(width, depth, *, pitch=0.9):
    """A band with three strokes sunk into the bore, side by side."""
    body = band(1.8, 6)
    for k in (-1, 0, 1):
        body -= Solid.cube((width, 2, 2 * depth), True).translate((k * pitch, 0, BORE))
    return from_manifold(body)


def solitaire(prong, height=3.0):
    """A shank with a tube of 1.8 inside radius and four prongs of a radius round it; all sides between the prongs are open."""
    foot = BORE + 1.5 + 0.7
    head = rod(2, 2.6).translate((0, 0, foot)) - rod(3, 1.8).translate((0, 0, foot))
    for turn in np.pi / 4 + np.arange(4) * np.pi / 2:
        tip = Solid.sphere(prong, 32).translate((0, 0, (height + 2) / 2))
        head += (rod(height + 2, prong, 32) + tip).translate((2.5 * np.cos(turn), 2.5 * np.sin(turn), foot + height / 2))
    return from_manifold(band(1.5, 2.2) + (head - rod(30, BORE, ROUND).rotate((90, 0, 0))))


def two_finger(gap):
    """Two shanks 20.8 across, so far apart at their nearest, joined by a bar below: between them a wedge that is open above."""
    middle = 20.8 + gap
    body = rod(4, 10.4, ROUND) + rod(4, 10.4, ROUND).translate((middle, 0, 0))
    body += Solid.cube((middle, 3, 4), True).translate((middle / 2, 9, 0))
    body = body - rod(9, BORE, ROUND) - rod(9, BORE, ROUND).translate((middle, 0, 0))
    return from_manifold(body.rotate((90, 0, 0)))


def floating_head(gap):
    """A band and a ball of radius 2 that hangs over it by a gap: two solids, in one mesh."""
    one, other = (from_manifold(m) for m in (band(1.8, 4), Solid.sphere(2, 48).translate((0, 0, BORE + 1.8 + 2 + gap))))
    return Mesh(np.vstack((one.vertices, other.vertices)), np.vstack((one.faces, other.faces + len(one.vertices))))


def t_slot(mouth=1.0):
    """A block 4 high with a slot 3 wide and 2 high all through it, under a mouth that is 1 high."""
    slot = Solid.cube((3, 12, 2), True) + Solid.cube((mouth, 12, 4), True).translate((0, 0, 1.5))
    return from_manifold(Solid.cube((10, 10, 4), True) - slot)


def bulb():
    """A hollow of radius 2 in a block, with a neck 1 across and 1 long."""
    return from_manifold(Solid.cube((10, 10, 6), True) - (Solid.sphere(2, 48) + rod(6, 0.5, 32).translate((0, 0, 3))))


def peg_hole(diameter=0.9):
    """A ball of radius 4 with a hole 3.5 deep."""
    return from_manifold(Solid.sphere(4, 64) - rod(4, diameter / 2, 32).translate((0, 0, 2.5)))


def hoop(wire, *, radius=6.0):
    """A round wire bent to a ring."""
    return from_manifold(manifold3d.Manifold.revolve(manifold3d.CrossSection.circle(wire / 2, 24).translate((radius, 0)), 96))


def countersunk(diameter, mouth, *, plate=2.0):
    """A plate with a round hole through it, widened at 90 degrees to a mouth above."""
    sink = (mouth - diameter) / 2
    cone = Solid.cylinder(sink + 0.5, diameter / 2, diameter / 2 + sink + 0.5, 48).translate((0, 0, plate / 2 - sink))
    return from_manifold(Solid.cube((10, 10, plate), True) - rod(9, diameter / 2, 48) - cone)
