"""One desk a studio folder: the second is told where the first is, and a desk that is gone, however it went, holds nothing."""

import json
import os
import subprocess
import sys

import pytest

from pourwell.errors import BadRequestError, OutputError
from pourwell.store.lock import FILE, Hold, read

HOLDS = "import sys, time; from pathlib import Path; from pourwell.store.lock import Hold; h = Hold(Path(sys.argv[1])); \
h.tell('http://127.0.0.1:8321/'); print('held', flush=True); time.sleep(60)"


def test_the_second_desk_is_refused_with_the_address_of_the_first_until_that_is_killed(tmp_path):
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    first = subprocess.Popen([sys.executable, "-c", HOLDS, str(tmp_path)], stdout=subprocess.PIPE, env=env, text=True)
    try:
        assert first.stdout.readline() == "held\n"
        with pytest.raises(BadRequestError) as refused:
            Hold(tmp_path)
        assert f"on the studio folder {tmp_path} already. It is open at http://127.0.0.1:8321/ (process {first.pid})." in str(
            refused.value
        )
    finally:
        first.kill()
        first.wait()
        first.stdout.close()
    assert read(tmp_path / FILE)["pid"] == first.pid  # its file is still there, and holds nobody off
    with Hold(tmp_path) as hold:
        hold.tell("http://127.0.0.1:9000/")
        assert read(tmp_path / FILE) == {"pid": os.getpid(), "address": "http://127.0.0.1:9000/"}


def test_a_hold_that_was_let_go_can_be_taken_again_and_one_of_another_folder_is_its_own(tmp_path):
    with Hold(tmp_path / "a"), Hold(tmp_path / "b"):
        pass
    with Hold(tmp_path / "a"):
        pass


def test_a_first_desk_that_has_not_said_its_address_yet_is_told_as_such(tmp_path):
    with Hold(tmp_path) as hold:
        os.ftruncate(hold.file, 0)
        with pytest.raises(BadRequestError, match="It is just being opened"):
            Hold(tmp_path)


@pytest.mark.parametrize("content", ["", "no json", json.dumps([1])])
def test_a_lock_file_that_says_nothing_of_use_is_no_fault(tmp_path, content):
    (tmp_path / FILE).write_text(content, encoding="utf-8")
    assert read(tmp_path / FILE) == {}
    Hold(tmp_path).let_go()


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / FILE).mkdir()
    with pytest.raises(OutputError, match="cannot be written"):
        Hold(tmp_path)
