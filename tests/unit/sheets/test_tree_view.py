"""The tree page: labels apart, tiers alike, the sprueing card, clearances."""

import math
import re
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.sheets.display import Display
from pourwell.sheets.tree_view import angles, apart, cap, numbers, ordinates, spread, tree_view
from pourwell.steps.tree.model import Proposal
from tests.golden.sheets.parts import FLASK_76, Level
from tests.golden.sheets.plans import plan
from tests.golden.sheets.variants import forty, one

SHOW = Display()


def view(of=None, show: Display = SHOW) -> dict:
    made = of or plan()
    assert made.tree is not None
    return tree_view(made, made.tree, show, paper="a4")


@given(st.lists(st.floats(0, 150), min_size=1, max_size=20), st.floats(0.5, 10))
def test_heights_are_spread_apart_and_keep_their_order_and_their_middle(heights, step):
    heights.sort()
    at = spread(heights, step=step)
    assert all(b - a >= step - 1e-6 for a, b in pairwise(at))
    assert sum(at) == pytest.approx(sum(heights), abs=1e-6)


@given(st.lists(st.integers(0, 30), min_size=1, max_size=20, unique=True))
def test_heights_far_enough_apart_stay_where_they_are(places):
    heights = sorted(10.0 * p for p in places)
    assert spread(heights, step=10.0) == pytest.approx(heights)


def test_names_that_share_a_height_share_a_line():
    lines = ordinates([("stem", 62.02), ("tip", 62.0), ("foot", 0.0)], show=SHOW, step_mm=4.0)
    assert [(m["says"], m["value"]) for m in lines] == [("foot", "0"), ("tip, stem", "62")]


def test_the_button_is_a_spherical_cap_of_its_width_and_height():
    points = cap(28.0, foot_mm=8.0, height_mm=12.0)
    assert points[0] == pytest.approx((-14.0, 8.0))
    assert points[-1] == pytest.approx((14.0, 8.0))
    assert max(y for _, y in points) == pytest.approx(20.0)
    centre, radius = 8.0 + 12.0 - (14.0**2 + 12.0**2) / 24.0, (14.0**2 + 12.0**2) / 24.0
    assert all(math.hypot(x, y - centre) == pytest.approx(radius) for x, y in points)


def test_a_base_without_a_dome_gives_a_flat_button():
    assert cap(28.0, foot_mm=0.0, height_mm=0.0) == ((-14.0, 0.0), (14.0, 0.0))


@pytest.mark.parametrize(
    ("azimuths", "says"),
    [
        ([90.0], "90"),
        ([25.0, 205.0], "25, 205"),
        ([22.5 + 45 * i for i in range(8)], "22.5 and every 45"),
        ([0.0, 80.0, 190.0], "0, 80, 190"),
    ],
)
def test_angles_are_one_a_division_or_a_list(azimuths, says):
    assert angles(azimuths) == says


@pytest.mark.parametrize(("run", "says"), [([4], "4"), ([1, 2], "1, 2"), ([1, 2, 3], "1\u20133"), ([1, 3, 4], "1, 3, 4")])
def test_piece_numbers_are_written_short_when_they_run_on(run, says):
    assert numbers(run) == says


def test_the_card_has_a_row_a_piece_on_a_small_tree_and_a_row_a_kind_on_a_large_one():
    assert [row["no"] for row in view()["card"]] == ["1", "2", "3", "4", "5", "6"]
    rows = view(forty())["card"]
    assert [(row["no"], row["letter"], row["angle"]) for row in rows][:2] == [
        ("1\u20138", "A", "0 and every 45"),
        ("9\u201316", "B", "22.5 and every 45"),
    ]


def test_the_card_tells_where_and_how_thick():
    row = view()["card"][0]
    assert (row["name"], row["angle"], row["height"], row["gauge"], row["length"], row["ratio"]) == (
        "Signet Tamber",
        "90",
        "27",
        "4.0",
        "7",
        "0.92",
    )
    assert row["attach"] == "shoulder, beside the table"


def test_tiers_that_repeat_are_drawn_once():
    ring = ("A", 0.0), ("A", 120.0), ("A", 240.0)
    levels = tuple(Level(30.0 + 20 * i, 3.0, 6.0, 45.0, 0.98, ring) for i in range(3))
    tiers = view(plan(levels=levels))["tiers"]
    assert sum(len(t["places"]) for t in tiers) < 9
    assert any(re.match(r"Tiers \d to \d, alike", t["title"]) for t in tiers)


def test_tiers_stand_with_the_tip_first_as_in_the_elevation():
    assert [t["title"] for t in view()["tiers"]] == ["Tier 2", "Tier 1"]


def test_far_pieces_are_drawn_before_near_ones():
    order = {q["n"]: i for i, q in enumerate(view()["places"])}
    assert order["3"] < order["5"], "piece 3 stands behind the stem, piece 5 before it"


def test_the_weights_of_the_parts_make_the_tree():
    weights = dict(view()["weights"])
    parts = sum(float(weights[name].removesuffix(" g")) for name in ("Pieces", "Sprues", "Stem", "Button"))
    assert parts == pytest.approx(float(weights["Tree in metal"].removesuffix(" g")), abs=0.2)


def test_a_clearance_under_its_limit_is_named():
    short = {c["says"]: c["short"] for c in view(one())["clearances"]}
    assert short == {"to the wall": True, "over the tip": False}, "one piece has no neighbour"


def test_the_smallest_way_to_the_wall_is_drawn_on_its_tier():
    made = plan()
    gap = next(t["gap"] for t in view(made)["tiers"] if t["gap"])
    assert math.dist(gap["from"], gap["to"]) == pytest.approx(made.tree.clearances.wall_mm, abs=0.02)
    assert math.hypot(*gap["to"]) == pytest.approx(made.flask.diameter_mm / 2, abs=0.01)


def test_a_second_sprue_is_proposed_in_words():
    made = plan()
    attachment = made.tree.places[0].sprue.attachment
    proposal = Proposal(
        piece="C", neck_mm=1.2, neck_at_mm=(0, 0, 0), section_mm=4.9, section_at_mm=(0, 0, 0), gauge_mm=3.0, attachment=attachment
    )
    says = view(replace(made, tree=replace(made.tree, proposals=(proposal,))))["proposals"]
    assert says == [
        "C: the section of 4.9 mm lies behind a neck of 1.2 mm. "
        "A second sprue of 3.0 mm at the shoulder, beside the table would feed it."
    ]


def test_the_bar_is_50_mm_or_2_inches():
    assert view()["bar"] == {"mm": 50.0, "says": "50 mm"}
    assert view(show=Display("imperial"))["bar"] == {"mm": pytest.approx(50.8), "says": "2 in"}


def test_coordinates_are_those_of_the_flask_not_of_the_paper():
    drawn = view()
    assert drawn["flask"] == {"d": FLASK_76.diameter_mm, "h": FLASK_76.height_mm, "wall": 1.6, "base": 8.0}
    xs = [abs(x) for q in drawn["places"] for polygon in q["outline"] for x, _ in polygon]
    assert max(xs) < FLASK_76.diameter_mm / 2


def test_numbers_of_pieces_that_lie_upon_each_other_are_pushed_apart():
    crowd = [(0.0, 0.0), (0.0, 0.0), (1.0, 0.5), (2.0, 0.0), (30.0, 0.0)]
    placed = apart(crowd, step=4.9)
    nearest = min(math.dist(a, b) for a, b in combinations(placed, 2))
    assert nearest >= 4.9 - 0.2
    assert placed[-1] == (30.0, 0.0), "what stands free stays"
    assert apart([(0.0, 0.0), (9.0, 0.0)], step=4.9) == [(0.0, 0.0), (9.0, 0.0)]


def test_an_even_division_is_written_short_wherever_it_begins():
    assert angles([84, 156, 228, 300, 12]) == "84 and every 72"
    assert angles([48, 120, 192, 264, 336]) == "48 and every 72"
    assert angles([0, 60, 120, 180, 240]) == "0, 60, 120, 180, 240"
