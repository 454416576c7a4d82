"""Ways to stand: what a piece is looked at for, the order of the ways, the words, and why one is the best."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.orient import Stance
from pourwell.geometry.shapes import SHAPES
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.bodies import united
from pourwell.steps.pattern.stances import (
    MOST_OTHERS,
    NEAR_LEAST,
    Subject,
    best,
    faults,
    faults_in_layers,
    holding,
    in_words,
    lasting,
    look_at,
    ranked,
    reasons,
    way,
    well_apart,
)
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import block, cup, cylinder, mesh, over, placed, table, turn_by
from tests.unit.pattern.case import library

UP = (0.0, 0.0, 1.0)
PIECES = {
    "band": lambda: SHAPES["plain-band"].make(),
    "bezel": lambda: SHAPES["bezel-ring"].make(),
    "box": lambda: box((0, 0, 0), (4, 5, 6)),
    "table": lambda: table(legs=[(0, 0, 0), (9, 5, 2.0)]),
    "cup": cup,
}


@cache
def subject(name):
    return look_at(united([(name, PIECES[name]())], ()), library())


@cache
def ranks(name, asked=None):
    return ranked(subject(name), Printer(), library(), asked=asked)


def stance(direction=UP, **more):
    """A stance of made-up measures, without fault."""
    unit = tuple((np.array(direction, dtype=float) / np.linalg.norm(direction)).tolist())
    plain = {"height_mm": 10.0, "islands_count": 0, "cups_count": 0, "steps_ratio": 0.3, "under_fraction": 0.2}
    return Stance(direction=unit, **{**plain, **more})


@cache
def cut_clean():
    return best(subject("box"), [stance()], Printer(), library=library(), tries=1)[1]


# --- what it is looked at for ---


@pytest.mark.parametrize("name", PIECES)
def test_every_triangle_lies_open_or_in_the_bore_or_out_of_reach_and_nowhere_twice(name):
    seen = subject(name)
    assert (sum(flags.astype(int) for flags in seen.reach.values()) == 1).all()
    assert seen.weight.shape == (len(seen.mesh.faces),)
    assert (seen.weight[seen.reach["open"]] == 1).all()
    for reach, rule in (("bore", "print_steps_bore_ratio"), ("recess", "print_steps_recess_ratio")):
        assert (seen.weight[seen.reach[reach]] == library().rule(rule)).all()


def test_the_bore_is_what_looks_at_the_finger():
    seen = subject("band")
    out = np.hypot(seen.mesh.centres[:, 0], seen.mesh.centres[:, 2])
    inner = out < seen.bore.diameter_mm / 2 * 1.02
    assert seen.reach["bore"][inner].mean() > 0.9
    assert not seen.reach["bore"][out > seen.bore.diameter_mm / 2 + 1.0].any()


def test_a_band_alike_all_round_has_no_head_and_a_bezel_ring_has_one_square_to_the_bore():
    assert subject("band").head is None
    seen = subject("bezel")
    assert abs(seen.head @ np.array(seen.bore.axis)) < 1e-9
    assert seen.head[2] > 0.5


def test_a_piece_without_a_bore_has_neither():
    assert subject("box").bore is None
    assert subject("box").head is None
    assert not subject("box").reach["bore"].any()


# --- their order ---


@pytest.mark.parametrize("name", PIECES)
def test_a_way_without_fault_comes_before_one_with_any(name):
    clean = [s.islands_count + s.cups_count == 0 for s in ranks(name)]
    assert clean == sorted(clean, reverse=True)
    grave = [faults(s, library()) for s in ranks(name)]
    assert all(after > before - 1.0 for before, after in pairwise(grave)), "softer measures weigh less than a fault"


def test_a_wire_flatter_than_30_degrees_sags_and_that_is_a_fault():
    stud = look_at(united([("stud", SHAPES["stud"].make())], ()), library())
    ways = ranked(stud, Printer(), library(), asked=None)
    for each in ways:
        lean = np.degrees(np.arcsin(min(abs(np.dot(each.direction, stud.pin)), 1)))
        assert each.wire_sags == (lean <= 30), f"{lean} degrees to the level"
        assert (faults(each, library()) >= 1) >= each.wire_sags
    assert not ways[0].wire_sags
    band = ranks("band")
    assert not any(each.wire_sags or each.front_fraction for each in band)


def test_supports_on_the_front_of_a_head_count_more_than_on_its_back():
    """A flat head of 6 mm: upside down the whole front, 9 pi mm2, is on supports, and otherwise nothing of it."""
    mesh = SHAPES["stud"].make(crown_mm=0.0)
    stud = look_at(united([("stud", mesh)], ()), library())
    down, up = (ranked(stud, Printer(), library(), asked=tuple(way * stud.pin))[0] for way in (-1, 1))
    assert down.front_fraction == pytest.approx(9 * np.pi / mesh.area_mm2, rel=0.1)
    assert up.front_fraction == 0
    ways = ranked(stud, Printer(), library(), asked=None)
    order = [float(np.dot(each.direction, stud.pin)) for each in ways]
    assert order.index(max(order)) < order.index(min(order)), "head up comes before head down"


def test_an_island_a_bowl_and_what_the_film_seals_weigh_by_kind_and_by_what_they_hold():
    def weight(**more):
        return faults(stance(**more), library())

    assert weight() == 0
    assert weight(islands_count=1) == 1
    small, large = (weight(cups_count=1, bowl_mm3=mm3) for mm3 in (3.0, 568.0))
    assert 1 < small < 2 < 20 < large
    assert weight(cups_count=1, suction_mm3=568.0) > 1.9 * large
    assert weight(hidden_mm2=2.9) == 0, "a place as small as this bridges itself"
    assert weight(hidden_mm2=30.0) == pytest.approx(10)


@cache
def drained_dome():
    """Half a ball of 16 mm on a flat base, hollow, with two drains of 1.5 mm in the base, along x."""
    whole, hollow = (manifold3d.Manifold.sphere(radius, 64) for radius in (8, 7))
    made = whole.trim_by_plane((0, 0, 1), 0) - hollow.trim_by_plane((0, 0, 1), 1)
    for x in (-3.5, 3.5):
        made -= cylinder(0.75, low=-1, high=2, at=(x, 0), around=32)
    return look_at(united([("dome", mesh(made))], ()), library())


def test_a_drained_dome_stands_so_that_its_drains_let_most_of_it_run_out():
    chosen, cut = best(
        drained_dome(), ranked(drained_dome(), Printer(), library(), asked=None), Printer(), library=library(), tries=4
    )
    assert abs(chosen.direction[0]) > 0.9
    down, _ = best(
        drained_dome(), ranked(drained_dome(), Printer(), library(), asked=(0, 0, -1)), Printer(), library=library(), tries=1
    )
    assert down.suction_mm3 > 500
    assert sum(cup.volume_mm3 for cup in cut.cups) < down.suction_mm3 / 4
    assert down.hidden_mm2 > 140
    assert chosen.hidden_mm2 < 15
    assert faults_in_layers(chosen, cut, library()) < faults(down, library()) / 5
    said = reasons(chosen, [chosen, down], cut, library=library())
    assert "supports inside a hollow cannot be taken out; no better way was found" in said


def test_the_outside_and_what_is_open_are_not_shut_in():
    seen = drained_dome()
    assert 200 < seen.mesh.areas[seen.shut].sum() < 480
    assert not subject("band").shut.any()
    assert not subject("cup").shut.any()


@pytest.mark.parametrize("name", ["band", "box"])
def test_of_ways_without_fault_the_first_is_not_worse_in_all_than_any_other(name):
    first, *others = ranks(name)
    for other in others:
        if other.islands_count + other.cups_count == 0:
            worse = (
                first.steps_ratio > other.steps_ratio + 1e-9,
                first.under_fraction > other.under_fraction + 1e-9,
                first.height_mm > other.height_mm + 1e-9,
            )
            assert not all(worse)


@pytest.mark.parametrize("asked", [(0, 0, 1), (0.3, -2, 0.1), (-5, 0, 0)])
def test_what_is_asked_comes_first_and_all_others_after_it(asked):
    first, *rest = ranks("table", asked)
    assert first.direction == pytest.approx(tuple(np.array(asked) / np.linalg.norm(asked)))
    assert {s.direction for s in rest} == {s.direction for s in ranks("table")}


def test_every_way_is_there_with_its_opposite():
    directions = np.array([s.direction for s in ranks("box")])
    assert np.linalg.norm(directions, axis=1) == pytest.approx(1)
    nearest = (directions @ -directions.T).max(axis=1)
    assert nearest == pytest.approx(1)


def test_a_way_and_its_opposite_stand_as_high():
    by_direction = {tuple(np.round(s.direction, 9) + 0.0): s.height_mm for s in ranks("table")}
    for direction, height in by_direction.items():
        assert by_direction[tuple(-np.array(direction) + 0.0)] == pytest.approx(height)


# --- the best of them, in layers ---


def test_the_first_without_fault_in_layers_is_taken():
    down, up = stance((0, 0, -1)), stance((0, 0, 1))
    chosen, cut = best(subject("cup"), [up, down, stance((1, 0, 0))], Printer(), library=library(), tries=3)
    assert chosen.direction == (1, 0, 0)
    assert not holding(cut, library())


def test_no_more_are_tried_than_is_said():
    chosen, cut = best(subject("cup"), [stance(UP), stance((1, 0, 0))], Printer(), library=library(), tries=1)
    assert chosen.direction == UP
    assert len(holding(cut, library())) == 1


def test_of_ways_with_faults_the_one_with_fewest_is_taken():
    legs = [(0, 0, 0), (4, 0, 1.0), (9, 5, 2.0)]
    seen = look_at(united([("table", table(legs=legs))], ()), library())
    _, cut = best(seen, [stance((0.05, 0, 1)), stance((0, 1, 0.02))], Printer(), library=library(), tries=2)
    faults = len(lasting(cut, library())) + len(holding(cut, library()))
    assert faults <= 2
    again = best(seen, [stance((0.05, 0, 1))], Printer(), library=library(), tries=1)[1]
    assert len(lasting(again, library())) + len(holding(again, library())) >= faults


# --- others that are told ---


def test_others_lie_apart_from_the_chosen_one_and_from_each_other_and_are_few():
    chosen, *rest = ranks("box")
    others = well_apart(chosen, rest, subject("box"))
    assert 1 < len(others) <= MOST_OTHERS
    all_ways = np.array([s.direction for s in (chosen, *others)])
    cosines = all_ways @ all_ways.T - 2 * np.eye(len(all_ways))
    assert np.degrees(np.arccos(cosines.max())) > 19


def test_a_way_just_beside_the_chosen_one_or_in_the_same_words_is_none():
    assert well_apart(stance(UP), [stance((0.1, 0, 1)), stance(UP)], subject("box")) == ()
    kept = well_apart(
        stance((0, 1, 0)),
        [stance((0, -1, 0)), stance((0, 0, 1), height_mm=20.0), stance((1, 0, 0), height_mm=20.0)],
        subject("band"),
    )
    assert [s.direction for s in kept] == [(0, 0, 1)], "a band lies flat on either side, and stands the same all round"


# --- words ---


@pytest.mark.parametrize(("lean", "said"), [(0, "lying flat"), (9, "lying flat"), (11, "leaning, the bore 11°"), (79, "leaning")])
def test_how_a_ring_lies_is_told_by_its_bore(lean, said):
    angle = np.radians(lean)
    for sign in (1, -1):
        assert in_words((np.sin(angle), sign * np.cos(angle), 0.0), subject("band")).startswith(said)


@pytest.mark.parametrize("lean", [81, 85, 90])
def test_a_ring_that_all_but_stands_stands(lean):
    angle = np.radians(lean)
    assert in_words((np.sin(angle), np.cos(angle), 0.0), subject("band")) == "standing, the bore level"


@pytest.mark.parametrize("k", range(3))
@pytest.mark.parametrize("sign", [1, -1])
def test_a_piece_without_a_bore_is_told_by_the_axis_that_points_away(k, sign):
    axis = np.roll((1.0, 0.1, 0.05), k) * sign
    axis /= np.linalg.norm(axis)
    assert in_words(tuple(axis), subject("box")) == f"the file's {'+' if sign > 0 else '-'}{'xyz'[k]} away from the plate"


def test_a_way_between_the_axes_is_told_in_numbers_without_minus_zero():
    words = in_words((0.6, -0.001, 0.8), subject("box"))
    assert words == "leaning, the file's 0.6, 0, 0.8 away from the plate"


def test_a_way_in_words_is_that_of_its_direction_at_the_layer_of_the_printer():
    told = way(stance(UP, steps_ratio=0.4, height_mm=6.0), subject("box"), Printer(layer_mm=0.1, stand_mm=0))
    assert told.proud_mm == pytest.approx(0.04)
    assert (told.turn_x_deg, told.turn_y_deg) == (0, 0)
    assert told.height_mm == 6.0
    assert told.words == "the file's +z away from the plate"


# --- reasons ---


def test_the_least_of_all_is_said_to_be_the_least():
    chosen = stance(steps_ratio=0.1, under_fraction=0.5, height_mm=30.0)
    said = reasons(chosen, [chosen, stance()], cut_clean(), library=library())
    assert said == "nothing begins in mid-air; no hollow holds resin; the least steps where they are seen."


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"steps_ratio": 0.3 * NEAR_LEAST * 0.999}, "the least steps"),
        ({"under_fraction": 0.2 * NEAR_LEAST * 0.999}, "the fewest supports"),
        ({"height_mm": 10 * NEAR_LEAST * 0.999}, "the lowest"),
    ],
)
def test_what_is_all_but_the_least_is_the_least(more, words):
    """Twice as much and a little of all measures but one, and that within a twentieth of the least."""
    worse = {"steps_ratio": 0.7, "under_fraction": 0.7, "height_mm": 30.0}
    chosen = stance(**{**worse, **more})
    assert words in reasons(chosen, [chosen, stance()], cut_clean(), library=library())
    assert words not in reasons(stance(**worse), [stance()], cut_clean(), library=library())


def test_a_way_with_faults_sets_no_measure_for_the_others():
    chosen = stance()
    faulty = stance(steps_ratio=0.01, under_fraction=0.0, height_mm=1.0, islands_count=3)
    assert "the lowest" in reasons(chosen, [chosen, faulty], cut_clean(), library=library())


def test_faults_are_counted_and_it_is_said_that_no_better_way_was_found():
    legs = [(0, 0, 0), (4, 0, 1.0), (9, 5, 2.0)]
    seen = look_at(united([("table", table(legs=legs))], ()), library())
    chosen, cut = best(seen, [stance()], Printer(), library=library(), tries=1)
    said = reasons(chosen, [chosen], cut, library=library())
    assert said.startswith("2 parts begin in mid-air; no hollow holds resin; no better way was found")
    bowl, cut = best(look_at(united([("cup", over(cup()))], ()), library()), [stance()], Printer(), library=library(), tries=1)
    assert "1 hollow holds resin" in reasons(bowl, [bowl], cut, library=library())


# --- what must not matter ---


def test_a_ring_turned_in_its_file_is_told_in_the_same_words():
    turn = turn_by((1, 2, 3), 0.7)
    turned = look_at(united([("band", placed(PIECES["band"](), turn, (4, 5, 6)))], ()), library())
    for direction in ((0, 1, 0), (0, 0, 1), (0, 1, 1)):
        unit = np.array(direction) / np.linalg.norm(direction)
        assert in_words(tuple(turn @ unit), turned) == in_words(tuple(unit), subject("band"))


def test_a_bore_too_small_for_a_finger_is_open_to_be_weighed_like_any_face():
    tube = mesh(block((-4, -4, 0), (4, 4, 3)) - block((-2, -2, -1), (2, 2, 4)))
    seen = look_at(united([("tube", tube)], ()), library())
    assert seen.bore is None
    assert isinstance(replace(seen, head=None), Subject)
