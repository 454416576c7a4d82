"""Parametric pieces: closed solids in millimetres, useful in themselves and as samples.

Rings: the bore runs along y, its middle is the origin, the head stands towards +z. Others: the front looks towards -y, up is +z.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from inspect import signature
from types import MappingProxyType
from typing import Final

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes.bands import comfort_band, half_round_band, plain_band
from pourwell.geometry.shapes.bezel import bezel_ring
from pourwell.geometry.shapes.build import FINE, Fineness, ImpossibleShapeError, about
from pourwell.geometry.shapes.pendant import pendant_with_bail
from pourwell.geometry.shapes.signet import signet
from pourwell.geometry.shapes.stud import stud_with_wire

__all__ = [
    "FINE",
    "SHAPES",
    "Fineness",
    "ImpossibleShapeError",
    "Parameter",
    "Shape",
    "about",
    "bezel_ring",
    "comfort_band",
    "half_round_band",
    "pendant_with_bail",
    "plain_band",
    "signet",
    "stud_with_wire",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One dimension of a shape."""

    name: str
    """As the function takes it, with its unit: `bore_mm`."""
    default: float
    unit: str
    about: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A parametric piece and what it is made from."""

    name: str
    about: str
    make: Callable[..., Mesh]
    parameters: tuple[Parameter, ...]

    @property
    def is_ring(self) -> bool:
        """Whether it has a finger bore, so that a ring size may stand for `bore_mm`."""
        return any(parameter.name == "bore_mm" for parameter in self.parameters)


def _shape(name: str, make: Callable[..., Mesh]) -> Shape:
    """The shape as its function tells it: defaults from the signature, words from the docstring."""
    text = make.__doc__ or ""
    lines = [line.strip() for line in text.splitlines()]
    told = dict(line.split(" : ", 1) for line in lines if " : " in line)
    parameters = tuple(
        Parameter(name=key, default=parameter.default, unit="mm", about=told[key])
        for key, parameter in signature(make).parameters.items()
        if key != "fineness"
    )
    return Shape(name=name, about=lines[0].removesuffix("."), make=make, parameters=parameters)


SHAPES: Final[Mapping[str, Shape]] = MappingProxyType(
    {
        "plain-band": _shape("plain-band", plain_band),
        "comfort-band": _shape("comfort-band", comfort_band),
        "half-round-band": _shape("half-round-band", half_round_band),
        "signet": _shape("signet", signet),
        "bezel-ring": _shape("bezel-ring", bezel_ring),
        "pendant": _shape("pendant", pendant_with_bail),
        "stud": _shape("stud", stud_with_wire),
    }
)
"""Every shape by the name that the command line knows it by."""
