"""Work in parts: every part once, in order where it matters to nobody, and a fault is the caller's."""

import threading

import numpy as np
import pytest

from pourwell.geometry.kernels import compiled
from pourwell.geometry.kernels.compiled import EACH, FEWEST, in_parts


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


def test_much_work_is_shared_out_in_parts_for_all_threads_that_are_granted(monkeypatch):
    monkeypatch.setattr(compiled, "thread_count", lambda: 3)
    parts = []
    in_parts(parts.append, 3 * EACH * FEWEST * 2, most=10**9)
    assert sorted((part.start, part.stop) for part in parts) == [(k * 2 * FEWEST, (k + 1) * 2 * FEWEST) for k in range(3 * EACH)]


def test_the_calling_thread_takes_every_part_while_those_that_help_are_busy(monkeypatch):
    monkeypatch.setattr(compiled, "thread_count", lambda: 2)
    freed, seen = threading.Event(), set()
    busy = compiled._helpers(1).submit(freed.wait)
    in_parts(lambda _: seen.add(threading.current_thread()), 20 * FEWEST, most=FEWEST)
    freed.set()
    assert busy.result()
    assert seen == {threading.main_thread()}


def test_work_within_a_part_may_itself_be_done_in_parts(monkeypatch):
    monkeypatch.setattr(compiled, "thread_count", lambda: 2)
    done = np.zeros((6, 6 * FEWEST), dtype=np.int64)

    def row(part: slice) -> None:
        def within(some: slice) -> None:
            done[part.start // FEWEST, some] += 1

        in_parts(within, 6 * FEWEST, most=FEWEST)

    in_parts(row, 6 * FEWEST, most=FEWEST)
    assert (done == 1).all()


def test_after_a_fault_no_part_is_begun(monkeypatch):
    monkeypatch.setattr(compiled, "thread_count", lambda: 1)
    begun = []

    def work(part: slice) -> None:
        begun.append(part.start)
        raise ValueError

    with pytest.raises(ValueError):  # noqa: PT011  # which it is, is told by what was begun
        in_parts(work, 3 * FEWEST, most=FEWEST)
    assert begun == [0]


def test_a_fault_in_a_part_comes_to_the_caller():
    def work(part: slice) -> None:
        if part.start:
            raise ValueError(part.start)

    with pytest.raises(ValueError, match=str(FEWEST)):
        in_parts(work, 2 * FEWEST, most=FEWEST)
