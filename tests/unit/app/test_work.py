"""Work on several pieces at once."""

import threading

import pytest

from pourwell.app.work import side_by_side


def test_results_keep_the_order_of_the_things_however_long_each_takes() -> None:
    """The first waits until the last is done, where there is more than one thread; else they run one after another."""
    done = threading.Event()

    def work(n: int) -> int:
        if n == 0:
            done.wait(0.05)
        if n == 1:
            done.set()
        return n * n

    assert side_by_side(work, range(6)) == [0, 1, 4, 9, 16, 25]


def test_nothing_to_do_is_nothing_done() -> None:
    assert side_by_side(str, []) == []


@pytest.mark.parametrize("fault", [ValueError, KeyboardInterrupt])
def test_the_first_fault_is_raised_and_the_rest_is_not_begun(fault: type[BaseException], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pourwell.app.work.os.cpu_count", lambda: 1)
    begun: list[int] = []

    def work(n: int) -> None:
        begun.append(n)
        if n == 0:
            raise fault(f"piece {n}")
        threading.Event().wait(0.02)

    with pytest.raises(fault, match="piece 0"):
        side_by_side(work, range(200))
    assert len(begun) < 20, f"{len(begun)} begun after the fault"


def test_a_machine_that_does_not_say_how_many_processors_it_has_works_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pourwell.app.work.os.cpu_count", lambda: None)
    assert side_by_side(len, ["a", "bb"]) == [1, 2]
