"""`pourwell check` where figures are not to be worked by: dashes for people, numbers with `doubtful` for programs."""

import pytest

from pourwell.geometry.mesh import Mesh
from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import stl_file


@pytest.fixture
def small(tmp_path):
    return stl_file(tmp_path / "small.stl", box((0, 0, 0), (0.2, 0.3, 0.4)))


def test_people_read_a_dash_and_the_reason(pourwell, small):
    answer = pourwell("check", small)
    assert answer.code == 3
    assert "not told: the unit is in doubt" in answer.out
    assert answer.out.index("DO NOT CAST") < answer.out.index("triangles")
    assert "No figure here is to be worked by" in " ".join(answer.out.split("triangles")[0].split())
    assert " g  sterling" not in answer.out
    assert "0.2 x 0.3 x 0.4" in answer.out


def test_programs_get_the_numbers_and_the_doubt(pourwell, small):
    (one,) = pourwell("check", small, "--json").data
    assert one["doubtful"] == "not told: the unit is in doubt"
    assert one["piece"]["doubt"] == "unit"
    assert one["piece"]["volume_mm3"] == pytest.approx(0.024)


def test_a_piece_that_is_sure_has_no_doubt(pourwell, small):
    (one,) = pourwell("check", small, "--units", "cm", "--json").data
    assert one["doubtful"] == ""
    assert one["piece"]["doubt"] == ""
    sure = pourwell("check", small, "--units", "cm")
    assert "not told" not in sure.out
    assert ("DO NOT CAST" in sure.out) is (sure.code == 3)


def test_an_open_surface_is_told_before_its_figures_that_are_a_stand_in_s(pourwell, tmp_path):
    whole = box((0, 0, 0), (9, 2, 2))
    answer = pourwell("check", stl_file(tmp_path / "sheet.stl", Mesh(whole.vertices, whole.faces[:4])))
    assert answer.code == 3
    said = " ".join(answer.out.split())
    assert said.index("that of a stand-in, a skin stretched over") < said.index("triangles")


def test_a_plan_tells_no_charge_that_rests_on_such_a_piece(pourwell, tmp_path):
    whole = stl_file(tmp_path / "whole.stl", box((0, 0, 0), (2, 2.5, 2.9)))
    answer = pourwell("plan", whole, "--alloy", "sterling-925", "--out", "run", "--no-freezing")
    assert "DO NOT POUR" in answer.out
    assert "the size of whole is in doubt" in answer.out
    sure = pourwell("plan", whole, "--alloy", "sterling-925", "--out", "run-2", "--no-freezing", "--units", "mm")
    assert "is in doubt" not in sure.out


@pytest.mark.parametrize("command", ["check", "print", "fit"])
def test_help_names_every_form_that_is_read(pourwell, command):
    said = pourwell(command, "--help").out
    for form in ("STL", "OBJ", "PLY", "3MF", "GLB", "STEP"):
        assert form in said
