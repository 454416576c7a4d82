"""Files of single precision drawn far from the origin: by how much their numbers step is read with them, and told."""

import numpy as np
import pytest

from pourwell.files.pattern_numbers import single_step
from pourwell.files.patterns import read_pattern
from pourwell.files.worker import read_safely
from pourwell.geometry.shapes import plain_band
from tests.unit.files.gltf_files import glb, of
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, binary_stl, cube, obj, ply, put, text_stl
from tests.unit.pattern.case import library
from tests.unit.pattern.test_checks import WARN, finding, silent

FAR = (3e6, 0.0, 0.0)


@pytest.mark.parametrize(("farthest", "step"), [(1.0, 2**-23), (10.0, 2**-20), (65_535.0, 2**-8), (65_536.0, 2**-7), (3e6, 0.25)])
def test_the_step_is_the_last_of_24_bits(farthest, step):
    """Published: IEEE 754 binary32 has 24 bits of significand."""
    assert single_step(np.array([[0.0, -farthest, 1.0]])) == step
    assert np.float32(farthest) + np.float32(step) > np.float32(farthest)
    assert np.float32(farthest) + np.float32(step / 4) == np.float32(farthest)


def test_no_corners_and_no_numbers_step_by_nothing():
    assert single_step(np.zeros((0, 3))) == 0.0
    assert single_step(np.array([[np.nan, 1.0, 2.0]])) == 0.0
    assert single_step(np.array([[1e300, 1.0, 2.0]])) == 0.0


@pytest.mark.parametrize(("units", "mm"), [(None, 0.25), ("cm", 2.5), ("inch", 6.35)])
def test_a_binary_stl_steps_in_the_unit_it_is_taken_in(tmp_path, units, mm):
    path = binary_stl(tmp_path / "far.stl", cube(4, FAR))
    assert read_pattern(path, units=units).step_mm == pytest.approx(mm)
    assert read_pattern(binary_stl(tmp_path / "near.stl", cube(4)), units=units).step_mm < 1e-4


def test_a_ply_steps_if_it_says_float_and_not_if_it_says_double(tmp_path):
    whole = ply("binary_little_endian", CUBE_CORNERS * 4 + FAR, CUBE_QUADS)
    assert read_pattern(put(tmp_path / "far.ply", whole)).step_mm == 0.25
    text = ply("ascii", CUBE_CORNERS * 4 + FAR, CUBE_QUADS)
    double = text.replace(b"float", b"double") if isinstance(text, bytes) else text.replace("float", "double")
    assert read_pattern(put(tmp_path / "double.ply", double)).step_mm == 0.0


def test_text_is_as_fine_as_it_is_written(tmp_path):
    assert read_pattern(put(tmp_path / "far.stl", text_stl([("a", cube(4, FAR))]))).step_mm == 0.0
    assert read_pattern(put(tmp_path / "far.obj", obj(CUBE_CORNERS * 4 + FAR, CUBE_QUADS))).step_mm == 0.0


def test_a_glb_steps_by_its_own_corners_and_not_by_where_they_are_placed(tmp_path):
    """In metres: corners 3 km off step by 0.25 mm wherever a node puts them; corners near the origin do not, however far put."""
    far = put(tmp_path / "far.glb", glb(*of(("one", cube(4, (3e3, 0, 0))), translation=[-3e3, 0, 0])))
    assert read_pattern(far).step_mm == pytest.approx(0.2441, rel=1e-3)
    near = put(tmp_path / "near.glb", glb(*of(("one", cube(0.004)), translation=[3e3, 0, 0])))
    assert read_pattern(near).step_mm < 1e-5
    grown = put(tmp_path / "grown.glb", glb(*of(("one", cube(4, (3e3, 0, 0))), scale=[10, 1, 1])))
    assert read_pattern(grown).step_mm == pytest.approx(2.441, rel=1e-3)


def test_the_step_crosses_over_from_the_process_that_reads(tmp_path):
    path = put(tmp_path / "far.glb", glb(*of(("one", cube(4, (3e3, 0, 0))))))
    assert read_safely(path).step_mm == read_pattern(path).step_mm > 0.2


def test_pattern_far_off_fires():
    told = finding("pattern-far-off", WARN, plain_band(), step_mm=0.25)
    assert "step by {l:0.25}" in told.says
    assert "export it again" in told.do
    assert (told.measure, told.limit) == ("0.25 mm", "0.005 mm")


def test_pattern_far_off_stays_silent():
    silent("pattern-far-off", plain_band(), step_mm=library().rule("file_step_mm"))
    silent("pattern-far-off", plain_band())


def test_a_bore_read_3_km_off_is_doubted_for_a_reason():
    """The ring itself: its corners are off by as much as the finding says."""
    ring = plain_band()
    off = np.asarray(FAR)
    read = (ring.vertices + off).astype(np.float32).astype(np.float64) - off
    worst = float(np.abs(read - ring.vertices).max())
    assert 0.05 < worst <= single_step(ring.vertices + off) / 2
