"""What the desk has done with logs: figures as on the command line, strangers' words as text, refusals in words of a page."""

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from pourwell.app.calibrating import LogWish, Told, calibrate_log
from pourwell.app.calibrating_keep import keep_told
from pourwell.app.calibrating_scale import ScaleWish, calibrate_weighed
from pourwell.app.calibrating_words import Value
from pourwell.app.measuring import GivenLog
from pourwell.app.measuring_work import FIRST, LONGEST_CELL, POINTS, read_log, told_data, weigh, work_out
from pourwell.errors import BadFileError, BadRequestError
from pourwell.files.plan_json import plain
from pourwell.materials.calibration import Calibration, to_toml
from tests.unit.app.firing_logs import kiln_log

NOW = datetime(2026, 11, 26, 7, 40, tzinfo=UTC)
KILN_LOG = GivenLog(file="firing.csv", content=kiln_log())
ALL = {"columns": (), "unit": None, "time_unit": None}


def read(content, **wish):
    return read_log(GivenLog(file="firing.csv", content=content), ALL | wish, tell=lambda _: None)


def table(header, rows=60):
    """A log in which each reading column climbs from room to glow."""
    columns = header.count(",")
    lines = [f"{8 + m // 60:02d}:{m % 60:02d}" + f",{20 + 10 * m}" * columns for m in range(rows)]
    return "\n".join([header, *lines]).encode()


def test_a_log_on_the_desk_gives_the_very_values_and_files_of_the_command_line(tmp_path):
    path = tmp_path / "firing.csv"
    path.write_bytes(kiln_log())
    told, said = calibrate_log(path, LogWish(), now=NOW), []
    answer = work_out(tmp_path, KILN_LOG, {"wish": {}, "now": NOW}, tell=said.append)
    data = answer["data"]
    assert [(row["what"], row["figure"]) for row in data["values"]] == [(value.what, value.figure[0]) for value in told.values]
    kept = [to_toml(Calibration.model_validate(one)) for one in data["calibrations"]]
    assert kept == [one.read_bytes() for one in keep_told(told, folder=tmp_path)]
    assert sorted(answer["files"]) == ["log-against-model.png", "log-against-model.svg"]
    assert answer["files"]["log-against-model.svg"] == told.picture.svg
    assert json.loads(json.dumps(plain(data)))["files"] == ["kiln-2026-11-26.toml"]
    assert said == ["Reading the log", "Drawing it"]


def test_a_weighing_on_the_desk_gives_the_very_values_of_the_command_line(tmp_path):
    wish = {"weighed": "before=1364.3,after=1155,empty=600,pattern=10", "flask": "76x100", "resolution_g": 0.1, "stood_h": 3.0}
    data = weigh(tmp_path, wish, NOW, tell=lambda _: None)
    told = calibrate_weighed(ScaleWish(**wish), now=NOW)
    assert told.values[0].figure == ("0.81 ± 0.05", ""), "the command line has it as a share"
    shown = data["values"][0]
    assert (shown["figure"], shown["unit"]) == ("81 ± 5", "%")
    assert shown["says"].startswith("160 g of 196 g as mixed; uncertain by water ratio 2.6 %")
    assert [Calibration.model_validate(one) for one in data["calibrations"]] == list(told.calibrations)
    assert data["curves"] == []


@pytest.mark.parametrize(
    ("measured", "off", "figure", "unit"),
    [(True, 0.015, "85 ± 3", "%"), (True, 0.0001, "85 ± 1", "%"), (True, 0.0, "85", "%"), (False, 0.0, "not told", "")],
)
def test_the_water_of_a_log_is_told_in_percent_its_band_too(measured, off, figure, unit):
    """Twice the standard uncertainty, as everywhere; below one percent none is claimed."""
    value = Value(
        key="water_ratio", kind="flask", what="water", value=0.85, uncertainty=off, low=0.8, high=1.0, unit="1", measured=measured,
        remark="of the free water as mixed; within the default band of 0.80 to 1.00, 3 times narrower",
    )  # fmt: skip
    (shown,) = told_data(Told(values=(value,), calibrations=()))["values"]
    assert (shown["figure"], shown["unit"]) == (figure, unit)
    assert shown["says"] == "of the free water as mixed; within the default band of 80 to 100 %, 3 times narrower"
    film = replace(value, key="film_ratio")
    assert told_data(Told(values=(film,), calibrations=()))["values"][0]["says"].endswith("band of 0.80 to 1.00, 3 times narrower")


def test_columns_are_told_with_their_first_cells_and_where_their_headings_put_them():
    data = read(table("Time,Kiln,Core,T3"))
    assert [(c["number"], c["name"]) for c in data["columns"]] == [(2, "Kiln"), (3, "Core"), (4, "T3")]
    assert data["columns"][0]["first"] == ["20", "30", "40"]
    assert len(data["time"]["first"]) == FIRST
    assert data["places"] == {"2": "kiln", "3": "core"}
    assert [(c["place"], c["read"][-1]) for c in data["curves"]] == [("kiln", [0.9833, 610.0]), ("core", [0.9833, 610.0])]
    assert (data["rows_count"], data["hours"]) == (60, pytest.approx(59 / 60))


def test_where_no_heading_tells_all_columns_are_drawn_so_that_one_sees_which_is_which():
    data = read(table("Time,T1,T2"))
    assert data["places"] == {}
    assert [(c["place"], c["name"]) for c in data["curves"]] == [("", "T1"), ("", "T2")]


def test_a_long_log_is_thinned_out_for_the_page():
    rows = ["Time (s),Kiln", *(f"{s},{20 + s * 0.01:.2f}" for s in range(5000))]
    (curve,) = read("\n".join(rows).encode())["curves"]
    assert POINTS / 2 < len(curve["read"]) <= POINTS


@pytest.mark.parametrize(
    ("content", "wish", "says"),
    [
        (table("Time,Kiln left,Kiln right"), {}, "2 columns that may be the kiln's"),
        (table("Time,Kiln").replace(b"08:00,20", b"08:00,68").replace(b",30", b",78"), {}, "--unit"),
        (table("Time,Kiln,Core"), {"columns": ("kiln=2", "core=2")}, "named for two places"),
    ],
)
def test_readings_that_cannot_be_used_so_leave_the_columns_to_be_chosen_anew(content, wish, says):
    data = read(content, **wish)
    assert says in data["refused"]
    assert data["columns"]
    assert data["curves"] == []


NO_TIME = b"\n".join([b"n,Kiln", *(b"%d,%d" % (m, 20 + m) for m in range(60))])


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"\x00\x01", "is no text"), (b"words alone\nand more", "no table of times"), (NO_TIME, "no column is a time")],
)
def test_what_is_no_log_is_refused_in_a_sentence(content, says):
    with pytest.raises(BadFileError, match=says):
        read(content)


def test_words_of_a_stranger_come_in_one_line_that_is_not_too_long():
    data = read(table(f"Time,<img src=x onerror=alert(1)>\x1b[31m{'x' * 300},Kiln"))
    name = data["columns"][0]["name"]
    assert name.startswith("<img src=x onerror=alert(1)> [31m")
    assert len(name) == LONGEST_CELL


def test_a_log_that_tells_nothing_of_the_kiln_is_refused_as_on_the_command_line(tmp_path):
    wish = {"columns": ("core=2",), "flask": "50x60"}
    with pytest.raises(BadRequestError, match="no column of the kiln"):
        work_out(tmp_path, KILN_LOG, {"wish": wish, "now": NOW}, tell=lambda _: None)


def test_what_the_studio_wrote_itself_is_said_in_words_of_a_page(tmp_path):
    (tmp_path / "studio.toml").write_text("[kiln]\nfall_c_per_h = 90\n", encoding="utf-8")
    data = work_out(tmp_path, KILN_LOG, {"wish": {}, "now": NOW}, tell=lambda _: None)["data"]
    fall = next(row for row in data["values"] if row["what"].startswith("falls"))
    assert fall["says"].endswith("your equipment says 90 K/h, and wins")
