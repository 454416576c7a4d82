"""The octree and its mesh: volumes, areas, balance, thin walls; and what the run from pour to solid refuses."""

import math

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.physics.domain import Box, Cylinder
from pourwell.physics.feeding import hanging_together
from pourwell.physics.grid import build
from pourwell.physics.kernels.tree import neighbours
from pourwell.physics.mesh import ABOVE, BELOW, METAL, SIDE
from pourwell.physics.octree import Grading
from pourwell.physics.properties import inert
from pourwell.physics.solidify import Watch, solidify
from pourwell.physics.thin import wall_thickness
from tests.verification.freezing_cases import RANGED, ball, line, poured, ring, setting

BLOCK = Box(lower=(-0.02, -0.02, 0.0), upper=(0.02, 0.02, 0.04))


def slab(points, *, thick, middle=20.01e-3, reach=8e-3):
    """Distance from a round plate [m]."""
    a, b = np.abs(points[:, 2] - middle) - thick / 2, np.hypot(points[:, 0], points[:, 1]) - reach
    return np.minimum(np.maximum(a, b), 0) + np.hypot(np.maximum(a, 0), np.maximum(b, 0))


def test_the_cells_fill_the_room_and_metal_keeps_its_volume():
    mesh = build(BLOCK, ring, 0.5e-3).mesh
    assert mesh.volume.sum() == pytest.approx(0.04**3, rel=1e-9)
    assert mesh.volume.min() > 0
    assert mesh.volume[mesh.metal].sum() == pytest.approx(math.pi * (10.5**2 - 8.5**2) * 3e-9, rel=0.005)


@pytest.mark.parametrize("axis", [(0, 0, 1), (1, 0, 0), (0.3, 0.5, 1.0)])
def test_the_stairs_have_the_area_of_the_surface(axis):
    mesh = build(BLOCK, lambda p: ring(p, axis=axis), 0.5e-3).mesh
    crossing = mesh.kind[mesh.first] != mesh.kind[mesh.second]
    true = 2 * math.pi * (10.5 + 8.5) * 3e-6 + 2 * math.pi * (10.5**2 - 8.5**2) * 1e-6
    assert mesh.area[crossing].sum() == pytest.approx(true, rel=0.015)


def test_faces_that_lie_along_a_round_side_are_no_faces_to_the_outside():
    """Large cells beside a round flask: some of their side faces stand straight in the radius, so that nothing leaves by them."""
    grid = build(Cylinder(radius=31.75e-3, height=75e-3), lambda p: ball(p, radius=5e-3, middle=(0, 0, 30e-3)), 1e-3)
    assert grid.mesh.outer_area.min() > 0
    got = solidify(grid.mesh, setting(), poured(grid.mesh), until=0.2)
    assert np.all(np.isfinite(got.temperature))


def test_no_cell_meets_one_of_less_than_half_its_size():
    cells = build(BLOCK, lambda p: ball(p, radius=5e-3, middle=(1e-3, 2e-3, 0.021)), 0.5e-3).cells
    across = neighbours(cells.code, cells.index, cells.level)
    finer = np.count_nonzero(across == -2)
    coarser = np.count_nonzero((across >= 0) & (cells.level[np.maximum(across, 0)] > cells.level[:, None]))
    assert coarser == 4 * finer > 0
    lone = np.count_nonzero(across == -1)
    edge = build(BLOCK, lambda p: ball(p, radius=5e-3, middle=(1e-3, 2e-3, 0.021)), 0.5e-3).mesh.outer_cell.size
    assert lone == edge


def test_a_flask_has_the_area_of_its_faces():
    mesh = build(Cylinder(radius=0.02, height=0.04), ring, 1e-3).mesh
    area = [mesh.outer_area[mesh.outer_face == face].sum() for face in (SIDE, BELOW, ABOVE)]
    assert area[0] == pytest.approx(2 * math.pi * 0.02 * 0.04, rel=0.06)
    assert area[1] == pytest.approx(math.pi * 0.02**2, rel=0.08)
    assert area[2] == pytest.approx(area[1])
    assert mesh.volume.sum() == pytest.approx(math.pi * 0.02**2 * 0.04, rel=1e-9)


def test_thick_metal_has_larger_cells():
    def thick(points):
        return ball(points, radius=8e-3, middle=(0, 0, 0.02))

    plain = build(BLOCK, thick, 0.5e-3, grading=Grading(across=1e9))
    by_thickness = build(BLOCK, thick, 0.5e-3)
    assert by_thickness.mesh.volume.size < 0.5 * plain.mesh.volume.size
    assert by_thickness.cells.level[by_thickness.mesh.metal].mean() > 0.9
    assert by_thickness.mesh.volume[by_thickness.mesh.metal].sum() == pytest.approx(4 / 3 * math.pi * 8e-3**3, rel=0.01)


def test_a_band_beside_a_ball_keeps_its_small_cells():
    def both(points):
        return np.minimum(ball(points, radius=6e-3, middle=(0, 0, 0.01)), ring(points, middle=(0, 0, 0.03)))

    grid = build(BLOCK, both, 0.5e-3)
    upper = (grid.mesh.kind == METAL) & (grid.mesh.centre[:, 2] > 0.026)
    assert grid.cells.level[upper].max() == 0


def test_a_wall_of_less_than_two_cells_is_noticed_and_refined():
    grid = build(BLOCK, lambda p: slab(p, thick=0.6e-3), 0.5e-3)
    assert grid.mesh.volume[grid.mesh.metal].sum() == pytest.approx(math.pi * 64e-6 * 0.6e-3, rel=0.02)
    assert grid.cells.size.min() < 0.3e-3
    assert len(grid.thin.middle) == 0 or grid.thin.cells.min() > 1


def test_a_wall_of_less_than_a_cell_is_not_lost():
    grid = build(BLOCK, lambda p: slab(p, thick=0.3e-3), 0.5e-3)
    assert grid.mesh.volume[grid.mesh.metal].sum() == pytest.approx(math.pi * 64e-6 * 0.3e-3, rel=0.03)
    assert grid.cells.size.min() <= 0.13e-3


@pytest.mark.parametrize("spacing", [1e-3, 0.5e-3])
def test_a_thin_neck_between_thick_parts_hangs_together(spacing):
    def neck(points):
        low, high = (ball(points, radius=r, middle=(0, 0, z)) for r, z in ((2e-3, 6e-3), (6e-3, 18e-3)))
        rod = np.maximum(np.hypot(points[:, 0], points[:, 1]) - 0.5e-3, np.abs(points[:, 2] - 10e-3) - 5e-3)
        return np.minimum(np.minimum(low, high), rod)

    grid = build(Cylinder(radius=14e-3, height=28e-3), neck, spacing)
    assert hanging_together(grid.mesh) == 1
    assert grid.thin.cells.min(initial=2.0) > 1.9


def test_walls_that_one_halving_heals_stay_healed_when_thinner_ones_need_two():
    def plates(points):
        return np.minimum(slab(points, thick=0.8e-3, middle=10e-3), slab(points, thick=0.3e-3, middle=30e-3))

    grid = build(BLOCK, plates, 0.5e-3)
    edge = grid.cells.size[grid.cells.distance < 0]
    upper = grid.cells.centre[grid.cells.distance < 0][:, 2] > 20e-3
    assert edge[~upper].max() < 0.3e-3
    assert edge[upper].max() < 0.15e-3
    assert np.median(edge[~upper]) > 1.9 * np.median(edge[upper])


def test_a_wall_that_stays_too_thin_is_told():
    grid = build(BLOCK, lambda p: slab(p, thick=0.2e-3, reach=3e-3), 0.5e-3)
    assert len(grid.thin.middle) > 0
    assert grid.thin.thickness.min() == pytest.approx(0.2e-3, rel=0.1)
    assert grid.thin.middle[:, 2] == pytest.approx(20.01e-3, abs=0.1e-3)
    assert grid.thin.cells.max() < 2


def test_edges_and_thick_walls_are_not_taken_for_thin_ones():
    for shape in (ring, lambda p: ring(p, axis=(0.3, 0.5, 1.0)), lambda p: ball(p, radius=3e-3, middle=(0, 0, 0.02))):
        assert len(build(BLOCK, shape, 0.5e-3).thin.middle) == 0


def test_a_ray_measures_a_wall():
    points = np.array([[1e-3, 0.5e-3, 20.2e-3], [0, 0, 19.9e-3]])
    thick, middle = wall_thickness(lambda p: slab(p, thick=0.6e-3), points, most=1e-3)
    assert thick == pytest.approx([0.6e-3] * 2, rel=0.02)
    assert middle[:, 2] == pytest.approx([20.01e-3] * 2, abs=0.02e-3)
    assert np.isinf(wall_thickness(lambda p: slab(p, thick=3e-3), points, most=1e-3)[0]).all()
    assert len(wall_thickness(lambda p: slab(p, thick=3e-3), points[:0], most=1e-3)[0]) == 0


def test_bodies_are_told_apart():
    def both(points):
        return np.minimum(ball(points, radius=3e-3, middle=(0, 0, 0.01)), ball(points, radius=3e-3, middle=(0, 0, 0.03)))

    mesh = build(BLOCK, both, 1e-3, body=lambda p: (p[:, 2] > 0.02).astype(int)).mesh
    assert set(mesh.body[mesh.metal]) == {0, 1}
    assert set(mesh.body[mesh.kind != METAL]) == {-1}


def test_a_grid_without_metal_is_refused():
    with pytest.raises(BadRequestError, match="no metal is left"):
        build(BLOCK, lambda p: np.full(len(p), 1.0), 1e-3)


def test_the_mesh_is_closed_to_writing():
    mesh = build(BLOCK, lambda p: ball(p, radius=4e-3, middle=(0, 0, 0.02)), 1e-3).mesh
    with pytest.raises(ValueError, match="read-only"):
        mesh.volume[0] = 1.0


def small():
    return line(np.linspace(0, 10e-3, 11), lambda x: x < 2e-3)


@pytest.mark.parametrize(
    ("metal", "mould", "said"),
    [
        (850.0, 500.0, "below its liquidus"),
        (1000.0, 850.0, "hotter than the metal's solidus"),
        (-300.0, 500.0, "above zero kelvin"),
    ],
)
def test_a_pour_that_makes_no_sense_is_refused(metal, mould, said):
    with pytest.raises(BadRequestError, match=said):
        solidify(small(), setting(), poured(small(), metal, mould))


def test_a_mould_without_metal_or_with_metal_that_does_not_melt_is_refused():
    empty = line(np.linspace(0, 10e-3, 11), lambda x: x < -1)
    with pytest.raises(BadRequestError, match="no metal"):
        solidify(empty, setting(), poured(empty))
    with pytest.raises(BadRequestError, match="does not melt"):
        solidify(small(), setting(inert(density=1, heat_capacity=1, conductivity=1)), poured(small()))
    with pytest.raises(BadRequestError, match="no time"):
        solidify(small(), setting(), poured(small()), until=0.0)


def test_a_run_that_ends_early_tells_what_is_still_liquid():
    got = solidify(small(), setting(RANGED), poured(small()), until=0.5)
    assert got.time == pytest.approx(0.5)
    assert got.liquid_left == pytest.approx(2e-3)
    assert np.isnan(got.end).all()


def test_the_caller_sees_every_step_and_may_stop_it():
    seen = []

    def look(moment):
        seen.append(moment.time)
        if len(seen) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        solidify(small(), setting(), poured(small()), watch=Watch(each=look))
    assert seen == sorted(seen)
    assert len(seen) == 3


def test_rate_and_gradient_are_told_where_a_cell_becomes_solid():
    mesh = line(np.concatenate([np.linspace(0, 5e-3, 11), 5e-3 + np.cumsum(0.5e-3 * 1.1 ** np.arange(30))]), lambda x: x < 5e-3)
    got = solidify(mesh, setting(), poured(mesh))
    assert np.all(got.rate > 0)
    assert np.all(got.gradient[1:] > 0)
    assert got.gradient.max() < 1e4
    assert got.end[-1] == got.end.min()
    assert np.ptp(got.end) < 1e-3 * got.end[0]  # silver is nearly of one temperature
