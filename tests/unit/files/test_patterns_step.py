"""STEP through its add-on: names, units, places; damage; and what is said where the add-on is missing."""

import sys
from time import process_time

import numpy as np
import pytest

from pourwell.errors import BadFileError
from pourwell.files.pattern_step import own_unit
from pourwell.files.patterns import read_pattern
from pourwell.files.worker import read_safely
from pourwell.geometry.solidity import faults
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, cube, put, refused, volume
from tests.unit.files.step_files import step

BLOCK = ("block", CUBE_CORNERS * [4, 5, 6] + [10, 20, 30], CUBE_QUADS)


@pytest.fixture
def addon():
    return pytest.importorskip("cascadio", reason="the add-on that reads STEP is not here")


def test_without_the_add_on_it_is_said_how_to_get_it(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "cascadio", None)
    told = refused(put(tmp_path / "a.step", step([BLOCK])))
    assert "pip install 'pourwell[step]'" in told
    assert "save the pattern as STL" in told


@pytest.mark.parametrize("unit", ["mm", "m", "inch"])
def test_the_unit_that_the_text_says_is_known(unit):
    assert own_unit(step([BLOCK], unit).encode()) == unit


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        (b"#1=( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.CENTI.,.METRE.) );", "cm"),
        (b"#1=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MICRO.,.METRE.));", "um"),
        (b"#1=( CONVERSION_BASED_UNIT('foot',#2) LENGTH_UNIT() NAMED_UNIT(#3) );", "foot"),
        (b"#1=( CONVERSION_BASED_UNIT('ell',#2) LENGTH_UNIT() NAMED_UNIT(#3) );", "mm"),
        (b"#1=( LENGTH_UNIT() SI_UNIT(.CENTI.,.METRE.) );\n#2=( LENGTH_UNIT() SI_UNIT($,.METRE.) );", "mm"),
        (b"", "mm"),
    ],
)
def test_an_odd_or_missing_unit_is_taken_as_a_reader_of_step_takes_it(text, unit):
    assert own_unit(text) == unit


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1), ("inch", 25.4), ("m", 1000)])
def test_a_step_file_is_read_in_its_own_unit_where_it_was_drawn(tmp_path, addon, unit, mm):
    file = read_pattern(put(tmp_path / "a.step", step([BLOCK], unit)))
    assert (file.kind, file.units, file.units_from, file.own_units) == ("STEP", unit, "file", unit)
    low, high = file.bodies[0].mesh.bounds
    assert low == pytest.approx(np.array([10, 20, 30]) * mm, rel=1e-5)
    assert high == pytest.approx(np.array([14, 25, 36]) * mm, rel=1e-5)
    assert volume(file) == pytest.approx(120 * mm**3, rel=1e-5)
    assert faults(file.bodies[0].mesh).sound


@pytest.mark.parametrize("ending", [".stp", ".STEP", ""])
def test_a_step_file_is_known_by_its_content(tmp_path, addon, ending):
    assert volume(read_pattern(put(tmp_path / f"a{ending}", step([BLOCK])))) == pytest.approx(120, rel=1e-5)


def test_the_users_unit_beats_that_of_a_step_file(tmp_path, addon):
    file = read_pattern(put(tmp_path / "a.step", step([BLOCK], "inch")), units="mm")
    assert (file.units, file.units_from, file.own_units) == ("mm", "user", "inch")
    assert volume(file) == pytest.approx(120, rel=1e-5)


def test_the_bodies_of_a_step_file_keep_their_names(tmp_path, addon):
    other = ("stone", cube(1, (30, 0, 0)).vertices, CUBE_QUADS)
    file = read_safely(put(tmp_path / "a.step", step([BLOCK, other])))
    assert sorted(body.name for body in file.bodies) == ["block", "stone"]
    assert volume(file) == pytest.approx(121, rel=1e-5)


def test_the_limit_of_triangles_holds_for_a_step_file(tmp_path, addon):
    assert "limit is 11" in refused(put(tmp_path / "a.step", step([BLOCK])), limit_count=11)


def read_or_refused(path) -> bool:
    """Was it read; if not, it was refused in a whole sentence, and nothing else came of it."""
    try:
        return volume(read_safely(path, limit_s=30)) > 0
    except BadFileError as error:
        if not (error.what and error.why and error.try_this):
            raise
        return False


@pytest.mark.parametrize("share", [0.02, 0.9])
def test_a_step_file_cut_short_is_refused_and_ends_nothing_else(tmp_path, addon, share):
    text = step([BLOCK])
    assert not read_or_refused(put(tmp_path / "a.step", text[: int(share * len(text))]))


def test_a_step_file_changed_anywhere_ends_nothing_else(tmp_path, addon):
    text, rng = step([BLOCK]), np.random.default_rng(5)
    for _ in range(4):
        changed = list(text)
        for at in rng.integers(0, len(text), 6):
            changed[at] = chr(rng.integers(32, 127))
        read_or_refused(put(tmp_path / "a.step", "".join(changed)))


def test_a_unit_is_looked_for_in_no_time_in_a_text_that_never_names_one():
    """Forty megabytes of one entity without end, and of brackets: patterns that look back and forth would take hours."""
    begun = process_time()
    for text in (b"=(" + b"LENGTH_UNIT(" * 500_000, b"=( " * 3_000_000, b"=(" + b"A" * 10_000_000 + b"LENGTH_UNIT()"):
        assert own_unit(b"ISO-10303-21;" + text) == "mm"
    assert process_time() - begun < 10
