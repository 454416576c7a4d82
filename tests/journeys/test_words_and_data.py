"""What a command prints for people and what it gives to programs are the same answer."""

import json
import math
from pathlib import Path

import pytest

from pourwell.findings import spelt_out
from tests.journeys.call import Caller
from tests.journeys.printed import figures, rows, squeezed

POUR = "2035-03-05 10:00"
PLAN = ("plan", "--weight", 41.2, "--base", 26.9, "--wax", 3, "--alloy", "sterling-925", "--flask", "76x100", "--pour-at", POUR)


def assert_findings_are_told(found: list[dict], out: str) -> None:
    told = squeezed(out)
    for finding in found:
        assert squeezed(spelt_out(finding["says"])) in told, finding["code"]
        assert squeezed(spelt_out(finding["do"])) in told, finding["code"]


@pytest.fixture
def both(pourwell: Caller):
    """A call in words and as data."""

    def call(*words: object):
        said, data = pourwell(*words), pourwell(*words, "--json")
        assert said.code == data.code, (said, data)
        assert data.err == ""
        return said.out, data.data

    return call


def test_weigh(both) -> None:
    out, data = both("weigh", 41.2, "--base", 26.9, "--alloy", "sterling-925", "--returns", 0.3, "--own-alloying")
    said, charge, weighed = rows(out), data["charge"], data["weighed"]
    assert figures(said["charge"])[:3] == pytest.approx([charge["total_g"], charge["low_g"], charge["high_g"]], abs=0.05)
    assert figures(said["fresh"]) == pytest.approx([charge["fresh_g"], charge["fine_g"], charge["master_g"]], abs=0.005)
    assert figures(said["returns"])[0] == charge["returns_g"]
    assert figures(said["tree"]) == pytest.approx([weighed["pattern_g"], weighed["body_g"]], abs=0.05)
    assert figures(said["button"])[0] == pytest.approx(weighed["button_g"], abs=0.05)
    assert data["button_words"] in said["button"]
    assert_findings_are_told(data["findings"], out)


def test_what_is_read_at_the_scale_adds_up_and_never_falls_short_of_the_fineness(both) -> None:
    """Fine and master as printed make the fresh metal, and 925 parts of it at least are silver: 112.8 of 122.0 would be 924.6."""
    for weight in (10, 14.3, 23.7, 33.1):
        out, data = both("weigh", weight, "--wax", 1, "--alloy", "sterling-925", "--returns", 0.3, "--own-alloying")
        fresh, fine, master = figures(rows(out)["fresh"])
        assert fine + master == pytest.approx(fresh, abs=1e-9)
        assert fine / fresh >= 0.925
        assert fresh + data["charge"]["returns_g"] == pytest.approx(data["charge"]["total_g"])


def test_without_returns_no_line_speaks_of_them(both) -> None:
    out, data = both("weigh", 14.3, "--alloy", "sterling-925")
    assert "returns" not in rows(out)
    assert data["charge"]["returns_g"] == 0


@pytest.mark.parametrize("words", [("76x100",), ("64x64", "--section", "thin"), ("89x102", "--investment", "gypsum-standard")])
def test_mix(both, words: tuple[str, ...]) -> None:
    out, data = both("mix", *words)
    said, mix = rows(out), data["investment"]
    assert figures(said["powder"])[0] == mix["powder_g"]
    assert mix["name"] in said["powder"]
    assert figures(said["water"])[:4] == [mix["water_g"], mix["ratio_g_per_100_g"], 100, mix["water_low_c"]]
    assert figures(said["bowl"])[0] == pytest.approx(mix["bowl_cm3"] / 1000, abs=0.05)
    for step in mix["clock"]:
        assert f"{step['at_s'] // 60}:{step['at_s'] % 60:02d}  {spelt_out(step['says'])}" in out
    assert figures(rows(out.replace("  then   ", "then  "))["then"]) == [mix["still_min"], mix["set_h"]]
    assert_findings_are_told(data["findings"], out)


@pytest.mark.parametrize("size", ["ISO 54", "US 7", "UK N 1/2", "JP 14", "CH 14.4", "17.3 mm", "ISO 41", "US 15 3/4", "UK Z+2"])
def test_size(both, size: str) -> None:
    out, data = both("size", size)
    said, sizes = rows(out), data["sizes"]
    assert figures(said["inside diameter"])[0] == pytest.approx(data["diameter_mm"], abs=0.005)
    assert data["circumference_mm"] == pytest.approx(math.pi * data["diameter_mm"])
    names = {
        "ISO 8653": "iso",
        "US, Canada": "us",
        "UK, Ireland, Australia": "uk",
        "Japan": "jp",
        "Switzerland, Italy, Spain": "ch",
    }
    for name, key in names.items():
        assert said[name].split("  ")[0] == sizes[key]


@pytest.mark.parametrize("system", ["iso", "us", "uk", "jp", "ch"])
def test_a_size_given_back_in_its_own_words_is_the_same_size(pourwell: Caller, system: str) -> None:
    """What is printed may be typed in again: the words come back, and the diameter lies within half a step of the system."""
    half_step_mm = {"iso": 0.05 / math.pi, "us": 0.8128 / 8, "uk": 1.25 / 4 / math.pi, "jp": 1 / 6, "ch": 0.05 / math.pi}[system]
    for diameter in (15.0, 16.2, 17.3, 18.9, 20.6):
        first = pourwell("size", f"{diameter} mm", "--json").data
        again = pourwell("size", f"{system.upper()} {first['sizes'][system]}", "--json").data
        assert again["sizes"][system] == first["sizes"][system]
        assert abs(again["diameter_mm"] - diameter) <= half_step_mm + 1e-6


def test_check(both, shapes: dict[str, Path]) -> None:
    out, data = both("check", shapes["band.stl"], shapes["stud.obj"], "--size", "ISO 56")
    assert [d["piece"]["file"] for d in data] == ["band.stl", "stud.obj"]
    blocks = [block for block in out.split("\n\n") if block.strip()]
    for block, one in zip(blocks[:2], data, strict=True):
        said, piece = rows(block), one["piece"]
        assert piece["file"] in block
        assert figures(said["size"])[:3] == pytest.approx(piece["envelope_mm"], abs=0.05)
        assert figures(said["volume"])[0] == pytest.approx(piece["volume_mm3"], abs=0.05)
        assert figures(said["pattern"])[:3] == pytest.approx(
            [piece["pattern_g"], piece["pattern_low_g"], piece["pattern_high_g"]], abs=0.005
        )
        assert figures(said["cast"])[0] == pytest.approx(piece["metal_g"], abs=0.005)
        assert ("bore" in said) == ("bore" in piece)
    assert_findings_are_told([f for one in data for f in one["findings"]], out)
    assert data[0]["piece"]["bore"]["scale_ratio"] == pytest.approx(figures(rows(blocks[0])["scale for the size"])[0], abs=5e-5)


def test_materials_lists_the_same_ids_in_words_and_as_data(both) -> None:
    out, data = both("materials")
    assert set(data) == {"alloy", "investment", "pattern material", "flask", "burnout programme"}
    listed = {line.split("  ")[0] for line in out.splitlines()}
    for kind, ids in data.items():
        assert f"{kind}s" in listed
        assert set(ids) <= listed, kind
    assert len(data["alloy"]) >= 20


@pytest.mark.parametrize("name", ["sterling-925", "gypsum-resin", "resin"])
def test_a_row_shows_every_value_with_unit_grade_and_source_and_the_source_in_full(both, name: str) -> None:
    out, data = both("materials", name)
    said = rows(out)
    values = {key: value for key, value in data.items() if isinstance(value, dict) and {"value", "unit", "grade"} <= value.keys()}
    assert len(values) >= 1
    for key, value in values.items():
        assert said[key].startswith(f"{value['value']:g} {value['unit']}"), key
        assert value["grade"] in said[key]
        assert squeezed(value["source"]) in squeezed(said[key])
    keys = {
        v["source"].partition(":")[0] for v in values.values() if v["source"] not in ("own estimate", "common practice, no source")
    }
    for key in keys:
        assert f"\n{key}: " in out


@pytest.mark.parametrize("kind", ["alloys", "investments", "patterns", "flasks", "programmes"])
def test_every_row_can_be_shown_by_its_id(pourwell: Caller, kind: str) -> None:
    from pourwell.materials.library import load_library

    for name in getattr(load_library(), kind):
        said, data = pourwell("materials", name), pourwell("materials", name, "--json")
        assert (said.code, data.code) == (0, 0), name
        assert name in said.out
        assert data.data["id"] == name


def test_shape(pourwell: Caller) -> None:
    said = pourwell("shape", "signet", "--out", "a.stl")
    data = pourwell("shape", "signet", "--out", "b.stl", "--json").data
    assert said.out == f"a.stl: {data['triangle_count']} triangles, {data['volume_mm3']:.1f} mm³\n"
    assert Path("a.stl").read_bytes() == Path("b.stl").read_bytes()


def test_the_list_of_shapes_names_each_with_every_dimension(both) -> None:
    out, data = both("shape", "list")
    for shape in data:
        block = squeezed(out[out.index(f"{shape['name']}  ") :])
        assert shape["about"] in block
        for p in shape["parameters"]:
            assert squeezed(f"{p['name']} = {p['default']} {p['unit']} {p['about']}") in block


def test_plan(pourwell: Caller) -> None:
    """The data on the output stream are those of plan.json, and the words say the figures that one must not get wrong."""
    said, data = pourwell(*PLAN, "--out", "a"), pourwell(*PLAN, "--out", "b", "--json")
    assert (said.code, data.code) == (0, 0)
    (plan,) = data.data
    assert plan == json.loads(Path("b/plan.json").read_text(encoding="utf-8"))
    table = rows(said.out)
    assert figures(table["charge"])[0] == plan["charge"]["total_g"]
    assert figures(table["powder"])[0] == plan["investment"]["powder_g"]
    assert figures(table["water"])[0] == plan["investment"]["water_g"]
    assert figures(table["flask temperature"]) == [plan["pour"][k] for k in ("flask_c", "flask_low_c", "flask_high_c")]
    assert figures(table["metal temperature"]) == [plan["pour"][k] for k in ("metal_c", "metal_low_c", "metal_high_c")]
    assert table["kiln on"].startswith(plan["burnout"]["starts_at"][11:16])
    assert table["pour"].startswith("10:00")
    assert "Monday 05 March" in table["pour"]
    assert_findings_are_told(plan["findings"], said.out)
    assert all(squeezed(sentence) in squeezed(said.out) for sentence in plan["unknown"])
    assert {line.strip() for line in said.out.splitlines() if line.startswith("  a")} == {str(p) for p in Path("a").iterdir()}
