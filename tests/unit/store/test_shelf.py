"""Files named by what is in them: the digest is SHA-256 (FIPS 180-4), a file is there once and whole, and nothing half stays."""

import errno
import os

import pytest

from pourwell.errors import BadDataError, OutputError
from pourwell.store.shelf import CHUNK_BYTES, Shelf

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""SHA-256 of "abc", the example of NIST's FIPS 180-4 example values."""
EMPTY = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
"""SHA-256 of nothing."""


@pytest.fixture
def shelf(tmp_path):
    return Shelf(tmp_path / "studio" / "files")


def half_written(shelf):
    return [path.name for path in shelf.folder.iterdir() if path.name.startswith(".new-")]


@pytest.mark.parametrize(("content", "digest"), [(b"abc", ABC), (b"", EMPTY)])
def test_a_file_is_called_by_its_sha_256_and_lies_under_its_first_two_letters(shelf, content, digest):
    assert shelf.put(content) == digest
    place = shelf.path(digest)
    assert place == shelf.folder / digest[:2] / digest
    assert place.read_bytes() == content
    assert half_written(shelf) == []


def test_bytes_and_a_file_of_the_same_content_are_one_also_over_several_chunks(shelf, tmp_path):
    content = bytes(range(256)) * (2 * CHUNK_BYTES // 256) + b"the end"
    source = tmp_path / "pattern.stl"
    source.write_bytes(content)
    first = shelf.put(source)
    assert shelf.put(content) == first
    assert list(shelf.digests()) == [first]
    assert shelf.path(first).read_bytes() == content
    assert source.read_bytes() == content, "it is a copy that is kept"


def test_what_is_there_is_not_written_again(shelf):
    place = shelf.path(shelf.put(b"abc"))
    before = place.stat()
    shelf.put(b"abc")
    assert (place.stat().st_ino, place.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert half_written(shelf) == []


@pytest.mark.parametrize(
    "name", ["", "abc", ABC[:-1], ABC + "0", ABC.upper(), "../" + ABC, ABC + "\n", "g" * 64, "../../studio.toml"]
)
def test_what_is_no_digest_names_no_file(shelf, name):
    with pytest.raises(BadDataError, match="no name of a kept file"):
        shelf.path(name)


def test_a_full_disk_is_told_with_what_to_do_and_leaves_nothing(shelf, monkeypatch):
    kept = shelf.put(b"kept before")

    def full(_handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError) as refused:
        shelf.put(b"abc")
    assert (refused.value.why, refused.value.try_this[:10]) == ("The system says: No space left on device.", "Make room,")
    assert str(shelf.folder) in refused.value.what
    assert list(shelf.digests()) == [kept]
    assert half_written(shelf) == []


def test_a_source_that_is_gone_is_told_and_leaves_nothing(shelf, tmp_path):
    with pytest.raises(OutputError, match="cannot be written"):
        shelf.put(tmp_path / "nowhere.stl")
    assert half_written(shelf) == []


def test_a_file_has_its_name_only_once_its_content_is_on_the_disk(shelf, monkeypatch):
    there = []
    usual = os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: (there.append(shelf.path(ABC).is_file()), usual(handle)))
    shelf.put(b"abc")
    assert there[0] is False
    assert there[-1] is True, "and then the list of names is settled too"


def test_files_of_others_are_no_kept_files(shelf):
    kept = shelf.put(b"abc")
    (shelf.folder / "ba" / "notes.txt").write_text("mine", encoding="utf-8")
    (shelf.folder / "zz").mkdir()
    (shelf.folder / "zz" / ("A" * 64)).write_bytes(b"")
    assert list(shelf.digests()) == [kept]
    assert shelf.sweep([]) == 1
    assert (shelf.folder / "ba" / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_one_changed_bit_is_found_and_a_whole_file_is_not_blamed(shelf):
    good, bad = shelf.put(b"abc"), shelf.put(b"solid band")
    assert list(shelf.damaged()) == []
    content = bytearray(shelf.path(bad).read_bytes())
    content[3] ^= 1
    shelf.path(bad).write_bytes(bytes(content))
    assert list(shelf.damaged()) == [bad]
    assert good not in shelf.damaged()


def test_sweeping_keeps_what_is_named_and_takes_what_a_fall_left_half_written(shelf):
    first, second = shelf.put(b"first"), shelf.put(b"second")
    (shelf.folder / ".new-abcd").write_bytes(b"half")
    assert shelf.sweep([first]) == 2
    assert list(shelf.digests()) == [first]
    assert half_written(shelf) == []
    assert not shelf.path(second).exists()
    assert shelf.sweep([first, second]) == 0, "what is named but not there is no reason to fail"
