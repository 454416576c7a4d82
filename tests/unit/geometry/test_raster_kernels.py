"""The loops that draw: each against its readable twin, and against what can be told by hand."""

from math import pi

import numpy as np
import pytest

from pourwell.geometry.kernels import raster, reference_raster
from pourwell.geometry.kernels.raster import Flat, Lamp, Ring

BOTH = pytest.mark.parametrize("loops", [raster, reference_raster], ids=["compiled", "readable"])
AXES = np.linalg.qr(np.random.default_rng(7).normal(size=(3, 3)))[0]
LAMP = Lamp(key=np.array([0.6, 0.0, 0.8]), axes=AXES, ambient=0.3, grazing=0.7, steep=0.02)
RING = Ring(across=np.array([3, -3, 0, 0]), down=np.array([0, 0, 3, -3]), far=np.full(4, 0.3), bias_mm=0.01, reach_mm=2.0)


def strewn(count: int, *, seed: int, size: float) -> tuple[np.ndarray, np.ndarray]:
    """Triangles anywhere in a picture and beyond its edge, across one another."""
    random = np.random.default_rng(seed)
    middles = random.uniform(-0.2 * size, 1.2 * size, size=(count, 1, 2))
    flat = middles + random.normal(scale=size / 5, size=(count, 3, 2))
    points = np.dstack([flat, random.uniform(0, 5, size=(count, 3))]).reshape(-1, 3)
    return points, np.arange(3 * count).reshape(-1, 3)


@pytest.mark.parametrize("shape", [(1, 1), (7, 3), (24, 31)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_nearest_triangle_is_the_twins(shape, seed):
    points, faces = strewn(25, seed=seed, size=float(max(shape)))
    depth, face = raster.visible(points, faces, shape)
    told_depth, told_face = reference_raster.visible(points, faces, shape)
    np.testing.assert_array_equal(face, told_face)
    np.testing.assert_allclose(depth, told_depth, atol=1e-9)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("samples", [1, 3])
def test_cover_light_and_slope_are_the_twins(seed, samples):
    points, faces = strewn(12, seed=seed, size=24.0)
    normals = np.random.default_rng(seed).normal(size=(12, 3, 3)) + 3 * AXES[2]
    face = raster.visible(points, faces, (24, 18))[1]
    found = raster.lit(Flat(points, faces, face), normals, LAMP, samples=samples)
    told = reference_raster.lit(Flat(points, faces, face), normals, LAMP, samples=samples)
    for mine, twin in zip(found, told, strict=True):
        np.testing.assert_allclose(mine, twin, atol=1e-9)


def test_how_much_stands_round_is_the_twins():
    random = np.random.default_rng(5)
    depth = random.uniform(0, 1.5, size=(17, 12))
    depth[random.uniform(size=depth.shape) < 0.2] = np.inf
    slope = random.normal(scale=0.05, size=(17, 12, 2)) * np.isfinite(depth)[..., None]
    np.testing.assert_allclose(raster.hemmed(depth, slope, RING), reference_raster.hemmed(depth, slope, RING), atol=1e-12)


def test_strokes_are_the_twins():
    random = np.random.default_rng(6)
    lines, widths = random.uniform(-5, 35, size=(20, 4)), random.uniform(0.3, 5, size=20)
    lines[0, 2:] = lines[0, :2]
    np.testing.assert_allclose(
        raster.stroked(lines, widths, (30, 26)), reference_raster.stroked(lines, widths, (30, 26)), atol=1e-12
    )


@BOTH
def test_of_two_sheets_the_nearer_is_seen_whichever_way_they_are_wound(loops):
    points = np.array([(-9, -9, 2.0), (50, -9, 2), (-9, 50, 2), (-9, -9, 1), (50, -9, 1), (-9, 50, 1)], dtype=float)
    for faces in ([(0, 1, 2), (3, 4, 5)], [(3, 5, 4), (0, 1, 2)]):
        depth, face = loops.visible(points, np.array(faces), (4, 4))
        assert (depth == 1).all()
        assert (face == (1 if faces[0][0] == 0 else 0)).all()


@BOTH
def test_no_light_comes_through_a_seam(loops):
    """A square of two triangles whose seam runs through the middles of pixels."""
    points = np.array([(0, 0, 1), (10, 0, 1), (10, 10, 1), (0, 10, 1.0)])
    depth, _ = loops.visible(points, np.array([(0, 1, 2), (0, 2, 3)]), (10, 10))
    assert np.isfinite(depth).all()


@BOTH
def test_a_triangle_seen_edge_on_hides_nothing(loops):
    points = np.array([(1, 1, 0), (9, 9, 0), (5, 5, 4.0)])
    assert (loops.visible(points, np.array([(0, 1, 2)]), (10, 10))[1] == -1).all()


@BOTH
def test_cover_is_the_share_of_samples(loops):
    face = np.full((6, 6), -1)
    face[:3, :2] = 0
    face[3:, 3:] = 0
    points = np.array([(-20, -20, 1), (60, -20, 1), (-20, 60, 1.0)])
    normals = np.tile(AXES[2], (1, 3, 1))
    cover, light, slope, weights = loops.lit(Flat(points, np.array([(0, 1, 2)]), face), normals, LAMP, samples=3)
    assert cover == pytest.approx(np.array([[2 / 3, 0], [0, 1]]))
    assert light[0, 1] == 1
    assert slope == pytest.approx(0)
    assert weights @ points[:, :2] == pytest.approx(np.array([(1.5, 1.5), (4.5, 4.5)])), "the two middles that are on the triangle"


@BOTH
def test_a_surface_seen_from_behind_is_lit_as_its_front(loops):
    face, points = np.zeros((1, 1), dtype=int), np.array([(-20, -20, 1), (60, -20, 1), (-20, 60, 1.0)])
    normals = np.tile(AXES[2] + 0.3 * AXES[0], (1, 3, 1))
    front, back = (loops.lit(Flat(points, np.array([(0, 1, 2)]), face), way * normals, LAMP, samples=1) for way in (1, -1))
    assert front[1] == pytest.approx(back[1])
    assert front[2] == pytest.approx(back[2])
    assert front[2][0, 0] == pytest.approx([0.3, 0])


@BOTH
def test_the_ground_of_a_slit_is_hemmed_in_and_a_slope_is_not(loops):
    depth = np.zeros((1, 21)) + 0.0
    depth[0, 9:12] = 0.9
    flat = np.zeros((1, 21, 2))
    shut = loops.hemmed(depth, flat, RING)
    assert shut[0, 10] > 0.2
    assert shut[0, 2] == 0
    sloping = np.linspace(0, 6, 21)[None]
    assert loops.hemmed(sloping, np.array([[[0.3, 0.0]] * 21]), RING).max() < 1e-9


@BOTH
def test_a_stroke_has_the_area_of_its_length_times_its_width(loops):
    ink = loops.stroked(np.array([(10.3, 20.7, 70.2, 44.1)]), np.array([4.0]), (64, 80))
    length = np.hypot(59.9, 23.4)
    assert ink.sum() == pytest.approx(4 * length + pi * 4, rel=0.01)
    assert ink.max() == 1


@BOTH
def test_a_stroke_without_length_is_a_disc_and_one_outside_leaves_nothing(loops):
    ink = loops.stroked(np.array([(20.0, 20, 20, 20), (500, 500, 600, 600)]), np.array([10.0, 3]), (40, 40))
    assert ink.sum() == pytest.approx(25 * pi, rel=0.02)
    assert ink[20, 20] == 1
    assert ink[0, 0] == 0


@BOTH
def test_a_pixel_that_shows_two_triangles_is_as_bright_as_both_by_their_shares(loops):
    """Two flat sheets side by side, one facing the lamp: two thirds of the pixel show one, a third the other."""
    points = np.array([(-20, -20, 1), (60, -20, 1), (-20, 60, 1.0)])
    face = np.array([[0, 0, 1], [0, 0, 1], [0, 0, 1]])
    towards = np.stack([np.tile(AXES[2], (3, 1)), np.tile(AXES[2] + 0.8 * AXES[0], (3, 1))])
    faces = np.array([(0, 1, 2), (0, 1, 2)])
    both = loops.lit(Flat(points, faces, face), towards, LAMP, samples=3)[1][0, 0]
    first, second = (loops.lit(Flat(points, faces, np.full((3, 3), which)), towards, LAMP, samples=3)[1][0, 0] for which in (0, 1))
    assert abs(first - second) > 0.01
    assert both == pytest.approx((2 * first + second) / 3)


@BOTH
def test_what_a_pixel_shows_of_nothing_does_not_darken_it(loops):
    """At the edge of a piece the light is that of the piece alone; how much of it is there is told by cover."""
    points = np.array([(-20, -20, 1), (60, -20, 1), (-20, 60, 1.0)])
    normals = np.tile(AXES[2], (1, 3, 1))
    face = np.array([[0, 0, -1], [0, -1, -1], [-1, -1, -1]])
    cover, light, slope, weights = loops.lit(Flat(points, np.array([(0, 1, 2)]), face), normals, LAMP, samples=3)
    whole = loops.lit(Flat(points, np.array([(0, 1, 2)]), np.zeros((3, 3), dtype=int)), normals, LAMP, samples=3)
    assert cover[0, 0] == pytest.approx(1 / 3)
    assert light == pytest.approx(whole[1])
    assert weights.shape == (0, 3), "its middle shows nothing"
    assert not slope.any()


@BOTH
def test_light_falls_off_towards_what_turns_away_from_the_lamp(loops):
    """LAMP stands at (0.6, 0, 0.8): a normal along it is lit in full, its opposite by what is around alone, if both are seen."""
    points, face = np.array([(-20, -20, 1), (60, -20, 1), (-20, 60, 1.0)]), np.zeros((1, 1), dtype=int)
    lamp = Lamp(key=np.array([0.6, 0.0, 0.8]), axes=np.eye(3), ambient=0.3, grazing=1.0, steep=0.02)
    bright = [
        loops.lit(Flat(points, np.array([(0, 1, 2)]), face), np.tile(normal, (1, 3, 1)), lamp, samples=1)[1][0, 0]
        for normal in (np.array([0.6, 0, 0.8]), np.array([0, 0, 1.0]), np.array([-0.8, 0, 0.6]))
    ]
    assert bright[0] == pytest.approx(1.0)
    assert bright[1] == pytest.approx(0.3 + 0.7 * 0.9**2)
    assert bright[2] == pytest.approx(0.3 + 0.7 * 0.5**2), "square to the lamp"


@BOTH
def test_of_sheets_that_cross_each_is_seen_where_it_is_nearer(loops):
    points = np.array([(0, 0, 0), (20, 0, 2), (0, 20, 0), (0, 0, 1), (20, 0, 1), (0, 20, 1)], dtype=float)
    depth, face = loops.visible(points, np.array([(0, 1, 2), (3, 4, 5)]), (10, 20))
    columns = np.indices((10, 20))[1] + 0.5
    hit = face >= 0
    assert (face[hit & (columns < 9.9)] == 0).all()
    assert (face[hit & (columns > 10.1)] == 1).all()
    assert depth[hit] == pytest.approx(np.minimum(columns / 10, 1.0)[hit])


@BOTH
def test_strokes_laid_over_one_another_are_no_darker_than_one(loops):
    line = np.array([(5.0, 10, 30, 12)])
    once = loops.stroked(line, np.array([3.0]), (24, 36))
    np.testing.assert_array_equal(loops.stroked(np.repeat(line, 3, axis=0), np.full(3, 3.0), (24, 36)), once)
    back = loops.stroked(line[:, [2, 3, 0, 1]], np.array([3.0]), (24, 36))
    np.testing.assert_allclose(back, once, atol=1e-12)


@BOTH
def test_a_fine_stroke_is_as_faint_as_it_is_fine(loops):
    ink = loops.stroked(np.array([(2.0, 10.5, 30, 10.5)]), np.array([0.4]), (20, 32))
    assert ink.max() == pytest.approx(0.4)
