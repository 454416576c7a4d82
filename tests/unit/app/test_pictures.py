"""Pictures of checked patterns as files: which there are, what they hold, and that a folder is never half written."""

import dataclasses
import json
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from pourwell.app.checking import Checked, check_files
from pourwell.app.pictures import CONTACT_SHEET, MOST_SPOTS, STAND_IN, printed_close_ups, spot_of, write_pictures_of
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.errors import OutputError
from pourwell.findings import Finding, Severity
from pourwell.geometry.mesh import Mesh
from tests.unit.geometry.printed_samples import block, mesh

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
    stems = {f"pattern-A-{what}" for what in (*VIEWS, "wall", "ball")}
    assert {path.name for path in paths} == {f"{stem}.{kind}" for stem in stems for kind in ("png", "svg")}
    assert told == ["Drawing band.stl"]
    for path in paths:
        if path.suffix == ".png":
            assert np.asarray(Image.open(path)).std() > 5
        else:
            root = ElementTree.fromstring(path.read_bytes())
            assert root[0].tag.endswith("title")
            assert (root[0].text or "").startswith("A  band")


def test_gaps_are_drawn_where_a_piece_has_any_and_both_more_fields_have_their_scales() -> None:
    """A band has no gap outside; the loop of a pendant has one, and what lies open is named."""
    paths = write_pictures_of(checked(shape("drop.stl", "pendant")), Path("out"))
    assert {f"pattern-A-{name}.svg" for name in ("wall", "ball", "gap")} <= {path.name for path in paths}
    gap = words_of(Path("out/pattern-A-gap.svg"))
    assert {"Gap outside, mm", "open"} <= set(gap)
    assert not any("limit" in word for word in gap), "of a gap nothing was found; inner corners are no fault"
    ball = words_of(Path("out/pattern-A-ball.svg"))
    assert "Largest ball inside, mm".startswith(next(word for word in ball if word.startswith("Largest")))
    assert "no fault" in " ".join(ball)
    assert not any("limit" in word for word in ball), "the limit of a wall is none of a ball"
    assert "thinnest" in " ".join(words_of(Path("out/pattern-A-wall.svg")))


def test_a_gap_that_is_told_is_held_against_its_limit_on_its_map() -> None:
    """A slot of 0.2 mm, the same all along, is coloured and hatched as such, and not open."""
    halves = (block((0, 0, 0), (8, 4, 6)) - block((3.9, -1, 1), (4.1, 5, 7))).rotate((0, 0, 20))
    Path("slot.stl").write_bytes(mesh_bytes(mesh(halves), ".stl"))
    (one,) = checked("slot.stl")
    assert "gap-narrow" in {found.code for found in one.findings}
    write_pictures_of([one], Path("out"))
    assert {"limit 0.4", "under the limit", "1.0"} <= set(words_of(Path("out/pattern-A-gap.svg")))


def test_a_field_that_is_nowhere_known_is_left_out() -> None:
    (one,) = checked(shape("drop.stl", "pendant"))
    nowhere = np.full(len(one.pattern.mesh.faces), np.inf)
    bare = dataclasses.replace(one, pattern=dataclasses.replace(one.pattern, gap_mm=nowhere, ball_mm=None))
    names = {path.name for path in write_pictures_of([bare], Path("out"))}
    assert "pattern-A-wall.png" in names
    assert not any("ball" in name or "gap" in name for name in names)


def test_no_more_findings_are_drawn_than_anyone_looks_at(monkeypatch) -> None:
    monkeypatch.setattr("pourwell.app.pictures.MOST_SPOTS", 2)
    (one,) = checked(shape("band.stl", "plain-band"))
    many = dataclasses.replace(one, findings=tuple(finding(f"x{k}", at=(10.4, 0, 0)) for k in range(5)))
    names = [path.name for path in write_pictures_of([many], Path("out")) if "finding" in path.name]
    assert sorted(name.split("-")[3] for name in names) == ["1", "1", "2", "2"]


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
    both = checked(shape("band.stl", "plain-band", "size=ISO 54"), shape("stud.stl", "stud"))
    paths = write_pictures_of(both, Path("out"))
    names = {path.name for path in paths}
    assert {f"{CONTACT_SHEET}.png", f"{CONTACT_SHEET}.svg", "pattern-B-front.png"} <= names
    words = [
        t.text for t in ElementTree.fromstring(Path(f"out/{CONTACT_SHEET}.svg").read_bytes()).iter() if t.tag.endswith("}text")
    ]
    assert "2 patterns, in sterling silver" in words
    assert any("g, finished ISO 5" in str(word) for word in words), words
    assert any("mm" in str(word) and "\u00d7" in str(word) for word in words), "a stud has sides, no ring size"


def test_the_folder_is_ours_to_replace_and_no_other() -> None:
    one = checked(shape("band.stl", "plain-band"))
    write_pictures_of(one, Path("out"))
    listed = json.loads(Path("out/job.json").read_text(encoding="utf-8"))
    assert listed["schema"] == "pourwell.pictures"
    assert set(listed["files"]) == {path.name for path in Path("out").iterdir()}
    with pytest.raises(OutputError, match="exists already"):
        write_pictures_of(one, Path("out"))
    first = {path.name: path.read_bytes() for path in Path("out").iterdir()}
    write_pictures_of(one, Path("out"), replace=True)
    assert {path.name: path.read_bytes() for path in Path("out").iterdir()} == first, "the same file gives the same bytes"
    Path("out/mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"mine\.txt"):
        write_pictures_of(one, Path("out"), replace=True)


def words_of(path: Path) -> list[str]:
    return [text.text or "" for text in ElementTree.fromstring(path.read_bytes()).iter() if text.tag.endswith("}text")]


def test_a_file_with_a_hole_is_shown_as_it_is_and_the_stand_in_only_where_it_was_measured() -> None:
    """The rim of the hole is a thick red line on the sides and at the finding; the walls say whose they are."""
    mesh = build_shape("stud", [])
    Path("open.stl").write_bytes(mesh_bytes(Mesh(mesh.vertices, mesh.faces[:-40]), ".stl"))
    (one,) = checked("open.stl")
    assert one.pattern.as_read is not None
    assert len(one.pattern.as_read.faces) == len(mesh.faces) - 40
    write_pictures_of([one], Path("out"))
    assert "#9c1c17" in Path("out/pattern-A-finding-1-pattern-unsound.svg").read_text(encoding="utf-8").split("<path", 1)[1]
    assert not any(STAND_IN in word for word in words_of(Path("out/pattern-A-front.svg")))
    assert any(STAND_IN in word for word in words_of(Path("out/pattern-A-wall.svg")))


def test_nothing_is_held_against_a_limit_while_the_unit_is_in_doubt() -> None:
    mesh = build_shape("stud", [])
    Path("tiny.stl").write_bytes(mesh_bytes(mesh.scaled(0.1), ".stl"))
    (one,) = checked("tiny.stl")
    assert "units-doubtful" in [found.code for found in one.findings]
    write_pictures_of([one], Path("out"))
    assert not any("limit" in word for word in words_of(Path("out/pattern-A-wall.svg")))


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
