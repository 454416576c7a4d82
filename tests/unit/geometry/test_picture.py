"""Pictures by rays: what is hit and how deep against closed forms, lines where they belong."""

from math import pi

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import AMBIENT, look, smooth, view_axes
from pourwell.geometry.shapes import comfort_band, plain_band, signet
from pourwell.geometry.solidity import from_manifold

FROM_FRONT, UP = (0, 1.0, 0), (0, 0, 1.0)


def ball(radius_mm: float = 5.0, segments: int = 160) -> Mesh:
    return from_manifold(manifold3d.Manifold.sphere(radius_mm, segments))


def box(*size: float, at: tuple[float, float, float] = (0, 0, 0)) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube(size, center=True).translate(at)


def pixel_middles(picture) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = picture.shape
    right = (np.arange(columns) + 0.5 - columns / 2) * picture.mm_per_px
    upward = (rows / 2 - np.arange(rows) - 0.5) * picture.mm_per_px
    return np.meshgrid(right, upward)


def test_a_ball_covers_its_disc_at_its_depths():
    """Depth of a ball: R - sqrt(R^2 - x^2 - y^2)."""
    picture = look(ball(), FROM_FRONT, UP, width_px=220, mm_per_px=0.05)
    assert picture.hit.sum() * 0.05**2 == pytest.approx(25 * pi, rel=2e-3)
    x, y = pixel_middles(picture)
    inside = np.hypot(x, y) < 4.5
    truth = 5 - np.sqrt(25 - x[inside] ** 2 - y[inside] ** 2)
    assert np.abs(picture.depth_mm[inside] - truth).max() < 0.01
    assert np.isinf(picture.depth_mm[~picture.hit]).all()
    assert (picture.face[~picture.hit] == -1).all()


def test_right_is_right_and_up_is_up():
    """Looked at along +y with z up, +x lies at the right; a small block right above the middle shows there."""
    whole = box(10, 1, 10) + box(1, 1, 1, at=(3.0, -1.0, 4.0))
    picture = look(from_manifold(whole), FROM_FRONT, UP, width_px=200, mm_per_px=0.06)
    rows, columns = np.nonzero(picture.hit & (picture.depth_mm < 0.5))
    assert columns.mean() - 99.5 == pytest.approx(3.0 / 0.06, abs=1)
    assert 99.5 - rows.mean() == pytest.approx(4.0 / 0.06, abs=1)
    assert picture.place((3.0, -1.5, 4.0))[0] == pytest.approx([100 + 50, 100 - 4.0 / 0.06], abs=0.01)
    assert picture.depths([(3.0, -1.5, 4.0), (0, 0.5, 0)]) == pytest.approx([0, 2])


@pytest.mark.parametrize(("direction", "up"), [((0, 1, 0), (0, 0, 1)), ((-1, 0, 0), (0, 0, 1)), ((0.3, -2, 0.7), (0.2, 0.1, 5))])
def test_the_axes_of_a_view_are_upright_right_handed_and_look_back(direction, up):
    axes = view_axes(direction, up)
    assert axes @ axes.T == pytest.approx(np.eye(3))
    assert np.linalg.det(axes) == pytest.approx(1)
    assert axes[2] @ direction == pytest.approx(-np.linalg.norm(direction))
    assert axes[1] @ up > 0


def test_an_upward_direction_along_the_line_of_sight_is_refused():
    with pytest.raises(ValueError, match="line of sight"):
        look(ball(), UP, UP, width_px=10, mm_per_px=1.0)


def test_values_are_found_where_they_are_on_the_surface():
    """The coordinates of the corners, looked up at every pixel, give back the pixel's own place and depth."""
    mesh = signet()
    picture = look(mesh, (0.5, 1.0, -0.4), UP, width_px=120, height_px=140, mm_per_px=0.2)
    assert picture.shape == (140, 120)
    found = picture.seen(mesh.corners)
    assert np.isnan(found[~picture.hit]).all()
    x, y = pixel_middles(picture)
    seen = (found[picture.hit] - picture.middle) @ picture.axes.T
    assert np.abs(seen[:, 0] - x[picture.hit]).max() < 1e-6
    assert np.abs(seen[:, 1] - y[picture.hit]).max() < 1e-6
    assert picture.depths(found[picture.hit]) == pytest.approx(picture.depth_mm[picture.hit])


def test_values_blend_over_smooth_joints_and_not_over_creases():
    cube = from_manifold(box(2, 2, 2))
    skin = smooth(cube)
    which = np.argmax(np.abs(cube.normals), axis=1).astype(float)
    assert skin.blended(which) == pytest.approx(np.repeat(which[:, None], 3, axis=1))
    round_one = ball(5.0, 64)
    joined = smooth(round_one)
    assert len(np.unique(joined.joint)) == len(round_one.vertices)
    heights = joined.blended(round_one.centres[:, 2])
    assert np.abs(heights - round_one.corners[:, :, 2]).max() < 0.2


def test_a_constant_stays_constant_however_it_is_blended():
    band = comfort_band()
    assert smooth(band).blended(np.full(len(band.faces), 1.7)) == pytest.approx(np.full((len(band.faces), 3), 1.7))


def test_an_outline_is_a_closed_line_one_pixel_wide_on_the_piece():
    picture = look(ball(), FROM_FRONT, UP, width_px=220, mm_per_px=0.05)
    assert (picture.jump <= picture.hit).all()
    x, y = pixel_middles(picture)
    assert np.hypot(x, y)[picture.jump].min() > 4.85
    assert picture.jump.sum() == pytest.approx(2 * pi * 5.0 / 0.05, rel=0.2)


def test_a_step_in_depth_is_drawn_and_a_slope_is_not():
    stepped = look(from_manifold(box(4, 2, 4) + box(2, 2, 2, at=(0, -0.5, 0))), FROM_FRONT, UP, width_px=100, mm_per_px=0.05)
    inner = stepped.jump.copy()
    inner[[*range(15), *range(85, 100)]] = False
    inner[:, [*range(15), *range(85, 100)]] = False
    assert inner.sum() == pytest.approx(4 * 2 / 0.05, rel=0.1)
    assert (stepped.depth_mm[inner] < 0.1).all(), "on the nearer side"
    slanted = look(from_manifold(box(4, 4, 4)), (0.3, 1.0, 0.2), UP, width_px=140, mm_per_px=0.05)
    middle = slanted.hit.copy()
    for shift in (-3, 3):
        middle &= np.roll(slanted.hit, shift, axis=0) & np.roll(slanted.hit, shift, axis=1)
    assert not (slanted.jump & middle).any()


def test_edges_of_a_cube_are_drawn_as_creases():
    picture = look(from_manifold(box(4, 4, 4)), (1.0, 1.0, -0.8), UP, width_px=160, mm_per_px=0.05)
    assert picture.crease.sum() > 3 * 60
    assert not (picture.crease & picture.jump).any()
    assert not look(ball(), FROM_FRONT, UP, width_px=160, mm_per_px=0.06).crease.any()


def test_light_falls_from_the_upper_left_and_lines_darken():
    picture = look(ball(), FROM_FRONT, UP, width_px=200, mm_per_px=0.055)
    assert picture.light[60, 60] > picture.light[100, 100] > picture.light[150, 150] > AMBIENT
    assert picture.light[0, 0] == 1
    assert (picture.shade[picture.jump] < picture.light[picture.jump]).all()
    assert picture.shade.min() > 0
    assert picture.shade.max() <= 1


def test_arrays_of_a_picture_cannot_be_written():
    picture = look(ball(), FROM_FRONT, UP, width_px=20, mm_per_px=0.6)
    with pytest.raises(ValueError, match="read-only"):
        picture.depth_mm[0, 0] = 1.0


def test_a_mesh_with_holes_can_be_looked_at_where_the_fast_engine_is():
    pytest.importorskip("embreex", reason="the slower engine takes solids only")
    band = plain_band()
    picture = look(Mesh(band.vertices, band.faces[200:]), FROM_FRONT, UP, width_px=80, mm_per_px=0.3)
    assert 0 < picture.hit.sum() < 80 * 80
