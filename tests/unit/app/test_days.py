"""From words of the command line to a week, and from a week to a folder, whole or not at all."""

import json
from datetime import UTC, datetime, time
from pathlib import Path

import pytest

from pourwell.app.days import DayWishes, day_data, place_and_write, place_week, week_of_words
from pourwell.app.shop import open_shop
from pourwell.errors import BadDataError, BadRequestError, OutputError, UnknownNameError
from pourwell.request import WeekRequest

MONDAY = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
WEEK = """
title = "Before the fair"
days_off = ["Sunday"]
work_to = 18:00:00
[[runs]]
name = "bands"
alloy = "sterling-925"
flask = "76x100"
[[runs]]
name = "signets"
alloy = "gold-585-yellow"
flask = "64x64"
"""
JOB = 'title = "Studs"\nalloy = "sterling-925"\nweight_g = 14.3\nflask = "64x64"\npour_at = "2027-03-04 10:00"\n'


@pytest.fixture(autouse=True)
def studio(tmp_path, monkeypatch):
    """A studio of its own, in Lisbon."""
    folder = tmp_path / "studio"
    folder.mkdir()
    (folder / "studio.toml").write_text('time_zone = "Europe/Lisbon"\n', encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(folder))
    return folder


@pytest.fixture
def file(tmp_path):
    def write(name: str, text: str) -> str:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def asked(*files: str, **words: object) -> WeekRequest:
    return week_of_words(files, DayWishes(**words), shop=open_shop(), now=MONDAY)  # type: ignore[arg-type]


def written(out: Path | None, *files: str, replace: bool = False, **words: object):
    said = DayWishes(**({} if files else {"alloy": "sterling-925", "flask": "64x64"}) | words)  # type: ignore[arg-type]
    return place_and_write(files, said, out=out, replace=replace, now=MONDAY)


def test_words_alone_are_a_week_of_one_run():
    week = asked(alloy="sterling-925", flask="76x100", flasks_count=3, pieces_count=8, pour_at="Friday 10:00")
    (run,) = week.runs
    assert (run.flasks_count, run.pieces_count, run.usual_weight) == (3, 8, True)
    assert run.request.weight_g > 5
    assert week.pour_at == datetime(2027, 3, 5, 10, 0, tzinfo=UTC)


def test_a_weight_that_was_said_is_taken():
    (run,) = asked(alloy="sterling-925", weight_g=14.3).runs
    assert (run.request.weight_g, run.usual_weight) == (14.3, False)


def test_words_win_over_the_file_and_leave_the_rest(file):
    name = file("week.toml", WEEK)
    week = asked(name, work_to="20:30", bag_damp=True, no_overnight=True, start_at="tomorrow 9:00", wait_max_min=90)
    assert (week.work_to, week.bag_damp, week.overnight_firing) == (time(20, 30), True, False)
    assert (week.title, week.days_off, week.wait_max_min) == ("Before the fair", ("Sunday",), 90)
    assert week.start_at.day == 2
    assert asked(name).work_to == time(18)
    assert asked(name, days_off=("Monday",), title="Ours").days_off == ("Monday",)


def test_several_files_are_one_week(file):
    week = asked(file("week.toml", WEEK), file("studs.toml", JOB))
    assert [run.name for run in week.runs] == ["bands", "signets", "Studs"]
    assert week.runs[2].pour_at == datetime(2027, 3, 4, 10, 0, tzinfo=UTC)


def test_nothing_to_cast_is_told():
    with pytest.raises(BadRequestError, match="nothing to cast"):
        asked(pour_at="Friday 10:00")


def test_an_alloy_beside_a_file_is_told(file):
    with pytest.raises(BadRequestError, match="--flask is for a run without a file"):
        asked(file("week.toml", WEEK), flask="64x64")
    with pytest.raises(BadRequestError, match="--weight is for a run without a file"):
        asked(file("week.toml", WEEK), weight_g=3.0)


@pytest.mark.parametrize(
    ("words", "error"),
    [
        ({"alloy": "sterling-952"}, UnknownNameError),
        ({"alloy": "sterling-925", "flask": "round"}, BadRequestError),
        ({"alloy": "sterling-925", "pattern": "soap"}, UnknownNameError),
        ({"alloy": "sterling-925", "flasks_count": 0}, BadDataError),
        ({"alloy": "sterling-925", "pour_at": "Blursday 10:00"}, BadRequestError),
        ({"alloy": "sterling-925", "work_to": "late"}, BadDataError),
        ({"alloy": "sterling-925", "days_off": ("Blursday",)}, BadRequestError),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence(words, error):
    with pytest.raises(error) as told:
        written(None, **words)
    assert str(told.value).endswith((".", "?", '"'))


def test_the_folder_holds_sheet_calendar_picture_and_data(tmp_path, file):
    placed = written(tmp_path / "out", file("week.toml", WEEK))
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names == ["day.ics", "day.json", "day.pdf", "day.png", "day.svg", "job.json"]
    assert sorted(path.name for path in placed.paths) == names
    assert (tmp_path / "out" / "day.pdf").read_bytes().startswith(b"%PDF")
    data = json.loads((tmp_path / "out" / "day.json").read_text(encoding="utf-8"))
    assert (data["schema"], data["schema_version"], data["status"]) == ("pourwell.day", 1, "proven")
    assert [run["name"] for run in data["runs"]] == ["bands", "signets"]
    assert data == {key: value for key, value in placed.data.items() if key != "files"}


def test_the_data_holds_every_line_and_every_firing_with_its_clock():
    data = written(None).data
    (run,), (load,) = data["runs"], data["loads"]
    keys = [line["key"] for line in run["timeline"]]
    assert keys[0] == "wrap"
    assert keys[-1] == "cut"
    assert load["curve"][0] == {"at": load["on_at"], "set_c": 20.0}
    assert load["curve"][-1]["at"] == load["off_at"] == run["pour_at"] == data["last_pour_at"]
    assert data["goals"] == [{"key": "last_pour", "value": 1480, "bound": 1480}]  # from Monday at eight to Tuesday at 8:40
    assert "files" not in data


def test_a_folder_that_is_there_is_replaced_only_when_asked(tmp_path):
    written(tmp_path / "out")
    with pytest.raises(OutputError, match="exists already"):
        written(tmp_path / "out")
    written(tmp_path / "out", replace=True)
    (tmp_path / "out" / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="did not write"):
        written(tmp_path / "out", replace=True)
    assert (tmp_path / "out" / "mine.txt").exists()


def test_a_week_that_does_not_fit_leaves_nothing_behind(tmp_path):
    with pytest.raises(BadRequestError, match="Nothing fits"):
        written(tmp_path / "out", pour_at="today 12:00")
    assert not (tmp_path / "out").exists()


def test_a_week_file_is_never_replaced_by_its_own_folder(tmp_path, file):
    folder = tmp_path / "out"
    written(folder)
    inside = folder / "week.toml"
    inside.write_text(WEEK, encoding="utf-8")
    with pytest.raises(OutputError, match="lies in the folder"):
        written(folder, str(inside), replace=True)


def test_the_hours_of_the_studio_are_kept(studio):
    (studio / "studio.toml").write_text(
        'time_zone = "Europe/Lisbon"\nwork_from = "10:00"\ndays_off = ["Tuesday"]\n', encoding="utf-8"
    )
    shop = open_shop()
    plan = place_week(asked(alloy="sterling-925", flask="64x64"), shop=shop, now=MONDAY)
    for run in plan.runs:
        for line in run.timeline:
            if line.hands_on_min:
                assert line.starts_at.hour >= 10
                assert line.starts_at.weekday() != 1
    assert day_data(plan)["work_hours"] == ["10:00:00", "19:00:00"]
