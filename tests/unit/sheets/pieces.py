"""Measured pieces made by hand, for what is drawn of them."""

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.thickness import walls
from pourwell.steps.pattern.model import Bore, Pattern, Piece, Sizes, Wall

SIZES = Sizes(iso="54", us="7", uk="N", jp="14", ch="14")


def piece(mesh: Mesh, *, bore: Bore | None, name: str, limit_mm: float, thinnest_at: tuple[float, float, float]) -> Piece:
    x, y, z = mesh.envelope_mm
    return Piece(
        id="A",
        name=name,
        file="band.stl",
        count=1,
        units="mm",
        triangle_count=len(mesh.faces),
        bodies=(),
        overlap_mm3=0.0,
        volume_mm3=mesh.volume_mm3,
        area_mm2=mesh.area_mm2,
        envelope_mm=(x, y, z),
        wall=Wall(
            thinnest_mm=1.7,
            thinnest_at_mm=thinnest_at,
            typical_mm=1.8,
            thickest_mm=3.2,
            thickest_at_mm=(0.0, 0.0, 9.5),
            limit_mm=limit_mm,
            under_limit_fraction=0.0,
        ),
        bore=bore,
        pattern_g=0.5,
        pattern_low_g=0.5,
        pattern_high_g=0.5,
        metal_g=5.0,
        metal_low_g=4.9,
        metal_high_g=5.1,
        finished_low_g=4.5,
        finished_high_g=4.7,
    )


def ring_bore(axis=(0.0, 1.0, 0.0), centre=(0.0, 0.0, 0.0)) -> Bore:
    return Bore(
        diameter_mm=17.2,
        centre_mm=centre,
        axis=axis,
        sizes=SIZES,
        finished_mm=17.1,
        finished_low_mm=17.0,
        finished_high_mm=17.2,
        finished_sizes=SIZES,
        finished_low_sizes=SIZES,
        finished_high_sizes=SIZES,
    )


def pattern(mesh: Mesh, *, bore=None, name="Band", limit_mm=0.8, thinnest_at=(0.0, 0.0, -9.0), wall_mm=None, sprue=None) -> Pattern:
    return Pattern(
        piece=piece(mesh, bore=bore, name=name, limit_mm=limit_mm, thinnest_at=thinnest_at),
        mesh=mesh,
        wall_mm=walls(mesh) if wall_mm is None else wall_mm,
        sprue_at_mm=sprue,
    )
