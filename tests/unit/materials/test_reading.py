"""Reading TOML: faults told as a person would, with the nearest key."""

import pytest
from pydantic import ValidationError

from pourwell.errors import BadDataError
from pourwell.materials.model import Investment
from pourwell.materials.reading import first_fault, parse, texts
from pourwell.materials.studio import Studio


def fault(model, table):
    with pytest.raises(ValidationError) as err:
        model.model_validate(table)
    return first_fault(err.value, model)


def test_text_with_a_byte_order_mark_is_read():
    assert parse(b"\xef\xbb\xbfid = 3\n", "x.toml") == {"id": 3}


@pytest.mark.parametrize("text", [b"id = \n", b"\xff\xfe\x00", b"id = 1\nid = 2\n"])
def test_what_is_not_toml_is_said_with_its_file(text):
    with pytest.raises(BadDataError, match=r"^x\.toml is not a TOML file\."):
        parse(text, "x.toml")


def test_the_files_of_a_folder_come_in_order_and_only_toml(tmp_path):
    for name in ("b.toml", "a.toml", "notes.txt"):
        (tmp_path / name).write_text("")
    assert list(texts(tmp_path)) == ["a.toml", "b.toml"]
    assert texts(tmp_path / "missing") == {}


def test_a_folder_called_like_a_file_is_said(tmp_path):
    (tmp_path / "a.toml").mkdir()
    with pytest.raises(BadDataError, match="cannot be read"):
        texts(tmp_path)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"kiln": {"segment_count": 4}}, "kiln.segment_count: unknown key (nearest: segments_count)"),
        ({"klin": {}}, "klin: unknown key (nearest: kiln, kilns)"),
        ({"bases": [{}, {"dome_hight_mm": 3}]}, "bases.1.dome_hight_mm: unknown key (nearest: dome_height_mm, dome_diameter_mm)"),
        ({"qqqqq": 1}, "qqqqq: unknown key"),
        ({"casting": {"way": "vacum"}}, "casting.way: Input should be 'vacuum', 'centrifuge' or 'gravity'"),
        ({"work_from": "20:00"}, "work_from 20:00 is not before work_to 19:00"),
        ({"flasks": [{"id": "a", "height_mm": 1, "wall_mm": 1}]}, "flasks.0.diameter_mm is missing"),
    ],
)
def test_a_fault_names_its_place_its_reason_and_the_nearest_key(table, said):
    assert fault(Studio, table) == said


def test_without_a_model_the_unknown_key_is_still_named():
    with pytest.raises(ValidationError) as err:
        Investment.model_validate({"gloss": 3})
    assert first_fault(err.value).endswith("is missing")
    with pytest.raises(ValidationError) as err:
        Studio.model_validate({"klin": {}})
    assert first_fault(err.value) == "klin: unknown key"
