"""Pattern sources for the tests of the pattern step."""

from functools import cache

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, inside_out, to_manifold, weld
from pourwell.materials.library import Library, load_library
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.pattern.plan import PatternSource, measure


@cache
def library() -> Library:
    return load_library()


def source(*bodies: Mesh | tuple[str, Mesh], **more) -> PatternSource:
    """A source of bodies in mm, named a, b, c... if they are not."""
    named = tuple(body if isinstance(body, tuple) else (chr(ord("a") + k), body) for k, body in enumerate(bodies))
    ask = {"name": "ring", "file": "ring.stl", "count": 1, "units": "mm", "units_from": "assumed", **more}
    return PatternSource(bodies=named, **ask)


def measured(*bodies, alloy="sterling-925", material="resin", shelf=None, **more) -> tuple[Pattern, dict]:
    """The pattern and its findings by code."""
    shelf = shelf or library()
    pattern, found = measure(
        source(*bodies, **more),
        piece_id="A",
        alloy=shelf.alloy(alloy) if isinstance(alloy, str) else alloy,
        pattern_material=shelf.pattern(material) if isinstance(material, str) else material,
        library=shelf,
    )
    codes = [f.code for f in found]
    assert len(set(codes)) == len(codes), "each code at most once a piece"
    return pattern, {f.code: f for f in found}


def minus(one: Mesh, other: Mesh) -> Mesh:
    return from_manifold(to_manifold(weld(one)) - to_manifold(weld(other)))


def hollow(outer: Mesh, inner: Mesh) -> Mesh:
    """One mesh with an inward shell."""
    turned = inside_out(inner)
    return Mesh([*outer.vertices, *turned.vertices], [*outer.faces, *(turned.faces + len(outer.vertices))])
