"""A body within a body: when it is told, and that the weight is of one solid."""

import pytest

from pourwell.findings import Severity
from pourwell.geometry.solidity import inside_out
from tests.unit.files.pattern_files import cube
from tests.unit.pattern.case import library, measured

LIMIT = library().rule("void_warn_fraction")


def test_a_core_is_told_and_is_metal_already():
    pattern, found = measured(("block", cube(10)), ("core", cube(5, (2, 2, 2))))
    told = found["pattern-nested"]
    assert told.severity is Severity.NOTE
    assert '"core" lies wholly within "block", with its surface outward' in told.says
    assert told.measure == "125.0 mm³"
    assert told.limit == f"{LIMIT:.1%} of the volume"
    assert pattern.piece.volume_mm3 == pytest.approx(1000), "it is metal already"


def test_bodies_that_cross_and_hollows_are_not_told():
    for bodies in ([cube(10)], [cube(10), cube(4, (8, 3, 3))], [cube(10), inside_out(cube(5, (2, 2, 2)))]):
        assert "pattern-nested" not in measured(*bodies)[1]


def test_a_speck_within_is_not_told():
    side = (LIMIT * 1000) ** (1 / 3)
    assert "pattern-nested" not in measured(cube(10), cube(side * 0.98, (2, 2, 2)))[1]
    assert "pattern-nested" in measured(cube(10), cube(side * 1.02, (2, 2, 2)))[1]


def test_of_several_one_is_named_and_all_are_counted():
    told = measured(("block", cube(10)), ("one", cube(3, (1, 1, 1))), ("two", cube(3, (5, 5, 5))), ("three", cube(2, (1, 6, 1))))[1]
    assert ", and 2 more in theirs," in told["pattern-nested"].says
    assert told["pattern-nested"].measure == "62.0 mm³"


def test_one_within_one_within_one_counts_both():
    told = measured(("a", cube(10)), ("b", cube(6, (2, 2, 2))), ("c", cube(2, (4, 4, 4))))[1]["pattern-nested"]
    assert ", and 1 more in theirs," in told.says
    assert told.measure == "224.0 mm³"


def test_a_body_in_a_hollow_is_no_metal_twice():
    assert "pattern-nested" not in measured(cube(10), inside_out(cube(6, (2, 2, 2))), cube(3, (3, 3, 3)))[1]
