"""`pourwell check --pictures`: what it writes, what it says, and when it refuses."""

from pathlib import Path

from tests.journeys.call import Caller


def test_pictures_are_written_beside_the_answer_and_replaced_when_asked(pourwell: Caller) -> None:
    assert pourwell("shape", "stud", "--out", "stud.stl").code == 0
    answer = pourwell("check", "stud.stl", "--pictures", "seen")
    assert answer.code == 0
    assert "14 pictures in seen" in answer.out
    assert {path.suffix for path in Path("seen").iterdir()} == {".png", ".svg", ".json"}
    refused = pourwell("check", "stud.stl", "--pictures", "seen")
    assert refused.code == 2
    assert "exists already" in refused.err
    again = pourwell("check", "stud.stl", "--pictures", "seen", "--replace", "--json")
    assert again.code == 0
    assert again.data[0]["piece"]["name"] == "stud"


def test_a_folder_that_cannot_be_is_refused_before_anything_is_measured(pourwell: Caller) -> None:
    Path("taken").write_text("a file", encoding="utf-8")
    answer = pourwell("check", "no-such.stl", "--pictures", "taken")
    assert answer.code == 2
    assert "taken is a file" in answer.err


def test_a_stopped_pattern_has_pictures_all_the_same(pourwell: Caller) -> None:
    """What is wrong is seen best in a picture; the command ends with 3 as without."""
    assert pourwell("shape", "plain-band", "--out", "band.obj").code == 0
    text = Path("band.obj").read_text(encoding="utf-8")
    faces = [line for line in text.splitlines() if line.startswith("f ")]
    Path("open.obj").write_text(text.replace(faces[5] + "\n", ""), encoding="utf-8")
    answer = pourwell("check", "open.obj", "--units", "mm", "--pictures", "seen")
    assert answer.code == 3
    assert "pattern-A-finding-1-pattern-unsound.png" in {path.name for path in Path("seen").iterdir()}
