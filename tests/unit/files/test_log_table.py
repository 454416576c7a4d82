"""A logger's text becomes a table: marks, quotes, comments, headers, numbers."""

import math

import pytest

from pourwell.errors import BadFileError
from pourwell.files.log_table import NO_TEXT, is_reading, number_in, read_table
from tests.unit.files.log_texts import data, text


def table(content):
    return read_table(content if isinstance(content, bytes) else content.encode(), file="log.csv")


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("20", 20.0),
        ("20.5", 20.5),
        ("20,5", 20.5),
        ("-3,25", -3.25),
        ("+7", 7.0),
        ("1,234.5", 1234.5),
        ("1.234,5", 1234.5),
        ("1 234,5", 1234.5),
        ("2.05e2", 205.0),
        (".5", 0.5),
        ("20.5 °C", 20.5),
        ("68 °F", 68.0),
        ("20.5C", 20.5),
        ("20.5 deg C", 20.5),
    ],
)
def test_a_number_is_read_with_comma_or_point_and_with_its_unit(cell, value):
    assert number_in(cell) == pytest.approx(value)
    assert is_reading(cell)


@pytest.mark.parametrize("cell", ["", "-", "---", "n/a", "NaN", "null"])
def test_a_cell_without_a_reading_is_none(cell):
    assert math.isnan(number_in(cell))
    assert not is_reading(cell)


@pytest.mark.parametrize("cell", ["OL", "open", "Err", "OVER", "inf", "fault"])
def test_a_logger_that_says_nothing_is_connected_is_understood(cell):
    assert number_in(cell) == math.inf
    assert not is_reading(cell)


@pytest.mark.parametrize("cell", ["ramp 2", "20 bar", "1.2.3,4,5", "12:30", "abc", "20.5 C x", "--5", "٣"])
def test_what_is_no_number_is_none(cell):
    assert number_in(cell) is None


@pytest.mark.parametrize("mark", [",", ";", "\t", "|", " "])
def test_cells_are_parted_by_any_usual_mark(mark):
    read = table(data(mark=mark, header=mark.join(["Time", "Kiln", "Core"])))
    assert read.names == ("Time", "Kiln", "Core")
    assert read.rows[0] == ("20:00", "20.0", "20.0")
    assert (len(read.rows), read.lines[0], read.lines[-1]) == (400, 2, 401)


def test_decimal_commas_go_with_semicolons():
    read = table(data(mark=";", comma=True, header="Zeit;Ofen;Kern"))
    assert read.rows[1] == ("20:01", "21,5", "20,0")


def test_decimal_commas_in_quotes_go_with_commas():
    lines = ["Time,Kiln", *(f'20:{m:02d},"2{m % 10},5"' for m in range(30))]
    assert table("\n".join(lines)).cells(1)[3] == "23,5"


def test_commas_that_part_cells_and_digits_alike_are_refused_with_the_line():
    with pytest.raises(BadFileError, match="line 2: commas part both") as caught:
        table(data(comma=True))
    assert "semicolons" in caught.value.try_this


@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_byte_order_marks_and_code_pages_are_read(code):
    read = table(text(header="Time,Kiln °C,Core °C").encode(code))
    assert read.names == ("Time", "Kiln °C", "Core °C")
    assert len(read.rows) == 400


@pytest.mark.parametrize("ending", ["\r\n", "\r", "\n"])
def test_any_line_ends_are_read(ending):
    assert len(table(text().replace("\n", ending)).rows) == 400


def test_blank_lines_and_comments_are_passed_over_and_the_lines_still_count():
    lines = text().split("\n")
    lines[3:3] = ["", "# door opened", "   ", "// base off", ",,"]
    read = table("\n".join(lines))
    assert len(read.rows) == 400
    assert read.lines[:4] == (2, 3, 9, 10)


def test_what_stands_above_the_table_is_left_out_and_said():
    read = table("Logger 4\nSerial;0042\n\n" + text(mark=";", header="Zeit;Ofen;Kern"))
    assert read.names == ("Zeit", "Ofen", "Kern")
    assert [(r.line, r.says) for r in read.remarks] == [(1, "2 lines above the table are not read.")]
    assert read.lines[0] == 5


def test_a_row_of_units_joins_the_header():
    rows = text().split("\n")
    read = table("\n".join([rows[0], "hh:mm,°C,°C", *rows[1:]]))
    assert read.names == ("Time hh:mm", "Kiln °C", "Core °C")


def test_a_log_without_a_header_has_no_names():
    read = table(data(header=""))
    assert read.names == ()
    assert read.lines[0] == 1


def test_a_row_that_is_too_short_gives_empty_cells():
    read = table(text() + "02:40,650\n")
    assert read.cells(2)[-1] == ""
    assert read.cells(1)[-1] == "650"


def test_the_digest_is_that_of_the_file():
    assert table(data()).digest == table(data()).digest
    assert table(data()).digest != table(data(rows=399)).digest
    assert len(table(data()).digest) == 64


@pytest.mark.parametrize("content", [b"", b"\n\n", b"# only a comment\n", b"\xef\xbb\xbf", b";;;\n,,\n"])
def test_an_empty_file_is_refused(content):
    with pytest.raises(BadFileError, match="is empty"):
        table(content)


@pytest.mark.parametrize("content", [b"a\0b,c", b"\xff\xfea", b"\x00\x01\x02\x03", b"\x81\x8d\xff", b"PK\x03\x04\x9d\x81"])
def test_bytes_that_are_no_text_are_refused_in_our_own_words(content):
    with pytest.raises(BadFileError, match="is no text") as caught:
        table(content)
    assert caught.value.why in (NO_TEXT, "It holds bytes of zero.")


@pytest.mark.parametrize("content", ["hello world\n", "a,b\nc,d\n", "20.5\n21.0\n", "Time,Kiln\n"])
def test_text_without_a_table_is_refused_and_its_first_line_shown(content):
    with pytest.raises(BadFileError, match="no table of times and readings") as caught:
        table(content)
    assert content.split("\n")[0].strip() in caught.value.why


def test_a_file_that_is_too_large_is_refused_before_it_is_taken_apart(monkeypatch):
    monkeypatch.setattr("pourwell.files.log_table.MOST_BYTES", 1000)
    with pytest.raises(BadFileError, match="too large to be a log"):
        table(data())


def test_too_many_lines_are_refused(monkeypatch):
    monkeypatch.setattr("pourwell.files.log_table.MOST_ROWS", 100)
    with pytest.raises(BadFileError, match="401 lines"):
        table(data())


def test_a_quote_that_never_ends_is_one_cell():
    assert len(table(text().replace("20:05,", '20:05,"')).rows) == 400
