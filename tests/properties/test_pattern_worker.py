"""Damaged files through the process that reads for the program; and STEP, whose engine is not ours, each case apart.

Whatever comes, a file is read or refused in a sentence, within seconds and within 2 GB: also where the engine breaks down.
"""

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.files.worker import read_safely
from tests.properties.fuzz_case import CASES, LONG, REFUSED, breaks_are_told, held_apart, put, read_or_refused, tally
from tests.properties.test_pattern_fuzz import DEEDS, ENDING, KINDS, done, good
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS
from tests.unit.files.step_files import step

FEW = settings(max_examples=100 if settings().max_examples > LONG else 4)
"""A process of its own takes 0.2 s to begin."""

STEP_WORDS = st.sampled_from(
    [
        *(b"$", b"*", b".T.", b".F.", b"#1", b"#999999", b"()", b"(", b")", b";", b"'", b"/*", b"1.E+400", b"-1.E-400", b"NAN"),
        *(b"PLANE", b"LINE", b"SI_UNIT(.MILLI.,.METRE.)", b"ENDSEC;", b"END-ISO-10303-21;", b"ADVANCED_FACE", b"CLOSED_SHELL"),
    ]
)
STEP_DEEDS = st.one_of(DEEDS, st.tuples(st.just("word"), st.floats(0, 1, exclude_max=True), STEP_WORDS))


@cache
def good_step() -> bytes:
    """Two blocks in a STEP file."""
    bodies = [("one", CUBE_CORNERS * 4, CUBE_QUADS), ("two", CUBE_CORNERS + 9, CUBE_QUADS)]
    return step(bodies, "inch").encode()


@CASES
@given(deeds=st.lists(STEP_DEEDS, min_size=1, max_size=3), header=st.booleans())
def test_a_good_step_file_after_any_deeds_is_read_or_refused(deeds, header):
    pytest.importorskip("cascadio", reason="the add-on that reads STEP is not here")
    content = good_step()
    kept = 0 if header else content.index(b"DATA;")
    body = content[kept:]
    for deed in deeds:
        body = done(body, deed)
    held_apart(content[:kept] + body, ".step")


@pytest.mark.parametrize("kind", [*KINDS, "STEP"])
@FEW
@given(deeds=st.lists(DEEDS, min_size=1, max_size=3))
def test_a_good_file_after_any_deeds_comes_through_the_worker_or_is_refused(kind, deeds):
    content = good_step() if kind == "STEP" else good(kind)
    for deed in deeds:
        content = done(content, deed)
    ending = {"STEP": ".step", **ENDING}[kind.split()[-1] if "STL" in kind else kind.split()[0]]
    tally.add(read_or_refused(put(content, ending), read_safely), seconds=0.0, grown=0)


def test_a_reader_that_takes_its_process_with_it_is_told_in_a_sentence():
    """The two ways agree about a good file and about one that cannot be read."""
    pytest.importorskip("cascadio", reason="the add-on that reads STEP is not here")
    held_apart(good_step(), ".step")
    assert (tally.cases, tally.read) == (1, 1)
    held_apart(good_step()[:3000], ".step")
    assert read_or_refused(put(good_step()[:3000], ".step"), read_safely) == REFUSED
    assert tally.refused + tally.broke == 1


@pytest.mark.parametrize(
    ("broke", "unsteady", "good"), [(0, 0, True), (1, 1, True), (2, 2, False), (20, 2, True), (20, 3, False), (500, 51, False)]
)
def test_breaks_that_are_not_told_fail_but_for_an_unsteady_few(broke, unsteady, good):
    assert breaks_are_told(broke, unsteady) == good
