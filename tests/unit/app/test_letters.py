"""Pieces and places are told apart by letters, as many as there are."""

from itertools import product
from string import ascii_uppercase

import pytest

from pourwell.app.letters import letter


@pytest.mark.parametrize(("index", "says"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA")])
def test_after_z_come_two_letters_and_after_zz_three(index, says):
    assert letter(index) == says


def test_the_first_seven_hundred_are_all_words_of_one_and_two_letters_in_their_order():
    """Counted by another way: 26 words of one letter, then 26 x 26 of two, as a list would have them."""
    words = [*ascii_uppercase, *("".join(pair) for pair in product(ascii_uppercase, repeat=2))]
    assert [letter(index) for index in range(len(words))] == words
