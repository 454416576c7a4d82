"""Sampled nearness: never under the gap, and over it by little; rigid transforms."""

import manifold3d
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from pourwell.geometry.gap import gap_mm
from pourwell.geometry.packing import after, back, cloud, moved, nearness_mm, of_points, rigid
from pourwell.geometry.shapes import SHAPES, about
from pourwell.geometry.solidity import from_manifold

M = manifold3d.Manifold


def thrown(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.column_stack((Rotation.random(random_state=seed).as_matrix(), rng.normal(size=3) * 13))


@pytest.mark.parametrize("name", SHAPES)
def test_samples_overstate_a_gap_by_little_and_never_understate_it(name):
    mesh = about(4000, SHAPES[name].make)
    fine, coarse = cloud(mesh, spacing_mm=0.4), cloud(mesh, spacing_mm=0.7)
    over = []
    for seed in range(24):
        about_mm = nearness_mm(fine, moved(coarse.points, thrown(seed)), reach_mm=6.0)
        if 1 < about_mm < 6:
            over.append(about_mm - gap_mm(mesh, mesh.moved(thrown(seed)), search_mm=about_mm + 0.01))
    assert over, "no throw came near enough"
    assert min(over) >= -1e-9
    assert max(over) < 0.5, f"observed {max(over):.3f}"
    assert np.mean(over) < 0.15, f"observed {np.mean(over):.3f}"


def test_the_edges_of_a_block_are_sampled_along_their_length():
    block = from_manifold(M.cube((10, 10, 10), True))
    points = cloud(block, spacing_mm=0.5).points
    on_edge = (np.abs(points) > 5 - 1e-9).sum(axis=1) >= 2
    assert on_edge.sum() > 12 * 15
    assert nearness_mm(of_points(points), np.array([[8.0, 8.0, 0.1]]), reach_mm=9) == pytest.approx(3 * 2**0.5, abs=0.02)


def test_every_place_of_a_surface_has_a_sample_within_the_spacing():
    ball = from_manifold(M.sphere(6, 96))
    samples = cloud(ball, spacing_mm=0.7)
    away = samples.tree.query(cloud(ball, spacing_mm=0.2).points)[0]
    assert away.max() < 0.9


def test_nothing_is_nearer_than_the_reach():
    assert nearness_mm(of_points(np.zeros((1, 3))), np.array([[9.0, 0, 0]]), reach_mm=4) == 4
    assert nearness_mm(of_points(np.zeros((1, 3))), np.array([[2.5, 2.5, 2.5]]), reach_mm=4) == 4


@given(seed=st.integers(0, 10_000))
def test_a_transform_and_its_inverse_leave_points_where_they_were(seed):
    points = np.random.default_rng(seed).normal(size=(5, 3))
    transform = thrown(seed)
    assert moved(moved(points, transform), back(transform)) == pytest.approx(points)
    assert after(transform, back(transform)) == pytest.approx(np.eye(4)[:3], abs=1e-9)


def test_one_transform_after_another_does_both():
    points = np.random.default_rng(1).normal(size=(5, 3))
    first, second = thrown(1), thrown(2)
    assert moved(points, after(second, first)) == pytest.approx(moved(moved(points, first), second))


def test_a_frame_puts_its_axes_where_they_are_told():
    axes = Rotation.from_euler("z", 90, degrees=True).as_matrix()
    placed = moved(np.eye(3), rigid(axes, (1, 2, 3)))
    assert placed == pytest.approx(axes + np.array([1, 2, 3]))
