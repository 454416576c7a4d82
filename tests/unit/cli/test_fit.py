"""`pourwell fit`: a pattern at a size, told and written."""

from pathlib import Path

import pytest

from pourwell.app.shapes import build_shape, mesh_bytes
from tests.journeys.call import Caller


@pytest.fixture
def band(pourwell: Caller) -> str:
    Path("band.stl").write_bytes(mesh_bytes(build_shape("comfort-band", ["bore=17"]), ".stl"))
    return "band.stl"


def test_it_tells_what_it_would_do_and_writes_nothing(pourwell: Caller, band: str) -> None:
    answer = pourwell("fit", band, "--size", "US 7")
    assert answer.code == 0, answer.err
    assert "-> 17.32 mm" in answer.out
    assert "printing" in answer.out
    assert "Nothing is written: name a new file with --out." in answer.out
    assert [p.name for p in Path().iterdir()] == [band]


@pytest.mark.parametrize("way", [[], ["--offset"]])
def test_the_file_it_writes_checks_as_the_size_that_was_asked(pourwell: Caller, band: str, way: list[str]) -> None:
    answer = pourwell("fit", band, "--size", "US 7", "--out", "seven.stl", *way)
    assert answer.code == 0, answer.err
    assert "Written: seven.stl, in millimetres." in answer.out
    (checked,) = pourwell("check", "seven.stl", "--size", "US 7", "--json").data
    assert checked["piece"]["bore"]["finished_mm"] == pytest.approx(17.3196, abs=5e-3)
    assert checked["piece"]["bore"]["scale_ratio"] == pytest.approx(1, abs=5e-4)
    assert checked["piece"]["bore"]["inside"]["profile"] == "comfort"
    assert not [f for f in checked["findings"] if f["code"] == "bore-off-size"]


def test_the_data_hold_before_and_after(pourwell: Caller, band: str) -> None:
    data = pourwell("fit", band, "--size", "US 7", "--offset", "--json").data
    assert data["way"] == "offset"
    assert data["offset_mm"] == pytest.approx(
        (data["after"]["bore"]["diameter_mm"] - data["before"]["bore"]["diameter_mm"]) / 2, abs=2e-3
    )
    assert "scale_ratio" not in data
    assert data["file"] == ""
    parts, after = data["after"]["bore"]["parts"], data["after"]["bore"]
    assert sum(p["by_mm"] for p in parts) == pytest.approx(after["finished_mm"] - after["diameter_mm"], abs=1e-4)
    assert all(p["source"] and p["grade"] for p in parts)


def test_a_file_that_is_there_is_never_overwritten(pourwell: Caller, band: str) -> None:
    answer = pourwell("fit", band, "--size", "US 7", "--out", band)
    assert answer.code == 2
    assert "exists already" in answer.err


def test_a_size_must_be_said(pourwell: Caller, band: str) -> None:
    assert pourwell("fit", band).code == 2


def test_the_check_tells_what_lies_between_drawn_and_finished(pourwell: Caller, band: str) -> None:
    said = pourwell("check", band).out
    assert "comfort curve inside, rises 0.40, radius 8.0; round within 0.01" in said
    assert "5.0 mm wide" in said
    line = next(line for line in said.splitlines() if line.startswith("drawn to finished"))
    for part in ("printing", "mould setting", "mould heating", "metal cooling", "as castings are measured", "finishing"):
        assert part in line


# --- pictures ---


@pytest.mark.parametrize("way", [[], ["--offset"]])
def test_pictures_lay_the_fitted_ring_over_the_one_it_was(pourwell: Caller, band: str, way: list[str]) -> None:
    answer = pourwell("fit", band, "--size", "US 7", "--pictures", "seen", *way)
    assert answer.code == 0, answer.err
    assert "8 pictures in seen" in answer.out
    front = Path("seen/before-after-front.svg").read_text(encoding="utf-8")
    assert ("scaled" if not way else "with its bore moved") in front
    assert "same scale" in front
    refused = pourwell("fit", band, "--size", "US 7", "--pictures", "seen", *way)
    assert refused.code == 2
    assert "exists already" in refused.err
    assert [p.name for p in sorted(Path().iterdir())] == [band, "seen"]


def test_replacing_pictures_replaces_no_pattern(pourwell: Caller, band: str) -> None:
    Path("mine.stl").write_text("mine", encoding="utf-8")
    answer = pourwell("fit", band, "--size", "US 7", "--pictures", "seen", "--out", "mine.stl", "--replace")
    assert answer.code == 2
    assert Path("mine.stl").read_text(encoding="utf-8") == "mine"
    assert not Path("seen").exists()


def test_what_cannot_be_fitted_leaves_no_pictures(pourwell: Caller, band: str) -> None:
    answer = pourwell("fit", band, "--size", "US 16", "--offset", "--pictures", "seen")
    assert answer.code == 2
    assert "cannot be widened" in answer.err
    assert [p.name for p in Path().iterdir()] == [band]
