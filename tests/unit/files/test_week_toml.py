"""A week's file: several runs as job files say them, and what it refuses."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from pourwell.errors import BadDataError, BadFileError, BadRequestError, PourwellError
from pourwell.files.job_toml import build_request
from pourwell.files.week_toml import build_run, build_week, read_hour, read_week
from pourwell.request import WeekRequest

LISBON = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
WEEK = """
title = "Before the fair"
start_at = "tomorrow 9:00"
days_off = ["Sunday"]
bag_damp = true
wait_max_min = 240
work_to = 21:00:00

[[runs]]
name = "Heddle bands"
alloy = "sterling-925"
flask = "76x100"
pieces_count = 12
kinds_count = 3
pour_at = "Friday 10:00"

[[runs]]
alloy = "gold-585-yellow"
flask = "64x64"
weight_g = 20.5
flasks_count = 2
kiln = "small"
pour_by = 2027-03-06T17:00:00
ready_at = 2027-03-03T10:00:00+00:00

[[runs]]
job = "jobs/signet.toml"
"""
JOB = """
title = "A signet"
alloy = "gold-585-yellow"
pour_at = "2027-03-05 11:00"
[[pieces]]
file = "signet.stl"
"""


@pytest.fixture
def read(tmp_path):
    """Writes a week's file, and a job beside it, and reads the week."""

    def written(text: str, job: str = JOB) -> WeekRequest:
        (tmp_path / "jobs").mkdir(exist_ok=True)
        (tmp_path / "jobs" / "signet.toml").write_text(job, encoding="utf-8")
        path = tmp_path / "week.toml"
        path.write_text(text, encoding="utf-8")
        return read_week(path, now=MONDAY, zone=LISBON, usual_weight_g=lambda flask, pattern: 12.5 if flask else 9.0)

    return written


def test_what_the_week_says_of_itself_arrives(read):
    week = read(WEEK)
    assert (week.title, week.days_off, week.bag_damp, week.wait_max_min) == ("Before the fair", ("Sunday",), True, 240)
    assert week.work_to == time(21)
    assert week.start_at == datetime(2027, 3, 2, 9, 0, tzinfo=UTC)
    assert len(week.runs) == 3


def test_a_run_holds_the_keys_of_a_job_file_and_its_own(read):
    bands, gold, _ = read(WEEK).runs
    assert (bands.name, bands.pieces_count, bands.kinds_count) == ("Heddle bands", 12, 3)
    assert bands.pour_at == datetime(2027, 3, 5, 10, 0, tzinfo=UTC)
    assert (bands.request.alloy, bands.request.flask) == ("sterling-925", "76x100")
    assert (gold.flasks_count, gold.kiln, gold.request.weight_g) == (2, "small", 20.5)
    assert gold.pour_by == datetime(2027, 3, 6, 17, 0, tzinfo=UTC)
    assert gold.ready_at == datetime(2027, 3, 3, 10, 0, tzinfo=UTC)


def test_runs_may_be_fired_apart_and_have_numbers_of_their_own(read):
    week = read(
        WEEK.replace("bag_damp = true", "bag_damp = true\nfire_apart = true").replace(
            "pieces_count = 12", "pieces_count = 12\nnumber = 14"
        )
    )
    assert week.fire_apart is True
    assert [run.number for run in week.runs] == [14, None, None]
    assert read(WEEK).fire_apart is False, "without a word they share"


@pytest.mark.parametrize(
    ("number", "says"),
    [("0", "number"), ('"7a"', "number"), ('14\n[[runs]]\nalloy = "x"\nnumber = 14', "two runs have the number 14")],
)
def test_a_number_that_is_none_or_stands_twice_is_told(read, number, says):
    with pytest.raises(BadDataError, match=says):
        read(f'[[runs]]\nalloy = "sterling-925"\nnumber = {number}\n')


def test_a_run_without_a_weight_is_a_usual_tree_and_one_with_it_is_not(read):
    bands, gold, signet = read(WEEK).runs
    assert (bands.request.weight_g, bands.usual_weight) == (12.5, True)
    assert (gold.usual_weight, signet.usual_weight) == (False, False)


def test_a_run_can_be_a_job_file_in_its_own_folder(read, tmp_path):
    signet = read(WEEK).runs[2]
    assert signet.name == "A signet"
    assert signet.request.pieces[0].file == tmp_path / "jobs" / "signet.stl"
    assert signet.pour_at == datetime(2027, 3, 5, 11, 0, tzinfo=UTC)
    assert signet.request.pour_at is None, "the week says when"


def test_what_the_week_says_of_a_job_wins(read):
    week = read(WEEK.replace('job = "jobs/signet.toml"', 'job = "jobs/signet.toml"\nname = "Mine"\npour_at = "Thursday 15:00"'))
    assert week.runs[2].name == "Mine"
    assert week.runs[2].pour_at.day == 4


def test_a_job_file_alone_is_a_week_of_one_run(read):
    week = read(JOB)
    assert len(week.runs) == 1
    assert week.runs[0].name == "A signet"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('alloy = "sterling-925"', "", "runs.1: alloy is missing"),
        ("pieces_count = 12", "pieces_count = -1", "runs.1: pieces_count"),
        ("flasks_count = 2", "flasks_count = 13", "runs.2: flasks_count"),
        ("pieces_count = 12", "peices_count = 12", "peices_count: unknown key"),
        ('"Friday 10:00"', '"Frday 10:00"', "the nearest is Friday"),
        ('"Friday 10:00"', '"Friday"', "not a date and time"),
        ('title = "Before', 'titel = "Before', "titel: unknown key (nearest: title)"),
        ("bag_damp = true", "bag_damp = 3", "bag_damp"),
        ("wait_max_min = 240", "wait_max_min = -5", "wait_max_min"),
        ('job = "jobs/signet.toml"', 'job = "jobs/none.toml"', "There is no job file"),
        ('job = "jobs/signet.toml"', 'job = "jobs/signet.toml"\nflask = "64x64"', "flask: a run that names a job file"),
        ('job = "jobs/signet.toml"', "job = 3", "write the name of a job file"),
        ('flask = "76x100"', "flask = 76", "flask"),
        ("weight_g = 20.5", "weight_g = -1", "weight_g"),
    ],
)
def test_a_week_that_does_not_say_what_it_must_is_told_where(read, old, new, says):
    assert old in WEEK
    with pytest.raises(PourwellError) as told:
        read(WEEK.replace(old, new, 1))
    assert says in str(told.value)


@pytest.mark.parametrize("text", ["runs = 3", "runs = []", "runs = [1]"])
def test_runs_that_are_none_are_told(read, text):
    with pytest.raises(BadDataError, match="runs"):
        read(text)


def test_a_file_that_is_missing_or_no_toml_is_told(read, tmp_path):
    with pytest.raises(BadDataError, match="is not a TOML file"):
        read("title = ")
    with pytest.raises(BadFileError, match="There is no file"):
        read_week(tmp_path / "none.toml", now=MONDAY, zone=LISBON, usual_weight_g=lambda *_: 1.0)


def test_a_moment_without_an_hour_is_told(read):
    with pytest.raises(BadRequestError, match="has no hour"):
        read(WEEK.replace('"Friday 10:00"', '"2027-03-05"'))


@pytest.mark.parametrize(("text", "hour"), [("21:00", time(21)), ("7:30", time(7, 30)), (" 08:05", time(8, 5))])
def test_an_hour_of_the_day_is_read(text, hour):
    assert read_hour(text) == hour


@pytest.mark.parametrize("text", ["25:00", "nine", ""])
def test_what_is_no_hour_is_told(text):
    with pytest.raises(BadDataError, match="no hour of the day"):
        read_hour(text)


def test_a_name_with_a_line_break_is_refused_before_anything_is_computed() -> None:
    request = build_request({"alloy": "a", "weight_g": 12.5}, where="here")
    with pytest.raises(BadDataError, match="here: name: a line break"):
        build_run({"name": "one\ntwo", "request": request}, where="here")
    with pytest.raises(BadDataError, match="here: title: a line break"):
        build_week({"title": "one\x1b[31m", "runs": [{"request": request}]}, where="here")
