"""Mending a file: what it asks, what it writes, and what it never touches."""

import json
from pathlib import Path

import manifold3d
import numpy as np
import pytest

from pourwell.app.mending import check_mending, mend_file, metal_mm3, write_mended
from pourwell.errors import BadFileError, BadRequestError, OutputError
from pourwell.files.patterns import read_pattern
from pourwell.geometry.holes import fanned_mm3
from pourwell.geometry.mending import Step
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.places import FaultKind
from pourwell.geometry.solidity import from_manifold, inside_out, weld
from tests.journeys.call import Caller
from tests.unit.files.pattern_files import binary_stl, cube, joined, text_stl
from tests.unit.geometry.faulty import fine, flipped, shuffled, without


def ball() -> Mesh:
    return from_manifold(manifold3d.Manifold.sphere(4, 24))


def silent(_: str) -> None:
    """Tell nobody."""


@pytest.fixture
def pourwell(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Caller:
    return Caller(monkeypatch, capsys)


@pytest.fixture
def torn(tmp_path: Path) -> Path:
    return binary_stl(tmp_path / "torn.stl", without(flipped(fine(cube(8), 0.2), 9), 40))


@pytest.fixture
def overlapping(tmp_path: Path) -> Path:
    return binary_stl(tmp_path / "two.stl", joined(cube(8), cube(8, (4, 0, 0))))


def test_a_torn_piece_is_mended_in_memory_and_said(torn: Path) -> None:
    before = torn.read_bytes()
    mending = mend_file(torn, units=None, tell=silent)
    assert {fault.kind for fault in mending.before} == {FaultKind.OPEN, FaultKind.WINDING}
    assert mending.after == ()
    assert mending.volume_mm3 == pytest.approx(512)
    assert mending.moved is not None
    assert mending.moved.moved_mm == pytest.approx(0, abs=1e-5)
    assert torn.read_bytes() == before
    assert [p.name for p in torn.parent.iterdir() if p.is_file()] == ["torn.stl"], "nothing is written yet"


def test_the_copy_is_a_sound_binary_stl_in_mm(torn: Path, tmp_path: Path) -> None:
    out = tmp_path / "new" / "whole.stl"
    write_mended(mend_file(torn, units="cm", tell=silent), out, replace=False)
    back = read_pattern(out)
    assert back.bodies[0].mesh.volume_mm3 == pytest.approx(512e3, rel=1e-6)
    assert out.stat().st_size == 84 + 50 * back.triangle_count
    assert mend_file(out, units=None, tell=silent).needed is False
    assert [p.name for p in out.parent.iterdir()] == ["whole.stl"], "nothing half-written stays"


@pytest.fixture
def capless(tmp_path: Path) -> Path:
    """A cube of 8 mm in fine triangles without its top."""
    whole = fine(cube(8), 2.0)
    top = np.flatnonzero(whole.centres[:, 2] > 8 - 1e-6)
    return binary_stl(tmp_path / "capless.stl", without(whole, *top.tolist()))


def test_what_bodies_share_counts_once_before_and_after(overlapping: Path) -> None:
    """Two cubes of 8 mm, half in each other: 768 mm3 of metal before as after, whatever the triangles add up to."""
    mending = mend_file(overlapping, units=None, tell=silent)
    assert not mending.asks
    assert mending.volume_before_mm3 == pytest.approx(768)
    assert mending.volume_mm3 == pytest.approx(768)
    assert mending.volume_change_fraction == pytest.approx(0.0, abs=1e-9)
    assert mending.moved is not None
    assert mending.moved.moved_mm == pytest.approx(0, abs=1e-6)


def test_stones_are_left_out_by_their_names(tmp_path: Path) -> None:
    file = tmp_path / "set.stl"
    file.write_text(text_stl([("shank", without(cube(8), 0)), ("diamond", cube(2, (3, 3, 7)))]))
    mending = mend_file(file, units=None, tell=silent)
    assert mending.left_out == ("diamond",)
    assert mending.volume_mm3 == pytest.approx(512)


def test_steps_that_are_not_enough_write_nothing(torn: Path, tmp_path: Path) -> None:
    mending = mend_file(torn, units=None, steps=[Step.WINDING], tell=silent)
    assert mending.mesh is None
    with pytest.raises(BadRequestError, match="cannot be mended"):
        write_mended(mending, tmp_path / "out.stl", replace=False)
    assert not (tmp_path / "out.stl").exists()


def test_the_original_is_never_replaced_under_any_name(torn: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.stl"
    link.symlink_to(torn)
    for out in (torn, link, tmp_path / "." / "torn.stl"):
        with pytest.raises(OutputError, match="original"):
            check_mending(torn, out, replace=True)


def test_other_forms_folders_and_files_that_exist_are_refused(torn: Path, tmp_path: Path) -> None:
    other = binary_stl(tmp_path / "other.stl", cube(1))
    with pytest.raises(OutputError, match=r"does not end in \.stl"):
        check_mending(torn, tmp_path / "out.obj", replace=False)
    with pytest.raises(OutputError, match="exists already"):
        check_mending(torn, other, replace=False)
    check_mending(torn, other, replace=True)
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(OutputError, match="folder"):
        check_mending(torn, tmp_path / "folder.stl", replace=True)


# --- the command ---


def test_the_command_writes_a_copy_and_says_what_changed(pourwell: Caller, torn: Path) -> None:
    answer = pourwell("mend", torn)
    assert answer.code == 0, answer.err
    assert "turns 1 triangle" in answer.out
    assert "covers 1 hole" in answer.out
    assert "512.00 mm³" in answer.out
    assert read_pattern(torn.with_name("torn-mended.stl")).bodies[0].mesh.volume_mm3 == pytest.approx(512)
    assert pourwell("check", torn.with_name("torn-mended.stl")).code != 1
    assert pourwell("mend", torn).code == 2, "the copy exists now"
    assert pourwell("mend", torn, "--replace").code == 0


def test_without_a_terminal_a_large_change_is_refused_unless_said_yes(pourwell: Caller, capless: Path) -> None:
    refused = pourwell("mend", capless)
    assert refused.code == 2
    assert "--yes" in refused.err
    assert not capless.with_name("capless-mended.stl").exists()
    agreed = pourwell("mend", capless, "--yes", "--json")
    assert agreed.code == 0
    assert agreed.data["changes"] == {"holes covered": 1}
    assert agreed.data["volume_mm3"] == pytest.approx(512)
    assert Path(agreed.data["written"]).is_file()


def test_the_refusal_begins_with_the_new_surface_where_that_is_what_changes(pourwell: Caller, capless: Path) -> None:
    said = pourwell("mend", capless).err
    assert said.index("a new surface that stands up to 4.0") < said.index("The old surface stays where it is.")
    assert "0.000 mm" not in said


def test_the_change_of_volume_is_a_share_of_the_old_one(pourwell: Caller, capless: Path) -> None:
    data = pourwell("mend", capless, "--yes", "--json").data
    before, after = data["volume_before_mm3"], data["volume_mm3"]
    assert data["volume_change_fraction"] == pytest.approx(after / before - 1)
    assert (before, after) == (pytest.approx(512), pytest.approx(512)), "the missing top was flat"


def test_bodies_that_overlap_are_united_unasked(pourwell: Caller, overlapping: Path) -> None:
    answer = pourwell("mend", overlapping, "--json")
    assert answer.code == 0, answer.err
    assert answer.data["changes"] == {"bodies united": 2}
    assert answer.data["volume_change_fraction"] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("parts", "mm3"),
    [
        ((cube(8),), 512),
        ((cube(8), cube(8)), 512),
        ((inside_out(cube(8)),), 512),
        ((cube(8), inside_out(cube(8, (20, 0, 0)))), 1024),
        ((cube(8), inside_out(cube(4, (2, 2, 2)))), 512 - 64),
        ((cube(8), cube(4, (2, 2, 2))), 512),
        ((cube(8), cube(8, (4, 0, 0)), cube(8, (0, 4, 0))), 64 * 16 - 4 * 4 * 8 * 2 + 4 * 4 * 8),
    ],
    ids=["one", "a copy", "inside out", "one of two inside out", "a hollow", "one within another", "three"],
)
def test_metal_is_what_lies_in_any_body_once(parts: tuple[Mesh, ...], mm3: float) -> None:
    if len(parts) == 3:  # by counting cells of 1 mm
        cells = np.stack(np.meshgrid(*[np.arange(12) + 0.5] * 3, indexing="ij"), axis=-1)
        lows = [part.bounds[0] for part in parts]
        mm3 = np.any([((cells > low) & (cells < low + 8)).all(axis=-1) for low in lows], axis=0).sum()
    assert metal_mm3(joined(*parts)) == pytest.approx(mm3)


def test_a_sound_file_is_left_alone(pourwell: Caller, tmp_path: Path) -> None:
    answer = pourwell("mend", binary_stl(tmp_path / "whole.stl", cube(8)))
    assert answer.code == 0
    assert "nothing wrong" in answer.out
    assert "Nothing was written." in answer.out
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == ["whole.stl"]


def test_shreds_are_refused_in_a_sentence(pourwell: Caller, tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    shreds = Mesh(rng.uniform(0, 9, (60, 3)), np.arange(60).reshape(-1, 3))
    answer = pourwell("mend", binary_stl(tmp_path / "shreds.stl", shreds), "--yes", "--json")
    assert answer.code == 2
    assert "cannot be mended" in answer.err
    assert [p.name for p in tmp_path.iterdir() if p.is_file()] == ["shreds.stl"]


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadFileError):
        mend_file(tmp_path / "none.stl", units=None, tell=silent)


def test_what_is_said_as_data_can_be_written_as_json(torn: Path) -> None:
    data = json.loads(json.dumps(mend_file(torn, units=None, tell=silent).data))
    assert {fault["kind"] for fault in data["faults_before"]} == {"open edges", "winding"}
    assert data["sampled_every_mm"] > 0
    assert data["asks"] is False


# --- what was covered is asked about, and measured whatever the order of the triangles ---


@pytest.fixture
def prongless(tmp_path: Path) -> Path:
    """A cube whose prong of 0.8 mm is lost: the hole left is flat and takes next to no volume."""
    plate = fine(cube(8), 0.3)
    top = (np.linalg.norm(plate.centres - np.array([4, 4, 8]), axis=1) < 0.45) & (plate.centres[:, 2] > 8 - 1e-6)
    return binary_stl(tmp_path / "prongless.stl", without(plate, *np.flatnonzero(top).tolist()))


def test_a_lost_prong_is_asked_about_though_volume_and_old_surface_stay(prongless: Path) -> None:
    mending = mend_file(prongless, units=None, tell=silent)
    assert mending.moved is not None
    assert mending.moved.moved_mm < mending.moved_limit_mm < 0.2 < mending.moved.new_mm
    assert abs(mending.volume_change_fraction) < mending.volume_limit_fraction
    assert mending.asks


def test_the_command_asks_about_a_lost_prong_and_says_why(pourwell: Caller, prongless: Path) -> None:
    refused = pourwell("mend", prongless)
    assert refused.code == 2
    assert "It makes a new surface that stands up to" in refused.err
    assert not prongless.with_name("prongless-mended.stl").exists()
    assert pourwell("mend", prongless, "--yes").code == 0


@pytest.mark.parametrize("seed", range(6))
def test_the_volume_of_an_open_surface_is_the_same_in_any_order_of_its_triangles(seed: int) -> None:
    """About the first vertex it was 341 to 512 mm3 for a cube without its top, as that vertex fell."""
    whole = fine(cube(8), 2.0)
    open_ = without(whole, *np.flatnonzero(whole.centres[:, 2] > 8 - 1e-6).tolist())
    assert metal_mm3(shuffled(open_, seed)) == pytest.approx(512, rel=1e-9)
    holed = without(fine(ball(), 1.0), 3, 99, 150)
    assert metal_mm3(shuffled(holed, seed)) == pytest.approx(metal_mm3(holed), rel=1e-9)


def test_an_open_surface_counts_as_if_its_holes_were_covered_flat() -> None:
    whole = fine(cube(8), 2.0)
    for faces in ([0], [0, 17, 80], list(range(12))):
        assert fanned_mm3(weld(without(whole, *faces))) == pytest.approx(512, rel=0.05)
    assert fanned_mm3(weld(without(whole, 0))) == pytest.approx(512)
    assert fanned_mm3(weld(whole)) == pytest.approx(512)
    assert fanned_mm3(weld(whole).moved(np.column_stack([np.eye(3), [1e4, -7e3, 3]]))) == pytest.approx(512)
    tube = without(whole, *np.flatnonzero((whole.centres[:, 2] > 8 - 1e-6) | (whole.centres[:, 2] < 1e-6)).tolist())
    assert fanned_mm3(weld(tube)) == pytest.approx(512), "two rims, each about its own middle"


def test_bodies_that_overlap_are_told_before_they_are_united(overlapping: Path) -> None:
    mending = mend_file(overlapping, units=None, tell=silent)
    assert mending.overlapping == "2 bodies overlap"
    assert mending.asunder == ""
    assert mending.data["apart"] == 1


@pytest.mark.parametrize("gap", [0.05, 1.0])
def test_solids_that_do_not_touch_are_told_with_their_distance_and_stay_apart(gap: float, tmp_path: Path, pourwell: Caller) -> None:
    """Two cubes of 8 and 4 mm: mending cannot join them, and `check` stops at them."""
    two = binary_stl(tmp_path / "two.stl", joined(cube(8), cube(4, (8 + gap, 2, 2))))
    mending = mend_file(two, units=None, tell=silent)
    assert mending.apart is not None
    assert mending.apart.count == 2
    assert mending.apart.gap_mm == pytest.approx(gap, abs=1e-4)
    assert mending.apart.at_mm[0] == pytest.approx(8 + gap, abs=1e-4), "on the smaller one"
    assert mending.overlapping == ""
    answer = pourwell("mend", str(two))
    assert "nothing wrong" not in answer.out
    assert f"2 solids apart ({gap:.2f} mm" in answer.out
    assert "Nothing was written." in answer.out
