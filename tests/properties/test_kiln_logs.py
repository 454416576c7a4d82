"""The reader of logs under fire: good logs cut, changed and spliced, and text of any kind. Read, or refused in a sentence."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pourwell.errors import PourwellError
from pourwell.files.kiln_log import log_of, reading_columns
from pourwell.files.log_table import MISSING, OPEN, number_in, read_table
from pourwell.files.log_time import Stamps, in_order, is_moment, moments_s
from tests.unit.files.log_texts import clock, data, text, truth

SCRAPS = (
    *("nan", "inf", "-inf", "1e999", "-1", "0", "9" * 300, "1,5", "1.5.5", "0x1f", "1_0", "", "٣", "²", "½", '"', '""', "'"),
    *(
        ";",
        ",",
        "\t",
        "|",
        " ",
        "\n",
        "\r\n",
        "\x0b",
        "\u2028",
        "#",
        "//",
        "\ufeff",
        "°F",
        "°C",
        "OL",
        "--",
        "24:00",
        "99:99",
        "1:2",
    ),
    *("2026-02-30", "0000-00-00 00:00", "31.12.9999 23:59", "9999-12-31T23:59:59-23:59", "12/13/2026", "Time (s)", "No", "%"),
)
BASES = (
    data(rows=60),
    data(rows=60, mark=";", comma=True, header="Zeit;Ofen °F;Kern"),
    data(lambda m: f"26.11.2026\t{clock(m)}", rows=60, mark="\t", header="Date\tTime\tKiln\tCore"),
    data(lambda m: str(m), rows=60, header="Time (min),Kiln,Core"),
)


def attempt(content, **named):
    """The log, or None where it was refused in a sentence."""
    fault = None
    try:
        table = read_table(content, file="log.csv")
        log = log_of(table, list(reading_columns(table)), **named)
    except PourwellError as err:
        fault = err.what
    if fault is not None:
        assert fault.endswith("."), fault
        assert len(fault) < 400
        return None
    assert np.isfinite(log.times).all()
    assert (np.diff(log.times) > 0).all()
    assert log.times[0] == 0
    for column in log.columns:
        known = column.readings[column.known]
        assert column.readings.shape == log.times.shape
        assert ((known >= -30) & (known <= 1300)).all()
        assert known.size >= 0.6 * log.times.size
    return log


@st.composite
def spoilt(draw):
    """A good log with some bytes changed, cut out, doubled, or replaced by scraps."""
    content = bytearray(draw(st.sampled_from(BASES)))
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(content)))
        length = draw(st.integers(0, 40))
        kind = draw(st.sampled_from(["scrap", "cut", "double", "byte"]))
        if kind == "scrap":
            content[at : at + length // 8] = draw(st.sampled_from(SCRAPS)).encode()
        elif kind == "cut":
            del content[at : at + length]
        elif kind == "double":
            content[at:at] = content[at : at + length]
        else:
            content[at : at + 1] = bytes([draw(st.integers(0, 255))])
    return bytes(content)


@given(spoilt(), st.sampled_from([None, "C", "F"]), st.sampled_from([None, "s", "min", "h"]))
@settings(max_examples=150, deadline=None)
def test_a_spoilt_log_is_read_or_refused_in_a_sentence(content, unit, time_unit):
    attempt(content, unit=unit, time_unit=time_unit)


@given(st.binary(max_size=400))
@settings(max_examples=100, deadline=None)
@example(b"\xff\xfe")
@example(b"\xfe\xff\x00")
@example(b"0:0,0\n" * 30)
@example(b"\xef\xbb\xbf,\n")
def test_any_bytes_are_read_or_refused_in_a_sentence(content):
    attempt(content)


@given(
    st.lists(
        st.lists(st.sampled_from([*SCRAPS, "20", "20.5", "08:00", "08:01", "26.11.2026"]), max_size=4).map(",".join), max_size=40
    )
)
@settings(max_examples=100, deadline=None)
def test_rows_of_scraps_are_read_or_refused_in_a_sentence(rows):
    attempt("\n".join(rows).encode("utf-8", "replace"), time_unit="min")


@given(
    st.sampled_from([",", ";", "\t", "|"]),
    st.booleans(),
    st.integers(0, 1439),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    st.sampled_from(["\n", "\r\n"]),
)
@settings(max_examples=15, deadline=None)
def test_a_good_log_loses_nothing_in_any_form(mark, comma, begin, code, ending):
    comma = comma and mark != ","
    content = text(lambda m: clock(m, begin=begin), mark=mark, comma=comma, header=mark.join(["Time", "Kiln", "Core"]))
    log = attempt(content.replace("\n", ending).encode(code))
    kiln, core = truth()
    assert log is not None
    assert log.columns[0].readings == pytest.approx(kiln, abs=0.051)
    assert log.columns[1].readings == pytest.approx(core, abs=0.051)
    assert log.times == pytest.approx(60.0 * np.arange(kiln.size))


@given(st.sets(st.integers(3, 396), max_size=8), st.floats(40, 500))
@settings(max_examples=15, deadline=None)
def test_every_spike_is_dropped_and_nothing_else(places, jump):
    """Spikes that do not touch one another, on both columns, each counted."""
    places = [p for p in sorted(places) if not {p - 1, p - 2} & places]
    kiln, core = truth()
    spoiled = kiln.copy()
    spoiled[places] += jump
    rows = ["Time,Kiln,Core", *(f"{clock(m)},{spoiled[m]:.1f},{core[m]:.1f}" for m in range(kiln.size))]
    log = attempt("\n".join(rows).encode(), unit="C")
    assert log is not None
    kept = log.columns[0]
    assert np.flatnonzero(~kept.known).tolist() == places
    assert kept.readings[kept.known] == pytest.approx(kiln[kept.known], abs=0.051)
    assert log.columns[1].known.all()


@given(st.floats(-999, 1999).map(lambda v: round(v, 2)), st.sampled_from(["{}", "{} °C", '"{}"', " {} ", "{}C"]), st.booleans())
@settings(max_examples=60, deadline=None)
def test_a_number_survives_its_cell(value, form, comma):
    cell = form.format(value).strip().strip('"')
    assert number_in(cell.replace(".", ",") if comma else cell) == pytest.approx(value)


@given(st.text(max_size=20))
@settings(max_examples=150, deadline=None)
def test_a_cell_is_a_number_or_none_and_a_moment_or_not(cell):
    value = number_in(cell)
    assert value is None or isinstance(value, float)
    assert isinstance(is_moment(cell), bool)
    if cell.strip().lower() in MISSING | OPEN:
        assert value is not None


@given(st.integers(0, 86399), st.lists(st.integers(1, 1700), min_size=2, max_size=60))
@settings(max_examples=60, deadline=None)
def test_clock_times_without_dates_are_put_on_one_line(begin, steps):
    """Whatever the hour and however often midnight passes, elapsed time is the sum of the steps."""
    moments = np.concatenate([[begin], begin + np.cumsum(steps)])
    cells = [f"{t // 3600 % 24:02d}:{t // 60 % 60:02d}:{t % 60:02d}" for t in moments.tolist()]
    known = Stamps(file="log.csv", lines=list(range(2, len(cells) + 2)), says=[])
    if max(t // 3600 % 24 for t in moments.tolist()) < 13 and moments[-1] // 43200 > moments[0] // 43200:
        return  # a dial of twelve hours cannot be told from one of twenty-four
    times, turned = in_order(moments_s(cells, stamps=known), stamps=known, zoned=False)
    assert not turned
    assert np.array(times) - times[0] == pytest.approx(moments - moments[0])
