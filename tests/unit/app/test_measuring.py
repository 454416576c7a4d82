"""Logs that a desk holds: called by what is in them, worked out beside the page, kept and taken back; and weighings."""

from datetime import UTC, datetime

import pytest

from pourwell.app.desk import Desk
from pourwell.app.desk_words import MEASURING
from pourwell.app.measuring import MOST, GivenLog
from pourwell.errors import BadFileError, BadRequestError, OutputError
from pourwell.files.own_toml import REMOVED
from pourwell.materials.calibration import FOLDER, load_calibrations
from tests.unit.app.fake_crew import FakeCrew

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
KILN = {
    "kind": "kiln", "measured_at": NOW.isoformat(), "way": "log", "fitted_from": "the kiln alone",
    "fall_c_per_h": {"value": 107.0, "uncertainty": 2.0, "unit": "K/h"},
}  # fmt: skip
FLASK = {
    "kind": "flask", "of": "50x60", "measured_at": NOW.isoformat(), "way": "weighing", "fitted_from": "weighed",
    "water_ratio": {"value": 0.8, "uncertainty": 0.03, "unit": "1"},
}  # fmt: skip


def answer(*calibrations, doubtful=""):
    return {"data": {"calibrations": list(calibrations), "doubtful": doubtful}, "files": {"log-against-model.png": b"PNG"}}


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


@pytest.fixture
def log(desk):
    return desk.measuring.take_in(b"Time,Kiln", "firing.csv")


def test_a_log_is_held_under_a_key_of_its_content_and_nowhere_on_the_disk(desk, log):
    before = sorted(path.name for path in desk.folder.iterdir())
    assert desk.measuring.take_in(b"Time,Kiln", "firing.csv") is log
    assert desk.measuring.take_in(b"Time,Core", "firing.csv").key != log.key
    assert desk.measuring.take_in(b"Time,Kiln", "other.csv").key != log.key
    assert desk.measuring.get(log.key) is log
    assert sorted(path.name for path in desk.folder.iterdir()) == before


def test_a_desk_that_is_begun_anew_calls_the_same_log_the_same(desk, log, tmp_path):
    other = Desk(tmp_path / "other", lambda: NOW, crew=FakeCrew())
    assert other.measuring.get(log.key) is None
    assert other.measuring.take_in(b"Time,Kiln", "firing.csv").key == log.key
    other.close()


def test_an_empty_log_is_refused_and_only_the_last_few_are_held(desk, log):
    with pytest.raises(BadFileError, match="is empty"):
        desk.measuring.take_in(b"", "firing.csv")
    for number in range(MOST):
        desk.measuring.take_in(f"{number}".encode(), "more.csv")
    assert desk.measuring.get(log.key) is None


def test_a_log_is_read_in_the_quick_lane_and_worked_out_in_the_long_one(desk, log):
    desk.measuring.read(log, {"columns": ()})
    assert desk.crew.asked == [(f"{MEASURING}:read_log", (log.given, {"columns": ()}))]
    job = desk.measuring.work_out(log, {"flask": "50x60"})
    assert (job.title, job.call, job.about) == ("firing.csv", f"{MEASURING}:work_out", ("log", log.number))
    assert job.given == (desk.folder, log.given, {"wish": {"flask": "50x60"}, "now": NOW})
    assert log.given == GivenLog(file="firing.csv", content=b"Time,Kiln")
    assert desk.measuring.being_worked_out(log) is job
    desk.crew.do(answer(KILN))
    assert desk.measuring.being_worked_out(log) is None
    assert (log.told.wish, log.told.files) == ({"flask": "50x60"}, {"log-against-model.png": b"PNG"})


def test_a_second_wish_stops_the_first(desk, log):
    first = desk.measuring.work_out(log, {})
    desk.measuring.work_out(log, {"flask": "50x60"})
    assert not first.wanted


def test_kept_it_counts_and_taken_back_it_does_not(desk):
    paths = desk.measuring.keep(answer(KILN, FLASK)["data"])
    assert [path.name for path in paths] == ["kiln-2026-11-26.toml", "flask-50x60-2026-11-26.toml"]
    assert [one.kind for one in load_calibrations(desk.folder)] == ["flask", "kiln"]
    desk.measuring.take_back(paths)
    assert load_calibrations(desk.folder) == ()
    assert len(list((desk.folder / REMOVED / FOLDER).iterdir())) == 2


def test_one_that_is_gone_already_is_no_fault_when_it_is_taken_back(desk):
    paths = desk.measuring.keep(answer(KILN, FLASK)["data"])
    paths[0].unlink()
    desk.measuring.take_back(paths)
    assert load_calibrations(desk.folder) == ()


def test_what_cannot_be_taken_back_whole_stays_whole(desk, monkeypatch):
    import pourwell.app.measuring as measuring

    paths, real, calls = desk.measuring.keep(answer(KILN, FLASK)["data"]), measuring.set_aside, []

    def failing(path, folder):
        calls.append(path)
        if len(calls) == 2:
            raise OutputError("It cannot be removed.")
        return real(path, folder)

    monkeypatch.setattr(measuring, "set_aside", failing)
    with pytest.raises(OutputError):
        desk.measuring.take_back(paths)
    assert all(path.exists() for path in paths)


@pytest.mark.parametrize(
    ("data", "says"), [(answer(KILN, doubtful="It misses."), "not kept"), (answer(), "Nothing was measured that could be kept")]
)
def test_what_is_doubtful_or_nothing_is_not_kept(desk, data, says):
    with pytest.raises(BadRequestError, match=says):
        desk.measuring.keep(data["data"])
    assert not (desk.folder / FOLDER).exists()


def test_a_weighing_is_asked_of_the_quick_lane(desk):
    desk.measuring.weigh({"flask": "76x100"})
    assert desk.crew.asked == [(f"{MEASURING}:weigh", (desk.folder, {"flask": "76x100"}, NOW))]
