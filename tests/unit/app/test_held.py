"""What is looked at before it is kept: the last few, and no more memory than may be."""

import threading

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


def test_a_value_that_is_held_anew_is_the_newest_and_counts_with_its_new_size():
    held = Held(most=9, most_bytes=1000)
    held.hold("a", 1, size_bytes=900)
    held.hold("a", 2, size_bytes=100)
    held.hold("b", 3, size_bytes=900)
    assert [held.get(key) for key in "ab"] == [2, 3], "100 and 900 are 1000, which may be"
    held.hold("c", 4, size_bytes=1)
    assert [held.get(key) for key in "abc"] == [None, 3, 4], "the oldest goes first"


def test_many_hands_at_once_leave_no_more_than_may_be_held():
    held = Held(most=3, most_bytes=100)
    faults = []

    def busy(of):
        try:
            for k in range(300):
                held.hold((of, k % 5), k, size_bytes=10)
                held.get((of, k % 3))
                held.let_go((of, k % 4))
        except Exception as err:
            faults.append(err)

    hands = [threading.Thread(target=busy, args=(of,)) for of in range(4)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert not faults
    assert len(held) <= 3
