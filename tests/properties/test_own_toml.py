"""Own TOML files under any changes: the table is what they make of it, comments stay, what is undone is as before."""

import string
import tempfile
import tomllib
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from pourwell.app.asked import Asked, text_of, value_of
from pourwell.app.shown import Shown, plain_number
from pourwell.app.typed import Span
from pourwell.files.own_toml import ABSENT, change, value_at
from pourwell.sheets.display import Display

BEGIN = """\
# the studio
name = "Quillmere"   # on the sheet

[kiln]
# measured
error_k = 4   # thermocouple
fall_c_per_h = 110

[printer]   # the small one
layer_mm = 0.05
"""
COMMENTS = ("# the studio", "# on the sheet", "# measured", "# thermocouple", "# the small one")
KEYS = st.sampled_from(
    [
        ("name",),
        ("paper",),
        ("kiln", "error_k"),
        ("kiln", "fall_c_per_h"),
        ("kiln", "name"),
        ("printer", "layer_mm"),
        ("shown", "weight"),
    ]
)
VALUES = st.one_of(
    st.text(alphabet=string.ascii_letters + ' "\\#\n\té', max_size=12),
    st.integers(-(10**9), 10**9),
    st.floats(allow_nan=False, allow_infinity=False, width=32),
    st.booleans(),
    st.lists(st.text(alphabet=string.ascii_letters, max_size=5), max_size=3),
    st.fixed_dictionaries({"value": st.floats(0, 1000), "low": st.integers(0, 5)}),
)
UNITS = st.sampled_from(["mm", "°C", "K", "°C/h", "g"])
DISPLAYS = st.builds(
    Display,
    length_in=st.sampled_from(["mm", "inch"]),
    temperature_in=st.sampled_from(["C", "F"]),
    weight_in=st.sampled_from(["g", "dwt", "ozt"]),
    comma=st.booleans(),
)


@given(st.lists(st.tuples(KEYS, VALUES), min_size=1, max_size=6))
def test_the_table_is_what_the_changes_make_of_it_and_comments_stay(changes):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "studio.toml"
        path.write_text(BEGIN, encoding="utf-8")
        expected = tomllib.loads(BEGIN)
        for key, value in changes:
            change(path, {key: value})
            table = expected
            for part in key[:-1]:
                table = table.setdefault(part, {})
            table[key[-1]] = value
        text = path.read_text(encoding="utf-8")
        assert tomllib.loads(text) == expected
        for comment in COMMENTS:
            assert comment in text, comment


@given(KEYS, VALUES)
def test_what_is_changed_and_changed_back_is_letter_for_letter_as_before(key, value):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "studio.toml"
        path.write_text(BEGIN, encoding="utf-8")
        before = value_at(tomllib.loads(BEGIN), key)
        change(path, {key: value}, was={key: before})
        change(path, {key: before}, was={key: value})
        text = path.read_text(encoding="utf-8")
        assert text == BEGIN if before is not ABSENT else text.startswith(BEGIN.rstrip()) or tomllib.loads(text).keys() >= {"name"}
        if before is ABSENT:
            assert value_at(tomllib.loads(text), key) is ABSENT


@given(DISPLAYS, UNITS, st.decimals(min_value=0, max_value=9999, places=2))
def test_what_is_typed_shows_again_as_it_was_typed_whether_kept_as_text_or_in_a_file(display, unit, typed):
    shown, text = Shown(display), f"{typed:f}".rstrip("0").rstrip(".")
    text = text.replace(".", ",") if display.comma else text
    kept = shown.kept(text, unit)
    assert shown.field(kept, unit) == text
    asked = Asked(key=("k",), label="It", kind="number", span=Span(low=-300, high=1e6, unit=unit))
    again = shown.field(text_of(asked, value_of(asked, kept)), unit)
    assert abs(plain_number(again) - plain_number(text)) <= 0.0005, (again, text, kept)
