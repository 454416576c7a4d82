"""What is tried for a piece that loses its feed."""

from types import SimpleNamespace

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.findings import spelt_out
from pourwell.geometry.solidity import faults
from pourwell.steps.freeze import change as changing
from pourwell.steps.freeze.cast import Shape, metal_substance
from tests.unit.freeze import trees
from tests.unit.freeze.made import clock

LIBRARY = trees.LIBRARY
HEAD = (-(8.0 + 9.5 + 8.5 + 3.4), 0.0, trees.LEVEL_MM)
"""The far side of the second piece's head."""
SHOULDER = (-10.8, 0.0, 32.7)
"""A place on its shank that is seen from the stem."""


def tried(cast=None, piece="B"):
    return list(changing._tries(cast or trees.cast(), piece, LIBRARY))


def test_without_a_place_for_a_second_sprue_a_thicker_one_and_a_cooler_flask_are_tried():
    does = [spelt_out(attempt.does) for attempt in tried()]
    assert does == [
        "Take a sprue of 3 mm in place of 2.5 mm.",
        "Pour into a flask at 450 °C, but thin walls may not fill.",
        "Pour into a flask at 550 °C, but watch for gas and coarse grain.",
    ]


def test_a_thicker_sprue_takes_the_place_of_the_thinner_in_the_metal():
    cast = trees.cast()
    thick = tried()[0].cast
    names = [name for name, _ in thick.bodies]
    assert names == [name for name, _ in cast.bodies]
    assert thick.metal.volume_mm3 > cast.metal.volume_mm3 + 5
    assert faults(thick.metal).sound
    shape = Shape(thick)
    beside = shape.frame.to_solver(np.array([[-5.5, 0.0, trees.LEVEL_MM + 1.37]]))
    assert shape.distance(beside)[0] < 0 < Shape(cast).distance(beside)[0]


def test_a_long_sprue_is_shortened_after_a_thicker_one_and_before_the_flask():
    does = [spelt_out(attempt.does) for attempt in tried(trees.cast(reach=11.0))]
    assert does[1] == "Set it nearer to the stem, on a sprue 5 mm long."
    assert len(does) == 4


def test_only_the_sprues_of_that_kind_of_piece_are_changed():
    shape = Shape(tried(piece="B")[0].cast)
    other = shape.frame.to_solver(np.array([[5.5, 0.0, trees.LEVEL_MM + 1.37]]))
    assert shape.distance(other)[0] > 0


def test_the_cooler_flask_is_fifty_kelvin_cooler_and_else_the_same_tree():
    cool = tried()[1].cast
    assert cool.flask_c == 450
    assert cool.metal is not None
    assert cool.metal.volume_mm3 == pytest.approx(trees.cast().metal.volume_mm3)


def test_the_thickest_sprue_in_stock_is_not_made_thicker():
    does = [attempt.does for attempt in tried(trees.cast(gauge=12.0))]
    assert len(does) == 2
    assert all("flask" in text for text in does)


def test_a_second_sprue_comes_first_where_there_is_a_way_for_it():
    """To the shoulder that looks at the stem."""
    cast = trees.cast(second_mm=SHOULDER)
    first = tried(cast)[0]
    assert spelt_out(first.does).startswith("Set a second sprue of 4 mm on the heavy section, at (")
    assert "sprue 2 second" in dict(first.cast.bodies)
    assert faults(first.cast.metal).sound
    shape = Shape(first.cast)
    assert [shape.names[i] for i in shape.sprues(2)] == ["sprue 2", "sprue 2 second"]


def test_a_way_through_the_piece_is_no_way():
    """The far side of the head is behind the ring for every straight line from the stem."""
    cast = trees.cast(second_mm=HEAD)
    assert changing.route(cast, cast.fed[1]) is None
    assert all("second" not in attempt.does for attempt in tried(cast))


def test_the_way_of_a_second_sprue_begins_in_the_stem_and_keeps_clear_of_the_piece():
    cast = trees.cast(second_mm=SHOULDER)
    way = changing.route(cast, cast.fed[1])
    assert way.begin[:2] == pytest.approx([0, 0])
    assert 13 < way.begin[2] <= 36
    assert np.linalg.norm(way.end - SHOULDER) < 4.0


def listed(clocks, alone, monkeypatch, verdicts):
    """`changes` with the solver left out: each try gives the next verdict."""
    given = iter(verdicts)
    monkeypatch.setattr(changing, "_frozen", lambda cast, piece, **_: ((clock(2, "B", *next(given)), clock(1, "A")), False))
    cast = trees.cast()
    metal = metal_substance(cast.alloy, LIBRARY)
    return changing.changes(cast, clocks, alone=alone, edge_mm=2.0, metal=metal, library=LIBRARY, tell=lambda _: None)


LOST, BEFORE = clock(2, "B", "cut off", void=(1.0, 5.0)), clock(2, "B", "cut off", void=(1.0, 2.0))


def test_trying_ends_with_the_first_change_that_heals(monkeypatch):
    (only,) = listed([clock(1), LOST], [clock(1), BEFORE], monkeypatch, [("fed",)])
    assert only.helps
    assert (only.before_mm3, only.after_mm3) == (2.0, 0.0), "run against run, not against the band"


def test_a_change_that_does_not_heal_is_told_and_the_next_is_tried(monkeypatch):
    def frozen(cast, piece, **_):
        return (clock(2, "B", "cut off", void=(0.5, 1.5)),), False

    monkeypatch.setattr(changing, "_frozen", frozen)
    cast = trees.cast()
    metal = metal_substance(cast.alloy, LIBRARY)
    got = changing.changes(cast, [LOST], alone=[BEFORE], edge_mm=2.0, metal=metal, library=LIBRARY, tell=lambda _: None)
    assert [c.helps for c in got] == [False, False, False]
    assert [c.after_mm3 for c in got] == [1.5, 1.5, 1.5]


def test_nothing_is_tried_where_all_is_fed(monkeypatch):
    assert listed([clock(1), clock(2, "B")], [clock(1), clock(2, "B")], monkeypatch, []) == ()


def test_a_change_that_cannot_be_computed_is_passed_over(monkeypatch):
    """Three good runs are not thrown away because a tree that was only tried does not mesh."""
    answers = iter([BadRequestError("With cells of 1 mm the tree falls into 2 parts."), ((clock(2, "B"),), True)])

    def frozen(cast, piece, **_):
        answer = next(answers)
        if isinstance(answer, BadRequestError):
            raise answer
        return answer

    monkeypatch.setattr(changing, "_frozen", frozen)
    cast = trees.cast()
    metal = metal_substance(cast.alloy, LIBRARY)
    (got,) = changing.changes(cast, [LOST], alone=[BEFORE], edge_mm=2.0, metal=metal, library=LIBRARY, tell=lambda _: None)
    assert got.helps
    assert got.before_mm3 == LOST.void_high_mm3, "all runs against all runs"
    assert "flask" in got.does, "the second of what is tried; the first did not mesh"


def test_no_more_than_a_few_changes_are_tried(monkeypatch):
    monkeypatch.setattr(changing, "MOST", 1)
    got = listed([LOST], [BEFORE], monkeypatch, [("uncertain",), ("uncertain",)])
    assert len(got) == 1


def test_a_run_of_a_changed_tree_is_told_by_its_clocks():
    """A sprue twice as thick stays open longer; it is run, not reckoned."""
    cast = trees.cast(pieces=((-1, 3.6),))
    metal = metal_substance(cast.alloy, LIBRARY)
    thick = trees.cast(pieces=((-1, 3.6),), gauge=5.0)
    how = {"edge_mm": 1.5, "metal": metal, "library": LIBRARY, "tell": lambda _: None}
    before, after = (changing._frozen(c, "A", **how)[0][0] for c in (cast, thick))
    assert after.sprue.value_s > before.sprue.value_s
    assert after.void_high_mm3 <= before.void_high_mm3


def test_what_heals_as_the_rows_say_is_run_at_both_ends(monkeypatch):
    """A band whose middle is fed helps only where its slow and its fast end are fed."""
    asked = []

    def judged(cast, shape, made, *, runs, library):
        verdict = "fed" if len(runs) < 2 else "uncertain"
        return SimpleNamespace(clocks=(clock(1, "A", verdict),))

    monkeypatch.setattr(changing, "meshed", lambda *_, **__: None)
    monkeypatch.setattr(changing, "run", lambda *_, ends, **__: asked.append(ends))
    monkeypatch.setattr(changing, "feeding", judged)
    clocks, whole = changing._frozen(trees.cast(), "A", edge_mm=1.5, metal=None, library=LIBRARY, tell=lambda _: None)
    assert whole
    assert clocks[0].verdict == "uncertain"
    assert asked == list(changing.RUNS[:2]), "the first end that is not fed decides"
