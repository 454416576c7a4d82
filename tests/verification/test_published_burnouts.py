"""The page of published burnouts is what the model says now, and what it says of them holds."""

import importlib.util
import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
NUMBER = re.compile(r"\d+(?:\.\d+)?")


@pytest.fixture(scope="module")
def published():
    spec = importlib.util.spec_from_file_location("published_burnouts", DOCS / "published_burnouts.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_current(published):
    """Words exactly, figures to 2 % and a digit: machines round apart. Written by docs/published_burnouts.py."""
    fresh, kept = published.page(), published.PAGE.read_text(encoding="utf-8")
    assert NUMBER.sub("#", fresh) == NUMBER.sub("#", kept), "python docs/published_burnouts.py"
    new, old = ([float(n) for n in NUMBER.findall(text)] for text in (fresh, kept))
    assert new == pytest.approx(old, rel=0.02, abs=1.0)


def course(published, name):
    return next(s for s in published.SCHEDULES if s.name == name)


def test_a_schedule_climbs_as_it_says_and_falls_as_the_kiln(published):
    corners = course(published, "5 h").corners
    assert corners[0] == (0.0, 20.0)
    assert corners[1] == (pytest.approx(129 / 150 * 60), 149)
    assert corners[-1][1] == 540
    fall = corners[-2][0] - corners[-3][0]
    assert fall == pytest.approx((732 - 540) / 120 * 60)


def test_where_the_kiln_passes_400_is_read_between_corners(published):
    assert published.passes(((0.0, 20.0), (38.0, 400.0), (60.0, 620.0))) == pytest.approx(38.0)
    assert published.passes(((0.0, 20.0), (60.0, 320.0))) == float("inf")
    assert published.clock(float("inf")) == "never"


def test_the_published_names_are_the_sums_of_the_holds(published):
    for schedule in published.SCHEDULES:
        if schedule.name[0].isdigit():
            assert sum(hold for _, hold, _ in schedule.steps) == 60 * int(schedule.name.split()[0])
