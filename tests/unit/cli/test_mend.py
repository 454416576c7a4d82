"""`pourwell mend`: the question on a terminal, what it writes and never touches, and its pictures."""

import io
import json
import os
import select
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import pourwell as package
from pourwell.files.patterns import read_pattern
from tests.journeys.call import Answer, Caller
from tests.unit.files.pattern_files import binary_stl, cube
from tests.unit.geometry.faulty import fine, flipped, without

QUESTION = "Write it?"
VIEWS = ("above", "front", "side", "three-quarter")


class Typed(io.StringIO):
    """A keyboard: lines that are typed, and what is raised after them."""

    def __init__(self, text: str, then: type[BaseException] | None = None) -> None:
        super().__init__(text)
        self._then = then

    def isatty(self) -> bool:
        return True

    def readline(self, size: int | None = -1, /) -> str:
        line = super().readline(-1 if size is None else size)
        if not line and self._then:
            raise self._then
        return line


@pytest.fixture
def large(pourwell: Caller) -> Path:
    """A cube of 8 mm without its top: the cover is a new surface, and the volume is not what it was, so that it asks."""
    whole = fine(cube(8), 2.0)
    return binary_stl(Path("two.stl"), without(whole, *np.flatnonzero(whole.centres[:, 2] > 8 - 1e-6).tolist()))


@pytest.fixture
def small(pourwell: Caller) -> Path:
    """A cube with a turned and a missing triangle: mended without a word."""
    return binary_stl(Path("torn.stl"), without(flipped(fine(cube(8), 0.2), 9), 40))


@pytest.fixture
def asked(pourwell: Caller, monkeypatch: pytest.MonkeyPatch):
    """`pourwell mend` before a terminal on which something is typed."""

    def call(typed: str, *words: object, then: type[BaseException] | None = None) -> Answer:
        monkeypatch.setattr(sys, "stdin", Typed(typed, then))
        monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
        return pourwell("mend", *words)

    return call


def names() -> list[str]:
    """What lies in the working folder."""
    return sorted(path.name for path in Path().iterdir())


# --- the question ---


@pytest.mark.parametrize("answer", ["y\n", "yes\n", "Y\n"])
def test_yes_writes_it(asked, large, answer):
    before = large.read_bytes()
    told = asked(answer, large)
    assert told.code == 0, told.err
    assert QUESTION in told.out + told.err
    assert "Written: two-mended.stl" in told.out
    assert read_pattern(Path("two-mended.stl")).bodies[0].mesh.volume_mm3 == pytest.approx(512)
    assert large.read_bytes() == before


@pytest.mark.parametrize("answer", ["n\n", "no\n", "\n"])
def test_no_and_an_empty_line_write_nothing(asked, large, answer):
    before = large.read_bytes()
    told = asked(answer, large)
    assert told.code == 0
    assert "Nothing was written." in told.out
    assert names() == ["two.stl"]
    assert large.read_bytes() == before


def test_an_answer_that_is_neither_is_asked_again(asked, large):
    told = asked("perhaps\nn\n", large)
    assert (told.out + told.err).count(QUESTION) == 2
    assert names() == ["two.stl"]


@pytest.mark.parametrize("then", [KeyboardInterrupt, EOFError], ids=["Ctrl-C", "Ctrl-D"])
def test_broken_off_at_the_question_it_writes_nothing_and_says_so(asked, large, then):
    told = asked("", large, then=then)
    assert told.code == 130
    assert "Nothing was written." in told.err
    assert "fault in Pourwell" not in told.err
    assert names() == ["two.stl"]


def test_yes_beforehand_and_a_small_change_are_not_asked_about(asked, large, small):
    for words in ((large, "--yes"), (small,)):
        told = asked("", *words, then=KeyboardInterrupt)
        assert told.code == 0, told.err
        assert QUESTION not in told.out + told.err
    assert names() == ["torn-mended.stl", "torn.stl", "two-mended.stl", "two.stl"]


def test_what_changes_is_on_the_screen_before_the_question(asked, large):
    told = asked("n\n", large).out
    assert told.index("1 hole") < told.index(QUESTION)
    assert told.index("new surface") < told.index(QUESTION)


def test_a_terminal_to_type_at_but_none_to_read_from_is_not_asked(pourwell, large, monkeypatch):
    """The output goes to a file: a question there would be waited for without being seen."""
    monkeypatch.setattr(sys, "stdin", Typed("y\n"))
    told = pourwell("mend", large)
    assert told.code == 2
    assert "--yes" in told.err
    assert "new surface" in told.err
    assert QUESTION not in told.out + told.err
    assert names() == ["two.stl"]


def test_ctrl_c_on_a_true_terminal_ends_it_with_nothing_written(large):
    """A process on a terminal of its own, so that the key goes the whole way."""
    leader, follower = pytest.importorskip("pty").openpty()
    ours = os.environ | {"PYTHONPATH": str(Path(package.__file__).parents[1])}
    command = [sys.executable, "-c", "from pourwell.cli.main import run; run()", "mend", str(large)]
    process = subprocess.Popen(
        command, stdin=follower, stdout=follower, stderr=follower, env=ours, start_new_session=True, preexec_fn=_own
    )
    os.close(follower)
    seen, end = b"", time.monotonic() + 120
    try:
        while QUESTION.encode() not in seen and time.monotonic() < end:
            if select.select([leader], [], [], 1.0)[0]:
                seen += os.read(leader, 4096)
        assert QUESTION.encode() in seen
        os.write(leader, b"\x03")
        assert process.wait(60) == 130
    finally:
        process.kill()
        process.wait()
        os.close(leader)
    assert names() == ["two.stl"]


def _own() -> None:
    """Make the terminal that is the standard input the one that sends signals to this process."""
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


# --- files ---


@pytest.mark.parametrize("words", [["--out", "two.stl"], ["--out", "./two.stl", "--replace"], ["--out", "link.stl", "--replace"]])
def test_the_original_is_never_written_over(pourwell, large, words):
    Path("link.stl").symlink_to(large)
    before = large.read_bytes()
    told = pourwell("mend", large, "--yes", *words)
    assert told.code == 2
    assert "original" in told.err
    assert large.read_bytes() == before
    assert Path("link.stl").is_symlink()


def test_a_file_that_is_there_stays_unless_it_may_be_replaced(pourwell, small):
    Path("mine.stl").write_text("mine", encoding="utf-8")
    told = pourwell("mend", small, "--out", "mine.stl")
    assert told.code == 2
    assert "exists already" in told.err
    assert Path("mine.stl").read_text(encoding="utf-8") == "mine"
    assert pourwell("mend", small, "--out", "mine.stl", "--replace").code == 0
    assert Path("mine.stl").stat().st_size > 84
    assert names() == ["mine.stl", "torn.stl"], "nothing half-written beside it"


def test_where_it_cannot_be_written_is_said_before_anything_is_read(pourwell):
    Path("there.stl").mkdir()
    told = pourwell("mend", "none.stl", "--out", "there.stl")
    assert told.code == 2
    assert "is a folder" in told.err, "not that the file is not there"


def test_a_failed_write_leaves_nothing_half_written(pourwell, small, monkeypatch):
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    told = pourwell("mend", small)
    assert told.code == 2
    assert "No space left" in told.err
    assert names() == ["torn.stl"]


def test_only_the_steps_that_are_named_are_taken(pourwell, small):
    told = pourwell("mend", small, "--winding", "--holes", "--json")
    assert told.code == 0
    assert told.data["changes"] == {"triangles turned": 1, "holes covered": 1}
    refused = pourwell("mend", small, "--winding", "--replace")
    assert refused.code == 2
    assert "Allow every step" in refused.err


# --- pictures ---


def test_pictures_show_each_side_before_and_after_by_one_camera(pourwell, small):
    told = pourwell("mend", small, "--pictures", "seen")
    assert told.code == 0, told.err
    kept = {path.name for path in Path("seen").iterdir()}
    places = {name for name in kept if name.startswith("place-")}
    assert f"{8 + len(places)} pictures in seen" in told.out
    assert kept - places == {"job.json", *(f"before-after-{view}.{form}" for view in VIEWS for form in ("png", "svg"))}
    picture = np.asarray(Image.open("seen/before-after-front.png").convert("RGB")).astype(int)
    half = picture.shape[1] // 2
    body = [np.abs(picture[100:-60, part] - picture[100, 2]).sum(axis=2) > 30 for part in (slice(2, half), slice(half + 2, -2))]
    assert body[0].sum() == pytest.approx(body[1].sum(), rel=0.03), "the cube is as large after as before"
    before, after = [int(((p[..., 0] - p[..., 1]) > 60).sum()) for p in _halves("seen")]
    assert before > 50, "rims are thick and red"
    assert after == 0
    assert "torn" in Path("seen/before-after-side.svg").read_text(encoding="utf-8")


def _halves(folder: str) -> list[np.ndarray]:
    """All that stands left, and all that stands right, of all pictures."""
    all_of = [np.asarray(Image.open(f"{folder}/before-after-{view}.png").convert("RGB")).astype(int) for view in VIEWS]
    return [np.vstack([p[:, : p.shape[1] // 2] for p in all_of]), np.vstack([p[:, p.shape[1] // 2 :] for p in all_of])]


def test_the_pictures_are_there_before_the_question_and_stay_after_a_no(asked, large):
    told = asked("n\n", large, "--pictures", "seen")
    assert told.out.index("pictures in seen") < told.out.index(QUESTION)
    assert names() == ["seen", "two.stl"]


def test_a_folder_of_others_is_refused_before_anything_is_read(pourwell, small):
    Path("mine").mkdir()
    Path("mine/notes.txt").write_text("mine", encoding="utf-8")
    for more in ([], ["--replace"]):
        told = pourwell("mend", small, "--pictures", "mine", *more)
        assert told.code == 2
    assert [path.name for path in Path("mine").iterdir()] == ["notes.txt"]
    assert names() == ["mine", "torn.stl"]


def test_where_nothing_is_mended_nothing_is_drawn(pourwell):
    binary_stl(Path("whole.stl"), cube(8))
    told = pourwell("mend", "whole.stl", "--pictures", "seen", "--json")
    assert told.code == 0
    assert told.data["pictures"] == []
    assert names() == ["whole.stl"]


def test_the_data_name_what_was_written(pourwell, large):
    told = pourwell("mend", large, "--yes", "--pictures", "seen", "--json")
    data = json.loads(told.out)
    assert data["written"] == "two-mended.stl"
    mended = [fault for fault in data["faults_before"] if fault["kind"] not in ("sliver", "pinched corner")]
    assert len(data["pictures"]) == 8 + 2 * len(mended)
    assert all(Path(path).is_file() for path in data["pictures"])
    assert data["asks"] is True


def test_every_place_that_is_mended_has_a_close_up_of_how_it_was(pourwell, small):
    data = pourwell("mend", small, "--pictures", "seen", "--json").data
    kinds = [fault["kind"].replace(" ", "-") for fault in data["faults_before"]]
    assert kinds == ["open-edges", "winding"]
    said = Path("seen/place-1-open-edges.svg").read_text(encoding="utf-8")
    assert "As read: 1 hole (a rim of" in said
    assert "{l:" not in said
    assert Path("seen/place-1-open-edges.png").stat().st_size > 1000
