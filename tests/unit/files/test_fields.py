"""The files of a freezing: header, arrays, coloured tree."""

import io
import json

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.errors import BadDataError
from pourwell.files.fields import (
    ALIGNED,
    DATA,
    HEADER,
    MAP,
    MOST_TRIANGLES,
    colours,
    fields_files,
    freezing_glb,
    read_fields,
    refined,
)
from pourwell.geometry.joints import bar
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.freeze.model import Fields
from tests.unit.freeze.made import freezing

BODIES = ("piece 1 A", "sprue 1", "stem", "button")
ARRAYS = ("centre_mm", "size_mm", "body", "begin_s", "end_s", "rate_k_per_s", "gradient_k_per_mm", "niyama", "pool", "passed_s")


def fields_of(count=40, levels=3, seed=0, bodies=BODIES):
    """A row of cells along z whose end comes later the higher they are."""
    rng = np.random.default_rng(seed)
    centre = np.stack([np.zeros(count), np.zeros(count), np.linspace(0, 20, count)], axis=1)
    end = np.linspace(5, 25, count).astype(np.float32)
    return Fields(
        centre_mm=centre,
        size_mm=np.full(count, 1.0, dtype=np.float32),
        body=(np.arange(count) % len(bodies)).astype(np.int32),
        begin_s=end / 4,
        end_s=end,
        rate_k_per_s=rng.uniform(1, 9, count).astype(np.float32),
        gradient_k_per_mm=rng.uniform(0, 2, count).astype(np.float32),
        niyama=np.where(np.arange(count) % 5, 2.0, np.nan).astype(np.float32),
        pool=(np.arange(count) > count // 2).astype(np.int32),
        solid_fraction=np.linspace(0, 1, levels).astype(np.float32),
        passed_s=(end[:, None] * np.linspace(0.25, 1, levels)).astype(np.float32),
        curve_s=np.linspace(0, 30, 7).astype(np.float32),
        curve_c=rng.uniform(500, 970, (7, 2)).astype(np.float32),
        curve_low_c=rng.uniform(400, 800, (7, 2)).astype(np.float32),
        curve_high_c=rng.uniform(700, 990, (7, 2)).astype(np.float32),
        curve_names=("button", "piece 1 A"),
        bodies=bodies,
    )


def written(fields=None):
    files = fields_files(fields or fields_of(), freezing())
    return files[HEADER], files[DATA]


def test_the_header_tells_each_array_with_its_place_and_ends():
    header, data = written()
    told = json.loads(header)
    assert (told["schema"], told["data"], told["data_bytes"]) == ("pourwell.fields", DATA, len(data))
    assert told["bodies"] == list(BODIES)
    by_name = {entry["name"]: entry for entry in told["arrays"]}
    assert by_name["end_s"]["shape"] == [40]
    assert by_name["end_s"]["type"] == "<f4"
    assert (by_name["end_s"]["least"], by_name["end_s"]["most"]) == (5.0, 25.0)
    assert by_name["niyama"]["least"] == 2.0, "what is not there has no size"
    assert by_name["body"]["type"] == "<i4"
    assert all(entry["about"] for entry in told["arrays"])


def test_the_header_says_which_pour_its_fields_are_of():
    told = json.loads(written()[0])
    poured = {"alloy": "sterling-925", "investment": "gypsum-resin", "flask": "64x50", "metal_c": 970.0, "flask_c": 500.0}
    assert told["poured"] == poured
    assert told["fine"] is freezing().fine


def test_arrays_begin_at_round_places_and_do_not_overlap():
    header, data = written(fields_of(count=41))
    ends = 0
    for entry in json.loads(header)["arrays"]:
        assert entry["offset_bytes"] % ALIGNED == 0
        assert entry["offset_bytes"] >= ends
        ends = entry["offset_bytes"] + entry["length_bytes"]
    assert ends <= len(data) < ends + ALIGNED


def test_any_program_can_read_an_array_by_its_header():
    header, data = written()
    entry = next(e for e in json.loads(header)["arrays"] if e["name"] == "end_s")
    values = np.frombuffer(data, dtype=entry["type"], count=40, offset=entry["offset_bytes"])
    assert values[-1] == 25.0


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 60), st.integers(2, 8), st.integers(0, 2**32 - 1))
def test_fields_are_read_back_as_they_were(count, levels, seed):
    fields = fields_of(count, levels, seed)
    again = read_fields(*written(fields))
    for name in (*ARRAYS, "solid_fraction", "curve_s", "curve_c"):
        one, two = getattr(fields, name), getattr(again, name)
        assert one.dtype == two.dtype, name
        assert np.array_equal(one, two, equal_nan=True), name
    assert again.bodies == fields.bodies
    assert again.curve_names == fields.curve_names


def test_an_array_without_any_number_has_no_ends():
    fields = fields_of()
    bare = Fields(**{**{f: getattr(fields, f) for f in fields.__slots__}, "niyama": np.full(40, np.nan, dtype=np.float32)})
    entry = next(e for e in json.loads(written(bare)[0])["arrays"] if e["name"] == "niyama")
    assert (entry["least"], entry["most"]) == (None, None)


def test_data_that_was_cut_short_is_refused_with_how_much_is_there():
    header, data = written()
    with pytest.raises(BadDataError, match=f"holds {len(data) - 3} bytes, not {len(data)}") as err:
        read_fields(header, data[:-3])
    assert "cut short" in err.value.why


def changed(**other):
    header, data = written()
    return json.dumps({**json.loads(header), **other}).encode(), data


def test_a_foreign_header_is_refused():
    with pytest.raises(BadDataError, match="no fields of this version"):
        read_fields(*changed(schema="other"))
    with pytest.raises(BadDataError, match="no fields of this version"):
        read_fields(*changed(schema_version=99))


@pytest.mark.parametrize("header", [b"", b"not json", b"[]", b"{}", b'"text"', b"\xff\xfe"])
def test_a_header_that_says_nothing_is_refused(header):
    with pytest.raises(BadDataError):
        read_fields(header, written()[1])


def test_a_header_without_an_array_or_with_a_strange_one_is_refused():
    arrays = json.loads(written()[0])["arrays"]
    with pytest.raises(BadDataError, match="does not say what it must"):
        read_fields(*changed(arrays=arrays[1:]))
    strange = [{**arrays[0], "type": "<c16"}, *arrays[1:]]
    with pytest.raises(BadDataError, match="does not say what it must") as err:
        read_fields(*changed(arrays=strange))
    assert "<c16" in err.value.why
    wide = [{**arrays[0], "shape": [7, 7]}, *arrays[1:]]
    with pytest.raises(BadDataError, match="does not say what it must"):
        read_fields(*changed(arrays=wide))


def test_what_the_cooling_left_behind_is_stored_and_told():
    """Local freezing time, cooling rate, gradient and Niyama number of every cell can be read by a stranger."""
    header, data = written()
    about = {entry["name"]: entry["about"] for entry in json.loads(header)["arrays"]}
    assert "local freezing time" in about["end_s"]
    assert "cooling rate" in about["rate_k_per_s"]
    assert "temperature" in about["gradient_k_per_mm"]
    assert "dimensionless Niyama" in about["niyama"]
    back, made = read_fields(header, data), fields_of()
    for name in ("begin_s", "end_s", "rate_k_per_s", "gradient_k_per_mm", "niyama", "curve_low_c", "curve_high_c"):
        assert getattr(back, name) == pytest.approx(getattr(made, name), nan_ok=True), name


def test_the_map_rises_evenly_in_lightness_so_that_it_reads_in_grey():
    """Relative luminance of sRGB (IEC 61966-2-1) rises from end to end, by no less than a fifth of the mean step anywhere."""
    shares = np.linspace(0, 1, 41)
    rgb = colours(shares) / 255.0
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    lightness = np.cbrt(linear @ [0.2126, 0.7152, 0.0722])
    steps = np.diff(lightness)
    assert (steps > 0.2 * steps.mean()).all()
    assert lightness[-1] - lightness[0] > 0.6


def test_colours_beyond_the_ends_are_those_of_the_ends():
    assert (colours(np.array([-1.0, 0.0]))[0] == MAP[0]).all()
    assert (colours(np.array([1.0, 2.0]))[1] == MAP[-1]).all()


ROD = from_manifold(bar((0, 0, 0), (0, 0, 20), diameter_mm=2))


def coloured(fields=None, bodies=(("stem", ROD),)):
    found = fields or fields_of(bodies=("stem",))
    return trimesh.load_scene(io.BytesIO(freezing_glb(bodies, found, freezing())), file_type="glb", process=False)


def test_the_coloured_tree_carries_the_fields_at_its_corners():
    part = coloured().geometry["stem"]
    z = np.asarray(part.vertices)[:, 2] * 1000
    end = np.asarray(part.vertex_attributes["_END_S"]).reshape(-1)
    assert end == pytest.approx(5 + z, abs=0.6), "as the nearest cell has it: 5 s at the foot, 25 s at 20 mm"
    local = np.asarray(part.vertex_attributes["_LOCAL_S"]).reshape(-1)
    assert local == pytest.approx(0.75 * end, rel=1e-3)
    assert set(np.asarray(part.vertex_attributes["_POOL"]).reshape(-1)) == {0.0, 1.0}
    for name in ("_NIYAMA", "_RATE_K_PER_S", "_GRADIENT_K_PER_MM"):
        assert np.isfinite(np.asarray(part.vertex_attributes[name])).all()
    found = fields_of(bodies=("stem",))
    away = np.abs(found.centre_mm[:, 2][None] - z[:, None])
    clear = np.ptp(np.sort(away, axis=1)[:, :2], axis=1) > 1e-3  # not half way between two cells
    near = away.argmin(axis=1)[clear]
    assert clear.mean() > 0.8
    for name in ("rate_k_per_s", "gradient_k_per_mm"):
        read = np.asarray(part.vertex_attributes[f"_{name.upper()}"]).reshape(-1)[clear]
        assert read == pytest.approx(getattr(found, name)[near]), name


def test_a_long_body_is_divided_until_its_edges_are_short():
    part = coloured().geometry["stem"]
    sides = np.linalg.norm(part.vertices[part.faces] - part.vertices[np.roll(part.faces, -1, axis=1)], axis=2) * 1000
    assert sides.max() <= 2.0 + 1e-6, "two cells"
    assert len(part.faces) > 4 * len(ROD.faces)
    assert abs(part.volume) * 1e9 == pytest.approx(ROD.volume_mm3, rel=1e-3)


def test_dividing_stops_before_there_are_too_many():
    _, faces = refined(ROD, 0.01, most=1000)
    assert len(ROD.faces) <= len(faces) <= 1000
    assert MOST_TRIANGLES >= 100_000


def test_the_light_end_of_the_map_is_what_freezes_last():
    part = coloured().geometry["stem"]
    shade = np.asarray(part.visual.vertex_colors)[:, :3].astype(float).sum(axis=1)
    z = np.asarray(part.vertices)[:, 2]
    assert shade[np.argmax(z)] > shade[np.argmin(z)] + 300


def test_a_body_that_did_not_freeze_is_left_out():
    scene = coloured(bodies=(("stem", ROD), ("sprue 9", ROD)))
    assert set(scene.geometry) == {"stem"}
