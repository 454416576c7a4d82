"""Pattern files checked and measured without a plan, against closed forms."""

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from pourwell.app.checking import Checked, check_files, letter, unit_of_files
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.errors import BadFileError, BadRequestError, UnknownNameError
from tests.unit.files.gltf_files import glb, of

STERLING = 10.36
SHARP_BAND = ["bore=18", "width=4", "thickness=2", "edge=0"]


def checked(*files: str, **words: str | None) -> list[Checked]:
    said: dict[str, str | None] = {"alloy": "sterling-925", "pattern": "resin", "units": None, "size": None, **words}
    return check_files(files, tell=lambda _: None, **said)  # type: ignore[arg-type]


def box(name: str, *sides: float) -> str:
    """A box file in the working folder."""
    Path(name).write_bytes(trimesh.creation.box(extents=sides).export(file_type=Path(name).suffix[1:]))
    return name


def rows(one: Checked) -> dict[str, tuple[str, str]]:
    return {name: (figure, remark) for name, figure, remark in one.rows}


@pytest.mark.parametrize(
    ("index", "name"), [(0, "A"), (25, "Z"), (26, "AA"), (27, "AB"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA")]
)
def test_pieces_are_lettered_like_the_columns_of_a_table(index: int, name: str) -> None:
    assert letter(index) == name


def test_no_two_pieces_share_a_letter() -> None:
    assert len({letter(i) for i in range(2000)}) == 2000


@pytest.mark.parametrize(
    ("said", "unit"), [("mm", "mm"), (" MM ", "mm"), ("in", "inch"), ("Inch", "inch"), ("ft", "foot"), ("um", "um"), (None, None)]
)
def test_a_unit_is_known_by_its_name_or_its_short_name(said: str | None, unit: str | None) -> None:
    assert unit_of_files(said) == unit


@pytest.mark.parametrize("said", ["", "ell", "inches", "millimetre", "m m"])
def test_another_unit_is_refused_and_the_known_ones_are_named(said: str) -> None:
    with pytest.raises(BadRequestError, match="no unit") as caught:
        unit_of_files(said)
    assert "mm, cm, m, um, inch, foot" in caught.value.try_this


def test_a_box_weighs_what_its_sides_say() -> None:
    """12 x 5 x 3 mm: 180 mm3, 1.865 g of sterling, 0.196 g of resin; its surface 222 mm2, its walls 3 mm and no more than 12."""
    (one,) = checked(box("bar.stl", 12, 5, 3))
    piece = one.pattern.piece
    assert piece.volume_mm3 == pytest.approx(180)
    assert piece.area_mm2 == pytest.approx(2 * (60 + 36 + 15))
    assert piece.metal_g == pytest.approx(0.180 * STERLING)
    assert piece.pattern_g == pytest.approx(0.180 * 1.09)
    assert piece.wall.thinnest_mm == pytest.approx(3, abs=0.02)
    assert not one.stopped
    assert "bore" not in rows(one)


def test_the_rows_say_what_the_data_say() -> None:
    (one,) = checked(box("bar.stl", 12, 5, 3))
    said = rows(one)
    assert said["size"] == ("12.0 x 5.0 x 3.0 mm", "12 triangles, numbers taken as mm")
    assert said["volume"] == ("180.0 mm³", "surface 222 mm²")
    assert said["cast"][0] == "1.86 g"
    assert said["cast"][1].startswith("sterling silver; ")
    low, high = (float(n) for n in said["finished"][0].removesuffix(" g").split(" to "))
    assert low <= high <= one.pattern.piece.metal_high_g


@pytest.mark.parametrize(("units", "factor"), [("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("um", 1e-3), ("m", 1e3), ("ft", 304.8)])
def test_said_units_scale_lengths_once_and_volumes_by_their_cube(units: str, factor: float) -> None:
    (one,) = checked(box("bar.stl", *(s / factor for s in (12, 5, 3))), units=units)
    assert one.pattern.piece.envelope_mm == pytest.approx((12, 5, 3), rel=1e-4)
    assert one.pattern.piece.volume_mm3 == pytest.approx(180, rel=1e-4)


def test_a_file_in_inches_taken_as_millimetres_is_a_stop_that_offers_the_inch() -> None:
    (one,) = checked(box("bar.stl", 0.5, 0.3, 0.2))
    stop = next(f for f in one.findings if f.code == "units-doubtful")
    assert one.stopped
    assert "inch" in stop.do
    assert not checked("bar.stl", units="inch")[0].stopped


def test_a_ring_gives_its_bore_and_the_scale_for_a_wanted_size() -> None:
    """Bore 18 mm: circumference 56.55, ISO 56.5. Wanting the size that it will finish at asks for a scale of one."""
    Path("band.stl").write_bytes(mesh_bytes(build_shape("plain-band", SHARP_BAND), ".stl"))
    (plain,) = checked("band.stl")
    bore = plain.pattern.piece.bore
    assert bore is not None
    assert bore.diameter_mm == pytest.approx(18, abs=0.02)
    assert rows(plain)["bore"] == (f"{bore.diameter_mm:.2f} mm", f"ISO {bore.sizes.iso}, US {bore.sizes.us}, UK {bore.sizes.uk}")
    assert float(bore.sizes.iso) == pytest.approx(18 * math.pi, abs=0.15)
    sizes = bore.finished_sizes
    assert bore.finished_mm != pytest.approx(bore.diameter_mm, abs=0.02)
    assert rows(plain)["finished bore"][0] == f"{bore.finished_mm:.2f} mm"
    assert rows(plain)["finished bore"][1].startswith(f"ISO {sizes.iso}, US {sizes.us}, UK {sizes.uk}; ")
    assert "scale for the size" not in rows(plain)
    (wanted,) = checked("band.stl", size=f"{bore.finished_mm:.4f} mm")
    assert float(rows(wanted)["scale for the size"][0]) == pytest.approx(1, abs=1e-3)
    (larger,) = checked("band.stl", size=f"{bore.finished_mm * 1.05:.4f} mm")
    assert float(rows(larger)["scale for the size"][0]) == pytest.approx(1.05, abs=2e-3)


def test_files_come_back_in_the_order_in_which_they_were_named() -> None:
    names = [box(f"bar-{n}.stl", 6 + n, 5, 3) for n in range(5)]
    found = checked(*reversed(names))
    assert [c.pattern.piece.file for c in found] == names[::-1]
    assert [c.pattern.piece.id for c in found] == list("ABCDE")
    assert [c.pattern.piece.volume_mm3 for c in found] == pytest.approx([15.0 * (6 + n) for n in (4, 3, 2, 1, 0)])


def test_the_alloy_decides_the_weight_and_the_pattern_does_not() -> None:
    name = box("bar.stl", 12, 5, 3)
    silver, gold, waxed = checked(name)[0], checked(name, alloy="gold-750-yellow-3n")[0], checked(name, pattern="wax-injection")[0]
    assert gold.pattern.piece.metal_g > 1.4 * silver.pattern.piece.metal_g
    assert waxed.pattern.piece.metal_g == silver.pattern.piece.metal_g
    assert waxed.pattern.piece.pattern_g < silver.pattern.piece.pattern_g
    assert gold.alloy_name != silver.alloy_name


def test_two_boxes_that_overlap_by_half_are_weighed_as_one() -> None:
    """Two cubes of 4 mm, one moved by 2: 96 mm3, not 128."""
    both = trimesh.util.concatenate([trimesh.creation.box((4, 4, 4)), trimesh.creation.box((4, 4, 4)).apply_translation((2, 0, 0))])
    Path("cubes.stl").write_bytes(both.export(file_type="stl"))
    (one,) = checked("cubes.stl")
    assert one.pattern.piece.volume_mm3 == pytest.approx(96, rel=1e-5)


@pytest.mark.parametrize(
    ("files", "words", "fault", "says"),
    [
        (("none.stl",), {}, BadFileError, "none.stl"),
        (("bar.stl", "none.stl"), {}, BadFileError, "none.stl"),
        (("bar.stl",), {"alloy": "sterling-952"}, UnknownNameError, "sterling-925"),
        (("bar.stl",), {"pattern": "resim"}, UnknownNameError, "resin"),
        (("bar.stl",), {"size": "54"}, BadRequestError, "needs its system"),
        (("bar.stl",), {"size": "ISO 5"}, BadRequestError, "no size of a finger"),
        (("bar.stl",), {"units": "yard"}, BadRequestError, "yard"),
    ],
)
def test_what_cannot_be_checked_is_refused_in_a_sentence(files, words, fault, says) -> None:
    box("bar.stl", 12, 5, 3)
    with pytest.raises(fault) as caught:
        checked(*files, **words)
    assert says in str(caught.value)


def test_a_point_that_is_no_number_is_refused() -> None:
    mesh = trimesh.creation.box(extents=(12, 5, 3))
    data = bytearray(mesh.export(file_type="stl"))
    data[84 + 12 : 84 + 16] = np.float32("nan").tobytes()
    Path("nan.stl").write_bytes(data)
    with pytest.raises(BadFileError, match=r"nan\.stl"):
        checked("nan.stl")


def glb_of(name: str, factor: float) -> str:
    """A band of 18 mm bore as GLB, its millimetres multiplied by this; glTF says that the numbers are metres."""
    mesh = build_shape("plain-band", SHARP_BAND)
    Path(name).write_bytes(glb(*of(("band", mesh.scaled(factor)))))
    return name


def test_a_glb_in_true_metres_is_the_ring_that_it_is() -> None:
    (one,) = checked(glb_of("ring.glb", 0.001))
    piece = one.pattern.piece
    assert piece.units == "m"
    assert sorted(piece.envelope_mm) == pytest.approx([4, 22, 22], abs=0.01)
    assert piece.bore is not None
    assert piece.bore.diameter_mm == pytest.approx(18, abs=0.01)
    assert piece.volume_mm3 == pytest.approx(build_shape("plain-band", SHARP_BAND).volume_mm3, rel=1e-5)
    assert not one.findings


def test_a_glb_whose_metres_are_millimetres_is_stopped_and_the_right_unit_offered() -> None:
    (one,) = checked(glb_of("ring.glb", 1))
    assert one.stopped
    (doubt,) = [f for f in one.findings if f.code == "units-doubtful"]
    assert "as the file says (m)" in doubt.says
    assert "mm would make it" in doubt.do
    (sure,) = checked("ring.glb", units="mm")
    assert not sure.stopped
    assert [f.code for f in sure.findings] == ["units-overruled"]


def test_pieces_of_several_kinds_are_read_side_by_side_in_their_order() -> None:
    glb_of("b.glb", 0.001)
    box("a.stl", 12, 5, 3)
    box("c.ply", 6, 5, 4)
    assert [round(one.pattern.piece.volume_mm3) for one in checked("a.stl", "b.glb", "c.ply")][::2] == [180, 120]


def test_a_file_that_breaks_its_reader_is_one_sentence() -> None:
    Path("bad.glb").write_bytes(b"glTF\x02\0\0\0\xff\xff\xff\x7f")
    with pytest.raises(BadFileError, match=r"bad\.glb cannot be read"):
        checked("bad.glb")


def test_where_the_unit_is_in_doubt_every_figure_is_a_dash_with_the_reason() -> None:
    Path("band.stl").write_bytes(mesh_bytes(build_shape("plain-band", SHARP_BAND).scaled(1000), ".stl"))
    (one,) = checked("band.stl")
    said = rows(one)
    assert {figure for figure, _ in said.values()} == {"\u2014"}
    assert {"size", "volume", "cast", "wall", "bore"} <= set(said)
    assert all("the unit is in doubt" in remark for _, remark in said.values())
    assert "22000 x 4000 x 22000" in said["size"][1]
    assert one.pattern.piece.volume_mm3 > 1e9, "the figures stay in the data"
    (sure,) = checked("band.stl", units="um")
    assert not sure.doubtful
    assert float(rows(sure)["bore"][0].removesuffix(" mm")) == pytest.approx(18, abs=0.02)


def test_what_is_only_a_skin_over_loose_triangles_weighs_at_most_so_much() -> None:
    rng = np.random.default_rng(0)
    loose = trimesh.Trimesh(rng.uniform(0, 10, (60, 3)), np.arange(60).reshape(-1, 3), process=False)
    Path("soup.stl").write_bytes(loose.export(file_type="stl"))
    (one,) = checked("soup.stl")
    said = rows(one)
    assert said["cast"][0] == f"at most {one.pattern.piece.metal_high_g:.2f} g"
    assert said["volume"][0].startswith("at most ")
    assert said["wall"][0] == "\u2014"
    assert "loose triangles" in said["wall"][1]
    assert said["size"][0].endswith(" mm"), "its points span what they span"
    assert "pattern-overlap" not in {f.code for f in one.findings}


def test_a_bangle_is_told_its_opening_and_neither_a_ring_size_nor_a_fingers_allowance() -> None:
    Path("bangle.stl").write_bytes(mesh_bytes(build_shape("plain-band", ["bore=62", "width=6", "thickness=2"]), ".stl"))
    (one,) = checked("bangle.stl")
    said = rows(one)
    assert said["opening"] == ("61.99 mm", "no finger's: no ring size"), "between facets"
    assert said["finished opening"][0] == f"{one.pattern.piece.bore.finished_mm:.2f} mm"  # type: ignore[union-attr]
    assert said["band"][0] == "6.0 mm wide"
    assert not {"bore", "finished bore", "for a wide band"} & set(said)
    assert not any(
        word in text for _, figure, remark in one.rows for text in (figure, remark) for word in ("US", "ISO", "finger m")
    )


def test_the_widest_finger_ring_still_has_its_size() -> None:
    Path("wide.stl").write_bytes(mesh_bytes(build_shape("plain-band", ["bore=25.8", "width=4", "thickness=2"]), ".stl"))
    assert "ISO" in rows(checked("wide.stl")[0])["bore"][1]


@pytest.mark.parametrize(
    ("sides", "decimals"), [((12, 5, 3), {"pattern": 3, "finished": 2}), ((20, 20, 10), {"pattern": 2, "finished": 2})]
)
def test_weights_are_written_as_finely_as_they_differ(sides: tuple[int, ...], decimals: dict[str, int]) -> None:
    """Sterling of 180 mm3 is 1.86 g, its resin 0.196 g; of 4000 mm3 41 g and 4.4 g."""
    said = rows(checked(box("bar.stl", *sides))[0])
    for name, count in decimals.items():
        number = said[name][0].split()[0]
        assert len(number.split(".")[1]) == count, name


def test_no_band_of_a_small_weight_ends_where_it_begins() -> None:
    """A stud of 14 mm3: 0.14 g of sterling; to a tenth of a gram both ends were 0.1."""
    low, high = rows(checked(box("stud.stl", 3.5, 2, 2))[0])["finished"][0].removesuffix(" g").split(" to ")
    assert 0.11 < float(low) < float(high) < 0.15


def test_the_finished_weight_is_never_told_over_the_cast_one_by_rounding() -> None:
    said = rows(checked(box("post.stl", 5, 3, 3))[0])
    cast = float(said["cast"][1].rsplit(" to ", 1)[1])
    assert float(said["finished"][0].removesuffix(" g").split(" to ")[1]) <= cast
