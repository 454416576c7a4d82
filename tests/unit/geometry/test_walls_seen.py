"""The least wall under every pixel: of solids whose walls are known, however coarse their triangles are."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import Picture, look
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import plain_band, signet, stud_with_wire
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.surface import smooth
from pourwell.geometry.thickness import walls
from pourwell.geometry.walls_seen import SPECK_MM, edges_carried, values_at, walls_at, walls_seen

FROM_FRONT, FROM_RIGHT, UP = (0, 1.0, 0), (-1.0, 0, 0), (0, 0, 1.0)


def ball(radius_mm: float = 5.0, segments: int = 160) -> Mesh:
    return from_manifold(manifold3d.Manifold.sphere(radius_mm, segments))


def box(*size: float, at: tuple[float, float, float] = (0, 0, 0)) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube(size, center=True).translate(at)


def seen(mesh: Mesh, direction) -> tuple[np.ndarray, Picture]:
    caster, skin = Caster(mesh), smooth(mesh)
    picture = look(mesh, direction, UP, width_px=300, mm_per_px=0.08, surface=skin)
    return walls_seen(picture, skin, walls(mesh, caster), caster=caster), picture


def seen_walls(mesh: Mesh, direction) -> tuple[np.ndarray, np.ndarray]:
    wall, picture = seen(mesh, direction)
    return wall, picture.hit


def test_the_side_of_a_band_shows_how_thick_the_band_is_and_not_how_wide():
    """Along the bore one sees the faces of the sides: 6 mm of metal lie behind them, but the wall is 1.8 mm."""
    wall, hit = seen_walls(plain_band(width_mm=6.0, thickness_mm=1.8), FROM_FRONT)
    assert np.isnan(wall[~hit]).all()
    assert wall[hit] == pytest.approx(np.full(hit.sum(), 1.8), abs=0.02)


def test_the_walls_of_a_signet_grow_from_the_back_to_the_head():
    wall, hit = seen_walls(signet(shank_thickness_mm=1.6, head_mm=2.6), FROM_FRONT)
    rows = np.flatnonzero(hit.any(axis=1))
    back = np.nanmedian(wall[rows[-12:]])
    assert back == pytest.approx(1.6, abs=0.1)
    column = wall[:, 150]
    head = column[np.isfinite(column)][:20]
    assert head == pytest.approx(np.full(20, 2.6), abs=0.2)


def test_a_ball_is_as_thick_as_it_is_wide():
    wall, hit = seen_walls(ball(), FROM_FRONT)
    assert wall[hit].min() > 9.5
    assert wall[hit].max() < 10.1


def test_a_fine_wire_is_not_filled_from_the_head_beside_it():
    wall, hit = seen_walls(stud_with_wire(wire_mm=0.7, wire_length_mm=10.0, crown_mm=0.0, rim_mm=2.0), FROM_RIGHT)
    columns = np.flatnonzero(hit.any(axis=0))
    wire = wall[:, columns[-60:-12]]
    assert np.nanmax(wire) < 0.75
    assert np.nanmin(wall) > 0.6


def test_specks_narrower_than_told_are_filled_and_wider_ones_stay():
    """Two grooves in a plate, one a quarter as wide as the least speck, the other four times."""
    narrow, wide = SPECK_MM / 4, SPECK_MM * 4
    plate = box(10, 2, 10) - box(narrow, 1.0, 20, at=(-3, -1, 0)) - box(wide, 1.0, 20, at=(2, -1, 0))
    wall, hit = seen_walls(from_manifold(plate), FROM_FRONT)
    middle = wall[150][hit[150]]
    thin = np.flatnonzero(middle < 1.75)
    assert thin.size * 0.08 == pytest.approx(wide, abs=0.5)
    assert (np.diff(thin) == 1).all()


def test_a_wedge_of_twelve_triangles_is_measured_under_every_pixel():
    """One value a triangle would make it one tone: from 1 mm at the lower edge to 3 mm at the upper one."""
    ends = [(x, side * half, z) for x in (-8.0, 8.0) for half, z in ((0.5, -8.0), (1.5, 8.0)) for side in (-1, 1)]
    wedge = from_manifold(manifold3d.Manifold.hull_points(ends))
    assert len(wedge.faces) == 12
    wall, picture = seen(wedge, FROM_FRONT)
    places = picture.places
    truth = 2.0 + places[:, 2] / 8.0
    inner = (np.abs(places[:, 2]) < 6.5) & (np.abs(places[:, 0]) < 6.5)
    assert np.abs(wall[picture.hit] / truth - 1)[inner].max() < 0.1


def test_an_edge_is_carried_by_thicker_metal_within_reach_only():
    """A plate of 2 mm with a lip of 0.4 mm, 3 mm wide: the lip is thin but for what lies within 1 mm of the plate."""
    plate = from_manifold(box(8, 2, 8) + box(3, 0.4, 8, at=(5.5, 0.0, 0)))
    wall, picture = seen(plate, FROM_FRONT)
    shown = edges_carried(picture, wall, limit_mm=0.8, reach_mm=1.0)
    row = np.flatnonzero(shown[150] < 0.8)
    assert row.size * 0.08 == pytest.approx(3.0 - 1.0, abs=0.5)
    assert (np.nan_to_num(shown, nan=9) >= np.nan_to_num(wall, nan=9)).all()
    assert np.nanmin(edges_carried(picture, wall, limit_mm=0.8, reach_mm=9.0)) == pytest.approx(0.8)


def test_nothing_is_carried_where_all_is_thin_or_nothing_is():
    wall, picture = seen(from_manifold(box(8, 0.4, 8)), FROM_FRONT)
    assert edges_carried(picture, wall, limit_mm=0.8, reach_mm=1.0) is wall
    assert edges_carried(picture, wall, limit_mm=0.2, reach_mm=1.0) is wall


def test_single_thick_pixels_do_not_join_to_a_patch():
    """The rim of a cup is met by a few rays only; they must not paint the thin wall below as thick."""
    cup = manifold3d.Manifold.cylinder(4.0, 4.0, circular_segments=90, center=True)
    ring = from_manifold(cup - manifold3d.Manifold.cylinder(9.0, 3.6, circular_segments=70, center=True))
    wall, picture = seen(ring, FROM_FRONT)
    front = picture.hit & (picture.depth_mm < 2.0)
    assert np.nanmax(wall[front]) < 0.5


def test_where_no_triangle_shows_as_such_nothing_is_measured_again():
    mesh = ball(segments=400)
    skin = smooth(mesh)
    picture = look(mesh, FROM_FRONT, UP, width_px=60, mm_per_px=0.4, surface=skin)
    values = np.arange(float(len(mesh.faces)))

    def never(places, face):
        raise AssertionError(f"{len(face)} places were measured")

    np.testing.assert_array_equal(values_at(picture, skin, values, measure=never), picture.seen(skin.blended(values)))


def test_where_large_triangles_show_they_are_measured_and_no_wall_is_over_the_thickest():
    mesh = from_manifold(box(8.0, 3.0, 8.0))
    skin = smooth(mesh)
    picture = look(mesh, FROM_FRONT, UP, width_px=60, mm_per_px=0.2, surface=skin)
    told = walls_at(picture, skin, np.full(len(mesh.faces), 2.5), caster=Caster(mesh))
    assert np.nanmax(told) == pytest.approx(2.5)
    freely = walls_at(picture, skin, np.full(len(mesh.faces), 9.0), caster=Caster(mesh))
    assert freely[picture.hit] == pytest.approx(np.full(picture.hit.sum(), 3.0), abs=0.01)
