"""Reading in a process of its own: the same answer, and whatever ends that process told in a sentence."""

import io
import json
import os
import subprocess
import sys
import time

import numpy as np
import pytest

from pourwell.errors import BadFileError
from pourwell.files import worker
from pourwell.files.patterns import PatternFile, read_pattern, simple
from pourwell.files.worker import read_safely
from tests.unit.files.gltf_files import glb, gltf, of
from tests.unit.files.pattern_files import (
    CUBE_CORNERS,
    CUBE_QUADS,
    ONE,
    binary_stl,
    cube,
    obj,
    ply,
    put,
    text_stl,
    threemf,
    volume,
)

KINDS = {
    "a.stl": lambda path: binary_stl(path, cube(4)),
    "text.stl": lambda path: put(path, text_stl([("shank", cube(4)), ("größe", cube(1, (9, 0, 0)))], end=False)),
    "a.obj": lambda path: put(path, obj(CUBE_CORNERS * 4, CUBE_QUADS)),
    "a.ply": lambda path: put(path, ply("ascii", CUBE_CORNERS * 4, CUBE_QUADS)),
    "b.ply": lambda path: put(path, ply("binary_big_endian", CUBE_CORNERS * 4, cube().faces.tolist())),
    "a.3mf": lambda path: threemf(path, ONE, '<item objectid="1"/>', unit="inch"),
    "a.glb": lambda path: put(path, glb(*of(("one", cube(4)), ("two", cube(1))))),
    "a.gltf": lambda path: put(path, gltf(*of(("one", cube(4))), beside=path.parent / "a.bin")),
}


def same(one: PatternFile, other: PatternFile) -> bool:
    words = ("name", "kind", "units", "units_from", "own_units", "triangle_count", "remarks")
    return (
        all(getattr(one, word) == getattr(other, word) for word in words)
        and [body.name for body in one.bodies] == [body.name for body in other.bodies]
        and all(
            np.array_equal(a.mesh.vertices, b.mesh.vertices) and np.array_equal(a.mesh.faces, b.mesh.faces)
            for a, b in zip(one.bodies, other.bodies, strict=True)
        )
    )


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_of_file_comes_back_as_it_was_read(tmp_path, name):
    path = KINDS[name](tmp_path / name)
    assert same(read_safely(path, units="cm"), read_pattern(path, units="cm"))


def said(path, **options) -> str:
    with pytest.raises(BadFileError) as caught:
        read_safely(path, **options)
    error = caught.value
    assert error.what
    assert error.why
    assert error.try_this
    assert path.name in error.what
    return str(error)


def test_a_refusal_crosses_over_word_for_word(tmp_path):
    path = put(tmp_path / "a.obj", obj(CUBE_CORNERS, CUBE_QUADS) + "f 1 2 99\n")
    with pytest.raises(BadFileError) as caught:
        read_pattern(path)
    assert said(path) == str(caught.value)


def test_the_limit_of_triangles_crosses_over(tmp_path):
    assert "limit is 11" in said(KINDS["a.obj"](tmp_path / "a.obj"), limit_count=11)
    assert "limit is 11" in said(KINDS["a.stl"](tmp_path / "a.stl"), limit_count=11)


@pytest.mark.parametrize("name", ["none.obj", "none.stl", ".", "odd\0name.stl"])
def test_a_path_that_is_no_file_is_told(tmp_path, name):
    with pytest.raises(BadFileError) as caught:
        read_safely(tmp_path / name)
    assert caught.value.why


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes among its files")
def test_a_pipe_that_never_ends_is_not_opened(tmp_path):
    os.mkfifo(tmp_path / "a.stl")
    assert "no file" in said(tmp_path / "a.stl")


def test_reading_that_takes_too_long_is_ended(tmp_path):
    path = put(tmp_path / "long.obj", obj(CUBE_CORNERS, CUBE_QUADS) + "v 0 0 0\n" * 2_000_000)
    start = time.monotonic()
    assert "longer than 0.4 seconds of computing" in said(path, limit_s=0.4)
    assert time.monotonic() - start < 20


def elsewhere(folder, monkeypatch, deed: str) -> None:
    """Let the process find a package of our name whose reader does something first."""
    (folder / "pourwell").mkdir(parents=True)
    (folder / "pourwell" / "__init__.py").write_text(
        f"import time\n__path__.append({str(worker.__file__).rpartition('files')[0]!r})\n"
        "import pourwell.files.patterns as p\ntrue = p.read_pattern\n"
        f"def slow(*a, **k):\n    {deed}\n    return true(*a, **k)\np.read_pattern = slow\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(worker.pourwell, "__file__", str(folder / "pourwell" / "__init__.py"))


@pytest.mark.skipif(worker.resource is None, reason="this system counts no processor time")
def test_a_reader_that_waits_for_others_is_not_told_as_too_long(tmp_path, monkeypatch):
    """The clock runs on while the machine does other work; only what the file itself takes counts, till patience ends."""
    path = KINDS["a.obj"](tmp_path / "a.obj")
    elsewhere(tmp_path / "slow", monkeypatch, "time.sleep(1.5)")
    assert read_safely(path, limit_s=1.0).triangle_count == 12
    monkeypatch.setattr(worker, "PATIENCE", 0.5)
    assert "longer than 1 seconds" in said(path, limit_s=1.0)


@pytest.mark.skipif(worker.resource is None, reason="this system counts no processor time")
def test_a_reader_that_computes_without_end_is_ended_long_before_patience_ends(tmp_path, monkeypatch):
    path = KINDS["a.obj"](tmp_path / "a.obj")
    elsewhere(tmp_path / "busy", monkeypatch, "while True: pass")
    monkeypatch.setattr(worker, "PATIENCE", 1000)
    assert "longer than 1 seconds of computing" in said(path, limit_s=1.0)


def test_where_no_processor_time_is_counted_the_clock_decides(tmp_path, monkeypatch):
    path = KINDS["a.obj"](tmp_path / "a.obj")
    elsewhere(tmp_path / "slow", monkeypatch, "time.sleep(30)")
    monkeypatch.setattr(worker, "resource", None)
    start = time.monotonic()
    assert said(path, limit_s=0.5).endswith("longer than 0.5 seconds. " + worker.COARSER)
    assert time.monotonic() - start < 15


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only this system holds a process to its memory")
def test_reading_that_takes_too_much_memory_is_told(tmp_path):
    path = put(tmp_path / "large.obj", obj(CUBE_CORNERS, CUBE_QUADS) + "v 0 0 0\n" * 1_000_000)
    assert "more than 0.0 GB" in said(path, limit_bytes=10_000_000)
    assert read_safely(path).triangle_count == 12


def test_a_reader_that_breaks_down_is_told(tmp_path, monkeypatch):
    """The process finds a package of our name whose reader does what a hostile file might make it do."""
    for name, deed in (("crash", "os.abort()"), ("fault", "raise KeyError('x')"), ("mute", "os._exit(0)")):
        root = tmp_path / name
        (root / "pourwell").mkdir(parents=True)
        (root / "pourwell" / "__init__.py").write_text(
            f"import os, sys\n__path__.append({str(worker.__file__).rpartition('files')[0]!r})\n"
            "import pourwell.files.patterns as p\n"
            f"def broken(*a, **k):\n    {deed}\np.read_pattern = broken\n",
            encoding="utf-8",
        )
        monkeypatch.setattr(worker.pourwell, "__file__", str(root / "pourwell" / "__init__.py"))
        told = said(KINDS["a.obj"](tmp_path / f"{name}.obj"))
        assert "broke down" in told
        assert ("KeyError" in told) == (name == "fault")


def test_nothing_that_a_folder_holds_is_run(tmp_path, monkeypatch):
    for name in ("numpy", "json", "pourwell", "sitecustomize"):
        (tmp_path / f"{name}.py").write_text("open('ran', 'w').close()", encoding="utf-8")
    path = KINDS["a.obj"](tmp_path / "a.obj")
    monkeypatch.delenv("PYTHONPATH", raising=False)
    monkeypatch.chdir(tmp_path)
    assert volume(read_safely(path)) == pytest.approx(64)
    assert not (tmp_path / "ran").exists()


def test_only_files_of_fixed_rows_that_fill_their_size_are_read_where_we_are(tmp_path):
    chosen = {name: simple(make(tmp_path / name)) for name, make in KINDS.items()}
    assert {name for name, here in chosen.items() if here} == {"a.stl", "b.ply"}
    assert not simple(binary_stl(tmp_path / "c.stl", cube(4), tail=b"1")), "its header does not agree with its size"
    assert not simple(put(tmp_path / "c.ply", ply("binary_little_endian", CUBE_CORNERS * 4, CUBE_QUADS)))
    twice = ply("binary_little_endian", CUBE_CORNERS * 4, cube().faces.tolist()).replace(b"float y", b"float x")
    assert not simple(put(tmp_path / "d.ply", twice)), "two properties of one name"


def test_the_process_needs_no_engine_for_a_plain_file():
    """What takes long to load is loaded only where a file needs it."""
    heavy = ("scipy", "manifold3d", "lxml", "numba", "trimesh", "pydantic", "embreex")
    code = f"import sys, pourwell.files.worker; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=worker._environment(os.environ)
    )
    assert done.stdout.strip() == "[]"


def spoken(asked: dict) -> bytes:
    """What the process writes when it is asked."""
    said, arrays = worker._answer(asked)
    head = json.dumps(said).encode()
    return worker.LENGTH.pack(len(head)) + head + b"".join(array.tobytes() for array in arrays)


def asked_for(path) -> dict:
    return {"path": str(path), "units": None, "limit_count": 10_000, "limit_bytes": 10**9}


def test_what_is_said_over_the_pipe_is_the_file(tmp_path):
    path = KINDS["a.glb"](tmp_path / "a.glb")
    assert same(worker._received(io.BytesIO(spoken(asked_for(path))), path), read_pattern(path))


def test_an_answer_that_breaks_off_anywhere_is_none(tmp_path):
    """Wherever the process ends, what came before is never taken for the whole file."""
    path = KINDS["a.obj"](tmp_path / "a.obj")
    whole = spoken(asked_for(path))
    for end in (0, 3, 8, 20, len(whole) // 2, len(whole) - 1):
        with pytest.raises(EOFError):
            worker._received(io.BytesIO(whole[:end]), path)


def test_an_answer_in_small_bites_is_put_together(tmp_path):
    path = KINDS["a.obj"](tmp_path / "a.obj")

    class Slow(io.BytesIO):
        def readinto(self, room) -> int:
            bite = super().read(min(5, len(room)))
            room[: len(bite)] = bite
            return len(bite)

    assert same(worker._received(Slow(spoken(asked_for(path))), path), read_pattern(path))


FAULTS = [(MemoryError(), "takes too much memory"), (RecursionError("deep"), "RecursionError"), (KeyError("x"), "KeyError")]


@pytest.mark.parametrize(("fault", "words"), FAULTS)
def test_whatever_a_reader_meets_is_told_and_nothing_is_sent_after_it(tmp_path, monkeypatch, fault, words):
    path = KINDS["a.obj"](tmp_path / "a.obj")

    def broken(*_, **__):
        raise fault

    monkeypatch.setattr(worker, "read_pattern", broken)
    told = spoken(asked_for(path))
    error = worker._received(io.BytesIO(told), path)
    assert isinstance(error, BadFileError)
    assert words in f"{error.what} {error.why}"
    assert len(told) == worker.LENGTH.size + worker.LENGTH.unpack(told[: worker.LENGTH.size])[0]


def test_the_process_finds_this_package_first_and_takes_no_threads():
    found = worker._environment({"PYTHONPATH": "/elsewhere", "SHELL": "mine", "OMP_NUM_THREADS": "9"})
    first, second = found["PYTHONPATH"].split(os.pathsep)
    assert first == str(worker.__file__).rpartition(f"{os.sep}pourwell{os.sep}")[0]
    assert second == "/elsewhere"
    assert found["SHELL"] == "mine"
    assert found["OMP_NUM_THREADS"] == "1"
    assert os.pathsep not in worker._environment({})["PYTHONPATH"], "an empty entry would be the folder that one stands in"
