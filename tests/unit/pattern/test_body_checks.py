"""Findings about the bodies of a file: what is cast of them, and what was perhaps not meant to be."""

from pourwell.geometry.shapes import plain_band
from tests.unit.files.pattern_files import cube, joined
from tests.unit.pattern.case import hollow
from tests.unit.pattern.test_checks import NOTE, finding, silent


def test_bodies_left_out_fires():
    told = finding("bodies-left-out", NOTE, ("ring", cube(4)), ("Stone 1", cube(2, (1, 1, 3))))
    assert '"Stone 1" (8.0 mm³)' in told.says
    assert told.measure == "8.0 mm³"


def test_bodies_left_out_fires_for_what_the_user_left_out():
    told = finding(
        "bodies-left-out", NOTE, ("ring", cube(4)), ("pin", cube(2, (1, 1, 9))), ("ruby", cube(1, (9, 1, 1))), leave_out=("pin",)
    )
    assert told.says == '"ruby" (1.0 mm³) is not cast: left out by name. "pin" (8.0 mm³) is not cast: you left it out.'
    assert told.measure == "9.0 mm³"
    assert "give it another name" in told.do
    alone = finding("bodies-left-out", NOTE, ("ring", cube(4)), ("pin", cube(2, (1, 1, 9))), leave_out=("pin",))
    assert alone.do == (
        "The file still holds what is left out: take it out of the file before that is printed. "
        "If one of them is metal, leave it out no longer."
    )
    pins = [(f"pin {k}", cube(1, (2 * k, 0, 9))) for k in range(3)]
    both = finding("bodies-left-out", NOTE, ("ring", cube(4)), *pins, leave_out=("pin 0", "pin 1", "pin 2"))
    assert both.says.endswith("are not cast: you left them out.")


def test_bodies_left_out_fires_when_all_are_named_so_and_none_is():
    assert "so all are cast" in finding("bodies-left-out", NOTE, ("ruby", cube(4))).says


def test_bodies_left_out_stays_silent():
    silent("bodies-left-out", ("ring", cube(4)), ("stone seat", cube(2, (1, 1, 3))))


def test_bodies_joined_fires():
    """A stone that only touches its ring is metal unless somebody says so: 64 + 8 mm3, and the file does not tell."""
    touching = [("set", joined(cube(4), cube(2, (1, 1, 4))))]
    told = finding("bodies-joined", NOTE, *touching)
    assert told.says.startswith(
        "It is of 2 bodies that touch, and all of them are weighed and cast: the second largest is 8.0 mm³, 11%"
    )
    assert "A stone or a support may be among its bodies" in told.do
    third = [*touching, ("chip", cube(1, (9, 9, 9)))]
    assert finding("bodies-joined", NOTE, *third, leave_out=("chip",)).measure == "2 bodies", (
        "leaving out one says nothing of the rest"
    )


def test_bodies_joined_stays_silent():
    silent("bodies-joined", plain_band())
    silent("bodies-joined", ("a", cube(4)), ("b", cube(4, (2, 0, 0))))  # they overlap, which is told
    silent("bodies-joined", ("a", cube(4)), ("b", cube(4, (9, 0, 0))))  # they lie apart, which stops it
    silent("bodies-joined", ("set", joined(cube(4), cube(2, (1, 1, 4)))), leave_out=("set (2)",))
    silent("bodies-joined", ("ring", cube(4)), ("head", cube(2, (1, 1, 4))), ("ruby", cube(1, (1, 1, 6))))
    silent("bodies-joined", hollow(cube(10), cube(4, (3, 3, 3))))


def test_pattern_nested_fires():
    told = finding("pattern-nested", NOTE, ("shell", cube(10)), ("core", cube(4, (3, 3, 3))))
    assert '"core" lies wholly within "shell"' in told.says
    assert told.measure == "64.0 mm³"
    assert "{l:1.5}" in told.do


def test_pattern_nested_stays_silent():
    silent("pattern-nested", ("shell", cube(10)), ("beside", cube(4, (20, 3, 3))))
    silent("pattern-nested", ("shell", cube(10)), ("through", cube(4, (8, 3, 3))))
    silent("pattern-nested", ("shell", cube(10)), ("speck", cube(1, (3, 3, 3))))
    silent("pattern-nested", ("shell", cube(10)), ("twice", cube(10)))
    silent("pattern-nested", ("hollow", hollow(cube(10), cube(6, (2, 2, 2)))), ("rattle", cube(3, (3, 3, 3))))
