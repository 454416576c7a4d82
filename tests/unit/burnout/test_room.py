"""How many flasks a kiln takes, and what is said of a load that is more."""

import pytest

from pourwell.findings import spelt_out
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.room import Facts, findings, flasks_in
from tests.unit.burnout.case import flask_of, library

WIDE, SMALL = flask_of(96, 100), flask_of(46, 60)
"""With 2 mm of steel 100 and 50 mm across."""


def told(kiln, *flasks):
    found = findings(Facts(kiln=kiln, flasks=flasks, library=library()))
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize(
    ("kiln", "count"),
    [
        (Kiln(), 4),
        (Kiln(flasks_count=6), 6),
        (Kiln(width_mm=240, depth_mm=240), 4),
        (Kiln(width_mm=219, depth_mm=240), 2),
        (Kiln(width_mm=240, depth_mm=240, flasks_count=3), 3),
        (Kiln(width_mm=119, depth_mm=500), 0),
        (Kiln(height_mm=139), 0),
        (Kiln(height_mm=140), 4),
        (Kiln(width_mm=5000, depth_mm=5000), 12),
        (Kiln(width_mm=240), 4),
    ],
)
def test_a_kiln_takes_as_many_flasks_as_stand_in_it_with_air_between(kiln, count):
    """80 mm across with 20 mm of air at each side: two abreast take 220 mm. 100 mm high with 40 mm above take 140."""
    assert flasks_in(kiln, 80.0, height_mm=100.0, library=library()) == count


@pytest.mark.parametrize(
    ("kiln", "count", "severity", "limit"),
    [
        (Kiln(flasks_count=1), 2, "stop", "1 flask"),
        (Kiln(flasks_count=2), 5, "stop", "2 flasks"),
        (Kiln(flasks_count=20), 21, "stop", "20 flasks"),
        (Kiln(width_mm=259, depth_mm=260), 3, "stop", "2 flasks"),
        (Kiln(width_mm=259, depth_mm=260, flasks_count=9), 3, "stop", "2 flasks"),
        (Kiln(width_mm=139, depth_mm=500), 1, "stop", "0 flasks"),
        (Kiln(height_mm=139), 1, "stop", "0 flasks"),
        (Kiln(), 5, "warn", "4 flasks"),
        (Kiln(width_mm=900), 5, "warn", "4 flasks"),
    ],
)
def test_kiln_crowded_fires(kiln, count, severity, limit):
    """100 mm across with 20 mm of air at each side: two abreast take 260 mm. 100 mm high with 40 mm above take 140."""
    found = told(kiln, *[WIDE] * count)
    assert (found.code, found.severity, found.limit) == ("kiln-crowded", severity, limit)
    assert found.source
    assert "air and heat" in found.says


@pytest.mark.parametrize(
    ("kiln", "count"),
    [
        (Kiln(flasks_count=2), 2),
        (Kiln(flasks_count=20), 20),
        (Kiln(width_mm=260, depth_mm=260), 4),
        (Kiln(width_mm=2000, depth_mm=2000), 20),
        (Kiln(height_mm=140), 4),
        (Kiln(), 1),
        (Kiln(), 4),
        (Kiln(flasks_count=5), 5),
    ],
)
def test_kiln_crowded_stays_silent(kiln, count):
    """What the studio says of its kiln is not made less by what we think that a kiln holds at the most."""
    assert told(kiln, *[WIDE] * count) is None


def test_flasks_of_several_sizes_stop_only_where_even_the_smallest_would_be_too_many():
    """A room of 260 mm takes 4 of 100 mm or 9 of 50 mm (3 abreast take 230): two and four are 17/18 of it, two and five 19/18."""
    kiln = Kiln(width_mm=260, depth_mm=260)
    assert told(kiln, *[WIDE] * 2, *[SMALL] * 4) is None
    perhaps = told(kiln, *[WIDE] * 2, *[SMALL] * 5)
    assert (perhaps.severity, perhaps.measure) == ("warn", "7 flasks")
    assert "in 2 loads" in perhaps.do
    assert told(kiln, WIDE, *[SMALL] * 9).severity == "stop"
    low = Kiln(width_mm=260, depth_mm=260, height_mm=120)
    assert "{l:100} high does not fit the kiln" in told(low, SMALL, WIDE).says


def test_it_says_of_which_kiln_what_to_do():
    named = told(Kiln(name="small", flasks_count=2), *[WIDE] * 5)
    assert named.says.startswith('5 flasks are to be fired together, and the kiln "small" takes 2 at once, by the count that you')
    assert named.do.startswith("Fire them in 3 loads, or choose a kiln that takes them;")
    by_room = told(Kiln(width_mm=140, depth_mm=140), *[WIDE] * 2)
    assert "takes 1 at once, by its room, with 20 mm of air at each side and 40 mm above" in spelt_out(by_room.says)
    assumed = told(Kiln(), *[WIDE] * 6)
    assert "does not say how many the kiln takes; 4 are assumed" in assumed.says
    assert "Else fire them in 2 loads" in assumed.do
