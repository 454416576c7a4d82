"""The database: how it is set, and how an older one is brought up."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from pourwell.errors import BadDataError
from pourwell.store.database import connect, migrate, open_database, scripts
from pourwell.store.schema import Base
from pourwell.store.store import DATABASE, Store

RELEASED = {"0001": Path(__file__).with_name("first_schema.sql"), "0002": Path(__file__).with_name("second_schema.sql")}
"""Each form of the store that was ever given out, as it was then, with a few rows in it."""


def head() -> str:
    found = ScriptDirectory.from_config(scripts()).get_current_head()
    assert found
    return found


def tables(path: Path) -> dict[str, str]:
    with closing(sqlite3.connect(path)) as base:
        rows = base.execute("SELECT name, sql FROM sqlite_master WHERE type IN ('table', 'index') AND sql IS NOT NULL")
        return {name: " ".join(sql.split()) for name, sql in rows}


@pytest.fixture(params=RELEASED)
def older(request, tmp_path):
    """A store of an older form."""
    folder = tmp_path / "studio"
    folder.mkdir()
    with closing(sqlite3.connect(folder / DATABASE)) as base:
        base.executescript(RELEASED[request.param].read_text(encoding="utf-8"))
    return folder


def test_an_older_store_is_brought_up_and_keeps_what_was_in_it(older):
    store = Store(older)
    assert [(p.id, p.name, p.file, p.units) for p in store.patterns()] == [(1, "Heddle band", "heddle.stl", "mm")]
    run = store.runs()[0]
    assert (run.number, dict(run.form), run.pieces) == (14, {"alloy": "sterling-925"}, ((1, 6),))
    result = store.latest(pattern_id=1)
    assert result is not None
    assert (dict(result.data), list(result.files)) == ({"metal_g": 3.2}, ["picture.png"])
    store.close()


def test_of_a_store_that_knew_no_bodies_nothing_is_left_out_and_what_was_left_out_stays_so(tmp_path):
    for form, out in (("0001", ()), ("0002", ("stone",))):
        folder = tmp_path / form
        folder.mkdir()
        with closing(sqlite3.connect(folder / DATABASE)) as base:
            base.executescript(RELEASED[form].read_text(encoding="utf-8"))
        store = Store(folder)
        assert store.pattern(1).leave_out == out
        assert store.change_pattern(1, leave_out=["ring (2)", "ring (3)"]).leave_out == ("ring (2)", "ring (3)")
        assert store.change_pattern(1, name="Band").leave_out == ("ring (2)", "ring (3)"), "another name changes nothing else"
        store.close()


def test_an_older_store_has_the_same_tables_as_a_new_one_in_the_end(older, tmp_path):
    open_database(older / DATABASE).dispose()
    open_database(tmp_path / "new.sqlite3").dispose()
    assert tables(older / DATABASE) == tables(tmp_path / "new.sqlite3")


def test_every_form_that_was_given_out_is_tested():
    known = {script.revision for script in ScriptDirectory.from_config(scripts()).walk_revisions()}
    assert set(RELEASED) == known, "lay the newest form beside this test as SQL when a step is added"


def test_the_tables_are_those_that_the_classes_say(tmp_path):
    engine = open_database(tmp_path / "new.sqlite3")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
    engine.dispose()


def test_all_our_tables_are_strict(tmp_path):
    open_database(tmp_path / "new.sqlite3").dispose()
    loose = [name for name, sql in tables(tmp_path / "new.sqlite3").items() if "CREATE TABLE" in sql and "STRICT" not in sql]
    assert loose == ["alembic_version"]


def test_what_is_committed_is_on_the_disk(tmp_path):
    engine = open_database(tmp_path / "new.sqlite3")
    with engine.connect() as connection:
        said = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    engine.dispose()
    assert said == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_opening_twice_changes_nothing(tmp_path):
    path = tmp_path / "new.sqlite3"
    open_database(path).dispose()
    before = tables(path)
    open_database(path).dispose()
    assert tables(path) == before


def test_a_step_that_fails_leaves_the_store_as_it_was(tmp_path, monkeypatch):
    from alembic import op

    path = tmp_path / "new.sqlite3"
    real = op.create_table

    def breaks(name, *columns, **options):
        if name == "result":
            raise RuntimeError("power failed")
        return real(name, *columns, **options)

    monkeypatch.setattr(op, "create_table", breaks)
    engine = connect(path)
    with pytest.raises(RuntimeError, match="power"), engine.connect() as connection:
        migrate(connection)
    engine.dispose()
    monkeypatch.undo()
    assert not set(tables(path)) & {"pattern", "run", "run_piece"}
    open_database(path).dispose()
    assert "result_file" in tables(path)


def test_a_store_of_a_newer_program_is_refused_and_left_alone(tmp_path):
    path = tmp_path / "new.sqlite3"
    open_database(path).dispose()
    with closing(sqlite3.connect(path)) as base:
        base.execute("UPDATE alembic_version SET version_num = '9999'")
        base.commit()
    with pytest.raises(BadDataError, match="form 9999, which this version does not know"):
        open_database(path)
    with closing(sqlite3.connect(path)) as base:
        assert base.execute("SELECT version_num FROM alembic_version").fetchone() == ("9999",)


def test_a_file_that_is_no_database_is_refused_in_a_sentence(tmp_path):
    path = tmp_path / "store.sqlite3"
    path.write_bytes(b"this is not a database, it is a shopping list" * 100)
    with pytest.raises(BadDataError, match="cannot be read as a store"):
        open_database(path)


def test_the_newest_form_is_the_last_of_one_line():
    assert head() == max(RELEASED)
    assert len(ScriptDirectory.from_config(scripts()).get_heads()) == 1
