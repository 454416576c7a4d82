"""From where a pattern is looked at: its front, and what can be seen of it."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import Camera, seen_by, view_axes
from pourwell.geometry.shapes import plain_band, signet
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.surface import smooth
from pourwell.sheets.viewpoint import GAP_MM, SEEN_MM, front_axes, is_visible, views
from tests.unit.sheets.pieces import pattern, ring_bore


def turned(mesh: Mesh, turn: np.ndarray) -> Mesh:
    return Mesh(mesh.vertices @ turn.T, mesh.faces)


def about(axis: int, degrees: float) -> np.ndarray:
    one, other = (axis + 1) % 3, (axis + 2) % 3
    turn, angle = np.eye(3), np.radians(degrees)
    turn[one, one] = turn[other, other] = np.cos(angle)
    turn[one, other], turn[other, one] = -np.sin(angle), np.sin(angle)
    return turn


def bare(mesh: Mesh, **more):
    return pattern(mesh, wall_mm=np.ones(len(mesh.faces)), **more)


@pytest.mark.parametrize("degrees", [0.0, 40.0, 137.0, 250.0])
def test_a_head_is_up_however_a_ring_is_turned_about_its_bore(degrees):
    turn = about(1, degrees)
    axes = front_axes(bare(turned(signet(), turn), bore=ring_bore()))
    assert axes[1] == pytest.approx(turn @ (0, 0, 1), abs=0.02)
    assert np.abs(axes[2] @ (0, 1, 0)) == pytest.approx(1)


@pytest.mark.parametrize("lying", [np.eye(3), about(0, 90.0), about(2, 90.0), about(0, 35.0) @ about(2, 20.0)])
def test_a_ring_is_looked_at_along_its_bore_however_it_lies(lying):
    axis = lying @ (0, 1, 0)
    axes = front_axes(bare(turned(signet(), lying), bore=ring_bore(axis=tuple(axis))))
    assert np.abs(axes[2] @ axis) == pytest.approx(1)
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(axes) == pytest.approx(1)
    assert axes[1] @ (lying @ (0, 0, 1)) == pytest.approx(1, abs=0.02), "its head is up"


def test_the_way_that_a_bore_is_told_makes_no_front_of_a_back():
    """The same bore may be told along either of two opposite directions."""
    one, other = (front_axes(bare(signet(), bore=ring_bore(axis=(0.0, way, 0.0)))) for way in (1.0, -1.0))
    assert one == pytest.approx(other)


def test_an_even_band_without_a_sprue_stands_as_its_file_has_it():
    assert front_axes(bare(plain_band(), bore=ring_bore()))[1] == pytest.approx([0, 0, 1])


def test_an_even_band_stands_with_its_sprue_below():
    axes = front_axes(bare(plain_band(), bore=ring_bore(), sprue=(10.4, 0.0, 0.0)))
    assert axes[1] == pytest.approx([-1, 0, 0], abs=1e-9)


@pytest.mark.parametrize(
    ("size", "towards"), [((9, 9, 1), (0, 0, 1)), ((9, 1, 9), (0, -1, 0)), ((1, 9, 9), (1, 0, 0)), ((5, 5, 5), (0, -1, 0))]
)
def test_a_plate_faces_the_viewer_and_a_cube_shows_its_front(size, towards):
    plate = from_manifold(manifold3d.Manifold.cube(size, center=True))
    assert front_axes(bare(plate))[2] == pytest.approx(towards)


@pytest.mark.parametrize("size", [(3, 3, 9), (5, 5, 5)])
def test_what_is_as_wide_as_it_is_deep_is_not_shown_on_its_edge(size):
    """Its own axes across are any two: they show more of it on the edge, and change with how it is cut into triangles."""
    bar = from_manifold(manifold3d.Manifold.cube(size, center=True))
    picture = views(bare(bar), mm_per_px=0.1).front
    width = np.ptp(np.argwhere(picture.hit)[:, 1]) * 0.1
    assert width == pytest.approx(size[0], abs=0.2)


def dome(*drains):
    """Half a ball on its flat base, hollow, with drains of 1.5 mm in the base."""
    made = manifold3d.Manifold.sphere(8, 64).trim_by_plane((0, 0, 1), 0) - manifold3d.Manifold.sphere(7, 64).trim_by_plane(
        (0, 0, 1), 1
    )
    for x, y in drains:
        made -= manifold3d.Manifold.cylinder(4, 0.75, 0.75, 32, True).translate((x, y, 0))
    return from_manifold(made)


@pytest.mark.parametrize(("drains", "towards"), [([], 1), ([(3.5, 0)], -1), ([(3.5, 0), (-3.5, 0)], -1)])
def test_a_piece_is_looked_at_from_the_side_with_its_openings(drains, towards):
    axes = front_axes(bare(dome(*drains)))
    assert axes[2] == pytest.approx([0, 0, towards], abs=1e-9)
    assert np.linalg.det(axes) == pytest.approx(1)


@pytest.mark.parametrize("side", [1, -1])
def test_a_plate_is_looked_at_from_its_engraved_side(side):
    plate = manifold3d.Manifold.cube((14, 12, 2.5), center=True)
    line = manifold3d.Manifold.cube((0.4, 7, 0.8), center=True).translate((2, 0, side * 1.25))
    assert front_axes(bare(from_manifold(plate - line)))[2] == pytest.approx([0, 0, side])


def test_moving_a_piece_does_not_turn_it():
    mesh = signet()
    moved = Mesh(mesh.vertices + np.array((300.0, -20.0, 55.0)), mesh.faces)
    there = front_axes(bare(moved, bore=ring_bore(centre=(300.0, -20.0, 55.0))))
    assert there == pytest.approx(front_axes(bare(mesh, bore=ring_bore())), abs=1e-6)


def test_front_and_side_are_as_wide_as_the_piece_and_stand_apart():
    band = pattern(plain_band(), bore=ring_bore())
    seen = views(band, mm_per_px=0.1)
    wide, high = np.ptp(np.argwhere(seen.front.hit), axis=0)[::-1] * 0.1
    assert (wide, high) == pytest.approx((20.8, 20.8), abs=0.3)
    deep = np.ptp(np.argwhere(seen.side.hit)[:, 1]) * 0.1
    assert deep == pytest.approx(4.0, abs=0.3)
    assert seen.front.shape[0] == seen.side.shape[0]
    whole = seen.joined(np.ones(seen.front.shape), np.full(seen.side.shape, 2.0), nothing=0.0)
    assert whole.shape == (seen.front.shape[0], seen.left_px + seen.side.shape[1])
    assert (whole[:, : seen.front.shape[1]] == 1).all()
    assert (whole[:, seen.left_px :] == 2).all()
    assert (whole[:, seen.front.shape[1] : seen.left_px] == 0).all()
    assert (seen.left_px - seen.front.shape[1]) * 0.1 == pytest.approx(GAP_MM)


def test_pictures_in_colour_stand_side_by_side_as_well():
    seen = views(bare(plain_band(), bore=ring_bore()), mm_per_px=0.5)
    both = seen.joined(np.zeros((*seen.front.shape, 3)), np.zeros((*seen.side.shape, 3)), nothing=(9.0, 8.0, 7.0))
    assert both[0, seen.front.shape[1]].tolist() == [9, 8, 7]


def plate_before_a_ball():
    both = manifold3d.Manifold.cube((4, 1, 4), center=True).translate((0, -5, 0)) + manifold3d.Manifold.sphere(1.0, 48)
    camera = Camera(axes=view_axes((0, 1, 0), (0, 0, 1)), middle=np.zeros(3), mm_per_px=0.1, shape=(80, 120))
    return seen_by(camera, smooth(from_manifold(both)))


def test_what_lies_behind_something_is_not_visible():
    picture = plate_before_a_ball()
    assert is_visible(picture, (0, -5.5, 0))
    assert not is_visible(picture, (0, -1.0, 0)), "the ball stands behind the plate"
    assert is_visible(picture, (0, -5.5 + 0.9 * SEEN_MM, 0)), "just under the surface"
    assert not is_visible(picture, (0, -5.5 + 2 * SEEN_MM, 0))


@pytest.mark.parametrize("place", [(3.5, 0, 0), (300.0, 0, 0), (-300.0, 0, 300.0), (-7.0, -5.5, 0), (0, -5.5, 7.0)])
def test_where_nothing_is_drawn_nothing_is_visible(place):
    assert not is_visible(plate_before_a_ball(), place)
