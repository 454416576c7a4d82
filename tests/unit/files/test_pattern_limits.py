"""What is said of a pattern file that holds too much or makes no sense: the figure, the limit, and what to do."""

import pytest

from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import LIMIT_COUNT, LIMIT_FILE_BYTES, TRY, DamagedError, too_long, too_many
from pourwell.files.pattern_stl import HEADER_BYTES, TRIANGLE_BYTES, is_binary, triangle_count


@pytest.mark.parametrize(
    ("count", "says"),
    [(5_000_001, "band.stl holds 5,000,001 triangles."), (0, "band.stl holds 0 triangles."), (None, "is too large.")],
)
def test_too_many_triangles_are_told_with_their_number_where_they_were_counted(count, says):
    err = too_many("band.stl", count, 5_000_000)
    assert isinstance(err, BadFileError)
    assert says in err.what
    assert err.why == "The limit is 5,000,000 triangles."
    assert "coarser" in err.try_this


def test_too_long_a_file_is_told_in_megabytes_of_a_million():
    err = too_long("band.stl", 1_234_567_890, LIMIT_FILE_BYTES)
    assert err.why == "It has 1,235 MB, and the limit is 1,000 MB."


def test_damage_inside_becomes_a_sentence_with_the_name_of_the_file():
    err = DamagedError("a triangle names corner 9 of 8").of("band.3mf")
    assert (err.what, err.why, err.try_this) == ("band.3mf cannot be read.", "Inside, a triangle names corner 9 of 8.", TRY)
    assert DamagedError("x", try_this="Open it first.").of("b.glb").try_this == "Open it first."


def test_as_many_triangles_as_are_taken_fit_into_a_file_that_is_opened():
    """A triangle of a binary STL takes 50 bytes behind a head of 84: the limit of bytes never refuses what the other takes."""
    assert HEADER_BYTES + TRIANGLE_BYTES * LIMIT_COUNT < LIMIT_FILE_BYTES


def head(count):
    return b"solid looks like text".ljust(80) + count.to_bytes(4, "little")


@pytest.mark.parametrize(
    ("count", "size", "binary"),
    [(0, 84, True), (12, 684, True), (12, 683, False), (12, 685, False), (12, 634, False), (2**32 - 1, 84, False)],
)
def test_a_binary_file_is_known_by_its_length_whatever_its_first_word_is(count, size, binary):
    assert triangle_count(head(count)) == count
    assert is_binary(head(count), size) is binary


def test_a_head_that_is_cut_is_no_binary_file():
    assert not is_binary(head(0)[:83], 83)
    assert not is_binary(b"", 0)
