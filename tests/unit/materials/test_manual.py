"""docs/materials.md: its examples are real rows, and what it says of the shipped ones is true."""

import re
from pathlib import Path

import pytest

from pourwell.materials.checks import row_faults
from pourwell.materials.library import load_library
from pourwell.materials.model import Grade, Quantity

PAGE = (Path(__file__).parents[3] / "docs" / "materials.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```toml\n# (\w+)/(\w+)\.toml[^\n]*\n(.*?)```", PAGE, flags=re.DOTALL)
MENDED = re.findall(r"^\| `([a-z0-9-]+)` \|", PAGE, flags=re.MULTILINE)


@pytest.fixture
def library(tmp_path):
    for shelf, name, text in EXAMPLES:
        (tmp_path / shelf).mkdir(exist_ok=True)
        (tmp_path / shelf / f"{name}.toml").write_text(text, encoding="utf-8")
    return load_library(tmp_path)


def test_the_manual_shows_an_own_row_of_four_kinds():
    assert sorted(shelf for shelf, _, _ in EXAMPLES) == ["alloys", "investments", "patterns", "programmes"]


def test_the_examples_load_and_are_sound(library):
    assert row_faults(library.alloy("house-585"), library) == ()
    bag = library.investment("gypsum-standard")
    assert row_faults(bag, library) == ()
    assert (bag.water_g_per_100_g.value, bag.gloss_off_min.ends) == (40, (10, 12))
    assert library.programme("blue-bag-resin").steps[1].hold_min.at(76) == 240


def test_every_grade_is_explained():
    assert [grade for grade in Grade if f"| `{grade}` |" not in PAGE] == []


def test_the_value_shown_as_the_form_of_a_row_is_the_shipped_one():
    liquidus = load_library().alloy("sterling-925").liquidus_c
    assert f"value = {liquidus.value:g}, low = {liquidus.low:g}, high = {liquidus.high:g}" in PAGE


def test_every_row_told_as_mended_exists():
    known = {*load_library().alloys, *load_library().investments, *Grade}
    assert set(MENDED) <= known, set(MENDED) - known


def test_every_mended_value_is_told_in_the_manual():
    """A note that says mended belongs to a row that the manual lists."""
    mended = {
        row.id
        for row in load_library().alloys.values()
        for key in type(row).model_fields
        if isinstance(value := getattr(row, key), Quantity) and "mended" in value.note
    }
    assert mended <= set(MENDED), mended - set(MENDED)
