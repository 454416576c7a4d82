"""Patterns fitted to a size: what is written is what was asked, and nothing else is touched."""

import math
from pathlib import Path

import pytest

from pourwell.app.fitting import Fitted, draw_fitting, fit_file
from pourwell.app.ring_sizes import WIDEST_MM, on_a_band
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.errors import BadFileError, BadRequestError, OutputError, UnknownNameError
from pourwell.files.patterns import read_pattern
from pourwell.geometry.bore import find_bore
from pourwell.steps.pattern.sizes import diameter_of

US_7 = 17.3196


def fitted(file: str, **words: object) -> Fitted:
    asked = {"size": "US 7", "out": None, "offset": False, "alloy": "sterling-925", "pattern": "resin", "units": None, **words}
    return fit_file(file, tell=lambda _: None, **asked)  # type: ignore[arg-type]


@pytest.fixture
def band() -> str:
    Path("band.stl").write_bytes(mesh_bytes(build_shape("plain-band", ["bore=17", "thickness=2"]), ".stl"))
    return "band.stl"


def bore_of(file: str) -> float:
    (body,) = read_pattern(Path(file)).bodies
    bore = find_bore(body.mesh)
    assert bore is not None
    return bore.diameter_mm


@pytest.mark.parametrize("offset", [False, True])
def test_the_fitted_pattern_finishes_at_the_wanted_size(band: str, offset: bool) -> None:
    one = fitted(band, offset=offset)
    before, after = one.before.pattern.piece, one.after.pattern.piece
    assert diameter_of("US 7") == pytest.approx(US_7)
    assert after.bore is not None
    assert after.bore.finished_mm == pytest.approx(US_7, abs=5e-3)
    assert after.bore.finished_sizes.us == "7"
    assert before.bore is not None
    assert before.bore.finished_mm < US_7 - 0.2
    assert one.way == ("offset" if offset else "scale")
    assert (one.scale_ratio is None) == offset
    assert (one.offset_mm is None) != offset
    assert not one.after.stopped


def test_scaling_scales_everything_and_an_offset_only_the_bore(band: str) -> None:
    scaled, moved = fitted(band), fitted(band, offset=True)
    before, large, wide = (c.pattern.piece for c in (scaled.before, scaled.after, moved.after))
    assert scaled.scale_ratio is not None
    assert large.volume_mm3 == pytest.approx(scaled.scale_ratio**3 * before.volume_mm3, rel=1e-6)
    assert large.metal_g > before.metal_g > wide.metal_g
    assert wide.envelope_mm == pytest.approx(before.envelope_mm, abs=1e-5)
    assert moved.offset_mm is not None
    assert wide.wall.thinnest_mm == pytest.approx(before.wall.thinnest_mm - moved.offset_mm, abs=0.03)


@pytest.mark.parametrize("ending", [".stl", ".ply", ".obj", ".3mf"])
def test_what_is_written_has_the_bore_that_was_told(band: str, ending: str) -> None:
    one = fitted(band, out=Path(f"new/seven{ending}"))
    assert one.file == str(Path(f"new/seven{ending}"))
    assert one.after.pattern.piece.bore is not None
    assert bore_of(one.file) == pytest.approx(one.after.pattern.piece.bore.diameter_mm, abs=1e-3)


def test_without_a_name_nothing_is_written(band: str) -> None:
    assert fitted(band).file == ""
    assert [p.name for p in Path().iterdir()] == ["band.stl"]


def test_nothing_is_overwritten_and_the_pattern_stays_as_it_is(band: str) -> None:
    data = Path(band).read_bytes()
    Path("there.stl").write_text("mine", encoding="utf-8")
    for name in ("there.stl", band, f"./{band}"):
        with pytest.raises(OutputError):
            fitted(band, out=Path(name))
    assert Path("there.stl").read_text(encoding="utf-8") == "mine"
    fitted(band, out=Path("new.stl"))
    assert Path(band).read_bytes() == data


def test_a_file_in_inches_is_written_in_millimetres() -> None:
    Path("inch.stl").write_bytes(mesh_bytes(build_shape("plain-band", ["bore=17"]).scaled(1 / 25.4), ".stl"))
    one = fitted("inch.stl", units="inch", out=Path("mm.stl"))
    assert one.after.pattern.piece.units == "mm"
    assert bore_of("mm.stl") == pytest.approx(US_7, abs=0.2)


def test_the_rows_tell_before_and_after(band: str) -> None:
    rows = {name: (figure, remark) for name, figure, remark in fitted(band).rows}
    assert rows["bore"][0].startswith("16.99 -> 17.4")
    assert rows["finished bore"][0].endswith("-> 17.32 mm")
    assert rows["finished bore"][1].startswith("US 7, UK N½, ISO 54.4")
    assert "printing" in rows["drawn to finished"][1]
    assert "finishing" in rows["drawn to finished"][1]
    assert "->" in rows["cast"][0]
    assert rows["way"][1].startswith("scaled by 1.0")
    assert fitted(band, offset=True).rows[0][2].startswith("bore moved by +0.2")


def test_what_a_scale_does_to_a_seat_is_said_first_where_it_matters_and_an_offset_does_nothing_to_it(band: str) -> None:
    slight, far, down = fitted(band, size="US 6 3/4").rows, fitted(band, size="US 9").rows, fitted(band, size="US 5").rows
    assert slight[-1][0] == "all else grows"
    assert slight[0][0] == "way"
    name, figure, remark = far[0]
    ratio = fitted(band, size="US 9").scale_ratio
    assert (name, figure) == ("all else grows", f"+{100 * (ratio - 1):.1f} %")
    assert remark.startswith(f"a seat of 5.0 mm becomes {5 * ratio:.2f} mm")
    assert "use --offset" in remark
    assert down[0][0] == "all else shrinks"
    assert down[0][1].startswith("-")
    assert not any(name.startswith("all else") for name, _, _ in fitted(band, offset=True).rows)


def test_an_offset_that_leaves_the_wall_too_thin_is_refused() -> None:
    Path("thin.stl").write_bytes(mesh_bytes(build_shape("plain-band", ["bore=17", "thickness=0.75", "edge=0.1"]), ".stl"))
    with pytest.raises(BadRequestError) as caught:
        fitted("thin.stl", offset=True, out=Path("new.stl"))
    assert "wall would be 0." in str(caught.value)
    assert "leave --offset away" in caught.value.try_this
    assert not Path("new.stl").exists()
    assert fitted("thin.stl").after.pattern.piece.bore is not None


def test_an_offset_larger_than_the_wall_holds_is_refused(band: str) -> None:
    with pytest.raises(BadRequestError, match="cannot be widened") as caught:
        fitted(band, offset=True, size="US 10")
    assert "mm thick at its thinnest" in caught.value.why


@pytest.mark.parametrize(
    ("shape", "words", "says"),
    [
        (["pendant"], {}, "has no finger bore"),
        (["plain-band", "bore=62"], {}, "has no finger bore"),
        (["plain-band", "bore=2", "thickness=0.2", "width=0.2", "edge=0"], {}, "units-doubtful"),
        (["plain-band"], {"size": "54"}, "needs its system"),
        (["plain-band"], {"units": "yard"}, "yard"),
        (["plain-band"], {"out": Path("new.txt")}, "no form that we write"),
        (["plain-band"], {"alloy": "sterling-952"}, "sterling-925"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_a_sentence(shape: list[str], words: dict[str, object], says: str) -> None:
    Path("one.stl").write_bytes(mesh_bytes(build_shape(shape[0], shape[1:]), ".stl"))
    with pytest.raises((BadRequestError, OutputError, UnknownNameError)) as caught:
        fitted("one.stl", **words)
    assert says in str(caught.value)


def test_a_file_that_is_not_there_is_refused() -> None:
    with pytest.raises(BadFileError):
        fitted("none.stl")


# --- smaller, wide bands, other bodies ---


def test_a_bore_is_narrowed_as_it_is_widened(band: str) -> None:
    one = fitted(band, size="US 5", offset=True)
    before, after = one.before.pattern.piece, one.after.pattern.piece
    assert one.offset_mm is not None
    assert one.offset_mm < 0
    assert after.bore is not None
    assert after.bore.finished_sizes.us == "5"
    assert after.metal_g > before.metal_g
    assert after.envelope_mm == pytest.approx(before.envelope_mm, abs=1e-5)


def test_fitting_twice_changes_nothing_the_second_time(band: str) -> None:
    fitted(band, out=Path("seven.stl"))
    again = fitted("seven.stl")
    assert again.scale_ratio == pytest.approx(1, abs=5e-4)
    assert again.after.pattern.piece.volume_mm3 == pytest.approx(again.before.pattern.piece.volume_mm3, rel=2e-3)


def test_a_wider_band_wants_a_larger_size_and_no_band_is_wider_than_a_finger_holds() -> None:
    narrow, wide = on_a_band(US_7, 3.0, comfort=False), on_a_band(US_7, 10.0, comfort=False)
    assert wide.around_mm > narrow.around_mm
    for one in (narrow, wide):
        assert one.around_low_mm <= one.around_mm <= one.around_high_mm
        assert one.diameter_mm == pytest.approx(US_7 + one.around_mm / math.pi)
        ((name, figure, remark),) = one.rows
        assert f"{one.width_mm:g} mm" in name
        assert figure.endswith(" mm")
        assert f"US {one.sizes.us}" in remark
    for width in (0.0, -1.0, WIDEST_MM + 0.1, math.nan):
        with pytest.raises(BadRequestError, match="No band is"):
            on_a_band(US_7, width, comfort=False)


def test_pictures_of_a_fitting_are_written_and_the_pattern_is_not(band: str) -> None:
    drawn = draw_fitting(fitted(band), Path("seen"), replace=False)
    assert {path.suffix for path in drawn} == {".png", ".svg"}
    assert sorted(path.name for path in Path().iterdir()) == [band, "seen"]
    with pytest.raises(OutputError):
        draw_fitting(fitted(band), Path("seen"), replace=False)
