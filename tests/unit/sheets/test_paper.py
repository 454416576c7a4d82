"""Scales and margins: what fits onto a page."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from pourwell.sheets import paper, run_sheet
from pourwell.sheets.paper import live_mm, scale_alone, scales
from tests.golden.sheets.parts import FLASK_76


def flask(diameter: float, height: float):
    return replace(FLASK_76, diameter_mm=diameter, height_mm=height)


@pytest.mark.parametrize("name", ["a4", "us-letter"])
def test_the_demo_flask_is_drawn_at_full_size(name):
    size = scales(FLASK_76, tiers_count=2, paper=name)
    assert (size.elevation_ratio, size.plan_ratio) == (1.0, 1.0)
    assert size.beside_count >= 2


def test_a_wide_flask_keeps_its_elevation_and_halves_its_tiers():
    size = scales(flask(100.0, 150.0), tiers_count=5, paper="a4")
    assert (size.elevation_ratio, size.plan_ratio) == (1.0, 0.5)


def test_the_widest_flask_is_halved_on_both():
    size = scales(flask(130.0, 200.0), tiers_count=4, paper="us-letter")
    assert (size.elevation_ratio, size.plan_ratio) == (0.5, 0.5)


@pytest.mark.parametrize("diameter", range(30, 131, 10))
@pytest.mark.parametrize("name", ["a4", "us-letter"])
def test_elevation_and_tiers_fit_beside_each_other_for_any_flask(diameter, name):
    of = flask(float(diameter), 1.4 * diameter)
    size = scales(of, tiers_count=3, paper=name)
    wide = size.ordinates_mm + (of.diameter_mm + 2 * of.wall_mm) * size.elevation_ratio + of.diameter_mm * size.plan_ratio
    width, height = live_mm(name)
    assert wide < width
    assert of.height_mm * size.elevation_ratio < height


def test_an_empty_flask_leaves_room_for_words():
    assert scale_alone(FLASK_76, beside_mm=62.0, paper="a4").elevation_ratio == 1.0
    assert scale_alone(flask(127.0, 178.0), beside_mm=62.0, paper="a4").elevation_ratio == 0.5


def test_a_stamped_page_has_less_height():
    assert live_mm("a4")[1] - live_mm("a4", stopped=True)[1] == paper.TOP_STOPPED_MM - paper.TOP_MM


def test_the_margins_are_those_of_the_template():
    source = (Path(run_sheet.__file__).parent / "page.typ").read_text(encoding="utf-8")
    found = {name: float(mm) for name, mm in re.findall(r"(left|right|top|bottom): ([\d.]+)mm", source)}
    assert found == {"left": paper.LEFT_MM, "right": paper.RIGHT_MM, "top": paper.TOP_MM, "bottom": paper.BOTTOM_MM}
    stamped = re.search(r"top-stopped = ([\d.]+)mm", source)
    assert stamped is not None
    assert float(stamped[1]) == paper.TOP_STOPPED_MM
