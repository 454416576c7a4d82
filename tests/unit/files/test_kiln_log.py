"""A log from file to degC and seconds: forms that loggers write, and each fault in a sentence with its line."""

import numpy as np
import pytest

from pourwell.errors import BadFileError
from pourwell.files.kiln_log import find_column, log_of, open_table, reading_columns, time_columns
from pourwell.files.log_table import read_table
from pourwell.units import f_from_c
from tests.unit.files.log_texts import changed, clock, data, text, truth


def read(content, numbers=None, **named):
    table = read_table(content, file="log.csv")
    return log_of(table, numbers or list(reading_columns(table)), **named)


@pytest.mark.parametrize(
    ("line", "says"),
    [("1" + ",2" * 200, "has 201 cells"), ("1," + "2" * 20_000, "has 20002 characters")],
)
def test_a_line_that_no_logger_writes_is_refused_before_it_is_taken_apart(line, says):
    with pytest.raises(BadFileError, match=rf"wide.csv, line 2 {says}"):
        read_table(f"Time,Kiln\n{line}\n{line}\n".encode(), file="wide.csv")


def test_as_many_columns_as_a_large_logger_has_are_read():
    row = ",".join(["8:00", *["20.5"] * 199])
    assert len(read_table(f"{row}\n{row}\n".encode(), file="wide.csv").rows[0]) == 200


def dated(minute):
    return f"2026-11-{26 + (minute >= 240)} {clock(minute)}"


def apart(minute):
    return f"{26 + (minute >= 240)}.11.2026,{clock(minute)}"


@pytest.mark.parametrize(
    "content",
    [
        data(),
        data(header=""),
        data(mark=";", comma=True, header="Zeit;Ofen;Kern"),
        data(mark="\t"),
        data(dated, header="Stamp,Kiln,Core"),
        data(apart, header="Date,Time,Kiln,Core"),
        data(lambda m: str(m), header="Time (min),Kiln,Core"),
        data(lambda m: str(60 * m), header="s,Kiln,Core"),
        data(lambda m: f"{m / 60:.6f}", header="elapsed [h],Kiln,Core"),
        data(lambda m: f"{m // 60}:{m % 60:02d}"),
        data(lambda m: f"{m},{clock(m)}", header="No,Time,Kiln,Core"),
        data(header="Time,Kiln °F,Core °F", turn=f_from_c),
        data(header="Time,Kiln,Core", turn=f_from_c),
    ],
    ids=[
        "plain",
        "bare",
        "semicolons",
        "tabs",
        "dates",
        "apart",
        "minutes",
        "seconds",
        "hours",
        "elapsed",
        "counted",
        "°F",
        "F by value",
    ],
)
def test_one_firing_in_many_forms_is_the_same_firing(content):
    log, (kiln, core) = read(content), truth()
    assert log.times == pytest.approx(60.0 * np.arange(400), abs=0.01)
    assert log.columns[0].readings == pytest.approx(kiln, abs=0.06)
    assert log.columns[1].readings == pytest.approx(core, abs=0.06)


def test_a_log_keeps_names_places_and_digest():
    log = read(data())
    assert [(c.number, c.name) for c in log.columns] == [(2, "Kiln"), (3, "Core")]
    assert log.column(3).name == "Core"
    assert len(log.digest) == 64
    assert log.file == "log.csv"


def test_a_newest_first_log_is_turned_with_its_readings():
    head, *rows = data(dated).decode().strip().split("\n")
    log = read("\n".join([head, *rows[::-1]]).encode())
    assert log.columns[0].readings == pytest.approx(truth()[0])
    assert "newest reading stands first" in log.remarks[0].says


def test_a_fault_in_a_log_that_is_turned_keeps_its_own_line():
    head, *rows = data(dated).decode().strip().split("\n")
    rows = rows[::-1]
    rows[10] = rows[10].rsplit(",", 1)[0] + ",snapped"
    log = read("\n".join([head, *rows]).encode())
    assert [r.line for r in log.remarks if "snapped" in r.says] == [12]


def test_a_column_is_found_by_number_name_or_part_of_it():
    table = read_table(data(header="Time,Kiln left,Core of 76"), file="log.csv")
    assert find_column(table, "2") == 2
    assert find_column(table, "Kiln left") == 2
    assert find_column(table, "core") == 3


@pytest.mark.parametrize("wanted", ["1", "9", "wall", "", "²"])
def test_a_column_that_is_none_or_more_than_one_is_refused_with_those_there_are(wanted):
    with pytest.raises(BadFileError, match="has no column") as caught:
        find_column(read_table(data(), file="log.csv"), wanted)
    assert "2 = Kiln, 3 = Core" in caught.value.why


def test_a_name_that_fits_two_columns_is_none_unless_it_is_whole():
    table = read_table(data(header="Time,Core,Core upper"), file="log.csv")
    assert find_column(table, "core") == 2
    with pytest.raises(BadFileError, match="has no column"):
        find_column(table, "cor")


def test_columns_of_words_counts_and_percents_are_no_readings():
    lines = ["No,Time,Kiln,State,Duty %", *(f"{m},{clock(m)},{20 + m},ramp,{m % 100}" for m in range(60))]
    assert reading_columns(read_table("\n".join(lines).encode(), file="x")) == {3: "Kiln"}


def test_date_and_clock_apart_are_both_the_time():
    assert time_columns(read_table(data(apart, header="Date,Time,Kiln,Core"), file="x")) == (0, 1)


def test_a_table_without_a_time_is_refused():
    with pytest.raises(BadFileError, match="line 2: no column is a time") as caught:
        read(data(lambda m: str(m), header="Value,Kiln,Core"))
    assert "time (min)" in caught.value.try_this


def test_numbers_without_a_unit_take_it_from_the_option():
    content = data(lambda m: str(m), header="Time,Kiln,Core")
    with pytest.raises(BadFileError, match="line 2: nothing says what the time 0 counts"):
        read(content)
    assert read(content, time_unit="min").times[-1] == 399 * 60


def test_a_time_that_is_no_number_is_refused_with_its_line():
    content = data(lambda m: "?" if m == 50 else str(m), header="Time (min),Kiln,Core")
    with pytest.raises(BadFileError, match=r"line 52: '\?' is no time"):
        read(content)


def test_a_cell_that_is_no_number_is_left_out_counted_and_told_by_its_line():
    log = read(changed(30, "20:28,62.0", "20:28,door"))
    assert np.isnan(log.columns[0].readings[28])
    assert (30, "Kiln: 'door' is no number; one cell is left out.") in [(r.line, r.says) for r in log.remarks]
    assert log.columns[0].known.sum() == 399


def test_a_column_of_words_that_is_asked_for_is_refused():
    lines = ["Time,Kiln,State", *(f"{clock(m)},{20 + m},{'ramp' if m % 3 else m}" for m in range(60))]
    with pytest.raises(BadFileError, match="line 3: 'ramp' in State is no number") as caught:
        read("\n".join(lines).encode(), [3])
    assert "40 of 60 cells" in caught.value.why


def test_a_spike_is_told_by_its_line_and_the_rest_stays():
    log = read(changed(122, ",200.0,", ",999.0,"))
    assert np.isnan(log.columns[0].readings[120])
    assert (122, "Kiln: one spike is left out, first of 999 °C.") in [(r.line, r.says) for r in log.remarks]


@pytest.mark.parametrize("rows", [3, 19])
def test_too_few_readings_are_refused(rows):
    with pytest.raises(BadFileError, match=f"holds {rows} readings"):
        read(data(rows=rows))


def test_too_short_a_time_is_refused():
    with pytest.raises(BadFileError, match="over 1 min"):
        read(data(lambda m: str(m), header="Time (s),Kiln,Core", rows=60))


def test_time_that_goes_back_is_refused_with_its_line():
    lines = text().split("\n")
    lines[100:100] = lines[60:70]
    with pytest.raises(BadFileError, match="line 101: the time goes back by 39 min"):
        read("\n".join(lines).encode())


def test_a_long_gap_is_refused_and_a_short_one_told():
    lines = text().split("\n")
    with pytest.raises(BadFileError, match="line 102: no reading for 51 min"):
        read("\n".join(lines[:101] + lines[151:]).encode())
    log = read("\n".join(lines[:101] + lines[116:]).encode())
    assert (102, "No reading for 16 min: bridged by a straight line.") in [(r.line, r.says) for r in log.remarks]


def test_what_is_found_is_told_in_the_order_of_the_lines():
    log = read(changed(300, ",", ",x"))
    assert [r.line for r in log.remarks] == [242, 300, 300]


def test_the_file_is_only_read(tmp_path):
    path = tmp_path / "firing.csv"
    path.write_bytes(data())
    before = path.stat().st_mtime_ns
    assert open_table(path).file == "firing.csv"
    assert (path.read_bytes(), path.stat().st_mtime_ns) == (data(), before)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(BadFileError, match="cannot be read"):
        open_table(tmp_path / "none.csv")
    with pytest.raises(BadFileError, match="cannot be read"):
        open_table(tmp_path)
