"""Regions of liquid on nets made by hand: which are lost, when, through which cell, and what they miss."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.errors import BadRequestError
from pourwell.physics.feeding import LEAST_CELLS, LEAST_LEAD, LEVELS, Freeze, Web, clock, pools, web
from pourwell.physics.mesh import METAL, MOULD, Mesh

VOLUME = 1e-9
"""Of each cell [m3]: a cubic millimetre."""


def net_of(pairs, count, *, body=None, volume=VOLUME):
    """A net of cells in a row, a millimetre apart, with the given pairs touching over a square millimetre."""
    a, b = np.array(pairs).T
    ends, others = np.concatenate([a, b]), np.concatenate([b, a])
    order = np.argsort(ends, kind="stable")
    centre = np.zeros((count, 3))
    centre[:, 0] = 1e-3 * np.arange(count)
    return Web(
        cells=np.arange(count, dtype=np.int32),
        volume=np.full(count, volume),
        centre=centre,
        body=np.zeros(count, dtype=np.int64) if body is None else np.array(body, dtype=np.int64),
        start=np.concatenate([[0], np.cumsum(np.bincount(ends, minlength=count))]),
        other=others[order],
        area=np.full(ends.size, 1e-6),
    )


def row(count):
    return [(n, n + 1) for n in range(count - 1)]


def straight(times):
    """Each cell passes the levels evenly from 0 to its own time."""
    levels = np.array(LEVELS)
    return Freeze(levels=levels, passed=np.array(times, dtype=float)[:, None] * levels)


def lost(times, *, pairs=None, feeder=0, limit=0.7):
    net = net_of(pairs or row(len(times)), len(times))
    return net, pools(net, straight(times), limit=limit, feeder=feeder)


LONG = 12
DUMB_BELL = [20.0] * LONG + [5.0] + [10.0] * LONG
"""A feeder, a neck that is solid first, and a heavy end."""


def test_a_row_that_freezes_towards_its_feeder_loses_nothing():
    _, found = lost(np.linspace(30, 5, 25))
    assert found == ()


def test_a_heavy_end_behind_a_neck_is_lost_when_the_neck_is_solid():
    _, (pool,) = lost(DUMB_BELL)
    assert pool.lost == pytest.approx(0.7 * 5.0)
    assert pool.end == pytest.approx(0.7 * 10.0)
    assert sorted(pool.cells) == list(range(LONG + 1, 2 * LONG + 1))
    assert pool.neck == LONG
    assert pool.volume == pytest.approx(LONG * VOLUME)


def test_what_is_liquid_and_what_is_missed_when_the_way_shuts():
    """At 3.5 s cells that are solid at 10 s are solid to 0.35: 0.65 is liquid, and 0.7 - 0.35 would still have been fed."""
    _, (pool,) = lost(DUMB_BELL)
    assert pool.liquid == pytest.approx(0.65 * LONG * VOLUME, rel=1e-6)
    assert pool.unfed == pytest.approx(0.35 * LONG * VOLUME, rel=1e-6)
    assert pool.due == pytest.approx(0.7 * LONG * VOLUME)
    assert pool.starved == pytest.approx(0.5, rel=1e-6)
    assert pool.void(0.05) == pytest.approx(0.05 * pool.liquid)


def test_a_pool_that_is_lost_just_before_the_limit_misses_almost_nothing():
    """The measure does not jump: a neck that is solid a little sooner than what it feeds is no defect."""
    nearly = [20.0] * LONG + [9.8] + [10.0] * LONG
    _, (pool,) = lost(nearly)
    assert pool.starved == pytest.approx(0.02, abs=0.005)
    _, none = lost([20.0] * LONG + [10.1] + [10.0] * LONG)
    assert none == ()


def test_the_other_end_is_lost_when_the_feeder_is_there():
    """Not the smaller or the sooner region is lost but the one without the feeder."""
    _, (pool,) = lost(DUMB_BELL, feeder=2 * LONG)
    assert sorted(pool.cells) == list(range(LONG))


def test_of_two_regions_without_the_feeder_the_one_that_freezes_sooner_is_lost_to_the_other():
    times = [30.0] * LONG + [4.0] + [20.0] * LONG + [8.0] + [12.0] * LONG
    _, found = lost(times)
    by_time = sorted(found, key=lambda pool: pool.lost)
    assert [round(pool.lost, 3) for pool in by_time] == [2.8, 5.6]
    assert sorted(by_time[1].cells) == list(range(2 * LONG + 2, 3 * LONG + 2))
    assert len(by_time[0].cells) == 2 * LONG + 1, "the first loss takes both, which still hang together then"


def test_a_ring_is_fed_round_both_ways():
    """One neck in a ring loses nothing; two necks cut off what lies between."""
    count = 40
    pairs = [*row(count), (count - 1, 0)]
    times = np.full(count, 10.0)
    times[0] = 30.0
    times[10] = 3.0
    assert lost(times, pairs=pairs)[1] == ()
    times[30] = 5.0
    _, (pool,) = lost(times, pairs=pairs)
    assert pool.lost == pytest.approx(0.7 * 5.0), "at the later of the two necks"
    assert sorted(pool.cells) == list(range(11, 30))


def test_metal_that_no_metal_joins_to_the_feeder_is_lost_from_the_beginning():
    """All of it is liquid then: what it leaves hollow is the contraction of its whole volume."""
    times = [20.0] * LONG + [10.0] * LONG
    pairs = row(LONG) + [(LONG + n, LONG + n + 1) for n in range(LONG - 1)]
    _, (pool,) = lost(times, pairs=pairs)
    assert (pool.lost, pool.neck_area) == (0.0, 0.0)
    assert pool.liquid == pytest.approx(LONG * VOLUME)
    assert pool.starved == pytest.approx(1.0)


def test_a_shut_ball_of_4_mm_leaves_a_hollow_of_its_contraction():
    """Closed form: 5 % of pi/6 (4 mm)^3 is 1.676 mm3; with an open way to a feeder that freezes later, nothing."""
    count = 512
    cell = np.pi / 6 * 4e-3**3 / count
    pairs = [(LONG + n, LONG + n + 1) for n in range(count - 1)] + row(LONG)
    times = [20.0] * LONG + [10.0] * count
    (pool,) = pools(net_of(pairs, LONG + count, volume=cell), straight(times), limit=0.7, feeder=0)
    assert 1e9 * pool.void(0.05) == pytest.approx(1.676, abs=5e-4)
    joined = net_of([*pairs, (LONG - 1, LONG)], LONG + count, volume=cell)
    assert pools(joined, straight(times), limit=0.7, feeder=0) == ()


def test_small_pools_are_of_the_grid():
    small = [20.0] * LONG + [5.0] + [10.0] * (LEAST_CELLS - 1)
    assert lost(small)[1] == ()
    assert len(lost([*small, 10.0])[1]) == 1


def test_pools_that_are_solid_at_once_after_they_are_lost_are_noise():
    lead = 1 - LEAST_LEAD / 2
    assert lost([20.0] * LONG + [10.0 * lead] + [10.0] * LONG)[1] == ()


def test_the_largest_loss_stands_first():
    times = [9.0] * LONG + [5.0] + [20.0] * LONG + [3.0] + [12.0] * LONG
    _, found = lost(times, feeder=LONG + 2)
    assert len(found) == 2
    assert found[0].unfed > found[1].unfed
    assert found[0].lost == pytest.approx(0.7 * 3.0)


def test_smaller_pools_than_asked_for_are_left_out():
    net = net_of(row(len(DUMB_BELL)), len(DUMB_BELL))
    assert pools(net, straight(DUMB_BELL), limit=0.7, feeder=0, least_volume=2 * LONG * VOLUME) == ()


def test_metal_that_is_still_liquid_is_refused():
    net = net_of(row(3), 3)
    with pytest.raises(BadRequestError, match="still liquid"):
        pools(net, straight([1.0, np.nan, 2.0]), limit=0.7, feeder=0)


def test_a_higher_limit_is_passed_later():
    freeze = straight([10.0, 20.0])
    assert freeze.when(0.7) == pytest.approx([7.0, 14.0])
    assert freeze.when(0.85) == pytest.approx([8.5, 17.0])
    assert freeze.when(0.77) == pytest.approx([7.7, 15.4]), "straight between two levels"
    assert freeze.when(0.0) == pytest.approx([0.0, 0.0])
    assert freeze.when(1.0) == pytest.approx([10.0, 20.0])


@pytest.mark.parametrize(("time", "solid"), [(-1.0, 0.0), (0.0, 0.0), (3.3, 0.33), (10.0, 1.0), (99.0, 1.0)])
def test_the_solid_fraction_at_a_time_is_straight_between_levels(time, solid):
    assert straight([10.0]).solid_at(time, np.array([0]))[0] == pytest.approx(solid, abs=1e-9)


def test_a_cell_that_melts_again_is_not_more_solid_before_than_after():
    levels = np.array(LEVELS)
    passed = 10.0 * levels[None].copy()
    passed[0, 3] = 9.0  # it fell below half solid once more
    freeze = Freeze(levels=levels, passed=passed)
    fractions = [freeze.solid_at(t, np.array([0]))[0] for t in np.linspace(0, 11, 56)]
    assert np.all(np.diff(fractions) >= -1e-12)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(20, 60))
def test_numbering_changes_nothing_and_no_pool_is_larger_than_the_metal(seed, count):
    rng = np.random.default_rng(seed)
    tree = [(int(rng.integers(0, n)), n) for n in range(1, count)]
    extra = [tuple(sorted(p)) for p in rng.integers(0, count, (count // 4, 2)).tolist() if p[0] != p[1]]
    pairs = sorted({*tree, *extra})
    times = rng.uniform(1, 30, count)
    feeder = int(np.argmax(times))
    shuffle = rng.permutation(count)
    again = [(int(shuffle[a]), int(shuffle[b])) for a, b in pairs]
    moved = np.empty(count)
    moved[shuffle] = times
    one = pools(net_of(pairs, count), straight(times), limit=0.7, feeder=feeder)
    two = pools(net_of(again, count), straight(moved), limit=0.7, feeder=int(shuffle[feeder]))
    assert [round(p.lost, 9) for p in one] == pytest.approx([round(p.lost, 9) for p in two])
    assert [sorted(shuffle[p.cells]) for p in one] == [sorted(p.cells) for p in two]
    assert all(0 <= p.starved <= 1 for p in one)
    assert all(p.lost < p.end and p.volume < count * VOLUME for p in one)
    assert all(feeder not in p.cells for p in one)


BODIES = [0] * 5 + [1] * 5 + [2] * 10
"""Button, sprue, piece, in a row."""


def timed(sprue, piece, button=50.0):
    return np.array([button] * 5 + [sprue] * 5 + [piece] * 10)


def clocked(times, **other):
    net = net_of(row(20), 20, body=BODIES)
    return clock(net, np.asarray(times), **{"channels": [1], "piece": 2, "joint": (9.5e-3, 0, 0), "apart": 2e-3, **other})


def test_a_sprue_is_open_until_the_first_of_its_cells_shuts_the_way():
    times = timed(8.0, 6.0)
    times[7] = 5.0
    assert clocked(times).channel == pytest.approx(5.0)


def test_what_lies_behind_is_told_apart_from_the_joint():
    """The cells at the joint are kept liquid by the sprue; those a gauge away are the section that it must outlast."""
    times = timed(8.0, 6.0)
    times[10:12] = 7.9
    got = clocked(times)
    assert got.behind == pytest.approx(6.0)
    assert got.last >= 12


def test_with_two_channels_the_way_is_open_as_long_as_the_later():
    pairs = [*row(20), (4, 20), (20, 21), (21, 15)]
    net = net_of(pairs, 22, body=[*BODIES, 3, 3])
    times = np.append(timed(8.0, 6.0), [11.0, 10.0])
    both = clock(net, times, channels=[1, 3], piece=2, joint=(9.5e-3, 0, 0), apart=2e-3)
    assert both.channel == pytest.approx(10.0)
    one = clock(net, times, channels=[1], piece=2, joint=(9.5e-3, 0, 0), apart=2e-3)
    assert one.channel == pytest.approx(8.0), "the other then counts as what lies beyond, which it does not reach"


def test_a_few_stray_cells_do_not_make_the_time():
    net = net_of(row(320), 320, body=[0] * 5 + [1] * 5 + [2] * 310)
    times = np.concatenate([np.full(5, 50.0), np.full(5, 8.0), np.full(310, 6.0)])
    times[200:203] = 40.0
    got = clock(net, times, channels=[1], piece=2, joint=(9.5e-3, 0, 0), apart=2e-3)
    assert got.behind == pytest.approx(6.0)
    times[200:205] = 40.0
    assert clock(net, times, channels=[1], piece=2, joint=(9.5e-3, 0, 0), apart=2e-3).behind == pytest.approx(40.0)


def test_a_piece_that_lies_all_at_its_joint_is_told_whole():
    assert clocked(timed(8.0, 6.0), apart=1.0).behind == pytest.approx(6.0)


def test_a_channel_that_does_not_lead_to_the_piece_is_never_open():
    assert clocked(timed(8.0, 6.0), channels=[9]).channel == 0.0


def test_the_web_of_a_mesh_holds_only_metal_and_its_faces():
    """Four cells in a row, the second of them mould: two metal cells touch, one is alone."""
    n = 4
    mesh = Mesh(
        volume=np.full(n, VOLUME),
        kind=np.array([METAL, MOULD, METAL, METAL], dtype=np.int8),
        centre=np.arange(3 * n, dtype=float).reshape(n, 3),
        level=np.zeros(n, dtype=np.int8),
        index=np.zeros((n, 3), dtype=np.int32),
        body=np.array([0, -1, 1, 1], dtype=np.int32),
        first=np.array([0, 1, 2], dtype=np.int32),
        second=np.array([1, 2, 3], dtype=np.int32),
        area=np.array([1.0, 2.0, 3.0]),
        near=np.ones(3),
        far=np.ones(3),
        outer_cell=np.empty(0, dtype=np.int32),
        outer_area=np.empty(0),
        outer_depth=np.empty(0),
        outer_face=np.empty(0, dtype=np.int8),
    )
    net = web(mesh)
    assert list(net.cells) == [0, 2, 3]
    assert list(net.start) == [0, 0, 1, 2]
    assert list(net.other) == [2, 1]
    assert list(net.area) == [3.0, 3.0]
    assert list(net.body) == [0, 1, 1]
    assert net.centre[1] == pytest.approx([6, 7, 8])
