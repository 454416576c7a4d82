"""`pourwell calibrate` on the command line: what it prints, keeps and refuses."""

import json
from pathlib import Path

import pytest

from tests.journeys.call import Caller
from tests.unit.app.firing_logs import log_bytes

WEIGHED = "before=1364.3,after=1155,empty=600,pattern=10"


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "kiln.csv"
    path.write_bytes(log_bytes("kiln"))
    return path


@pytest.fixture
def studio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "studio"
    folder.mkdir()
    monkeypatch.setenv("POURWELL_STUDIO", str(folder))
    return folder


def test_a_log_of_the_kiln_is_told_and_nothing_is_written(pourwell: Caller, log: Path, studio: Path) -> None:
    answer = pourwell("calibrate", str(log))
    assert answer.code == 0, answer.err
    for words in ("falls at 500 °C, door shut", "fastest half hour of rise", "overshoots a level by", "holds a level within"):
        assert words in answer.out
    assert "Nothing is written. With --keep it goes into" in answer.out
    assert "kiln-20" in answer.out
    assert list(studio.iterdir()) == []


def test_the_lines_of_what_was_found_are_told(pourwell: Caller, log: Path) -> None:
    answer = pourwell("calibrate", str(log))
    assert "The clock passes midnight" in answer.out
    assert "line 152" in answer.out


def test_the_cautions_for_a_probe_are_printed(pourwell: Caller, log: Path) -> None:
    said = " ".join(pourwell("calibrate", str(log)).out.split())
    for words in ("Mains off and the plug out", "Mineral-insulated type K", "licensed practice", "Never put one into a hot flask"):
        assert words in said


def test_with_keep_it_is_written_and_a_plan_leans_on_it(pourwell: Caller, log: Path, studio: Path) -> None:
    answer = pourwell("calibrate", str(log), "--keep")
    assert answer.code == 0, answer.err
    (kept,) = (studio / "calibrations").iterdir()
    assert str(kept) in answer.out.replace("\n", "")
    assert "Measured now: the kiln's fall and how far it overshoots (kiln)" in " ".join(answer.out.split())
    again = pourwell("calibrate", str(log), "--json")
    assert json.loads(again.out)["files"] == []
    assert len(list((studio / "calibrations").iterdir())) == 1


def test_json_holds_values_files_and_where_they_come_from(pourwell: Caller, log: Path, studio: Path) -> None:
    data = json.loads(pourwell("calibrate", str(log), "--keep", "--json").out)
    assert list(data)[:2] == ["schema", "schema_version"]
    assert data["schema"] == "pourwell.calibrate"
    fall = next(value for value in data["values"] if value["key"] == "fall_c_per_h")
    assert fall["measured"]
    assert fall["uncertainty"] > 0
    assert data["calibrations"][0]["digest"]
    assert [Path(path).parent.name for path in data["files"]] == ["calibrations"]


def test_pictures_are_written_where_it_is_said(pourwell: Caller, log: Path, tmp_path: Path) -> None:
    answer = pourwell("calibrate", str(log), "--pictures", str(tmp_path / "shown"))
    assert answer.code == 0, answer.err
    assert sorted(path.name for path in (tmp_path / "shown").iterdir()) == [
        "job.json",
        "log-against-model.png",
        "log-against-model.svg",
    ]
    again = pourwell("calibrate", str(log), "--pictures", str(tmp_path / "shown"))
    assert again.code == 2
    assert "exists already" in again.err
    assert pourwell("calibrate", str(log), "--pictures", str(tmp_path / "shown"), "--replace").code == 0


def test_a_weighing_is_told_with_its_own_cautions(pourwell: Caller, studio: Path) -> None:
    answer = pourwell("calibrate", "--weighed", WEIGHED, "--flask", "76x100", "--resolution-g", "0.1", "--stood-h", "3")
    assert answer.code == 0, answer.err
    assert "water that went into the kiln" in answer.out
    assert "0.81" in answer.out
    assert "at 300 °C it looks like a cold one" in " ".join(answer.out.split())
    assert "Mains off" not in answer.out
    assert list(studio.iterdir()) == []


def test_a_weighing_is_kept_for_its_flask(pourwell: Caller, studio: Path) -> None:
    assert pourwell("calibrate", "--weighed", WEIGHED, "--flask", "76x100", "--keep").code == 0
    (kept,) = (studio / "calibrations").iterdir()
    assert kept.name.startswith("flask-76x100-")


def test_a_weighing_has_no_picture(pourwell: Caller, tmp_path: Path) -> None:
    answer = pourwell("calibrate", "--weighed", WEIGHED, "--flask", "76x100", "--pictures", str(tmp_path / "none"))
    assert answer.code == 2
    assert "has no picture" in answer.err


@pytest.mark.parametrize("words", [("calibrate", "--flask", "76x100"), ("calibrate", "x.csv", "--weighed", WEIGHED)])
def test_a_log_or_a_weighing_and_not_both(pourwell: Caller, words: tuple[str, ...]) -> None:
    answer = pourwell(*words)
    assert answer.code == 2
    assert "not both" in answer.err


def test_keep_without_a_studio_folder_is_refused(pourwell: Caller, log: Path) -> None:
    answer = pourwell("calibrate", str(log), "--keep")
    assert answer.code == 2
    assert "no studio folder" in answer.err


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"\x00\x01", "is no text"),
        (b"Time,Kiln\n" + b"".join(f"08:{m:02d},500\n".encode() for m in range(60)), "stands still at 500"),
        (b"Time,Kiln\n" + b"".join(f"{m},{20 + m}\n".encode() for m in range(60)), "nothing says what the time 0 counts"),
        (b"Time,Kiln\n" + b"".join(f"08:{m % 30:02d},{20 + m}\n".encode() for m in range(60)), "the time goes back by 29 min"),
        (b"Time,Kiln\n" + b"".join(f"08:{m:02d},{68 + 10 * m}\n".encode() for m in range(60)), "may be °C or °F"),
    ],
)
def test_a_bad_log_is_refused_in_a_sentence_with_what_to_try(pourwell: Caller, tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_bytes(content)
    answer = pourwell("calibrate", str(path))
    assert answer.code == 2
    assert says in answer.err
    assert path.read_bytes() == content


def test_a_calibration_that_is_spoilt_by_hand_is_refused_by_its_name(pourwell: Caller, log: Path, studio: Path) -> None:
    pourwell("calibrate", str(log), "--keep")
    (kept,) = (studio / "calibrations").iterdir()
    kept.write_text(kept.read_text(encoding="utf-8").replace("fitted_from", "fited_from"), encoding="utf-8")
    answer = pourwell("calibrate", str(log))
    assert answer.code == 2
    assert kept.name in answer.err


def test_what_is_not_kept_is_shown_all_the_same(pourwell: Caller, studio: Path) -> None:
    """He sees the figures that speak against it, and then that nothing was written."""
    wetter = ("--weighed", WEIGHED.replace("1364.3", "1580"), "--flask", "76x100", "--resolution-g", "0.1", "--stood-h", "3")
    answer = pourwell("calibrate", *wetter, "--keep")
    assert answer.code != 0
    assert "water that went into the kiln" in answer.out
    assert "Not to be kept" in answer.out
    assert "That is not kept" in answer.err
    assert not (studio / "calibrations").exists()
