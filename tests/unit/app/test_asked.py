"""Fields of the studio's own files: what was typed becomes a value of the file, or a reason; a value becomes text again."""

from datetime import time

import pytest

from pourwell.app.asked import Asked, choice_of, days_of, recipe_of, text_of, value_of
from pourwell.app.typed import NotYetError, Span
from pourwell.files.own_toml import ABSENT
from pourwell.materials.model import Grade, Quantity, Words


def asked(kind, *, low=0, high=2000, unit="°C", **more):
    span = Span(low=low, high=high, unit=unit) if kind in ("number", "figure", "count") else None
    return Asked(key=("k",), label="It", kind=kind, span=span, **more)


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [
        (asked("figure"), "896", 896.0),
        (asked("figure"), "1640 °F", 893.333333),
        (asked("figure", unit="%", high=100, share=True), "0,5", 0.005),
        (asked("count", unit=""), "8", 8),
        (asked("hour"), "830", "08:30"),
        (asked("yes"), "yes", True),
        (asked("yes"), "no", False),
        (asked("recipe"), "Ag 92,5, Cu 7.5", {"Ag": 92.5, "Cu": 7.5}),
        (asked("days"), "Sunday, 2026-12-24", ["Sunday", "2026-12-24"]),
        (asked("words"), "  <b>House</b> ", "<b>House</b>"),
        (asked("choice"), "gold", "gold"),
        (asked("words"), " ", ABSENT),
    ],
)
def test_what_is_typed_becomes_what_stands_in_the_file_and_text_again(field, text, value):
    got = value_of(field, text)
    assert got == value
    assert type(got) is type(value)
    if value is not ABSENT:
        assert value_of(field, text_of(field, got)) == value


@pytest.mark.parametrize(
    ("field", "text", "why"),
    [
        (asked("figure"), "hot", '"hot" is no number'),
        (asked("figure"), "9000", "9000 is above what can be. Enter 0 to 2,000 °C."),
        (asked("count", unit=""), "2.5", "2.5 is no whole number."),
        (asked("hour"), "25", "is no time of day"),
        (asked("words", needed=True), "", "It must be said."),
        (asked("days"), "Sonday", "the nearest is Sunday"),
        (asked("days"), "2026-13-01", "is no date"),
        (asked("recipe"), "Ag", "Ag has no percent"),
        (asked("recipe"), "92.5", "92.5 does not fit"),
        (asked("recipe"), "Ag 150", "150 does not fit"),
        (asked("recipe"), "Ag 50, Ag 50", "Ag stands twice"),
        (asked("recipe"), "Ag 9x", "neither an element nor a number"),
        (asked("recipe"), ",", "The recipe has no percent"),
    ],
)
def test_what_cannot_stand_there_is_refused_in_words(field, text, why):
    with pytest.raises(NotYetError) as refused:
        value_of(field, text)
    assert why in str(refused.value)


def test_values_of_models_and_files_become_text():
    figure = asked("figure")
    quantity = Quantity(value=896, low=893, high=899, unit="degC", source="x", grade=Grade.HANDBOOK)
    assert text_of(figure, quantity) == text_of(figure, {"value": 896}) == text_of(figure, 896) == "896"
    assert text_of(asked("sentence"), Words(text="Look", source="x", grade=Grade.MEMORY)) == "Look"
    assert text_of(asked("sentence"), {"text": "Look"}) == "Look"
    assert text_of(asked("hour"), time(8, 5)) == "08:05"
    assert text_of(asked("figure", unit="%", share=True), 0.07) == "7"
    assert text_of(figure, ABSENT) == text_of(figure, None) == ""
    assert text_of(asked("days"), ["Sunday"]) == "Sunday"


def test_lists_are_read_with_patience():
    assert recipe_of("Au 58.5 %; Ag 25 %; Cu 16.5 %") == {"Au": 58.5, "Ag": 25.0, "Cu": 16.5}
    assert days_of(" sun , ") == ["sun"]
    assert choice_of(("a", "b"), {"a": "first"}) == (("a", "first"), ("b", "b"))
