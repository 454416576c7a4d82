"""Loops over the cells of the octree, and over those of the metal and which touch, beside their twins (see `test_kernels.py`)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.physics.kernels import WORTH_SHARING, _reference_cells, feeding, tree
from tests.unit.physics.kernel_samples import FEW, blank, both, same, sizes


def split_cells(rng, edge):
    """A cube of edge^3 cells, some of them split: index and level, in any order."""
    index, level = [], []
    for corner in np.ndindex(edge, edge, edge):
        if rng.uniform() < 0.5:
            index += [[2 * c + d for c, d in zip(corner, kid, strict=True)] for kid in np.ndindex(2, 2, 2)]
            level += [0] * 8
        else:
            index.append(list(corner))
            level.append(1)
    order = rng.permutation(len(level))
    return np.array(index, dtype=np.int32).reshape(-1, 3)[order], np.array(level, dtype=np.int8)[order]


@sizes(0, 1, 11, least=2, most=3)
def test_neighbours_are_those_that_a_dictionary_finds(edge, rng):
    index, level = split_cells(rng, edge)
    assert edge < 11 or index.size > WORTH_SHARING
    same("morton", index, level, blank(level.size, np.int64))
    codes = np.empty(level.size, dtype=np.int64)
    tree.morton(index, level, codes)
    same("neighbours", codes, index, level)


@pytest.mark.parametrize("times", [1, 200])
def test_the_share_of_a_cut_cube_is_that_of_its_points(times):
    """Many times the same cubes: there the loop is shared, and the twin need not count all of them."""
    rng = np.random.default_rng(4)
    slope = rng.normal(size=(30, 3))
    slope /= np.linalg.norm(slope, axis=1)[:, None]
    distance = rng.uniform(-1, 1, 30)
    out, expected = blank(30 * times), blank(30)
    tree.cut_fraction(np.tile(distance, times), np.tile(slope, (times, 1)), out)
    _reference_cells.cut_fraction(distance, slope, expected)
    assert out == pytest.approx(np.tile(expected, times), abs=0.02)


def test_a_cube_cut_in_half_is_half_full():
    out = np.empty(3)
    tree.cut_fraction(np.zeros(3), np.array([[1.0, 0, 0], [1, 1, 0], [1, 1, 1]]), out)
    assert out == pytest.approx([0.5] * 3, abs=1e-6)


@sizes(0, 1)
def test_faces_are_packed_into_rows_like_the_twin_does(n, rng):
    """Few cells and many faces: some rows are over, some have none."""
    many = 0 if n == 0 else int(rng.integers(0, 4 * n))
    first, second = (rng.integers(0, max(n, 1), many).astype(np.int32) // 2 for _ in range(2))
    same("pack", first, second, n)


@sizes(0, 1)
def test_the_passing_of_levels_is_noted_like_the_twin_does(n, rng):
    """Some cells stand still, some pass several levels, some just come to one; what was noted before stays, or is noted anew."""
    cells, heats_at = np.arange(0, n, 2, dtype=np.int32), np.array([0.8, 0.5, 0.2])
    passed = np.where(rng.uniform(size=(cells.size, 3)) < 0.5, np.nan, 2.2)
    now, then = rng.choice([0.0, 0.2, 0.5, 0.6, 0.8, 1.0], n), rng.choice([0.0, 0.2, 0.4, 0.5, 0.8, 1.0], n)
    given = {"before": then, "fall": rng.uniform(-1, 3, cells.size), "span": (2.0, 0.5), "heats": heats_at}
    same("mark_levels", passed, cells, now, rel=1e-12, **given)
    feeding.mark_levels(passed, cells, now, **given)
    assert np.all((passed[np.isfinite(passed)] >= 2.0) & (passed[np.isfinite(passed)] <= 2.5))


def touching(rng, n):
    """Lists of neighbours of n cells of which some hang together, in any order, and the order in which they turn liquid."""
    pairs = {tuple(sorted(p)) for p in rng.integers(0, max(n, 1), (int(rng.integers(0, 2 * n + 1)), 2)).tolist() if p[0] != p[1]}
    other = [rng.permutation([sum(p) - a for p in pairs if a in p]) for a in range(n)]
    start = np.concatenate([[0], np.cumsum([b.size for b in other])]).astype(np.int64)
    times = rng.integers(0, n // 2 + 1, n).astype(np.float64)
    return start, np.concatenate([[], *other]).astype(np.int64), times, np.argsort(-times, kind="stable")


def top(parent, a):
    """The first cell of a region, at the end of the way to it."""
    while parent[a] != a:
        a = parent[a]
    return int(a)


@sizes(0, 1)
def test_regions_of_liquid_join_like_those_of_the_twin(n, rng):
    start, other, _, order = touching(rng, n)
    feeder = int(rng.integers(0, max(n, 1)))
    room = {"parent": blank(n, np.int64), "out": np.full((n, 3), -1, dtype=np.int64)}
    found = [
        (count, out.tolist(), [top(parent, a) for a in range(n)])
        for count, (*_, parent, out) in both("join", order, start, other, feeder=feeder, **room)
    ]
    assert found[0] == found[1]


@sizes(1)
def test_a_pool_is_what_hangs_together_and_freezes_late(n, rng):
    start, other, times, order = touching(rng, n)
    for after in (-np.inf, float(np.median(times)), np.inf):
        for first in order[:2].tolist():
            given = {"times": times, "after": after, "number": 5, "mark": rng.integers(-1, 5, n), "out": blank(n, np.int64)}
            (many, (*_, mark, out)), (expected, (*_, twins_mark, twins)) = both("flood", first, start, other, **given)
            assert many == expected
            assert sorted(out[:many].tolist()) == twins[:many].tolist()
            assert out[0] == first
            assert np.array_equal(mark, twins_mark)


@sizes(0, 1)
def test_the_widest_way_opens_where_the_twin_first_finds_one(n, rng):
    start, other, _, order = touching(rng, n)
    for share in (0.0, 0.1, 0.4):
        ends = np.where(rng.uniform(size=n) < share, rng.integers(1, 3, n), 0)
        (place, _), (expected, _) = both("widest", order, start, other, ends=ends, parent=blank(n, np.int64))
        assert place == expected


@FEW
@given(st.integers(2, 30), st.integers(0, 2**32 - 1))
def test_a_chain_is_open_when_its_last_cell_is(n, seed):
    """By hand: a chain from end to end has its way open when the cell that froze first turns liquid, whatever the order."""
    order = np.random.default_rng(seed).permutation(n)
    start = np.concatenate([[0], np.cumsum([1, *[2] * (n - 2), 1])])
    other = np.concatenate([[b for b in (a - 1, a + 1) if 0 <= b < n] for a in range(n)])
    ends = np.zeros(n, dtype=np.int64)
    ends[0], ends[-1] = 1, 2
    assert feeding.widest(order, start, other, ends=ends, parent=blank(n, np.int64)) == n - 1
