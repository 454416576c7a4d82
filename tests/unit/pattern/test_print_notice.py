"""What printing does to a piece, told where it is measured: hollows that hold resin however it stands."""

import manifold3d
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.shapes import SHAPES
from pourwell.steps.pattern.plan import measure
from pourwell.steps.pattern.print_notice import CODES, holds_resin
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import cup, cylinder, mesh, over
from tests.unit.pattern.case import library, source


def told(what, *, material="resin", **more):
    _, found = measure(
        source(what, **more),
        piece_id="A",
        alloy=library().alloy("sterling-925"),
        pattern_material=library().pattern(material),
        library=library(),
    )
    return [finding for finding in found if finding.code == "pattern-holds-resin"]


def bead(*, holes):
    """A ball of 12 mm with a wall of 1 mm and holes of 1.6 mm, each (x, y), right through its lower half."""
    made = manifold3d.Manifold.sphere(6, 48) - manifold3d.Manifold.sphere(5, 48)
    for at in holes:
        made -= cylinder(0.8, low=-9, high=0, at=at, around=32)
    return mesh(made)


def test_pattern_holds_resin_fires():
    (finding,) = told(bead(holes=[(0, 0)]))
    assert finding.severity is Severity.NOTE
    assert finding.where == "piece A"
    assert "pourwell print" in finding.do
    assert "mm³ at the least" in spelt_out(finding.says)
    assert finding.limit == "2 mm³"
    assert CODES[0].code == finding.code


def test_two_holes_on_one_side_hold_less_than_one_and_are_told():
    one, two = (holds_resin(bead(holes=holes), library()) for holes in ([(0, 0)], [(-3, 0), (3, 0)]))
    held = [stance.suction_mm3 + stance.bowl_mm3 for stance in (one, two)]
    assert 0 < held[1] < held[0]


@pytest.mark.parametrize("what", [cup(), over(cup()), box((0, 0, 0), (4, 5, 6))], ids=["cup", "bowl", "box"])
def test_pattern_holds_resin_stays_silent(what):
    """A cup that is open on one side lets it out when it lies on its side."""
    assert told(what) == []


@pytest.mark.parametrize("name", SHAPES)
def test_none_of_our_own_shapes_holds_resin(name):
    assert holds_resin(SHAPES[name].make(), library()) is None


def test_a_wax_or_a_size_in_doubt_is_not_judged():
    assert told(bead(holes=[(0, 0)]), material="wax-injection") == []
    assert told(box((0, 0, 0), (0.02, 0.01, 0.02))) == []
