"""Signed distance against closed forms, two independent libraries, and the winding number."""

from math import cos, pi, tan

import manifold3d
import numpy as np
import pytest
import trimesh

from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.gap import holds
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES, Fineness
from pourwell.geometry.solidity import from_manifold, to_manifold
from tests.unit.geometry.distance_samples import box, box_distance, icosphere, shaken, swept, turned

ROUNDING_MM = 1e-12
"""Doubles about 100 mm step by 1.4e-14; some twenty operations."""


def somewhere(seed, *, low, high, count=500):
    return np.random.default_rng(seed).uniform(low, high, (count, 3))


def longest_side(mesh: Mesh) -> float:
    corners = mesh.corners
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max())


@pytest.mark.parametrize("halvings", [1, 3, 5])
def test_a_sphere_is_met_within_the_chord_error(halvings):
    """|p| - r. Corners lie on the sphere, so a triangle of longest side s sags by no more than r - sqrt(r^2 - s^2 / 3)."""
    radius = 3.0
    ball = icosphere(radius, halvings=halvings)
    sag = radius - np.sqrt(radius**2 - longest_side(ball) ** 2 / 3)
    points = somewhere(halvings, low=-5, high=5)
    miss = SignedDistance(ball)(points) - (np.linalg.norm(points, axis=1) - radius)
    assert miss.min() > -ROUNDING_MM, "the polyhedron lies within the ball: no point is nearer to it than to the ball"
    assert miss.max() <= sag + ROUNDING_MM, f"observed {miss.max():.3g} mm, sag {sag:.3g} mm"


def test_the_error_at_a_sphere_falls_fourfold_with_halved_sides():
    """Second order, as the sag of a chord is."""
    points = somewhere(1, low=-5, high=5)
    truth = np.linalg.norm(points, axis=1) - 3.0
    errors = [np.abs(SignedDistance(icosphere(3.0, halvings=k))(points) - truth).mean() for k in (2, 3, 4, 5)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders.min() > 1.8, f"observed {orders}"


@pytest.mark.parametrize("size", [(1.0, 1.0, 1.0), (20.0, 4.0, 0.3), (0.05, 0.05, 80.0)])
def test_a_box_is_met_to_rounding(size):
    """Closed form: outside the length of the overshoot, inside the least way to a face."""
    high = np.array(size)
    points = somewhere(2, low=-0.5 * high - 0.5, high=1.5 * high + 0.5, count=2000)
    np.testing.assert_allclose(
        SignedDistance(box((0, 0, 0), size))(points), box_distance(points, (0, 0, 0), size), atol=ROUNDING_MM
    )


@pytest.mark.parametrize(("around", "across"), [(24, 12), (96, 48), (384, 96)])
def test_a_torus_is_met_within_the_chord_errors(around, across):
    """hypot(hypot(x, y) - R, z) - r. Corners on the surface; sags R' (1 - cos(pi / n)) along either circle add up."""
    large, small = 9.0, 1.2
    turn = 2 * pi * np.arange(across) / across
    ring = swept(np.column_stack((small * np.cos(turn), small * np.sin(turn))), around=around, radius=large)
    points = somewhere(3, low=(-11, -11, -2), high=(11, 11, 2))
    truth = np.hypot(np.hypot(points[:, 0], points[:, 1]) - large, points[:, 2]) - small
    sag = (large + small) * (1 - cos(pi / around)) + small * (1 - cos(pi / across))
    miss = np.abs(SignedDistance(ring)(points) - truth)
    assert miss.max() <= sag + ROUNDING_MM, f"observed {miss.max():.3g} mm, sags {sag:.3g} mm"
    assert miss.max() > sag / 10, "the sags are no idle bound"


def test_a_cylinder_is_met_within_the_chord_error():
    """Outside overshoots in radius and height, inside the least way to the mantle or a lid."""
    sides, radius, height = 360, 3.0, 10.0
    rod = from_manifold(manifold3d.Manifold.cylinder(height, radius, radius, sides))
    points = somewhere(4, low=(-5, -5, -3), high=(5, 5, 13), count=2000)
    out = np.hypot(points[:, 0], points[:, 1]) - radius
    up = np.abs(points[:, 2] - height / 2) - height / 2
    truth = np.hypot(np.maximum(out, 0), np.maximum(up, 0)) + np.minimum(np.maximum(out, up), 0)
    miss = np.abs(SignedDistance(rod)(points) - truth)
    assert miss.max() <= radius * (1 - cos(pi / sides)) + ROUNDING_MM


def test_the_middle_of_a_polygonal_bar_is_as_deep_as_its_inscribed_circle():
    """A regular prism's axis is a apothem = s / (2 tan(pi / n)) from every side."""
    for sides in (3, 4, 6, 48):
        bar = from_manifold(manifold3d.Manifold.cylinder(100.0, 2.0, 2.0, sides))
        side = 2 * 2.0 * np.sin(pi / sides)
        assert SignedDistance(bar)([(0, 0, 50.0)])[0] == pytest.approx(-side / (2 * tan(pi / sides)), abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_a_second_library_finds_the_same_nearest_points_on_crumpled_spheres(seed):
    """trimesh's exhaustive search, in doubles; corners are moved by a third of the sides, so that folds and spikes arise."""
    mesh = shaken(icosphere(2.0, halvings=3), by=0.08, seed=seed)
    points = somewhere(seed, low=-3, high=3, count=150)
    _, truth, _ = trimesh.proximity.closest_point_naive(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False), points)
    np.testing.assert_allclose(np.abs(SignedDistance(mesh)(points)), truth, atol=1e-9)


def test_a_third_library_finds_the_same_gap_to_a_grain():
    """manifold3d's least gap between the solid and a tetrahedron of a nanometre at the point."""
    band = SHAPES["half-round-band"].make(fineness=Fineness(chord_mm=0.05, longest_mm=2.0))
    solid, distance = to_manifold(band), SignedDistance(band)
    points = somewhere(6, low=-12, high=12, count=120)
    points = points[distance(points) > 0.01]
    assert len(points) > 50
    for point in points[:50]:
        grain = manifold3d.Manifold.tetrahedron().scale((1e-6,) * 3).translate(tuple(point))
        assert solid.min_gap(grain, 30.0) == pytest.approx(distance(point[None])[0], abs=1e-5)


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_is_inside_where_its_winding_number_says_so(name):
    """On the surface's own corners moved a little, and on places all over the box."""
    mesh = SHAPES[name].make(fineness=Fineness(chord_mm=0.05, longest_mm=2.0))
    low, high = mesh.bounds
    rng = np.random.default_rng(7)
    corners = mesh.vertices[rng.integers(len(mesh.vertices), size=100)]
    points = np.vstack((corners + rng.normal(scale=0.05, size=corners.shape), rng.uniform(low, high, (100, 3))))
    found = SignedDistance(mesh)(points)
    truth = np.array([holds(mesh, point) for point in points])
    np.testing.assert_array_equal(found < 0, truth)
    assert 10 < truth.sum() < 190, "places on both sides were tried"


@pytest.mark.parametrize("name", SHAPES)
def test_no_ray_meets_a_shape_nearer_than_its_distance_and_the_normal_ray_meets_it_there(name):
    """From a point in space the surface is nowhere nearer than |d|; from a face's middle, d rises along its normal one for one."""
    mesh = SHAPES[name].make(fineness=Fineness(chord_mm=0.05, longest_mm=2.0))
    caster, distance = Caster(mesh), SignedDistance(mesh)
    low, high = mesh.bounds
    points = somewhere(8, low=low - 1, high=high + 1, count=300)
    heading = np.random.default_rng(9).normal(size=(300, 3))
    met, _ = caster.first(points, heading)
    assert (met >= np.abs(distance(points)) - 1e-5 * np.linalg.norm(high - low)).all()
    broad = np.flatnonzero(mesh.areas > 1e-3)
    lift = 1e-6
    over = mesh.centres[broad] + lift * mesh.normals[broad]
    np.testing.assert_allclose(distance(over), lift, atol=1e-10)
    np.testing.assert_allclose(distance(mesh.centres[broad] - lift * mesh.normals[broad]), -lift, atol=1e-10)


def test_cubes_that_overlap_are_one_by_the_least_distance():
    """Outside: the distance to the union, measured on its own mesh. Inside: the deeper of both, in closed form."""
    one, two = ((0, 0, 0), (2, 2, 2)), ((1, 1, 1), (3, 3, 3))
    union = from_manifold(to_manifold(box(*one)) + to_manifold(box(*two)))
    points = somewhere(10, low=-1, high=4, count=3000)
    found, truth = SignedDistance([box(*one), box(*two)])(points), SignedDistance(union)(points)
    np.testing.assert_allclose(found, np.minimum(box_distance(points, *one), box_distance(points, *two)), atol=ROUNDING_MM)
    outside = truth > 0
    np.testing.assert_allclose(found[outside], truth[outside], atol=ROUNDING_MM)
    np.testing.assert_array_equal(found < 0, truth < 0)
    assert (found[~outside] >= truth[~outside] - ROUNDING_MM).all()


def test_the_inside_of_a_grid_adds_up_to_the_volume():
    """Divergence theorem against counting: 0.3 mm cells of a turned signet, of which the surface cuts few; an octree asks so."""
    mesh = SHAPES["signet"].make()
    mesh = mesh.moved(np.column_stack((turned(np.random.default_rng(12)), np.zeros(3))))
    low, high = mesh.bounds
    axes = [np.arange(a - 0.15, b + 0.3, 0.3) for a, b in zip(low, high, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    share = np.clip(0.5 - SignedDistance(mesh)(points) / 0.3, 0, 1)
    assert share.sum() * 0.3**3 == pytest.approx(mesh.volume_mm3, rel=2e-3)


def test_a_slope_of_one_leads_to_the_surface():
    """Where the gradient exists it has length one, so that stepping back by d along it ends on the surface (eikonal equation)."""
    mesh = icosphere(2.0, halvings=4)
    distance = SignedDistance(mesh)
    points = somewhere(13, low=-4, high=4, count=400)
    d, step = distance(points), 1e-5
    gradient = np.column_stack([(distance(points + step * e) - distance(points - step * e)) / (2 * step) for e in np.eye(3)])
    clear = np.abs(np.linalg.norm(points, axis=1)) > 0.5
    smooth = clear & (np.abs(np.linalg.norm(gradient, axis=1) - 1) < 1e-4)
    assert smooth.sum() > 0.9 * clear.sum()
    np.testing.assert_allclose(distance(points - d[:, None] * gradient)[smooth], 0.0, atol=1e-3)
