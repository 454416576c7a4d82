"""A run's folder read back."""

import json

import numpy as np
import pytest

from pourwell.errors import BadDataError, BadRequestError
from pourwell.files.folder import LIST
from pourwell.files.run_folder import BODIES, PLAN, SOLID, is_run, read_run
from pourwell.files.solids import tree_glb, tree_stl
from tests.unit.freeze import trees


@pytest.fixture
def folder(tmp_path):
    cast = trees.cast()
    run = tmp_path / "run-7"
    run.mkdir()
    (run / PLAN).write_text(json.dumps({"schema": "pourwell.plan", "schema_version": 1, "tree": {"places": []}}))
    (run / BODIES).write_bytes(tree_glb(cast.bodies))
    (run / SOLID).write_bytes(tree_stl(cast.metal))
    (run / LIST).write_text("{}")
    return run


def test_bodies_and_solid_are_read_as_they_were_written(folder):
    cast, stored = trees.cast(), read_run(folder)
    assert [name for name, _ in stored.bodies] == [name for name, _ in cast.bodies]
    for (_, one), (_, two) in zip(stored.bodies, cast.bodies, strict=True):
        assert one.volume_mm3 == pytest.approx(two.volume_mm3, rel=1e-4)
        assert np.array(one.bounds) == pytest.approx(np.array(two.bounds), abs=1e-4)
    assert stored.cast.volume_mm3 == pytest.approx(cast.metal.volume_mm3, rel=1e-5)
    assert stored.plan["schema"] == "pourwell.plan"


def test_the_plan_itself_names_the_run_too(folder):
    assert read_run(folder / PLAN).folder == folder
    assert is_run(folder)
    assert is_run(folder / PLAN)
    assert not is_run(folder / "ring.stl")


def test_a_run_of_a_job_belongs_to_the_folder_with_the_list(folder):
    (folder / LIST).unlink()
    (folder.parent / LIST).write_text("{}")
    stored = read_run(folder)
    assert (stored.folder, stored.whole) == (folder, folder.parent)


def test_a_folder_without_a_plan_is_refused(tmp_path):
    with pytest.raises(BadRequestError, match="holds no plan") as err:
        read_run(tmp_path)
    assert "pourwell plan" in err.value.try_this


def test_a_job_of_several_runs_asks_which(folder):
    with pytest.raises(BadRequestError, match="holds no plan") as err:
        read_run(folder.parent)
    assert "run-7" in err.value.why
    assert str(folder) in err.value.try_this


def test_a_plan_of_a_weight_has_nothing_to_freeze(folder):
    (folder / PLAN).write_text(json.dumps({"schema": "pourwell.plan", "schema_version": 1}))
    with pytest.raises(BadRequestError, match="of a weight, not of shapes"):
        read_run(folder)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "3", '{"schema": "other", "schema_version": 1}', '{"schema": "pourwell.plan", "schema_version": 99}']
)
def test_what_is_no_plan_is_refused(folder, text):
    (folder / PLAN).write_text(text)
    with pytest.raises(BadDataError, match="is no plan"):
        read_run(folder)


@pytest.mark.parametrize("name", [BODIES, SOLID])
def test_a_missing_file_is_named(folder, name):
    (folder / name).unlink()
    with pytest.raises(BadDataError, match="is missing") as err:
        read_run(folder)
    assert name in err.value.what


@pytest.mark.parametrize("name", [BODIES, SOLID])
@pytest.mark.parametrize("data", [b"", b"rubbish", b"glTF\x02\x00\x00\x00\xff\xff\x00\x00"])
def test_a_broken_file_is_refused_in_a_sentence(folder, name, data):
    (folder / name).write_bytes(data)
    with pytest.raises(BadDataError) as err:
        read_run(folder)
    assert name in err.value.what
    assert err.value.try_this == "Plan again."


def test_a_tree_without_stem_is_not_ours(folder):
    (folder / BODIES).write_bytes(tree_glb([b for b in trees.cast().bodies if b[0] != "stem"]))
    with pytest.raises(BadDataError, match="not a tree that we wrote") as err:
        read_run(folder)
    assert "no stem" in err.value.why


def test_a_solid_that_is_cut_open_is_refused(folder):
    data = bytearray((folder / SOLID).read_bytes())
    count = int.from_bytes(data[80:84], "little")
    data[80:84] = (count - 5).to_bytes(4, "little")
    (folder / SOLID).write_bytes(bytes(data[: 84 + 50 * (count - 5)]))
    with pytest.raises(BadDataError, match="not one closed solid"):
        read_run(folder)
