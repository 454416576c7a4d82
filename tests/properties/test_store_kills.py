"""A process is killed at a random instant with writes in flight; all that it had called saved is there, whole."""

import os
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

from hypothesis import settings

from pourwell.files.own_toml import table_of
from pourwell.store.store import DATABASE, Store
from tests.properties import kept_writer

EVERYDAY, LONG = 20, 200
SEED = "POURWELL_KILL_SEED"
LONGEST_S = 0.12
"""From the first word of the writer to its end."""


def kills() -> int:
    """As many as the profile asks for: `make long` runs with more examples."""
    everyday = settings.get_profile("everyday").max_examples
    return LONG if settings().max_examples > everyday else EVERYDAY


def write_and_kill(folder: Path, first: int, after_s: float) -> list[str]:
    """Start the writer, kill it after a while; what it had said by then, whole lines only."""
    command = [sys.executable, "-m", kept_writer.__name__, str(folder), str(first)]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=env, bufsize=0) as child:
        assert child.stdout is not None
        assert child.stdout.readline().strip() == b"ready"
        try:
            child.wait(timeout=after_s)
        except subprocess.TimeoutExpired:
            child.kill()
        said = child.stdout.read()
    assert child.returncode != 0, "the writer ended by itself"
    return said.decode().rpartition("\n")[0].splitlines()


def check(store: Store, said: list[str]) -> None:
    """Everything that was called saved is there as it was said."""
    run = store.runs()[0]
    turns = [int(line.split()[1]) for line in said if line.startswith("field")]
    counts = dict(run.pieces)
    if turns:
        assert run.form["turn"] >= turns[-1]
    own = table_of(store.folder / "studio.toml")
    if "turn" in own.get("kiln", {}):
        turn = own["kiln"]["turn"]
        assert own["note"] == "n" * (turn % 400)  # whole: both keys of one change, or neither
        assert turn >= max((int(line.split()[1]) for line in said if line.startswith("own")), default=0)
    for kind, *words in (line.split() for line in said):
        if kind == "pattern":
            kept = store.pattern(int(words[0]))
            assert kept.name == words[1]
            assert store.shelf.path(kept.digest).read_bytes() == f"pattern {words[1]}".encode()
        elif kind == "count":
            assert counts[int(words[0])] == int(words[1])
        elif kind == "result":
            result = store.result(int(words[0]))
            assert result.data == {"turn": int(words[1])}
            assert store.shelf.path(result.files["field.bin"]).stat().st_size == int(words[2])


def test_what_was_called_saved_is_there_after_a_kill(tmp_path):
    seed = int(os.environ.get(SEED) or random.SystemRandom().randrange(10**6))
    print(f"{SEED}={seed}")
    chance, folder, saved = random.Random(seed), tmp_path / "studio", 0
    for number in range(kills()):
        after_s = chance.uniform(0, LONGEST_S)
        said = write_and_kill(folder, number * 10_000, after_s)
        store = Store(folder)
        try:
            check(store, said)
            assert not list(store.shelf.damaged())
            assert set(store.spoken_of()) <= set(store.shelf.digests())
        except AssertionError as err:
            raise AssertionError(f"kill {number} after {after_s:.4f} s with {SEED}={seed}: {err}") from err
        finally:
            store.close()
        saved += len(said)
    with closing(sqlite3.connect(folder / DATABASE)) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    assert saved > kills(), f"only {saved} writes were called saved: the writer was killed before it wrote"
