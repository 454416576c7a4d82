"""Work in parts: every part once, in order where it matters to nobody, and a fault is the caller's."""

import threading

import numpy as np
import pytest

from pourwell.geometry.kernels import compiled
from pourwell.geometry.kernels.compiled import FEWEST, in_parts


@pytest.mark.parametrize("count", [0, 1, FEWEST - 1, FEWEST, FEWEST + 1, 10 * FEWEST + 7])
@pytest.mark.parametrize("most", [FEWEST, 3 * FEWEST, 10**9])
def test_every_number_is_worked_on_once(count, most):
    done = np.zeros(count, dtype=np.int64)

    def work(part: slice) -> None:
        assert 0 < part.stop - part.start <= max(most, FEWEST)
        done[part] += 1

    in_parts(work, count, most=most)
    assert (done == 1).all()


def test_little_work_makes_no_thread(monkeypatch):
    monkeypatch.setattr(compiled, "thread_count", lambda: 4)
    seen = set()
    in_parts(lambda _: seen.add(threading.current_thread()), FEWEST, most=10**9)
    assert seen == {threading.main_thread()}


def test_much_work_is_shared_out_among_the_threads_that_are_granted(monkeypatch):
    monkeypatch.setattr(compiled, "thread_count", lambda: 3)
    parts = []
    in_parts(parts.append, 3 * FEWEST * 2, most=10**9)
    assert sorted((part.start, part.stop) for part in parts) == [(k * 2 * FEWEST, (k + 1) * 2 * FEWEST) for k in range(3)]


def test_a_fault_in_a_part_comes_to_the_caller():
    def work(part: slice) -> None:
        if part.start:
            raise ValueError(part.start)

    with pytest.raises(ValueError, match=str(FEWEST)):
        in_parts(work, 2 * FEWEST, most=FEWEST)
