"""Errors: what a user reads when a request cannot be served."""

import pytest

from pourwell.errors import BadDataError, BadFileError, BadRequestError, OutputError, PourwellError, UnknownNameError, in_one_line

KNOWN = ["sterling-925", "gold-750-yellow", "gold-585-yellow", "bronze-tin-10"]


def test_an_error_reads_as_what_why_and_what_to_try():
    err = BadRequestError("The count is -2.", why="A piece is cast once at least.", try_this="Write ring.stl:2.")
    assert str(err) == "The count is -2. A piece is cast once at least. Write ring.stl:2."
    assert (err.what, err.why, err.try_this) == ("The count is -2.", "A piece is cast once at least.", "Write ring.stl:2.")


def test_what_is_not_known_is_left_out_without_a_gap():
    assert str(BadFileError("ring.stl is empty.")) == "ring.stl is empty."
    assert str(BadFileError("ring.stl is empty.", try_this="Export it again.")) == "ring.stl is empty. Export it again."


@pytest.mark.parametrize("kind", [BadRequestError, BadFileError, BadDataError, OutputError, UnknownNameError])
def test_every_error_of_ours_can_be_caught_as_one(kind):
    assert issubclass(kind, PourwellError)


def test_a_mistyped_name_is_answered_with_the_nearest():
    err = UnknownNameError("alloy", "sterling-952", KNOWN)
    assert str(err).startswith('No alloy is called "sterling-952". Did you mean "sterling-925"?')
    assert err.near[0] == "sterling-925"


def test_capitals_do_not_hide_a_name():
    assert "sterling-925" in UnknownNameError("alloy", "STERLING-925", KNOWN).near


def test_several_near_names_are_all_offered():
    said = str(UnknownNameError("alloy", "gold-yellow", KNOWN))
    assert '"gold-750-yellow"' in said
    assert '"gold-585-yellow"' in said
    assert " or " in said


def test_a_name_like_nothing_is_answered_without_a_guess():
    err = UnknownNameError("alloy", "zzzz", KNOWN)
    assert err.near == []
    assert "Did you mean" not in str(err)
    assert "pourwell materials" in str(err)


def test_no_names_at_all_are_no_reason_to_break():
    assert str(UnknownNameError("flask", "76x100", [])).startswith('No flask is called "76x100".')


@pytest.mark.parametrize("text", ["a\nb", "a\rb", "a\x07b", "a\x85b", "a\u2028b", "a\u2029b", "a\udcffb"])
def test_a_text_that_is_not_in_one_line_is_refused_and_shown_in_one(text: str) -> None:
    for value in (text, ("rings", text)):
        with pytest.raises(ValueError, match=r'is in "a.b"; write it in one line'):
            in_one_line(value)


def test_letters_of_every_script_are_one_line() -> None:
    for value in ("größe 1½, ring", "指輪", "\U0001f469\u200d\U0001f527", "a\u00a0b", ("a", 3), 3.0, None):
        in_one_line(value)
