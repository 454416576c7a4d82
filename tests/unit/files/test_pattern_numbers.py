"""Numbers written as text: points and commas, what is no number, and pieces that are cut only between words."""

import numpy as np
import pytest

from pourwell.files import pattern_numbers
from pourwell.files.pattern_numbers import COMMAS, LONGEST, Numbers, all_numbers

WRITTEN = [b"1", b"-2.5", b"+3e2", b".5", b"7.", b"1E-3", b"-0"]
VALUES = [1, -2.5, 300, 0.5, 7, 0.001, 0]


def test_numbers_are_read_as_a_program_writes_them():
    numbers = Numbers()
    assert numbers.read(WRITTEN).tolist() == VALUES
    assert numbers.read([]).tolist() == []
    assert numbers.remarks == ()


def test_a_comma_before_the_decimals_is_read_and_told():
    numbers = Numbers()
    assert numbers.read([b"1", b"2"]).tolist() == [1, 2], "whole numbers say nothing yet"
    assert numbers.read([b"1,5", b"-2,25", b"3"]).tolist() == [1.5, -2.25, 3]
    assert numbers.read([b"4"]).tolist() == [4]
    assert numbers.remarks == (COMMAS,)


@pytest.mark.parametrize("words", [[b"1,5", b"2.5"], [b"1,000,5"], [b"1,000.5"]])
def test_points_and_commas_side_by_side_make_no_sense(words):
    with pytest.raises(ValueError, match="side by side"):
        Numbers().read(words)


def test_a_comma_after_a_point_was_seen_is_no_number():
    """A file that writes 2.5 means something else by 1,5: perhaps a list. It is not guessed at."""
    numbers = Numbers()
    numbers.read([b"2.5"])
    with pytest.raises(ValueError, match='"1,5" is no number'):
        numbers.read([b"1,5"])
    later = Numbers()
    later.read([b"1,5"])
    with pytest.raises(ValueError, match="side by side"):
        later.read([b"2.5"])


@pytest.mark.parametrize("word", [b"x", b"1.2.3", b"--1", b"0x10", b"1e", b"\xff\xfe"])
def test_what_is_no_number_is_named(word):
    with pytest.raises(ValueError, match="is no number") as caught:
        Numbers().read([b"1.0", word, b"2.0"])
    assert word.decode("utf-8", "replace") in str(caught.value)


def test_a_word_without_end_is_named_by_its_beginning():
    with pytest.raises(ValueError, match="is no number") as caught:
        Numbers().read([b"9" * 10 + b"z" * 100_000])
    assert len(str(caught.value)) < 2 * LONGEST


@pytest.mark.parametrize("piece", [1, 2, 5, 7, 64, 10_000])
def test_a_text_is_the_same_numbers_however_it_is_cut(monkeypatch, piece):
    monkeypatch.setattr(pattern_numbers, "CHUNK_BYTES", piece)
    values = np.random.default_rng(3).normal(size=200).round(6)
    text = " \n\t ".join(f"{value!r}" for value in values.tolist()).encode()
    assert all_numbers(text, Numbers()).tolist() == values.tolist()
    assert all_numbers(text + b"\n\n", Numbers()).tolist() == values.tolist()


def test_a_text_without_words_has_no_numbers():
    assert all_numbers(b"", Numbers()).shape == (0,)
    assert all_numbers(b" \n ", Numbers()).shape == (0,)
