"""Pictures by rays: what is hit and how deep against closed forms, lines where they belong."""

from math import pi

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import AMBIENT, GRAZING, Camera, barycentric, look, seen_by, view_axes
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import plain_band, signet
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.surface import smooth

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
    seen = (found[picture.hit] - picture.camera.middle) @ picture.axes.T
    assert np.abs(seen[:, 0] - x[picture.hit]).max() < 1e-6
    assert np.abs(seen[:, 1] - y[picture.hit]).max() < 1e-6
    assert picture.depths(found[picture.hit]) == pytest.approx(picture.depth_mm[picture.hit])


def test_an_outline_is_drawn_where_a_ball_ends():
    picture = look(ball(), FROM_FRONT, UP, width_px=220, mm_per_px=0.05)
    ends = picture.outline.reshape(-1, 2) - 110
    assert np.hypot(*ends.T) * 0.05 == pytest.approx(np.full(len(ends), 5.0), abs=0.03)
    assert lengths(picture.outline) == pytest.approx(2 * pi * 5.0 / 0.05, rel=0.01)
    assert not len(picture.crease)


def test_the_outline_of_a_ring_seen_along_its_bore_is_its_two_circles():
    """The outer face is seen edge-on: it has no height in the picture, and yet the ring ends there."""
    ring = plain_band()
    picture = look(ring, FROM_FRONT, UP, width_px=300, mm_per_px=0.08)
    away = np.hypot(*(picture.outline.reshape(-1, 2) - 150).T) * 0.08
    assert (away > 10.2).any()
    assert (away < 8.7).any()
    around = np.arctan2(*(picture.outline[away[::2] > 10.2, :2] - 150).T)
    assert np.diff(np.sort(around)).max() < 0.1, "all round"


def test_a_step_in_depth_is_an_outline_and_a_slope_is_not():
    stepped = look(
        from_manifold(box(4, 2, 4) + box(2, 2, 2, at=(0, -0.5, 0))), (0.02, 1.0, -0.03), UP, width_px=100, mm_per_px=0.05
    )
    inner = stepped.outline[(np.abs(stepped.outline - 50) < 25).all(axis=1)]
    assert lengths(inner) == pytest.approx(2 * 2 / 0.05, rel=0.1), "two of its sides hide something"
    slanted = look(from_manifold(box(4, 4, 4)), (0.3, 1.0, 0.2), UP, width_px=140, mm_per_px=0.05)
    assert lengths(slanted.crease) > 3 * 60


def test_edges_of_a_cube_are_creases_or_outlines_and_hidden_ones_are_not_drawn():
    """Seen on a corner three edges meet in the middle, six are the outline, three are behind."""
    picture = look(from_manifold(box(4, 4, 4)), (1.0, 1.0, -1.0), UP, width_px=160, mm_per_px=0.05)
    edge = 4 * (2 / 3) ** 0.5 / 0.05
    assert lengths(picture.outline) == pytest.approx(6 * edge, rel=0.02)
    assert lengths(picture.crease) == pytest.approx(3 * edge, rel=0.03)


def test_what_lies_behind_something_is_not_drawn():
    small = box(1, 1, 1, at=(0, 3.0, 0))
    alone = look(from_manifold(small + box(0.1, 0.1, 0.1, at=(0, -4.0, 0))), FROM_FRONT, UP, width_px=160, mm_per_px=0.05)
    hidden = look(from_manifold(small + box(4, 1, 4, at=(0, -3.0, 0))), FROM_FRONT, UP, width_px=160, mm_per_px=0.05)
    assert lengths(near_middle(alone.outline)) > 70
    assert not len(near_middle(hidden.outline))


def test_an_open_mesh_shows_its_rim():
    band = plain_band()
    opened = Mesh(band.vertices, band.faces[band.centres[:, 0] < 9.0])
    picture = look(opened, (0.3, 1.0, -0.3), UP, width_px=200, mm_per_px=0.12)
    whole = look(band, (0.3, 1.0, -0.3), UP, width_px=200, mm_per_px=0.12)
    assert 0 < picture.hit.sum() < whole.hit.sum()
    assert not len(whole.fault)
    assert lengths(picture.fault) > 4 * 2.0 / 0.12 * 0.5
    assert picture.fault[:, 0].min() > 140, "all at the right"


def test_an_edge_whose_sides_disagree_is_a_fault_and_the_piece_has_its_outline_all_the_same():
    cube = from_manifold(box(4, 4, 4))
    faces = cube.faces.copy()
    faces[0] = faces[0, ::-1]
    direction = -(cube.normals[0] + 0.3 * np.roll(cube.normals[0], 1) - 0.2 * np.roll(cube.normals[0], 2))
    up = np.roll(cube.normals[0], 1)
    sound, turned = (look(mesh, direction, up, width_px=160, mm_per_px=0.05) for mesh in (cube, Mesh(cube.vertices, faces)))
    assert not len(sound.fault)
    assert lengths(turned.fault) > 2 * 4 / 0.05
    np.testing.assert_array_equal(sound.hit, turned.hit)
    np.testing.assert_allclose(sound.light, turned.light, atol=1e-6)


def near_middle(lines):
    return lines[(np.abs(lines - 80) < 25).all(axis=1)]


def lengths(lines) -> float:
    return float(np.hypot(*(lines[:, 2:] - lines[:, :2]).T).sum())


def test_light_falls_from_the_upper_left():
    picture = look(ball(), FROM_FRONT, UP, width_px=200, mm_per_px=0.055)
    assert picture.light[60, 60] > picture.light[100, 100] > picture.light[150, 150] > AMBIENT * GRAZING
    assert picture.light[0, 0] == 1
    assert picture.light.max() <= 1


def test_the_ground_of_a_hole_is_darker_than_the_open_face():
    plate = box(8, 4, 8) - box(1, 2, 1, at=(0, -1.75, 0))
    picture = look(from_manifold(plate), FROM_FRONT, UP, width_px=200, mm_per_px=0.05)
    assert picture.light[100, 105] < 0.9 * picture.light[50, 50]
    assert picture.light[50, 50] == pytest.approx(picture.light[150, 150], abs=1e-9)


def test_the_silhouette_of_a_ball_has_the_area_of_its_disc():
    """Cover is counted in ninths of a pixel: within 0.5 % even where the ball is 60 pixels wide."""
    fine = ball(5.0, 400)
    for width, px in ((66, 0.17), (220, 0.05)):
        picture = look(fine, FROM_FRONT, UP, width_px=width, mm_per_px=px)
        assert picture.cover.sum() * px**2 == pytest.approx(25 * pi, rel=5e-3)
    assert picture.cover.sum() * px**2 == pytest.approx(25 * pi, rel=1e-3)


def test_cover_is_whole_inside_and_part_at_the_edge():
    picture = look(ball(), FROM_FRONT, UP, width_px=220, mm_per_px=0.05)
    x, y = pixel_middles(picture)
    away = np.hypot(x, y)
    assert (picture.cover[away < 4.9] == 1).all()
    assert (picture.cover[away > 5.1] == 0).all()
    edge = picture.cover[(away > 4.96) & (away < 5.04)]
    assert 0.3 < edge.mean() < 0.7
    assert len(np.unique(edge)) > 5


def test_a_camera_tells_where_points_lie_and_how_near():
    camera = Camera(axes=view_axes(FROM_FRONT, UP), middle=np.array((1.0, 2.0, 3.0)), mm_per_px=0.1, shape=(40, 60))
    assert camera.place([(1, 9, 3), (2, 0, 3), (1, 0, 4)]) == pytest.approx(np.array([(30, 20), (40, 20), (30, 10)]))
    assert camera.towards([(1, 2, 3), (1, -1, 3)]) == pytest.approx([0, 3])


def test_the_same_camera_gives_the_same_pixels_beside_what_changed():
    """A bump is added at one end of a plate: beyond where its shade can fall not a pixel differs."""
    plate = from_manifold(box(16, 2, 6))
    camera = Camera(axes=view_axes((0.2, 1.0, -0.3), UP), middle=np.zeros(3), mm_per_px=0.08, shape=(120, 240))
    before = seen_by(camera, smooth(plate))
    after = seen_by(camera, smooth(from_manifold(box(16, 2, 6) + box(1, 4, 1, at=(6.0, 0, 0)))))
    left = (slice(None), slice(0, 120))
    for name in ("hit", "cover"):
        np.testing.assert_array_equal(getattr(before, name)[left], getattr(after, name)[left])
    np.testing.assert_allclose(before.light[left], after.light[left], atol=1e-9)
    assert (before.light != after.light).any()
    assert before.place((1.0, 2.0, 3.0)) == pytest.approx(after.place((1.0, 2.0, 3.0)))


def test_arrays_of_a_picture_cannot_be_written():
    picture = look(ball(), FROM_FRONT, UP, width_px=20, mm_per_px=0.6)
    with pytest.raises(ValueError, match="read-only"):
        picture.depth_mm[0, 0] = 1.0


def test_weights_of_corners_add_up_to_one_and_give_the_place_back():
    mesh = signet()
    face = np.arange(0, len(mesh.faces), 7)
    given = np.random.default_rng(1).dirichlet((1, 1, 1), len(face))
    points = np.einsum("ij,ijk->ik", given, mesh.corners[face])
    assert barycentric(mesh, face, points) == pytest.approx(given, abs=1e-6)


def test_a_place_beside_a_triangle_counts_as_on_its_edge_and_one_without_area_shares_evenly():
    mesh = Mesh(np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (2, 0, 0.0)]), np.array([(0, 1, 2), (0, 1, 3)]))
    outside = barycentric(mesh, np.array([0, 0]), np.array([(-5.0, 0, 0), (9.0, 0, 0)]))
    assert outside[0] == pytest.approx([1, 0, 0])
    assert outside.sum(axis=1) == pytest.approx([1, 1])
    assert (outside >= 0).all()
    assert barycentric(mesh, np.array([1]), np.array([(0.5, 0, 0)])) == pytest.approx(np.full((1, 3), 1 / 3))


def test_what_is_seen_at_a_pixel_is_what_a_ray_through_its_middle_hits():
    """A second way to the same: rays cast from far in front."""
    mesh = signet()
    picture = look(mesh, (0.4, 1.0, -0.5), UP, width_px=90, mm_per_px=0.3)
    towards = picture.axes[2]
    distance, face = Caster(mesh).first(picture.places + 100 * towards, -towards)
    near = np.abs(distance - 100) < 1e-3
    assert near.mean() > 0.995, "but for pixels whose middle lies just on an outline"
    same = face == picture.face[picture.hit]
    assert same.mean() > 0.98, "a middle on an edge belongs to either side"


def test_a_picture_of_more_samples_is_the_same_but_for_its_edges():
    skin = smooth(signet())
    camera = Camera(axes=view_axes((0.4, 1.0, -0.5), UP), middle=np.zeros(3), mm_per_px=0.3, shape=(90, 90))
    one, three, five = (seen_by(camera, skin, samples=count) for count in (1, 3, 5))
    np.testing.assert_array_equal(one.hit, three.hit)
    np.testing.assert_array_equal(three.face, five.face)
    assert set(np.unique(one.cover)) == {0.0, 1.0}
    assert three.cover.sum() == pytest.approx(five.cover.sum(), rel=5e-3)
    inside = (three.cover == 1) & (five.cover == 1)
    assert np.abs(three.light - five.light)[inside].mean() < 0.004


def test_a_piece_beyond_the_edge_of_a_picture_is_cut_off_there():
    camera = Camera(axes=view_axes(FROM_FRONT, UP), middle=np.array((5.0, 0, 0)), mm_per_px=0.1, shape=(60, 60))
    picture = seen_by(camera, smooth(ball()))
    assert picture.hit[:, 0].all()
    assert not picture.hit[:, -1].all()
    away = Camera(axes=view_axes(FROM_FRONT, UP), middle=np.array((50.0, 0, 0)), mm_per_px=0.1, shape=(60, 60))
    empty = seen_by(away, smooth(ball()))
    assert not empty.hit.any()
    assert empty.weights.shape == (0, 3)
    assert (empty.light == 1).all()
