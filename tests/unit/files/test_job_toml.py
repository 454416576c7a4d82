"""The job file: the same request as on the command line."""

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pourwell.errors import BadDataError, BadFileError, BadRequestError
from pourwell.files.job_toml import build_request, read_job

ZONE = ZoneInfo("Europe/Lisbon")


def job(folder: Path, text: str) -> Path:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_example_of_the_manual_is_read(tmp_path: Path) -> None:
    manual = (Path(__file__).parents[3] / "docs" / "job-file.md").read_text(encoding="utf-8")
    examples = [part.partition("```")[0] for part in manual.split("```toml")[1:]]
    assert len(examples) == 2
    whole = read_job(job(tmp_path, examples[0]), zone=ZONE)
    assert whole.pieces[0].file == tmp_path / "patterns/band.stl"
    assert whole.pieces[0].count == 2
    assert whole.pour_at == datetime(2027, 3, 5, 10, tzinfo=UTC)
    assert read_job(job(tmp_path, examples[1]), zone=ZONE).weight_g == pytest.approx(41.2)


def test_a_moment_of_toml_is_read_on_the_studios_clock_or_with_its_own_offset(tmp_path: Path) -> None:
    local = 'alloy = "a"\nweight_g = 10\npour_at = 2027-07-01T10:00:00\n'
    assert read_job(job(tmp_path, local), zone=ZONE).pour_at == datetime(2027, 7, 1, 9, tzinfo=UTC)
    offset = 'alloy = "a"\nweight_g = 10\npour_at = 2027-07-01T10:00:00+03:00\n'
    assert read_job(job(tmp_path, offset), zone=ZONE).pour_at == datetime(2027, 7, 1, 7, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('alloy = "a"\n', "pattern files or the weight"),
        ('alloy = "a"\nweight_g = -1\n', "weight_g"),
        ('alloy = "a"\nweight_g = 10\nwait = 3\n', "wait"),
        ('alloy = "a"\nweight_g = 10\nbase_g = 12\n', "weigh as much"),
        ("weight_g = 10\n", "alloy"),
        ('alloy = "a"\nreturns_fraction = 1.2\nweight_g = 5\n', "returns_fraction"),
        ('alloy = "a"\n[[pieces]]\nfile = "x.stl"\ncount = 0\n', "count"),
        ('alloy = "a"\n[[pieces]]\nfile = "x.stl"\nunits = "ell"\n', "units"),
        ("alloy = ", "TOML"),
    ],
)
def test_a_job_that_cannot_be_is_refused_with_the_key(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(BadDataError) as caught:
        read_job(job(tmp_path, text), zone=ZONE)
    assert says in str(caught.value)
    assert "job.toml" in caught.value.what


def test_a_job_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadFileError, match="no job file"):
        read_job(tmp_path / "none.toml", zone=ZONE)
    with pytest.raises(BadFileError, match="cannot be read"):
        read_job(tmp_path, zone=ZONE)


def test_a_wrong_pour_time_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadRequestError, match="not a date"):
        read_job(job(tmp_path, 'alloy = "a"\nweight_g = 10\npour_at = "soon"\n'), zone=ZONE)


def test_a_request_is_built_from_plain_values() -> None:
    request = build_request({"alloy": "a", "weight_g": 12.5, "base_g": 2.5}, where="here")
    assert request.weight_g == pytest.approx(12.5)
    with pytest.raises(BadDataError, match="here"):
        build_request({"alloy": "a"}, where="here")


@pytest.mark.parametrize("key", ["title", "flask", "alloy"])
def test_a_text_with_a_line_break_is_refused_before_anything_is_computed(key: str) -> None:
    with pytest.raises(BadDataError, match=f"here: {key}: a line break"):
        build_request({"alloy": "a", "weight_g": 12.5, key: "one\ntwo"}, where="here")


@pytest.mark.parametrize("says", ['"ring (2)"', '["ring (2)"]'])
def test_one_body_that_is_left_out_may_stand_alone(tmp_path: Path, says: str) -> None:
    asked = read_job(job(tmp_path, f'alloy = "sterling-925"\n[[pieces]]\nfile = "ring.stl"\nleave_out = {says}\n'), zone=ZONE)
    assert asked.pieces[0].leave_out == ("ring (2)",)
