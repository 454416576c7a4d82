"""Patterns for the tests of the tree: shapes measured by the geometry alone, without the pattern step."""

from functools import cache

from pourwell.geometry.bore import find_bore
from pourwell.geometry.inscribed import largest_sphere
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, about
from pourwell.geometry.thickness import sampled
from pourwell.materials.library import Library, load_library
from pourwell.steps.pattern.model import Body, Bore, Pattern, Piece, Sizes, Wall
from pourwell.steps.tree.model import Room

NO_SIZES = Sizes(iso="", us="", uk="", jp="", ch="")
SILVER_G_PER_MM3 = 10.36e-3
RESIN_G_PER_MM3 = 1.1e-3


@cache
def library() -> Library:
    """The shipped library."""
    return load_library()


def room(diameter_mm: float = 76.0, height_mm: float = 100.0, **other: float) -> Room:
    """The room in a flask on a common base."""
    base = {"base_depth_mm": 8.0, "dome_diameter_mm": 30.0, "dome_height_mm": 12.0, "socket_mm": 8.0, **other}
    floor = base["base_depth_mm"] + base["dome_height_mm"]
    return Room(radius_mm=diameter_mm / 2, floor_mm=floor, ceiling_mm=height_mm - 16, height_mm=height_mm, **base)


@cache
def bore_of(mesh: Mesh) -> Bore | None:
    """The bore of a mesh, with what the tree does not read left plain."""
    found = find_bore(mesh)
    if found is None or found.diameter_mm < 10:
        return None
    d = found.diameter_mm
    return Bore(
        diameter_mm=d,
        centre_mm=found.centre,
        axis=found.axis,
        sizes=NO_SIZES,
        finished_mm=d,
        finished_low_mm=d,
        finished_high_mm=d,
        finished_sizes=NO_SIZES,
        finished_low_sizes=NO_SIZES,
        finished_high_sizes=NO_SIZES,
    )


@cache
def wall_of(mesh: Mesh) -> Wall:
    """The wall of a mesh."""
    known = sampled(mesh)
    centre, radius = largest_sphere(mesh, known)
    thin = int(known.wall_mm.argmin())
    return Wall(
        thinnest_mm=float(known.wall_mm[thin]),
        thinnest_at_mm=tuple(known.points[thin].tolist()),
        typical_mm=known.typical_mm,
        thickest_mm=2 * radius,
        thickest_at_mm=centre,
        limit_mm=0.6,
        under_limit_fraction=0.0,
    )


def pattern(mesh: Mesh, piece_id: str = "A", *, count: int = 1, name: str = "piece", **other) -> Pattern:
    """A mesh as a measured pattern."""
    volume = mesh.volume_mm3
    piece = Piece(
        id=piece_id,
        name=name,
        file=f"{name}.stl",
        count=count,
        units="mm",
        triangle_count=len(mesh.faces),
        bodies=(Body(name=name, volume_mm3=volume, kept=True),),
        overlap_mm3=0.0,
        volume_mm3=volume,
        area_mm2=mesh.area_mm2,
        envelope_mm=mesh.envelope_mm,
        wall=wall_of(mesh),
        bore=bore_of(mesh),
        pattern_g=volume * RESIN_G_PER_MM3,
        pattern_low_g=volume * RESIN_G_PER_MM3,
        pattern_high_g=volume * RESIN_G_PER_MM3,
        metal_g=volume * SILVER_G_PER_MM3,
        metal_low_g=volume * SILVER_G_PER_MM3,
        metal_high_g=volume * SILVER_G_PER_MM3,
        finished_low_g=volume * SILVER_G_PER_MM3,
        finished_high_g=volume * SILVER_G_PER_MM3,
    )
    return Pattern(piece=piece, mesh=mesh, wall_mm=None, **other)


@cache
def shape(name: str, triangle_count: int = 3000, **dimensions: float) -> Mesh:
    """A shipped shape with about so many triangles."""
    return about(triangle_count, SHAPES[name].make, **dimensions)


def shaped(
    name: str, piece_id: str = "A", *, count: int = 1, triangle_count: int = 3000, sprue_at_mm=None, **dimensions
) -> Pattern:
    """A shipped shape as a pattern."""
    return pattern(shape(name, triangle_count, **dimensions), piece_id, count=count, name=name, sprue_at_mm=sprue_at_mm)
