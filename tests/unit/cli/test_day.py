"""What `pourwell day` prints, and its exit codes."""

import re
import sys
from pathlib import Path

import pytest

WEEK = """
title = "Before the fair"
start_at = "2030-03-04 08:00"
[[runs]]
name = "bands"
alloy = "sterling-925"
flask = "76x100"
[[runs]]
name = "signets"
alloy = "gold-585-yellow"
flask = "64x64"
"""


@pytest.fixture
def week(pourwell, tmp_path):
    path = tmp_path / "week.toml"
    path.write_text(WEEK, encoding="utf-8")
    return str(path)


def test_the_last_pour_stands_first_then_pours_kilns_and_the_work_by_days(pourwell, week):
    answer = pourwell("day", week)
    assert answer.code == 0
    text = answer.out
    assert "Before the fair  last pour Tuesday 05 March, 10:00: nothing sooner fits." in text
    assert "Many controllers lose their programme when the mains goes" in text
    assert "kiln on again, by hand to 540 °C and hold" in " ".join(text.split())
    places = [
        text.index(words)
        for words in (
            "pour signets",
            "on for runs 2, 1",
            "type for firing 1",
            "1  +90 °C/h to 150 °C",
            "Monday 04 March",
            "Kiln on",
            "Tuesday 05 March\n",
            "Melt",
        )
    ]
    assert places == sorted(places)
    assert text.count("A schedule on the bag") == 1


def test_json_is_data_with_a_schema(pourwell, week):
    answer = pourwell("day", week, "--json")
    assert not re.search(r"\{[a-z]:", answer.out), "what a program reads has its quantities written out"
    data = answer.data
    assert (data["schema"], data["schema_version"]) == ("pourwell.day", 1)
    assert data["runs"][1]["pour_at"].startswith("2030-03-05T08:40")
    codes = {finding["code"] for finding in data["findings"]}
    assert "week-overnight" in codes


def test_a_folder_is_written_and_told(pourwell, week, tmp_path):
    answer = pourwell("day", week, "--out", tmp_path / "out")
    assert "day.pdf" in answer.out
    assert (tmp_path / "out" / "day.png").is_file()


def test_a_run_without_a_file_is_asked_for_by_options(pourwell):
    answer = pourwell("day", "--alloy", "sterling-925", "--flask", "64x64", "--flasks", 2, "--start", "2030-03-04 08:00", "--json")
    assert [run["name"] for run in answer.data["runs"]] == ["sterling silver 1", "sterling silver 2"]


def test_runs_are_fired_apart_when_that_is_asked_for(pourwell, tmp_path):
    path = tmp_path / "week.toml"
    entry = '[[runs]]\nname = "{}"\nalloy = "sterling-925"\nflask = "64x64"\nnumber = {}\n'
    path.write_text('start_at = "2030-03-04 08:00"\n' + entry.format("studs", 12) + entry.format("pins", 7), encoding="utf-8")
    data = pourwell("day", path, "--fire-apart", "--json").data
    assert sorted(load["runs"] for load in data["loads"]) == [[7], [12]]
    first, other = sorted(data["loads"], key=lambda load: load["on_at"])
    assert other["on_at"] >= first["free_at"]


def test_when_nothing_fits_it_ends_with_two_and_says_what_to_give_up(pourwell, week):
    answer = pourwell("day", week, "--no-overnight")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.splitlines()[0] == "Nothing fits."
    assert "  allow firing overnight: first pour Tuesday 05 March, 08:40" in answer.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "Usage"),
        (("--alloy", "sterling-952"), 'No alloy is called "sterling-952"'),
        (("--alloy", "sterling-925", "--pour-at", "Frday 10:00"), "the nearest is Friday"),
        (("--alloy", "sterling-925", "--pour-at", "2020-01-01 10:00"), "lies in the past"),
        (("--alloy", "sterling-925", "--flask", "152x250", "--work-to", "x"), "no hour of the day"),
        (("none.toml",), "There is no file none.toml"),
        (("--alloy", "sterling-925", "--wait", 100000000000), "wait_max_min"),
    ],
)
def test_a_bad_request_is_one_sentence(pourwell, words, says):
    answer = pourwell("day", *words)
    assert says in answer.err + answer.out
    assert "Traceback" not in answer.err


def test_odd_hours_are_told_where_there_are_comfortable_ones(pourwell, week, tmp_path, monkeypatch):
    (tmp_path / "studio").mkdir()
    (tmp_path / "studio" / "studio.toml").write_text('easy_from = "09:00"\neasy_to = "17:00"\n', encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "studio"))
    assert "min of work at odd hours" in pourwell("day", week).out


def test_other_commands_do_not_load_the_solver(pourwell):
    """Its import takes longer than most commands do."""
    import subprocess

    code = "import sys; import pourwell.cli.main, pourwell.app.planning, pourwell.app.days; sys.exit('ortools' in sys.modules)"
    root = Path(__file__).parents[3]
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=root).returncode == 0


def test_a_stop_of_the_burnout_ends_a_day_with_three(pourwell, tmp_path, monkeypatch):
    (tmp_path / "studio").mkdir()
    (tmp_path / "studio" / "studio.toml").write_text("[kiln]\nhottest_c = 650\n", encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "studio"))
    answer = pourwell("day", "--alloy", "sterling-925", "--flask", "64x64", "--start", "2030-03-04 08:00")
    assert answer.code == 3
    assert "the kiln to 650 °C" in " ".join(answer.out.split())


def test_a_pour_is_told_with_its_alloy_where_its_name_does_not_say_it(pourwell, week):
    text = pourwell("day", week).out
    assert "pour bands, sterling silver; flask 76x100" in text
