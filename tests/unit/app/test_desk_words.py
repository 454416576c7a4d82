"""Names of files that come from outside: what of them may be kept, and what a pattern is called by them."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.app.desk_words import LONGEST_NAME, called, for_desk, safe_name
from tests.rules.source import modules


@pytest.mark.parametrize(
    ("file", "kept"),
    [
        ("signet-oval.stl", "signet-oval.stl"),
        ("Ring 54 (final).3MF", "Ring 54 (final).3MF"),
        ("a.b.c.obj", "a.b.c.obj"),
        ("Müller & Söhne.ply", "Müller & Söhne.ply"),
        ("noending", "noending"),
        ("../../x.stl", "x.stl"),
        (".stl", "pattern.stl"),
        ("", "pattern"),
    ],
)
def test_what_harms_nobody_stays(file, kept):
    assert safe_name(file) == kept


def test_a_long_name_is_cut_and_keeps_its_ending():
    name = safe_name("x" * 400 + ".stl")
    assert name.endswith(".stl")
    assert len(name) <= LONGEST_NAME


@given(st.text(max_size=300))
def test_no_name_leads_out_of_a_folder(file):
    name = safe_name(file)
    assert name
    assert not set(name) & set('/\\:*?"<>|\x00\n\r\t')
    assert name not in (".", "..")
    assert len(name) <= LONGEST_NAME
    assert safe_name(name) == name or len(safe_name(name)) <= len(name)


@pytest.mark.parametrize(
    ("file", "name"),
    [("heddle-band-54.stl", "Heddle band 54"), ("oval_signet.3mf", "Oval signet"), ("-_-.stl", "Pattern"), ("RING.stl", "Ring")],
)
def test_a_pattern_is_called_by_its_file_in_words(file, name):
    assert called(file) == name


@given(st.text(max_size=300))
def test_a_pattern_is_always_called_something(file):
    assert called(file).strip()


OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]+")


def sentences_with_options():
    """What steps, job, printing and readers of a log say with words of the command line in it."""
    rooms = ("src/pourwell/steps", "src/pourwell/job.py", "src/pourwell/assembly.py", "src/pourwell/files/job_toml.py")
    rooms += tuple(f"src/pourwell/files/{name}.py" for name in ("kiln_log", "log_cleaning", "log_table", "log_time"))
    rooms += ("src/pourwell/app/calibrating.py", "src/pourwell/app/calibrating_scale.py", "src/pourwell/physics/burnout")
    return sorted({text for room in rooms for module in modules(room) for text in module.strings if OPTION.search(text)})


def test_there_are_such_sentences():
    assert len(sentences_with_options()) >= 5


@pytest.mark.parametrize("sentence", [s for s in sentences_with_options() if "\n" not in s])
def test_a_page_says_no_word_of_the_command_line(sentence):
    assert not OPTION.search(for_desk(sentence)), "say in desk_words.PHRASES what a page says instead"


def sentences_with_the_file_of_the_studio():
    """What steps and job say of a run that names the file in which the studio is written; a week has no page."""
    rooms = ("src/pourwell/steps", "src/pourwell/job.py")
    names = {
        text
        for room in rooms
        for module in modules(room)
        for text in module.strings
        if "studio.toml" in text and "\n" not in text and " " in text
    }
    return sorted(names)


@pytest.mark.parametrize("sentence", sentences_with_the_file_of_the_studio())
def test_a_page_sends_nobody_to_a_file(sentence):
    assert "studio.toml" not in for_desk(sentence), "say in desk_words.PHRASES what a page says instead"


def test_a_page_says_no_key_of_a_job_file():
    said = "Set a second sprue at the side of the head, or move the sprue there (sprue_at_mm (5.7, 4.8, -9.5))."
    assert for_desk(said) == "Set a second sprue at the side of the head, or move the sprue there."


def test_what_a_page_may_say_stays_as_it_is():
    assert for_desk("Widen the sprue to 2.5 mm \u2013 or move it.") == "Widen the sprue to 2.5 mm \u2013 or move it."


@pytest.mark.parametrize(
    ("said", "here"),
    [
        ("Try `pourwell mend ring.stl`: it covers 1 hole.", "Try mending it here: it covers 1 hole."),
        ('or try `pourwell mend "my ring.stl"`, which', "or try mending it here, which"),
        ("It falls off. `pourwell mend a.stl` leaves it away.", "It falls off. Mending it here leaves it away."),
        ("See `pourwell print a b.stl` for the way to stand.", "See how it is printed for the way to stand."),
        ("Take another way: lying flat (--direction 0.000,-1.000,0.5).", "Take another way: lying flat."),
    ],
)
def test_the_command_that_mends_is_a_button_here(said, here):
    assert for_desk(said) == here
