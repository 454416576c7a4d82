"""3MF files: units, transforms, components, other models of the zip; damage and bombs."""

import zipfile

import pytest

from pourwell.files.patterns import read_pattern
from tests.unit.files.pattern_files import ONE, cube, mesh_xml, put, refused, threemf, volume


@pytest.mark.parametrize(
    ("unit", "said", "side_mm"),
    [
        ("millimeter", "mm", 4.0),
        ("inch", "inch", 101.6),
        ("centimeter", "cm", 40.0),
        ("micron", "um", 0.004),
        ("meter", "m", 4000.0),
        ("foot", "foot", 1219.2),
        (None, "mm", 4.0),
    ],
)
def test_a_3mf_is_read_in_its_own_unit(tmp_path, unit, said, side_mm):
    file = read_pattern(threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>', unit=unit))
    assert (file.units, file.units_from, file.own_units) == (said, "file", said)
    assert file.bodies[0].mesh.envelope_mm == pytest.approx((side_mm,) * 3)


def test_a_3mf_object_is_placed_as_often_as_the_build_says(tmp_path):
    build = '<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 10 20 30"/>'
    file = read_pattern(threemf(tmp_path / "a.3mf", ONE, build))
    assert [body.name for body in file.bodies] == ["block", "block"]
    assert file.bodies[1].mesh.bounds[0] == pytest.approx([10, 20, 30])


def test_components_of_a_3mf_are_placed_under_all_transforms_above_them(tmp_path):
    turned = '<component objectid="1" transform="0 1 0 -1 0 0 0 0 1 5 0 0"/>'  # a quarter turn about z, then 5 along x
    objects = ONE + f'<object id="2" name="pair"><components>{turned}<component objectid="1"/></components></object>'
    file = read_pattern(threemf(tmp_path / "a.3mf", objects, '<item objectid="2" transform="2 0 0 0 2 0 0 0 2 0 0 100"/>'))
    low, high = file.bodies[0].mesh.bounds
    assert low == pytest.approx([2, 0, 100])
    assert high == pytest.approx([10, 8, 108])
    assert volume(file) == pytest.approx(2 * 8 * 64)


def test_a_mirrored_3mf_object_keeps_its_outside_out(tmp_path):
    file = read_pattern(threemf(tmp_path / "a.3mf", ONE, '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>'))
    assert volume(file) == pytest.approx(64)


def test_a_3mf_support_is_called_so(tmp_path):
    objects = ONE + f'<object id="2" name="post" type="support">{mesh_xml(cube(1))}</object>'
    file = read_pattern(threemf(tmp_path / "a.3mf", objects, '<item objectid="1"/><item objectid="2"/>'))
    assert [body.name for body in file.bodies] == ["block", "post (support)"]


def test_a_3mf_object_may_lie_in_another_model_of_the_zip(tmp_path):
    inner = f'<model xmlns="x"><resources><object id="7">{mesh_xml(cube(4))}</object></resources><build/></model>'
    objects = '<object id="2"><components><component objectid="7" p:path="/3D/Objects/a.model"/></components></object>'
    path = threemf(tmp_path / "a.3mf", objects, '<item objectid="2"/>', more={"3D/Objects/a.model": inner})
    file = read_pattern(path)
    assert [body.name for body in file.bodies] == ["object 7"]
    assert volume(file) == pytest.approx(64)


@pytest.mark.parametrize(
    ("objects", "build", "says"),
    [
        (ONE, "", "no triangles"),
        (ONE, '<item objectid="9"/>', "object 9 is missing"),
        (ONE, '<item objectid="1" transform="1 0 0"/>', "twelve"),
        (ONE.replace('v1="0"', 'v1="88"', 1), '<item objectid="1"/>', "not there"),
        (ONE.replace('x="0"', 'x="nought"', 1), '<item objectid="1"/>', "vertex"),
        ('<object id="1"><components><component objectid="1"/></components></object>', '<item objectid="1"/>', "contains itself"),
    ],
)
def test_a_3mf_that_makes_no_sense_is_refused(tmp_path, objects, build, says):
    assert says in refused(threemf(tmp_path / "a.3mf", objects, build))


def test_a_3mf_with_an_unknown_unit_is_refused(tmp_path):
    assert "furlong" in refused(threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>', unit="furlong"))


def test_a_zip_without_a_model_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.3mf", "w") as archive:
        archive.writestr("holiday.jpg", b"snow")
    assert "without a 3D model" in refused(tmp_path / "a.3mf")


@pytest.mark.parametrize("share", [0.1, 0.5, 0.95])
def test_a_3mf_cut_short_is_refused(tmp_path, share):
    whole = threemf(tmp_path / "whole.3mf", ONE, '<item objectid="1"/>').read_bytes()
    assert "cut short" in refused(put(tmp_path / "a.3mf", whole[: int(share * len(whole))]))


def test_an_instruction_before_the_model_does_not_matter(tmp_path):
    path = threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>')
    with zipfile.ZipFile(path) as archive:
        model = archive.read("3D/3dmodel.model").decode()
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("3D/3dmodel.model", model.replace("<model", "<!-- by hand --><?style none?><model", 1))
    assert volume(read_pattern(path)) == pytest.approx(64)


def test_a_3mf_that_unpacks_without_end_is_refused_before_it_is_unpacked(tmp_path):
    path = threemf(tmp_path / "a.3mf", ONE + " " * 3_000_000, '<item objectid="1"/>')
    assert path.stat().st_size < 20_000
    assert "too large" in refused(path, limit_count=5000)


def test_components_that_multiply_are_stopped_at_the_limit(tmp_path):
    objects = ONE + "".join(
        f'<object id="{k}"><components>{f"""<component objectid="{k - 1}"/>""" * 10}</components></object>' for k in range(2, 12)
    )
    assert "too large" in refused(threemf(tmp_path / "a.3mf", objects, '<item objectid="11"/>'), limit_count=10_000)


def test_entities_of_a_3mf_are_not_expanded(tmp_path):
    (tmp_path / "secret").write_text("4", encoding="utf-8")
    with zipfile.ZipFile(tmp_path / "a.3mf", "w") as archive:
        bad = f'<!DOCTYPE m [<!ENTITY e SYSTEM "file://{tmp_path}/secret">]><model><resources>&e;{ONE}</resources><build>'
        archive.writestr("3D/3dmodel.model", bad + '<item objectid="1"/></build></model>')
    assert volume(read_pattern(tmp_path / "a.3mf")) == pytest.approx(64)


def test_a_name_that_would_fill_the_memory_is_refused_before_it_does(tmp_path):
    """Three megabytes of one attribute, a few kilobytes in the zip."""
    long = ONE.replace('name="block"', f'name="{"b" * (3 << 20)}"')
    assert len(long) > len(ONE) + (3 << 20) - 10
    path = threemf(tmp_path / "a.3mf", long, '<item objectid="1"/>')
    assert path.stat().st_size < 100_000
    said = refused(path)
    assert "a single text in it is longer than 1,048,576 bytes" in str(said)


def test_long_models_of_short_tags_are_none_such(tmp_path):
    """Two megabytes of metadata in many tags."""
    many = "".join(f"<metadata name='m{k}'>{'x' * 1000}</metadata>" for k in range(2000))
    file = read_pattern(threemf(tmp_path / "a.3mf", many + ONE, '<item objectid="1"/>'))
    assert file.bodies[0].name == "block"
