"""Work in processes of their own: it tells how far it is, can be stopped, and whatever breaks it breaks nothing else."""

import time
from pathlib import Path

import pytest

from pourwell.app.crew import Crew
from tests.unit.app import crew_work

WORK = crew_work.__name__
LONG_S = 60.0


@pytest.fixture(scope="module")
def crew():
    made = Crew()
    yield made
    made.close()


def ended(job):
    assert job.over.wait(LONG_S), f"{job.state}: {job.says}"
    return job


def test_an_answer_comes_back(crew):
    job = ended(crew.answer(f"{WORK}:double", 21))
    assert (job.state, job.outcome, job.fault) == ("done", 42, None)


def test_work_tells_how_far_it_is_and_is_kept(crew):
    kept = []
    job = crew.work("Counting", f"{WORK}:count", 3, then=kept.append)
    said = set()
    while not job.over.wait(0.005):
        said.add(job.says)
    assert kept == [["1 of 3", "2 of 3", "3 of 3"]]
    assert said & {"1 of 3", "2 of 3", "3 of 3"}
    assert job.took_s is not None


def test_what_is_refused_inside_is_a_sentence_outside(crew):
    job = ended(crew.answer(f"{WORK}:refuse", "band.stl"))
    assert job.state == "failed"
    assert (job.fault.what, job.fault.why, job.fault.try_this) == ("band.stl is empty.", "It has no bytes.", "Export it again.")


def test_what_breaks_inside_is_told_as_ours_and_the_lane_goes_on(crew):
    job = ended(crew.answer(f"{WORK}:break_down"))
    assert job.state == "failed"
    assert "fault in Pourwell" in str(job.fault)
    assert "ZeroDivisionError" in str(job.fault)
    assert ended(crew.answer(f"{WORK}:double", 2)).outcome == 4


def test_a_process_that_dies_is_told_and_begun_anew(crew):
    job = ended(crew.answer(f"{WORK}:die"))
    assert job.state == "failed"
    assert "ended without an answer" in job.fault.what
    assert ended(crew.answer(f"{WORK}:double", 3)).outcome == 6


def test_work_can_be_stopped_while_it_is_done_and_before(crew, tmp_path):
    mark = tmp_path / "began"
    kept = []
    first = crew.work("Long", f"{WORK}:wait_long", mark, then=kept.append)
    second = crew.work("After it", f"{WORK}:double", 1, then=kept.append)
    third = crew.work("Last", f"{WORK}:double", 4, then=kept.append)
    until = time.monotonic() + LONG_S
    while not mark.exists() and time.monotonic() < until:
        time.sleep(0.01)
    second.stop()
    first.stop()
    assert ended(first).state == "stopped"
    assert ended(second).state == "stopped"
    assert ended(third).state == "done"
    assert kept == [8]


def test_quick_answers_do_not_wait_for_long_work(crew, tmp_path):
    long = crew.work("Long", f"{WORK}:wait_long", tmp_path / "began", then=lambda _: None)
    assert ended(crew.answer(f"{WORK}:double", 5)).outcome == 10
    assert long.state in ("waiting", "working")
    long.stop()
    ended(long)


def test_an_answer_that_cannot_be_kept_is_told(crew):
    def refuse(_):
        from pourwell.errors import OutputError

        raise OutputError("The disk is full.")

    job = ended(crew.work("Doubling", f"{WORK}:double", 5, then=refuse))
    assert (job.state, str(job.fault)) == ("failed", "The disk is full.")


def test_a_job_that_is_over_is_shown_no_more_unless_it_failed(crew):
    good = ended(crew.work("Good", f"{WORK}:double", 5, then=lambda _: None))
    bad = ended(crew.work("Bad", f"{WORK}:refuse", "x", then=lambda _: None))
    ended(crew.work("Next", f"{WORK}:double", 5, then=lambda _: None))
    assert good not in crew.jobs
    assert bad in crew.jobs
    crew.forget(bad.number)
    assert bad not in crew.jobs


def test_the_work_is_in_another_process(crew):
    import os

    assert ended(crew.answer(f"{WORK}:whoami")).outcome != os.getpid()
    assert Path(crew_work.__file__).is_file()
