"""Parametric pieces: closed solids in millimetres, useful in themselves and as samples.

Rings: the bore runs along y, its middle is the origin, the head stands towards +z. Others: the front looks towards -y, up is +z.
"""

from pourwell.geometry.shapes.bands import plain_band
from pourwell.geometry.shapes.build import FINE, Fineness, ImpossibleShapeError, about

__all__ = ["FINE", "Fineness", "ImpossibleShapeError", "about", "plain_band"]
