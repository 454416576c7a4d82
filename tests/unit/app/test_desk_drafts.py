"""Patterns that are not kept yet: held for a while, kept beside what they came from, never instead of it."""

import sys
import threading
from datetime import UTC, datetime

import pytest

from pourwell.app.desk import Desk
from pourwell.app.desk_drafts import MOST
from pourwell.app.desk_words import DRAFTS, PRINTS
from pourwell.errors import BadRequestError
from tests.unit.app.fake_crew import FakeCrew

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
FRONT = [[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]


def answer(content=b"solid mended"):
    return {"data": {"units": "mm"}, "files": {"made.stl": content, "before.bin": b"1", "after.bin": b"2"}}


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


@pytest.fixture
def ring(desk):
    pattern, _ = desk.store.add_pattern(b"solid torn", file="Larch ring.stl", name="Larch ring", now=NOW)
    data = {"view": {"front": FRONT}, "findings": []}
    desk.store.add_result(pattern_id=pattern.id, asked={}, data=data, now=NOW)
    return pattern


def test_mending_is_asked_for_with_the_way_the_page_looks_at_the_piece(desk, ring):
    came = []
    job = desk.drafts.mend(ring, came.append)
    assert (job.title, job.call) == ("Larch ring, mended", f"{DRAFTS}:mend_pattern")
    folder, given, front = job.given
    assert (folder, given.file, front) == (desk.folder, "Larch ring.stl", FRONT)
    assert desk.drafts.being_made(ring.id) is job
    assert desk.being_checked(ring.id) is None, "a draft is no check"
    desk.crew.do(answer())
    assert [draft.name for draft in came] == ["Larch ring, mended"]
    assert desk.drafts.being_made(ring.id) is None


def test_a_size_is_asked_for_in_what_the_pattern_is_checked_in(desk, ring):
    job = desk.drafts.fit(ring, lambda _: None, size="UK N\u00bd", offset=True)
    assert job.title == "Larch ring, UK N\u00bd"
    assert job.given[2] == {"size": "UK N\u00bd", "offset": True, "alloy": "sterling-925", "material": "resin"}


def test_kept_it_is_a_pattern_of_its_own_in_millimetres_and_is_checked(desk, ring):
    came = []
    desk.drafts.mend(ring, came.append)
    desk.crew.do(answer())
    turn = desk.turn
    kept, new = desk.drafts.keep(came[0])
    assert new
    assert (kept.name, kept.file, kept.units) == ("Larch ring, mended", "larch-ring,-mended.stl", "mm")
    assert desk.store.shelf.path(kept.digest).read_bytes() == b"solid mended"
    assert desk.store.pattern(ring.id) == ring, "the original stays as it is"
    assert desk.being_checked(kept.id) is not None
    assert desk.turn > turn
    again, new = desk.drafts.keep(came[0], name="Other")
    assert (again.id, new) == (kept.id, False)
    assert len([job for job in desk.crew.jobs if job.about == ("pattern", kept.id)]) == 1


def test_only_the_last_few_are_held_and_one_that_is_looked_at_stays(desk):
    first = desk.drafts.hold(answer(), name="A")
    others = []
    for number in range(MOST):
        others.append(desk.drafts.hold(answer(), name=f"B {number}"))
        assert desk.drafts.get(first.number) is first
    with pytest.raises(BadRequestError, match="not held any more"):
        desk.drafts.get(others[0].number)
    assert desk.drafts.get(others[-1].number) is others[-1]
    desk.drafts.let_go(others[-1])
    with pytest.raises(BadRequestError):
        desk.drafts.get(others[-1].number)
    desk.drafts.let_go(others[-1])


def test_large_ones_are_held_for_a_shorter_while(desk):
    desk.drafts.held.most_bytes = 1000
    first, second = (desk.drafts.hold(answer(bytes(600)), name=name) for name in "AB")
    with pytest.raises(BadRequestError):
        desk.drafts.get(first.number)
    assert desk.drafts.get(second.number).size_bytes == 602
    huge = desk.drafts.hold(answer(bytes(9000)), name="C")
    assert desk.drafts.get(huge.number) is huge, "the newest is always held"


def test_shapes_are_asked_of_the_quick_lane_in_the_usual_alloy(desk):
    desk.new_run(fields={"alloy": "fine-silver-999"})
    desk.drafts.ask_shapes()
    desk.drafts.ask_shape("signet", ["bore=19"])
    assert desk.crew.asked == [
        (f"{DRAFTS}:shapes", ()),
        (f"{DRAFTS}:make_shape", (desk.folder, {"shape": "signet", "dimensions": ("bore=19",), "alloy": "fine-silver-999"})),
    ]


def test_drafts_are_held_and_asked_for_from_several_threads_at_once(desk):
    """Work holds them from its lane while pages ask: what is let go of meanwhile is refused in a sentence, nothing else."""
    faults, over, was = [], threading.Event(), sys.getswitchinterval()

    def ask():
        while not over.is_set():
            for number in range(first, first + 100):
                try:
                    desk.drafts.get(number)
                except BadRequestError:
                    continue
                except Exception as err:
                    faults.append(repr(err))

    first = desk.drafts.hold(answer(), name="A").number
    threads = [threading.Thread(target=ask) for _ in range(2)]
    sys.setswitchinterval(1e-6)
    try:
        for thread in threads:
            thread.start()
        for _ in range(100):
            desk.drafts.hold(answer(), name="A")
    finally:
        over.set()
        for thread in threads:
            thread.join()
        sys.setswitchinterval(was)
    assert faults == []
    assert len(desk.drafts.held) == MOST


def test_how_a_pattern_is_printed_is_asked_for_apart_from_drafts_and_held_as_they_are(desk, ring):
    came = []
    wanted = {"material": "resin", "layer_mm": 0.05, "direction": None}
    job = desk.drafts.stand(ring, came.append, wanted=wanted)
    assert (job.title, job.call) == ("Larch ring, in the printer", f"{PRINTS}:print_pattern")
    folder, given, asked = job.given
    assert (folder, given.file, asked) == (desk.folder, "Larch ring.stl", wanted)
    assert job.about == ("printer", ring.id)
    assert desk.drafts.being_made(ring.id) is None, "it may be mended meanwhile"
    assert desk.being_checked(ring.id) is None
    desk.crew.do({"data": {"rows": []}, "files": {"after.bin": b"12"}})
    assert desk.drafts.get(came[0].number).files == {"after.bin": b"12"}
    assert len(desk.store.patterns()) == 1, "nothing of it is kept"
