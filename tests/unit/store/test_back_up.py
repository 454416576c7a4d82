"""Back-up and restore: one file, of one moment, and nothing else."""

import hashlib
import json
import os
import sqlite3
import zipfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.errors import BadFileError, OutputError
from pourwell.store import back_up as at_work
from pourwell.store.back_up import LIST, back_up, may_hold, restore
from pourwell.store.store import DATABASE, Store

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    kept = Store(tmp_path / "studio")
    (kept.folder / "studio.toml").write_text('# mine\nname = "Quillmere Studio"\n', encoding="utf-8")
    (kept.folder / "alloys").mkdir()
    (kept.folder / "alloys" / "own.toml").write_text('id = "own"\n', encoding="utf-8")
    pattern, _ = kept.add_pattern(b"solid", file="band.stl", name="Band", now=NOW)
    run = kept.add_run({"alloy": "sterling-925"}, pieces=[(pattern.id, 3)], now=NOW)
    kept.add_result(run_id=run.id, asked={}, data={"charge_g": 75.1}, files={"run-sheet.pdf": b"%PDF"}, now=NOW)
    yield kept
    kept.close()


def contents(store):
    return (
        store.patterns(),
        store.runs(),
        [store.latest(run_id=run.id) for run in store.runs()],
        sorted(store.shelf.digests()),
        {p.relative_to(store.folder).as_posix(): p.read_bytes() for p in store.folder.rglob("*.toml")},
    )


def test_a_restored_studio_is_the_one_that_was_backed_up(store, tmp_path):
    count = back_up(store, tmp_path / "studio.zip")
    assert restore(tmp_path / "studio.zip", tmp_path / "again") == count == 5
    again = Store(tmp_path / "again")
    assert contents(again) == contents(store)
    assert list(again.shelf.damaged()) == []
    again.close()


def test_a_restored_studio_goes_on_where_the_other_stopped(store, tmp_path):
    back_up(store, tmp_path / "studio.zip")
    restore(tmp_path / "studio.zip", tmp_path / "again")
    again = Store(tmp_path / "again")
    assert again.add_run({}, now=NOW).number == 2
    again.close()


def test_a_back_up_can_be_made_while_the_store_is_written(store, tmp_path):
    with store.engine.execution_options(pourwell_writes=True).begin() as writing:
        writing.exec_driver_sql("UPDATE run SET form = '{\"half\": 1}'")
        back_up(store, tmp_path / "studio.zip")
        writing.rollback()
    restore(tmp_path / "studio.zip", tmp_path / "again")
    again = Store(tmp_path / "again")
    assert again.runs()[0].form == {"alloy": "sterling-925"}
    again.close()


def test_an_older_back_up_is_not_replaced_unless_told_so(store, tmp_path):
    out = tmp_path / "studio.zip"
    back_up(store, out)
    with pytest.raises(OutputError, match="exists already"):
        back_up(store, out)
    store.add_run({}, now=NOW)
    back_up(store, out, replace=True)
    restore(out, tmp_path / "again")
    again = Store(tmp_path / "again")
    assert len(again.runs()) == 2
    again.close()


def test_nothing_is_restored_into_a_folder_in_use(store, tmp_path):
    back_up(store, tmp_path / "studio.zip")
    before = contents(store)
    with pytest.raises(OutputError, match="is not empty"):
        restore(tmp_path / "studio.zip", store.folder)
    assert contents(store) == before


def test_an_empty_folder_may_be_restored_into(store, tmp_path):
    back_up(store, tmp_path / "studio.zip")
    (tmp_path / "again").mkdir()
    restore(tmp_path / "studio.zip", tmp_path / "again")
    assert (tmp_path / "again" / DATABASE).is_file()


def changed(path, out, *, drop=(), replace=None, add=None):
    """A back-up with something else in it."""
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            if name not in drop:
                target.writestr(name, (replace or {}).get(name, source.read(name)))
        for name, content in (add or {}).items():
            target.writestr(name, content)
    return out


def kept_name(path):
    with zipfile.ZipFile(path) as box:
        return next(name for name in box.namelist() if name.startswith("kept/"))


@pytest.mark.parametrize("damage", ["missing", "other", "cut"])
def test_a_damaged_back_up_is_refused_and_leaves_nothing_behind(store, tmp_path, damage):
    out = tmp_path / "studio.zip"
    back_up(store, out)
    bad = tmp_path / "bad.zip"
    if damage == "missing":
        changed(out, bad, drop=[kept_name(out)])
    elif damage == "other":
        changed(out, bad, replace={kept_name(out): b"something else"})
    else:
        bad.write_bytes(out.read_bytes()[:-200])
    with pytest.raises(BadFileError, match=r"damaged"):
        restore(bad, tmp_path / "again")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.zip", "studio", "studio.zip"]


def relisted(path, out, change, *, add=None):
    """A back-up with another list."""
    with zipfile.ZipFile(path) as box:
        listed = json.loads(box.read(LIST))
    return changed(path, out, drop=[LIST], add={LIST: json.dumps(change(listed)), **(add or {})})


OUTSIDE = [
    "../outside.toml",
    "/outside.toml",
    "kept\\..\\..\\outside",
    "C:/rings/x.bat",
    "C:/outside.toml",
    "C:evil.toml",
    "alloys/C:evil.toml",
    "studio.toml:stream.toml",
    "//host/share/x.toml",
    ".. /outside.toml",
    "alloys/.../x.toml",
    "alloys//x.toml",
    "./x.toml",
    "alloys/x\x00.toml",
    "",
]
"""Names that lead out of the folder on one system or another, or may."""
OTHER = ["evil.bat", "alloys/evil.exe", "kept/ab/evil.toml", f"kept/cd/{'ab' * 32}", "kept/evil", "store.sqlite3-wal", ".toml"]
"""Names that lead nowhere, of files that no back-up holds."""


@pytest.mark.parametrize("name", OUTSIDE + OTHER)
def test_a_back_up_cannot_write_outside_its_folder(store, tmp_path, name):
    assert not may_hold(name)
    out = tmp_path / "studio.zip"
    back_up(store, out)
    bad = relisted(out, tmp_path / "bad.zip", lambda listed: listed | {"files": listed["files"] | {name: "0" * 64}})
    with pytest.raises(BadFileError, match="what no back-up holds"):
        restore(bad, tmp_path / "deep" / "again")
    assert not (tmp_path / "outside.toml").exists()
    assert not (tmp_path / "deep" / "again").exists()


@given(st.lists(st.sampled_from(["..", ".", "a", "C:", "c", "kept", "\\", "/", " ", ":", "x.toml", "\0", "~", "CON", "ab" * 32])))
def test_no_name_that_a_back_up_may_hold_leads_out_of_a_folder_on_any_system(parts):
    """Held against how the standard library joins paths for Windows and for POSIX, which follows the rules of these systems."""
    name = "".join([*parts, "/x.toml"])
    if may_hold(name):
        for flavour, root in ((PureWindowsPath, "D:\\studio"), (PurePosixPath, "/studio")):
            place = flavour(root) / name
            assert place.is_relative_to(flavour(root))
            assert ".." not in place.parts


@pytest.mark.parametrize(
    "name", [DATABASE, f"kept/ab/{'ab' * 32}", "studio.toml", "alloys/own.toml", ".removed/alloys/größe 2.toml"]
)
def test_what_a_studio_holds_may_be_in_a_back_up(name):
    assert may_hold(name)


@pytest.mark.skipif(os.name == "nt", reason="there is no such name there")
def test_an_own_file_that_not_every_system_could_hold_is_told_before_a_back_up_is_made(store, tmp_path):
    (store.folder / "alloys" / "a:b.toml").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match=r"alloys/a:b\.toml cannot be backed up"):
        back_up(store, tmp_path / "studio.zip")
    assert not (tmp_path / "studio.zip").exists()


@pytest.mark.parametrize("files", [["store.sqlite3"], "store.sqlite3", 3, None, {"store.sqlite3": 3}, [["store.sqlite3", None]]])
def test_a_list_of_another_form_is_refused_in_a_sentence(store, tmp_path, files):
    back_up(store, tmp_path / "studio.zip")
    bad = relisted(tmp_path / "studio.zip", tmp_path / "bad.zip", lambda listed: listed | {"files": files})
    with pytest.raises(BadFileError, match=r"bad\.zip (is no back-up|holds what no back-up)"):
        restore(bad, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def swapped(store, tmp_path, content):
    """A back-up whose database is something else, and whose list says so."""
    back_up(store, tmp_path / "studio.zip")
    digest = hashlib.sha256(content).hexdigest()
    other = changed(tmp_path / "studio.zip", tmp_path / "other.zip", replace={DATABASE: content})
    return relisted(other, tmp_path / "bad.zip", lambda listed: listed | {"files": listed["files"] | {DATABASE: digest}})


def emptied(folder):
    """A database of our newest form whose tables are gone."""
    Store(folder).close()
    with closing(sqlite3.connect(folder / DATABASE)) as base:
        base.execute("PRAGMA journal_mode = DELETE")
        base.execute("DROP TABLE run")
        base.commit()
    return (folder / DATABASE).read_bytes()


@pytest.mark.parametrize("what", ["text", "tables"])
def test_a_back_up_whose_database_is_none_is_told_by_its_own_name(store, tmp_path, what):
    bad = swapped(store, tmp_path, b"not a database" * 100 if what == "text" else emptied(tmp_path / "empty"))
    with pytest.raises(BadFileError) as caught:
        restore(bad, tmp_path / "again")
    assert caught.value.what == "bad.zip holds no studio that can be opened here."
    assert str(tmp_path) not in str(caught.value)
    assert caught.value.try_this.startswith("Take another copy")
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize("content", [b"", b"PK\x05\x06" + b"\0" * 18, b"%PDF-1.7 not a zip"])
def test_another_file_is_no_back_up(tmp_path, content):
    (tmp_path / "other.zip").write_bytes(content)
    with pytest.raises(BadFileError, match="is no back-up"):
        restore(tmp_path / "other.zip", tmp_path / "again")


def test_a_back_up_of_a_later_form_is_refused(store, tmp_path):
    out = tmp_path / "studio.zip"
    back_up(store, out)
    with zipfile.ZipFile(out) as box:
        listed = json.loads(box.read(LIST)) | {"schema_version": 2}
    bad = changed(out, tmp_path / "bad.zip", drop=[LIST], add={LIST: json.dumps(listed)})
    with pytest.raises(BadFileError, match="another version"):
        restore(bad, tmp_path / "again")


def test_a_back_up_holds_no_file_that_is_being_written(store, tmp_path):
    (store.shelf.folder / ".new-half").write_bytes(b"half")
    back_up(store, tmp_path / "studio.zip")
    with zipfile.ZipFile(tmp_path / "studio.zip") as box:
        names = box.namelist()
        base = tmp_path / "copy.sqlite3"
        base.write_bytes(box.read(DATABASE))
    assert not [name for name in names if ".new-" in name or name.endswith(("-wal", "-shm"))]
    assert sqlite3.connect(base).execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_file_that_is_edited_while_it_is_backed_up_is_kept_as_it_was_read(store, tmp_path, monkeypatch):
    """What is listed and what is packed are the same bytes, whenever the user saves."""
    own = store.folder / "studio.toml"
    before, digest = own.read_bytes(), at_work._digest

    def edited(path):
        own.write_text('name = "Edited meanwhile"\n', encoding="utf-8")
        return digest(path)

    with monkeypatch.context() as patched:
        patched.setattr(at_work, "_digest", edited)
        back_up(store, tmp_path / "studio.zip")
    restore(tmp_path / "studio.zip", tmp_path / "again")
    assert (tmp_path / "again" / "studio.toml").read_bytes() == before
    assert own.read_bytes() != before


def test_a_back_up_that_cannot_be_read_back_is_told_at_once_and_not_left(store, tmp_path, monkeypatch):
    monkeypatch.setattr(at_work, "_digest", lambda path: "0" * 64)
    with pytest.raises(OutputError, match="cannot be read back whole"):
        back_up(store, tmp_path / "studio.zip")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["studio"]


def test_a_byte_that_turned_anywhere_in_a_back_up_is_told_in_a_sentence(store, tmp_path):
    out, bad = tmp_path / "studio.zip", tmp_path / "bad.zip"
    back_up(store, out)
    whole = out.read_bytes()
    begin = whole.index(DATABASE.encode()) + 300
    for place in range(begin, begin + 80, 8):
        bad.write_bytes(whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :])
        with pytest.raises(BadFileError, match="damaged"):
            restore(bad, tmp_path / "again")
        assert not (tmp_path / "again").exists()


def test_a_packing_that_is_not_known_is_told_in_a_sentence(store, tmp_path):
    out = tmp_path / "studio.zip"
    back_up(store, out)
    content = bytearray(out.read_bytes())
    content[content.index(b"PK\x01\x02") + 10] = 99
    content[8] = 99
    out.write_bytes(content)
    with pytest.raises(BadFileError, match="or is damaged"):
        restore(out, tmp_path / "again")


def test_a_back_up_that_is_not_there_is_told_as_such(tmp_path):
    with pytest.raises(BadFileError, match="There is no file"):
        restore(tmp_path / "none.zip", tmp_path / "again")
    assert list(tmp_path.iterdir()) == []
