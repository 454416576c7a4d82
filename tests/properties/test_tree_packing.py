"""Trees of many kinds in many rooms: nothing touches, by a second engine; nothing depends on order or hand; more weighs more."""

from dataclasses import replace
from functools import cache

import fcl
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.steps.tree.plan import Grown, NoRoom, Prepared, grow, prepare
from tests.unit.tree.making import library, pattern, room, shape, shaped

KINDS = ("plain-band", "comfort-band", "signet", "bezel-ring", "pendant", "stud")
TRIANGLES = 900
ROOMS = ((50.0, 80.0), (64.0, 76.0), (76.0, 100.0), (102.0, 127.0))
FEW = settings(max_examples=settings().max_examples // 8)
FEWER = settings(max_examples=settings().max_examples // 12)
SOME = st.dictionaries(st.sampled_from(KINDS), st.integers(1, 5), min_size=1, max_size=3)


@cache
def prepared(names: tuple[str, ...]) -> Prepared:
    return prepare([shaped(name, name, triangle_count=TRIANGLES) for name in names], library())


def tree(counts: dict[str, int], size: tuple[float, float] = (76.0, 100.0)) -> Grown | NoRoom:
    patterns = [shaped(name, name, count=n, triangle_count=TRIANGLES) for name, n in counts.items()]
    return grow(
        patterns,
        room=room(*size),
        alloy=library().alloy("sterling-925"),
        pattern_material=library().pattern("resin"),
        library=library(),
        prepared=prepared(tuple(counts)),
    )


def model(mesh: Mesh) -> fcl.CollisionObject:
    made = fcl.BVHModel()
    made.beginModel(len(mesh.vertices), len(mesh.faces))
    made.addSubModel(np.array(mesh.vertices), np.array(mesh.faces))
    made.endModel()
    return fcl.CollisionObject(made, fcl.Transform())


def apart_mm(a: fcl.CollisionObject, b: fcl.CollisionObject) -> float:
    return fcl.distance(a, b, fcl.DistanceRequest(), fcl.DistanceResult())


def bodies(grown: Grown, kind: str) -> dict[int, Mesh]:
    return {int(name.split()[1]): mesh for name, mesh in grown.bodies if name.startswith(kind)}


@FEW
@given(SOME, st.sampled_from(ROOMS))
def test_no_piece_comes_nearer_to_another_than_it_may_by_a_second_engine(counts, size):
    grown = tree(counts, size)
    if isinstance(grown, NoRoom):
        return
    pieces = {n: model(mesh) for n, mesh in bodies(grown, "piece").items()}
    gaps = [apart_mm(pieces[a], pieces[b]) for a in pieces for b in pieces if a < b]
    claimed = grown.tree.clearances.pieces_mm
    if gaps:
        assert min(gaps) >= 3 - 1e-6
        assert claimed == pytest.approx(min(gaps), abs=1e-6)
    else:
        assert claimed is None


@FEW
@given(SOME, st.sampled_from(ROOMS))
def test_no_sprue_and_no_stem_comes_too_near_to_a_piece(counts, size):
    grown = tree(counts, size)
    if isinstance(grown, NoRoom):
        return
    pieces = {n: model(mesh) for n, mesh in bodies(grown, "piece").items()}
    sprues = {n: model(mesh) for n, mesh in bodies(grown, "sprue").items()}
    stem, button = (model(mesh) for name, mesh in grown.bodies if name in ("stem", "button"))
    rule = library().rule
    for number, piece in pieces.items():
        assert apart_mm(piece, stem) >= rule("stem_gap_mm") - 0.02
        assert apart_mm(piece, button) >= rule("base_gap_mm") - 0.02
        for other, sprue in sprues.items():
            if other != number:
                assert apart_mm(piece, sprue) >= rule("sprue_gap_mm") - 0.02
    for number, sprue in sprues.items():
        for other, second in sprues.items():
            if other < number:
                assert apart_mm(sprue, second) > 0


@FEW
@given(SOME, st.sampled_from(ROOMS))
def test_every_corner_stays_off_the_wall_and_under_the_cover(counts, size):
    grown = tree(counts, size)
    if isinstance(grown, NoRoom):
        return
    here = room(*size)
    corners = np.concatenate([mesh.vertices for mesh in bodies(grown, "piece").values()])
    wall = here.radius_mm - np.hypot(corners[:, 0], corners[:, 1]).max()
    assert wall >= 6 - 1e-9
    assert grown.tree.clearances.wall_mm == pytest.approx(wall)
    everything = np.concatenate([mesh.vertices for _, mesh in grown.bodies])
    assert everything[:, 2].max() <= here.ceiling_mm + 1e-9
    assert grown.tree.top_mm == pytest.approx(everything[:, 2].max(), abs=1e-6)
    assert corners[:, 2].min() >= here.floor_mm


@FEW
@given(SOME, st.randoms(use_true_random=False))
def test_the_order_of_the_patterns_does_not_matter(counts, shuffled):
    order = list(counts.items())
    shuffled.shuffle(order)
    one, other = tree(counts, (64.0, 90.0)), tree(dict(order), (64.0, 90.0))
    assert type(one) is type(other)
    if isinstance(one, Grown):
        assert other.tree.metal_g == pytest.approx(one.tree.metal_g)
        assert [p.height_mm for p in other.tree.places] == [p.height_mm for p in one.tree.places]
    else:
        assert one.placed_count == other.placed_count


@FEWER
@given(SOME, st.sampled_from(KINDS))
def test_one_more_piece_never_lightens_the_tree(counts, more):
    if more not in counts:
        counts = {**counts, more: 1}
    fewer, larger = tree(counts, (102.0, 127.0)), tree({**counts, more: counts[more] + 1}, (102.0, 127.0))
    if isinstance(larger, Grown):
        assert isinstance(fewer, Grown)
        assert larger.tree.metal_g > fewer.tree.metal_g
        assert larger.tree.pattern_g > fewer.tree.pattern_g


@FEWER
@given(SOME)
def test_a_larger_flask_takes_what_a_smaller_one_took(counts):
    found = [isinstance(tree(counts, size), Grown) for size in ((64.0, 76.0), (76.0, 100.0), (102.0, 127.0))]
    assert found == sorted(found)


def lopsided(sign: float) -> Mesh:
    """A band with a knob off its middle, or its mirror image."""
    knob = shape("stud", 600).moved(np.array([[1, 0, 0, 7.5], [0, 1, 0, 1.0], [0, 0, 1, 7.5]]))
    whole = from_manifold(to_manifold(shape("plain-band", 4000)) + to_manifold(knob))
    if sign > 0:
        return whole
    return Mesh(whole.vertices * (-1, 1, 1), whole.faces[:, ::-1])


def test_a_mirrored_piece_grows_a_tree_of_the_same_size():
    found = []
    for sign in (1.0, -1.0):
        made = pattern(lopsided(sign), count=5)
        found.append(
            grow(
                [made],
                room=room(),
                alloy=library().alloy("sterling-925"),
                pattern_material=library().pattern("resin"),
                library=library(),
            ).tree
        )
    one, other = found
    assert other.pieces_g == pytest.approx(one.pieces_g)
    assert [t.height_mm for t in other.tiers] == pytest.approx([t.height_mm for t in one.tiers], abs=1)
    assert other.metal_g == pytest.approx(one.metal_g, rel=0.01)
    assert other.places[0].sprue.gauge_mm == one.places[0].sprue.gauge_mm
    assert np.abs(other.places[0].sprue.attachment.at_mm) == pytest.approx(np.abs(one.places[0].sprue.attachment.at_mm), abs=0.1)


@FEWER
@given(st.sampled_from(KINDS), st.integers(1, 12))
def test_what_is_said_to_find_place_does_so_alone(name, more):
    found = tree({name: 40 + more}, (50.0, 76.0))
    if isinstance(found, NoRoom) and found.placed_count:
        assert isinstance(tree({name: found.placed_count}, (50.0, 76.0)), Grown)


def test_growing_twice_gives_the_same_tree_to_the_last_digit():
    counts = {"signet": 2, "plain-band": 3}
    patterns = [shaped(name, name, count=n, triangle_count=TRIANGLES) for name, n in counts.items()]
    fresh = [
        grow(
            [replace(p) for p in patterns],
            room=room(),
            alloy=library().alloy("sterling-925"),
            pattern_material=library().pattern("resin"),
            library=library(),
        ).tree
        for _ in range(2)
    ]
    assert fresh[0] == fresh[1]
