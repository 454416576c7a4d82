"""Findings of printing: each fires where it must and stays silent where it must."""

import manifold3d
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_checks import CHECKS, CODES
from tests.unit.geometry.distance_samples import box, icosphere
from tests.unit.geometry.printed_samples import block, cup, cylinder, mesh, over, table
from tests.unit.pattern.case import hollow
from tests.unit.pattern.printing import printed

UP = (0, 0, 1)


def only(found, code):
    (finding,) = found[code]
    for text in (finding.says, finding.do, finding.measure, finding.limit):
        assert "{" not in spelt_out(text)
    assert finding.source
    return finding


def test_every_check_says_what_it_looks_for():
    assert all(check.__doc__ for check in CHECKS)
    assert len({code.code for code in CODES}) == len(CODES)


def test_print_unsound_fires():
    whole = icosphere(4.0, halvings=2)
    _, found = printed(("shell", Mesh(whole.vertices, whole.faces[3:])))
    finding = only(found, "print-unsound")
    assert finding.severity is Severity.STOP
    assert '"shell"' in finding.says


def test_print_unsound_stays_silent():
    assert "print-unsound" not in printed(icosphere(4.0, halvings=2))[1]


def test_print_left_out_fires():
    _, found = printed(("ring", icosphere(4.0, halvings=2)), ("ruby", box((9, 0, 0), (1, 1, 1))))
    finding = only(found, "print-left-out")
    assert finding.severity is Severity.WARN
    assert finding.says.startswith('The file also holds "ruby": not reckoned with here, but printed from this file, it is cast')
    assert finding.do.startswith("Take it out of the file")


def test_print_left_out_stays_silent():
    assert "print-left-out" not in printed(("ring", icosphere(4.0, halvings=2)))[1]


def test_print_units_fires():
    _, found = printed(box((0, 0, 0), (0.02, 0.01, 0.02)))
    finding = only(found, "print-units")
    assert finding.severity is Severity.STOP
    assert "0.02 mm" in spelt_out(finding.says)


@pytest.mark.parametrize("more", [{}, {"units_from": "user"}])
def test_print_units_stays_silent(more):
    side = 0.2 if more else 10
    assert "print-units" not in printed(box((0, 0, 0), (side, side, side)), **more)[1]


def test_print_island_fires():
    plan, found = printed(table(legs=[(0, 0, 0), (9, 5, 2.0)]), direction=UP)
    finding = only(found, "print-island")
    assert finding.severity is Severity.WARN
    assert finding.where == "near x 9.5, y 5.5, z 2"
    assert "One part begins in mid-air: 2.00 mm up" in spelt_out(finding.says)
    assert "another way to stand" in finding.do
    assert plan.islands[0].layers_count == 60


def test_print_island_names_the_first_three_and_counts_the_rest():
    legs = [(0, 0, 0), *((2 * k + 1, 5, 1.0 + 0.5 * k) for k in range(5))]
    finding = only(printed(table(legs=legs, top=(12, 6, 1)), direction=UP)[1], "print-island")
    assert finding.says.startswith("5 parts begin in mid-air")
    assert "and 2 more" in finding.says
    assert finding.measure == "5"


@pytest.mark.parametrize(
    "what", [table(legs=[(0, 0, 0), (9, 5, 0)]), icosphere(4.0, halvings=3), over(table(legs=[(0, 0, 0), (9, 5, 2.0)]))]
)
def test_print_island_stays_silent(what):
    assert "print-island" not in printed(what, direction=UP)[1]


def test_print_island_stays_silent_where_the_next_layer_carries_it():
    """A leg that ends a layer short of the others: light reaches through more than one layer."""
    assert "print-island" not in printed(table(legs=[(0, 0, 4.96)]), direction=UP)[1]


@pytest.mark.parametrize(
    ("what", "word", "cure"),
    [
        (cup(), "open towards the film", "lets air in"),
        (over(cup()), "like a bowl", "deepest place"),
        (hollow(icosphere(4.0, halvings=3), icosphere(3.0, halvings=3)), "closed all round", "two holes of 1.5 mm"),
    ],
)
def test_print_cup_fires(what, word, cure):
    finding = only(printed(what, direction=UP)[1], "print-cup")
    assert finding.severity is Severity.WARN
    assert word in finding.says
    assert cure in spelt_out(finding.do)
    assert finding.measure.endswith("mm³")


def test_print_cup_counts_several_of_a_kind_in_one_finding():
    bowls = block((0, 0, 0), (17, 5, 4))
    for k in range(4):
        bowls -= block((4 * k + 1, 1, 1), (4 * k + 4, 4, 5))
    finding = only(printed(mesh(bowls), direction=UP)[1], "print-cup")
    assert "and 1 more" in finding.says


@pytest.mark.parametrize(
    "what", [cup(hole=0.5), over(cup(hole=0.5)), cup(outer=1.5, inner=0.7, high=4, floor=3), box((0, 0, 0), (4, 4, 4))]
)
def test_print_cup_stays_silent(what):
    assert "print-cup" not in printed(what, direction=UP)[1]


def test_print_cup_fires_on_the_plate_where_supports_would_let_it_breathe():
    ring = SHAPES["plain-band"].make()
    assert "print-cup" not in printed(ring, direction=(0, 1, 0))[1]
    on_plate = printed(ring, direction=(0, 1, 0), printer=Printer(stand_mm=0))[1]
    assert "open towards the film" in only(on_plate, "print-cup").says


def test_a_ring_on_the_plate_itself_is_not_laid_flat():
    plan, found = printed(SHAPES["plain-band"].make(), printer=Printer(stand_mm=0))
    assert "print-cup" not in found
    assert "flat" not in plan.way.words


def room(*, door):
    """A box with a room in it and a round door in one side."""
    whole = block((0, 0, 0), (9, 9, 9)) - block((1, 1, 1), (8, 8, 8))
    return mesh(whole - cylinder(door / 2, low=-1, high=2, at=(4.5, 4.5), around=48))


def test_print_supports_inside_fires():
    plan, found = printed(room(door=2.0), direction=UP)
    finding = only(found, "print-supports-inside")
    assert finding.severity is Severity.WARN
    assert plan.hidden_mm2 == pytest.approx(49, rel=0.05)
    assert plan.hidden_at_mm[2] == pytest.approx(8)
    assert finding.where.endswith("z 8")
    assert finding.measure == f"{plan.hidden_mm2:.1f} mm²"
    assert finding.do.startswith("Take another way to stand: leaning")
    shell = mesh(manifold3d.Manifold.sphere(8, 48) - manifold3d.Manifold.sphere(7, 48) - cylinder(0.8, low=-9, high=0))
    assert only(printed(shell, direction=UP)[1], "print-supports-inside").do.startswith("Print it in two halves")


@pytest.mark.parametrize("what", [room(door=6.9), cup(), over(cup()), box((0, 0, 0), (4, 5, 6))])
def test_print_supports_inside_stays_silent(what):
    plan, found = printed(what, direction=UP)
    assert "print-supports-inside" not in found
    assert plan.hidden_mm2 < 3


def grooved():
    """A plate with four grooves, 0.6 mm wide and as deep, that lean with it."""
    plate = block((0, 0, 0), (12, 10, 3))
    for k in range(4):
        plate -= block((-1, 1.5 + 2 * k, 2.4), (13, 2.1 + 2 * k, 4))
    return mesh(plate)


def test_print_steps_fires():
    finding = only(printed(grooved(), direction=(0.5, 0, 1))[1], "print-steps")
    assert finding.severity is Severity.NOTE
    assert "no point or brush" in finding.says
    assert "the casting keeps them" in finding.says


def test_print_steps_fires_on_open_faces_where_they_are_deeper_than_finishing():
    what = box((0, 0, 0), (6, 6, 6))
    assert "print-steps" not in printed(what, direction=(0, 1, 1))[1]
    finding = only(printed(what, direction=(0, 1, 1), printer=Printer(layer_mm=0.2))[1], "print-steps")
    assert "Open faces show the steps of 0.2 mm layers" in spelt_out(finding.says)
    assert "0.141 mm proud and 0.20 mm wide" in spelt_out(finding.says)


@pytest.mark.parametrize("direction", [(0, 0, 1), (1, 0, 0)])
def test_print_steps_stays_silent(direction):
    assert "print-steps" not in printed(grooved(), direction=direction)[1]


def test_print_too_large_fires():
    small = Printer(width_mm=5, depth_mm=8, height_mm=9)
    finding = only(printed(box((0, 0, 0), (6, 9, 6)), direction=UP, printer=small)[1], "print-too-large")
    assert finding.severity is Severity.WARN
    assert spelt_out(finding.says).count("mm") >= 4
    assert "high with its supports" in finding.says


@pytest.mark.parametrize("printer", [Printer(), Printer(width_mm=9, depth_mm=6, height_mm=11)])
def test_print_too_large_stays_silent(printer):
    turned = box((0, 0, 0), (6, 9, 6))
    assert "print-too-large" not in printed(turned, direction=UP, printer=printer)[1]


@pytest.mark.parametrize("name", ["signet", "bezel-ring", "pendant"])
@pytest.mark.parametrize("way", [(0, 0, 1), (0, 1, 0)])
def test_whichever_natural_way_our_shapes_stand_an_island_is_one_to_be_seen(name, way):
    plan, found = printed(SHAPES[name].make(), direction=way)
    assert "print-unsound" not in found
    assert bool(plan.islands) == ("print-island" in found)
    assert all(i.largest_mm2 > 0.5 for i in plan.islands)


@pytest.mark.parametrize(
    ("what", "direction", "code", "at"),
    [
        (table(legs=[(0, 0, 0), (9, 5, 2.0)]), UP, "print-island", (9.5, 5.5, 2.0)),
        (over(cup()), UP, "print-cup", (0, 0, -3.5)),
        (cup(), UP, "print-cup", (0, 0, 3.5)),
    ],
)
def test_a_finding_with_a_place_has_it_as_figures_too(what, direction, code, at):
    """The middle of a leg's foot; the middle of a cup's room, from 1 to 6 mm."""
    _, found = printed(what, direction=direction)
    finding = only(found, code)
    assert finding.at_mm == pytest.approx(at, abs=0.06)
    x, y, z = (f"{round(value, 1) + 0.0:g}" for value in finding.at_mm)
    assert finding.where == f"near x {x}, y {y}, z {z}"
    assert finding.where in finding.says


def test_findings_of_a_whole_file_have_no_place():
    whole = icosphere(4.0, halvings=2)
    _, found = printed(("shell", Mesh(whole.vertices, whole.faces[3:])), printer=Printer(width_mm=2, depth_mm=2))
    assert only(found, "print-unsound").at_mm is None
    assert only(found, "print-too-large").at_mm is None
