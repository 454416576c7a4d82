"""From words of the command line to a request, and from a request to a folder, whole or not at all."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app import planning
from pourwell.app.planning import Wishes, Written, plan_and_write, request_of, split_count, unprintable
from pourwell.app.shop import open_shop
from pourwell.errors import BadDataError, BadRequestError, OutputError, UnknownNameError
from pourwell.request import Request

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
JOB = """
title = "Two bands"
alloy = "gold-585-yellow"
returns_fraction = 0.4
pour_at = "2027-03-05 10:00"
[[pieces]]
file = "patterns/band.stl"
count = 2
size = "ISO 54"
units = "mm"
[[pieces]]
file = "patterns/stud.stl"
"""


def asked(*files: str, **words: object) -> Request:
    return request_of(files, Wishes(**words), open_shop())  # type: ignore[arg-type]


def by_weight(out: Path, *, replace: bool = False, **words: object) -> Written:
    """A plan of the cheapest kind, written."""
    said = {"weight_g": 14.3, "wax_g": 2.0, "alloy": "sterling-925", "flask": "76x100", **words}
    return plan_and_write([], Wishes(**said), out=out, replace=replace, now=NOW)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "file", "count"),
    [
        ("ring.stl", "ring.stl", 1),
        ("ring.stl:4", "ring.stl", 4),
        ("ring.stl:012", "ring.stl", 12),
        (r"C:\rings\band.stl", r"C:\rings\band.stl", 1),
        (r"C:\rings\band.stl:6", r"C:\rings\band.stl", 6),
        ("C:/rings/band.stl:6", "C:/rings/band.stl", 6),
        (r"\\bench\share\band.stl:3", r"\\bench\share\band.stl", 3),
        ("set 3:4/ring.stl", "set 3:4/ring.stl", 1),
        ("set:3/ring.stl:2", "set:3/ring.stl", 2),
        ("a:1:2", "a:1", 2),
        ("ring.stl:", "ring.stl:", 1),
        ("ring.stl:two", "ring.stl:two", 1),
        ("ring.stl:2.5", "ring.stl:2.5", 1),
        (":3", ":3", 1),
        ("two\nlines.stl:2", "two\nlines.stl", 2),
    ],
)
def test_a_count_follows_the_last_colon_before_digits(text: str, file: str, count: int) -> None:
    assert split_count(text) == (file, count)


def test_a_file_that_is_really_called_so_is_a_file_and_no_count() -> None:
    Path("ring.stl:4").write_text("")
    assert split_count("ring.stl:4") == ("ring.stl:4", 1)


@pytest.mark.parametrize("count", ["0", "-1", "-20", "000"])
def test_less_than_one_piece_is_refused_with_a_count_to_write(count: str) -> None:
    with pytest.raises(BadRequestError, match=f'"ring.stl:{count}" asks for {int(count)} pieces') as caught:
        split_count(f"ring.stl:{count}")
    assert "ring.stl:2" in caught.value.try_this


def test_words_for_files_hold_for_every_piece() -> None:
    request = asked("a.stl:2", "b.obj", alloy="sterling-925", units="IN", size="US 7")
    assert [(p.file.name, p.count, p.units, p.size) for p in request.pieces] == [
        ("a.stl", 2, "inch", "US 7"),
        ("b.obj", 1, "inch", "US 7"),
    ]


def test_what_is_not_said_keeps_its_default() -> None:
    request = asked("a.stl", alloy="sterling-925")
    assert request == Request(alloy="sterling-925", pieces=({"file": "a.stl"},))
    assert (request.pattern, request.run_number, request.returns_fraction, request.own_alloying) == ("resin", 1, 0.0, False)


def test_a_pour_is_meant_on_the_clock_of_the_studio(studio) -> None:
    studio({"studio.toml": 'time_zone = "Asia/Tokyo"\n'})
    assert asked("a.stl", alloy="sterling-925", pour_at="2027-03-05 10:00").pour_at == datetime(2027, 3, 5, 1, 0, tzinfo=UTC)


@pytest.fixture
def job() -> str:
    Path("job").mkdir()
    Path("job/job.toml").write_text(JOB, encoding="utf-8")
    return "job/job.toml"


def test_files_of_a_job_lie_beside_the_job_file(job: str) -> None:
    request = asked(job)
    assert [p.file.as_posix() for p in request.pieces] == ["job/patterns/band.stl", "job/patterns/stud.stl"]
    assert (request.title, request.alloy, request.returns_fraction) == ("Two bands", "gold-585-yellow", 0.4)


@pytest.mark.parametrize(
    ("word", "value", "key"),
    [
        ("alloy", "sterling-925", "alloy"),
        ("title", "Another", "title"),
        ("returns_fraction", 0.0, "returns_fraction"),
        ("run_number", 12, "run_number"),
        ("flask", "64x64", "flask"),
        ("metal_c", 1000.0, "metal_c"),
        ("flask_c", 500.0, "flask_c"),
        ("own_alloying", True, "own_alloying"),
        ("stones", True, "stones"),
        ("pattern", "wax-injection", "pattern"),
        ("investment", "gypsum-stone", "investment"),
        ("programme", "mine", "programme"),
    ],
)
def test_a_word_on_the_command_line_wins_over_the_job_file_and_changes_nothing_else(
    job: str, word: str, value: object, key: str
) -> None:
    before, now = asked(job), asked(job, **{word: value})
    assert getattr(now, key) == value
    assert now.model_copy(update={key: getattr(before, key)}) == before


def test_size_and_units_on_the_command_line_win_for_every_piece_of_a_job(job: str) -> None:
    assert [(p.size, p.units) for p in asked(job).pieces] == [("ISO 54", "mm"), (None, None)]
    assert [(p.size, p.units) for p in asked(job, size="US 7").pieces] == [("US 7", "mm"), ("US 7", None)]
    assert [(p.size, p.units) for p in asked(job, units="inch").pieces] == [("ISO 54", "inch"), (None, "inch")]
    assert [p.count for p in asked(job, units="inch").pieces] == [2, 1]


def test_a_base_of_nought_on_the_command_line_wins_too() -> None:
    Path("w.toml").write_text('alloy = "sterling-925"\nweight_g = 41.2\nbase_g = 26.9\nwax_g = 3\n')
    assert asked("w.toml").base_g == 26.9
    assert (asked("w.toml", base_g=0.0).base_g, asked("w.toml", base_g=0.0).wax_g) == (0.0, 3.0)


@pytest.mark.parametrize(
    ("files", "words", "says"),
    [
        ((), {"alloy": "sterling-925"}, "nothing to cast"),
        (("a.stl",), {}, "No alloy is named"),
        (("a.stl",), {"weight_g": 3.0, "alloy": "sterling-925"}, "not both"),
        (("a.stl",), {"alloy": "sterling-925", "run_number": 0}, "run_number"),
        (("a.stl:501",), {"alloy": "sterling-925"}, "count"),
        (("a.stl",), {"alloy": "sterling-925", "returns_fraction": -0.1}, "returns_fraction"),
        (("a.stl",), {"alloy": "sterling-925", "units": "ell"}, "mm, cm, m, um, inch, foot"),
        (("a.stl",), {"alloy": "sterling-925", "pour_at": "Friday"}, "YYYY-MM-DD HH:MM"),
        (("a.stl",), {"alloy": "sterling-925", "pour_at": "2027-02-29 10:00"}, "2027-02-29"),
        (("a.stl",), {"alloy": "sterling-925", "pour_at": "2027-03-05"}, "no hour"),
        ((), {"alloy": "sterling-925", "weight_g": 0.0}, "weight_g"),
        ((), {"alloy": "sterling-925", "weight_g": 20.0, "wax_g": -1.0}, "wax_g"),
    ],
)
def test_a_request_that_makes_no_sense_is_refused_in_a_sentence(files: tuple[str, ...], words: dict, says: str) -> None:
    with pytest.raises((BadRequestError, BadDataError)) as caught:
        asked(*files, **words)
    assert says in str(caught.value)
    assert caught.value.try_this


def test_a_plan_by_weight_is_written_and_given_back_as_data(tmp_path: Path) -> None:
    written = by_weight(tmp_path / "run")
    assert [p.name for p in written.paths] == ["plan.json", "run-sheet.pdf", "day.ics", "job.json"]
    assert all(p.is_file() for p in written.paths)
    assert json.loads(written.paths[0].read_text(encoding="utf-8")) == written.data[0]
    assert not written.stopped
    assert unprintable(written.plans) == ""


def test_a_pour_in_the_past_is_held_against_the_clock_that_was_handed_in(tmp_path: Path) -> None:
    """One minute before now is refused, however the machine's clock stands; nothing is left."""
    with pytest.raises(BadRequestError, match="in the past") as caught:
        by_weight(tmp_path / "run", pour_at="2027-03-01T08:59+00:00")
    assert "2027-03-01" in caught.value.why
    assert list(tmp_path.glob("run*")) == []


def test_an_older_plan_is_replaced_only_when_asked(tmp_path: Path) -> None:
    by_weight(tmp_path / "run")
    with pytest.raises(OutputError, match="exists already"):
        by_weight(tmp_path / "run", weight_g=20.0)
    assert json.loads((tmp_path / "run/plan.json").read_text())["weighed"]["pattern_g"] == pytest.approx(14.3)
    by_weight(tmp_path / "run", weight_g=20.0, replace=True)
    assert json.loads((tmp_path / "run/plan.json").read_text())["weighed"]["pattern_g"] == pytest.approx(20)


@pytest.fixture
def broken_pen(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """The calendar, third of the files, cannot be made."""
    calls: list[str] = []

    def break_off(plan: object) -> bytes:
        calls.append("calendar")
        raise KeyboardInterrupt

    monkeypatch.setattr(planning, "calendar", break_off)
    return calls


@pytest.mark.parametrize("older", [False, True])
def test_a_plan_that_breaks_off_while_it_is_written_leaves_all_as_it_was(
    tmp_path: Path, older: bool, request: pytest.FixtureRequest
) -> None:
    if older:
        by_weight(tmp_path / "out/run")
    before = {p: p.read_bytes() for p in tmp_path.rglob("out/**/*") if p.is_file()}
    calls = request.getfixturevalue("broken_pen")
    with pytest.raises(KeyboardInterrupt):
        by_weight(tmp_path / "out/run", weight_g=20.0, replace=older)
    assert calls == ["calendar"]
    assert {p: p.read_bytes() for p in tmp_path.rglob("out/**/*") if p.is_file()} == before


def test_a_name_that_the_library_does_not_hold_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(UnknownNameError) as caught:
        by_weight(tmp_path / "run", alloy="sterling-952")
    assert caught.value.near[0] == "sterling-925"
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize("place", ["run", "run/patterns", "run/deep/deeper"])
def test_a_job_is_never_replaced_by_its_own_plan(tmp_path: Path, place: str) -> None:
    """The folder holds a plan, so it is ours to replace; but the job file in it would be gone."""
    by_weight(tmp_path / "run")
    job = tmp_path / place / "job.toml"
    job.parent.mkdir(exist_ok=True, parents=True)
    job.write_text('alloy = "sterling-925"\nweight_g = 14\n')
    with pytest.raises(OutputError, match="lies in the folder"):
        plan_and_write([str(job)], Wishes(), out=tmp_path / "run", replace=True, now=NOW)
    assert job.is_file()
    written = plan_and_write([str(job)], Wishes(), out=tmp_path / "run-2", replace=True, now=NOW)
    assert written.paths[0].is_file()


def test_a_plan_never_replaces_the_studio_it_is_made_with(studio, tmp_path: Path) -> None:
    folder = studio({"studio.toml": "altitude_m = 5\n", "plan.json": "{}"})
    with pytest.raises(OutputError, match="made from it"):
        by_weight(folder, replace=True)
    assert (folder / "studio.toml").is_file()
