"""The freezing solver on the octree, against closed forms and a finer model: balls, rings, trees of cells, symmetry, the ledger."""

from collections import deque
from dataclasses import replace

import numpy as np
import pytest

from pourwell.errors import UnsoundResultError
from pourwell.physics.boundary import Contact, Film, Surroundings, Wall
from pourwell.physics.conduction import Balance
from pourwell.physics.domain import Box, Cylinder
from pourwell.physics.grid import build
from pourwell.physics.kernels.state import Step, residual
from pourwell.physics.march import Marcher, Pace, march
from pourwell.physics.mesh import MOULD, WALL, with_wall
from pourwell.physics.octree import Grading
from pourwell.physics.properties import inert, ranged
from pourwell.physics.solidify import solidify
from pourwell.units import k_from_c
from tests.verification.freezing_cases import (
    ALONE,
    PLASTER,
    RANGED,
    STERLING,
    ball,
    growing,
    melted_at,
    poured,
    ring,
    setting,
    turned,
)
from tests.verification.freezing_truths import REFERENCE_S

BLOCK = Box(lower=(-0.02, -0.02, 0.0), upper=(0.02, 0.02, 0.04))
RADIAL_S = 11.098
"""Mean end of freezing of a ball of 6 mm of the same materials: shells of 0.05 mm, steps of 0.02 t, by this program's march."""
EVERYWHERE = Grading(across=1e9)
"""No coarser cells where metal is thick."""


def mean_end(mesh, got):
    return float(np.average(got.end, weights=mesh.volume[got.cells]))


def nowhere(points):
    return np.full(len(points), 1.0)


def test_a_straight_fall_of_temperature_is_exact_across_large_and_small_cells():
    """Linear fields are solutions of the heat equation: no cell inside, whatever its neighbours, may gain or lose."""
    grid = build(BLOCK, lambda p: ball(p, radius=6e-3, middle=(1e-3, 0, 0.019)), 1e-3)
    same = replace(grid.mesh, kind=np.zeros_like(grid.mesh.kind))
    away = grid.cells.distance
    assert len(np.unique(same.level)) >= 3
    balance = Balance(same, setting(), np.full(same.volume.size, 700.0))
    field = 700.0 + same.centre @ np.array([3e3, -2e3, 5e3])
    r = np.empty(field.size)
    step = Step(np.array(same.volume), np.zeros(field.size), 0.0)
    residual(balance.rows, step, balance.outside, heat=0 * field, temperature=field, out=r)
    edge = np.zeros(field.size, dtype=bool)
    edge[same.outer_cell] = True
    crossing = np.abs(away) < 2.2 * grid.cells.size * 0.5  # the surface itself has its own areas and distances
    flux = 0.5 * 6e3 * grid.cells.size**2 / grid.cells.size * grid.cells.size
    off = np.abs(r) / flux
    big = ~edge & ~crossing
    assert big.sum() > 1000
    assert off[big].max() < 1e-5, f"observed {off[big].max():.2e} of a face's flux"
    assert balance.weights[: 6 * field.size].min() >= 0


def test_without_the_mended_faces_the_small_cells_would_gain_heat():
    """The proof that the test above can fail: plain fluxes between two middles are off by a twelfth of a face's flux and more."""
    grid = build(BLOCK, lambda p: ball(p, radius=6e-3, middle=(1e-3, 0, 0.019)), 1e-3)
    mesh = replace(grid.mesh, kind=np.zeros_like(grid.mesh.kind))
    whole = replace(mesh, area=np.minimum(grid.cells.size[mesh.first], grid.cells.size[mesh.second]) ** 2)
    balance = Balance(whole, setting(), np.full(mesh.volume.size, 700.0))
    field = 700.0 + mesh.centre @ np.array([3e3, 0, 0])
    r = np.empty(field.size)
    step = Step(np.array(mesh.volume), np.zeros(field.size), 0.0)
    residual(balance.rows, step, balance.outside, heat=0 * field, temperature=field, out=r)
    far = (grid.cells.distance > 4e-3) & (grid.cells.distance < 9e-3)
    assert (np.abs(r)[far] / (0.5 * 3e3 * grid.cells.size[far] ** 2)).max() > 0.02


def test_the_cross_section_of_a_ring_freezes_as_in_the_finer_model():
    """The reference, on a cross-section of 0.1 mm."""
    mesh = turned(
        growing((8.5e-3, 10.5e-3), 0.0, 34e-3, step=0.1e-3, factor=1.1),
        growing((-1.5e-3, 1.5e-3), -24e-3, 24e-3, step=0.1e-3, factor=1.1),
        lambda r, z: (r > 8.5e-3) & (r < 10.5e-3) & (abs(z) < 1.5e-3),
    )
    got = solidify(mesh, setting(), poured(mesh), pace=Pace(first=0.01, growth=0.04))
    mean = mean_end(mesh, got)
    assert mean == pytest.approx(REFERENCE_S, rel=0.01), f"observed {mean:.4f} s"
    assert got.ledger.share < 1e-9
    assert got.liquid_left == 0


def sphere_end(spacing, *, mould=PLASTER, metal=RANGED, pour=1000.0):
    grid = build(BLOCK, lambda p: ball(p, radius=3e-3, middle=(0.1e-3, -0.05e-3, 20.07e-3)), spacing, grading=EVERYWHERE)
    got = solidify(grid.mesh, setting(metal, mould), poured(grid.mesh, pour))
    return mean_end(grid.mesh, got), grid.mesh, got


def test_a_ball_s_freezing_closes_in_with_smaller_cells():
    """Self-convergence at 1.0, 0.5 and 0.25 mm: the second change is less than the first."""
    ends = [sphere_end(h)[0] for h in (1.0e-3, 0.5e-3, 0.25e-3)]
    assert abs(ends[2] - ends[1]) < 0.5 * abs(ends[1] - ends[0]), f"observed {ends}"
    assert ends[2] == pytest.approx(RADIAL_S, rel=0.02), f"observed {ends}"


def test_a_mirrored_and_a_turned_piece_freeze_as_the_piece_does():
    """Symmetry of the equation and of the lattice: a ball off the middle, mirrored in x, and turned by a right angle."""
    ends = []
    for middle in ((2.3e-3, 1.1e-3, 0.0193), (-2.3e-3, 1.1e-3, 0.0193), (1.1e-3, 2.3e-3, 0.0193)):
        grid = build(BLOCK, lambda p, m=middle: ball(p, radius=3e-3, middle=m), 1e-3)
        got = solidify(grid.mesh, setting(), poured(grid.mesh), pace=Pace(balance=1e-5))
        ends.append(np.sort(got.end))
    assert ends[0] == pytest.approx(ends[1], rel=2e-3)
    assert ends[0] == pytest.approx(ends[2], rel=2e-3)


def test_a_closed_flask_keeps_its_heat():
    """Conservation: with no way out the heat of metal and mould together stays to a millionth of what has moved."""
    grid = build(BLOCK, ring, 1e-3)
    first = None
    for moment in march(grid.mesh, setting(), poured(grid.mesh), until=4.0):
        total = float(grid.mesh.volume @ moment.heat)
        first = total if first is None else first
        assert total == pytest.approx(first, rel=1e-9)
        assert moment.ledger.share < 1e-6
    assert moment.ledger.given > 0
    assert moment.ledger.lost == 0


def flask(spacing=1e-3, *, around, thickness=2e-3, contact=None, domain=None):
    steel = inert(density=7850, heat_capacity=500, conductivity=25)
    grid = build(domain or Cylinder(radius=0.02, height=0.04), ring, spacing)
    mesh = with_wall(grid.mesh, thickness)
    full = replace(around, wall=Wall(thickness=thickness, substance=steel, contact=500))
    made = replace(setting(contact=contact), substances=(PLASTER, RANGED, steel), surroundings=full)
    start = poured(mesh)
    return mesh, made, start


ROOM = Surroundings(
    side=Film(coefficient=10, outside=298.0, emissivity=0.8),
    below=Film(coefficient=60, outside=298.0),
    above=Film(coefficient=10, outside=298.0, emissivity=0.9),
)


def test_a_flask_in_the_room_loses_what_its_ledger_says():
    """Film and radiation on all faces; what leaves, step by step, is what is missing inside, to a thousandth."""
    mesh, made, start = flask(around=ROOM)
    got = solidify(mesh, made, start)
    assert got.ledger.share < 1e-6
    assert got.ledger.lost > 0
    wall = got.temperature[mesh.kind == WALL].mean()
    assert k_from_c(300) < wall < k_from_c(500), f"observed {wall:.0f} K"


def test_an_empty_steel_wall_cools_by_radiation_as_the_closed_form_says():
    """Lumped 2 mm steel, one side, eps 0.8, rho c s = 7850 J/(m2 K): 973.15 to 773.15 K towards 298.15 K in 63.18 s.

    Incropera & DeWitt 6th ed., equation 5.18.
    """
    steel = inert(density=7850, heat_capacity=500, conductivity=1e4)
    mesh = build(Box(lower=(0, 0, 0), upper=(4e-3, 4e-3, 2e-3)), a_ball_inside, 0.5e-3).mesh
    around = Surroundings(above=Film(coefficient=0, outside=298.15, emissivity=0.8))
    times, seen = [0.0], [973.15]
    one = replace(mesh, kind=np.full_like(mesh.kind, MOULD))
    start = np.full(one.volume.size, 973.15)
    for moment in march(one, setting(mould=steel, around=around), start, pace=Pace(first=0.2, growth=0.02), until=80):
        times.append(moment.time)
        seen.append(float(moment.temperature.mean()))
    got = float(np.interp(-773.15, -np.array(seen), times))
    assert got == pytest.approx(63.18, rel=0.005), f"observed {got:.2f} s"


def a_ball_inside(points):
    """Some metal, since a grid without it is refused; the test takes it for steel."""
    return ball(points, radius=0.8e-3, middle=(2e-3, 2e-3, 1e-3))


def test_a_film_that_falls_away_with_the_skin_slows_freezing():
    """Trend: 1500 W/(m2 K) throughout is faster than 1500 falling to 300 with the skin, and slower than perfect contact."""
    grid = build(BLOCK, ring, 1e-3)
    films = (
        None,
        Contact(solid_fraction=(0.0,), coefficient=(1500.0,)),
        Contact(solid_fraction=(0.0, 0.3), coefficient=(1500.0, 300.0)),
    )
    perfect, steady, falling = (
        mean_end(grid.mesh, solidify(grid.mesh, setting(contact=film), poured(grid.mesh))) for film in films
    )
    assert perfect < steady < falling, f"observed {perfect:.2f}, {steady:.2f}, {falling:.2f} s"
    assert steady < 1.6 * perfect


def test_a_hotter_flask_freezes_later():
    """Trend of the trade and of the square law."""
    grid = build(BLOCK, ring, 1e-3)
    ends = [mean_end(grid.mesh, solidify(grid.mesh, setting(), poured(grid.mesh, 1000, t))) for t in (450, 600)]
    assert ends == sorted(ends)
    assert ends[1] > 1.4 * ends[0], f"observed {ends}"


def test_time_goes_with_the_square_of_length():
    """Similarity of the heat equation: all lengths doubled, steps with them, all times are four times as long."""
    ends = []
    for scale in (1.0, 2.0):
        box = Box(lower=tuple(scale * x for x in BLOCK.lower), upper=tuple(scale * x for x in BLOCK.upper))
        grid = build(box, lambda p, s=scale: s * ring(p / s), 1e-3 * scale, grading=Grading(outer=2.5e-3 * scale))
        got = solidify(grid.mesh, setting(), poured(grid.mesh), pace=Pace(first=0.05 * scale**2, balance=1e-5))
        ends.append(mean_end(grid.mesh, got))
    assert ends[1] == pytest.approx(4 * ends[0], rel=1e-3), f"observed {ends}"


@pytest.mark.parametrize("metal", [melted_at(893), ranged(STERLING, solidus=k_from_c(892.9), liquidus=k_from_c(893.1)), RANGED])
def test_pure_metal_eutectic_and_long_range_alloy_all_converge_in_three_dimensions(metal):
    """A ring at 1 mm: few solutions a step, ledger closed, all solid."""
    grid = build(BLOCK, ring, 1e-3)
    got = solidify(grid.mesh, setting(metal), poured(grid.mesh))
    assert got.liquid_left == 0
    assert got.newton < 8 * got.steps, f"observed {got.newton} solutions in {got.steps} steps"
    assert got.ledger.share < 1e-6
    assert np.all(got.local_time >= 0)


def test_heat_that_goes_missing_is_not_let_pass():
    """Weights that differ between the two sides of a face make heat: the march raises instead of going on."""
    grid = build(BLOCK, ring, 1e-3)
    marcher = Marcher(grid.mesh, setting(around=ALONE), poured(grid.mesh), pace=Pace())
    marcher.step(1.0)
    mould = np.flatnonzero(grid.mesh.kind == MOULD)
    marcher.balance.rows.weight[:, mould[np.argsort(grid.cells.distance[mould])[:400]]] *= np.float32(0.5)
    with pytest.raises(UnsoundResultError, match="Heat went missing"):
        deque((marcher.step(10.0) for _ in range(40)), maxlen=0)


def test_a_step_that_cannot_converge_is_halved_and_then_given_up():
    """A tolerance below what numbers can hold: the march says that it does not converge."""
    grid = build(BLOCK, ring, 1e-3)
    pace = Pace(balance=0.0, newton=3)
    with pytest.raises(UnsoundResultError, match="did not converge"):
        Marcher(grid.mesh, setting(), poured(grid.mesh), pace=pace).step(1.0)
