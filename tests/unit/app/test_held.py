"""What is looked at before it is kept: the last few, and no more memory than may be."""

from pourwell.app.held import Held


def test_only_the_last_few_are_held_and_one_that_is_asked_for_stays():
    held = Held(most=2, most_bytes=1000)
    held.hold("a", 1, size_bytes=10)
    held.hold("b", 2, size_bytes=10)
    assert held.get("a") == 1
    held.hold("c", 3, size_bytes=10)
    assert [held.get(key) for key in "abc"] == [1, None, 3]
    assert len(held) == 2


def test_large_ones_push_others_out_and_the_newest_is_always_held():
    held = Held(most=9, most_bytes=1000)
    held.hold("a", 1, size_bytes=600)
    held.hold("b", 2, size_bytes=600)
    assert held.get("a") is None
    held.hold("c", 3, size_bytes=5000)
    assert [held.get(key) for key in "bc"] == [None, 3]


def test_one_that_is_let_go_is_held_no_more_also_twice():
    held = Held(most=2, most_bytes=1000)
    held.hold("a", 1, size_bytes=10)
    held.let_go("a")
    held.let_go("a")
    assert held.get("a") is None


def test_one_that_is_held_again_counts_once():
    held = Held(most=2, most_bytes=1000)
    for value in range(5):
        held.hold("a", value, size_bytes=400)
    assert (len(held), held.get("a")) == (1, 4)
