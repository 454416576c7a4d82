"""Pictures of checked patterns as files: which there are, what they hold, and that a folder is never half written."""

import json
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from pourwell.app.checking import Checked, check_files
from pourwell.app.pictures import CONTACT_SHEET, MOST_SPOTS, field_of, printed_close_ups, spot_of, write_pictures_of
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.errors import OutputError
from pourwell.findings import Finding, Severity
from pourwell.sheets.field_map import field_named

VIEWS = {"three-quarter", "front", "side", "above"}


def shape(name: str, shape_name: str, *dimensions: str) -> str:
    Path(name).write_bytes(mesh_bytes(build_shape(shape_name, dimensions), Path(name).suffix))
    return name


def checked(*files: str) -> list[Checked]:
    return check_files(files, alloy="sterling-925", pattern="resin", units=None, size=None, tell=lambda _: None)


def finding(code: str, *, at=(1.0, 2.0, 3.0), severity=Severity.WARN, where="piece A, near x 1, y 2, z 3") -> Finding:
    return Finding(
        code=code, severity=severity, where=where, says="It is {l:0.4} thin.", do="Mend it.", measure="{l:0.4}", at_mm=at
    )


def test_a_sound_piece_has_its_sides_and_its_walls_as_png_and_svg() -> None:
    told: list[str] = []
    paths = write_pictures_of(checked(shape("band.stl", "plain-band")), Path("out"), tell=told.append)
    stems = {f"pattern-A-{what}" for what in (*VIEWS, "wall")}
    assert {path.name for path in paths} == {f"{stem}.{kind}" for stem in stems for kind in ("png", "svg")}
    assert told == ["Drawing band.stl"]
    for path in paths:
        if path.suffix == ".png":
            assert np.asarray(Image.open(path)).std() > 5
        else:
            root = ElementTree.fromstring(path.read_bytes())
            assert root[0].tag.endswith("title")
            assert (root[0].text or "").startswith("A  band")


def test_each_finding_with_a_place_has_a_picture_that_shows_its_reason() -> None:
    (one,) = checked(shape("thin.stl", "bezel-ring", "wall=0.35"))
    assert [found.code for found in one.findings if found.at_mm] == ["wall-thin"]
    paths = write_pictures_of([one], Path("out"))
    (drawn,) = [path for path in paths if "finding" in path.name and path.suffix == ".svg"]
    assert drawn.name == "pattern-A-finding-1-wall-thin.svg"
    words = [text.text for text in ElementTree.fromstring(drawn.read_bytes()).iter() if text.tag.endswith("}text")]
    assert "A1  0.35 mm, limit 0.6 mm" in words
    assert "Wall, mm" in words
    assert not any("{l:" in str(word) for word in words)


def test_several_files_have_a_contact_sheet_too() -> None:
    both = checked(shape("band.stl", "plain-band"), shape("stud.stl", "stud"))
    paths = write_pictures_of(both, Path("out"))
    names = {path.name for path in paths}
    assert {f"{CONTACT_SHEET}.png", f"{CONTACT_SHEET}.svg", "pattern-B-front.png"} <= names
    words = [
        t.text for t in ElementTree.fromstring(Path(f"out/{CONTACT_SHEET}.svg").read_bytes()).iter() if t.tag.endswith("}text")
    ]
    assert "2 patterns, in sterling silver" in words
    assert any("ISO 54" in str(word) for word in words)
    assert any("mm" in str(word) and "\u00d7" in str(word) for word in words), "a stud has sides, no ring size"


def test_the_folder_is_ours_to_replace_and_no_other() -> None:
    one = checked(shape("band.stl", "plain-band"))
    write_pictures_of(one, Path("out"))
    listed = json.loads(Path("out/job.json").read_text(encoding="utf-8"))
    assert listed["schema"] == "pourwell.pictures"
    assert set(listed["files"]) == {path.name for path in Path("out").iterdir()}
    with pytest.raises(OutputError, match="exists already"):
        write_pictures_of(one, Path("out"))
    write_pictures_of(one, Path("out"), replace=True)
    Path("out/mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"mine\.txt"):
        write_pictures_of(one, Path("out"), replace=True)


def test_the_same_file_gives_the_same_bytes() -> None:
    one = checked(shape("thin.stl", "bezel-ring", "wall=0.35"))
    first = {path.name: path.read_bytes() for path in write_pictures_of(one, Path("one"))}
    again = {path.name: path.read_bytes() for path in write_pictures_of(one, Path("two"))}
    assert first == again


def test_a_finding_is_shown_in_the_field_that_its_code_begins_with() -> None:
    fields = [field_named("wall", np.ones(3)), field_named("gap", np.ones(3))]
    assert field_of(finding("wall-thin"), fields) is fields[0]
    assert field_of(finding("gap-narrow"), fields) is fields[1]
    assert field_of(finding("pattern-unsound"), fields) is None
    assert field_of(finding("wallpaper"), fields) is None


def test_what_a_picture_tells_is_spelt_out_or_left_to_the_sheet() -> None:
    assert spot_of(finding("wall-thin")).measure == "0.4 mm"
    assert spot_of(finding("wall-thin"), spelt=False).measure == "{l:0.4}"
    with pytest.raises(ValueError, match="no place"):
        spot_of(finding("wall-thin", at=None))


def test_the_run_sheet_shows_stops_and_warnings_of_its_own_piece_and_few() -> None:
    (one,) = checked(shape("band.stl", "plain-band"))
    found = [
        finding("a", at=(10.4, 0, 0)),
        finding("b", severity=Severity.NOTE),
        finding("c", at=None),
        finding("d", where="piece AA, near x 1, y 2, z 3"),
        finding("e", severity=Severity.STOP, at=(-10.4, 0, 0)),
    ]
    drawn = printed_close_ups(one.pattern, found)
    assert [(c.letter, c.severity) for c in drawn] == [("A1", Severity.STOP), ("A2", Severity.WARN)]
    assert printed_close_ups(one.pattern, [finding("b", severity=Severity.NOTE)]) == ()
    assert 0 < len(printed_close_ups(one.pattern, [finding("a", at=(10.4, 0, 0))] * 30)) < MOST_SPOTS
