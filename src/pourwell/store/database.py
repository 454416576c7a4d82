"""The SQLite file: opened, brought to the newest form, set so that what is committed stays."""

import sqlite3
from pathlib import Path
from typing import Any, Final

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event

from pourwell.errors import BadDataError

BUSY_MS: Final = 10_000
"""How long a writer waits for another one."""
WRITES: Final[dict[str, Any]] = {"pourwell_writes": True}
"""Option of a connection that is going to write: it takes the lock at once, not in the middle, where it could be refused."""
SETTINGS: Final = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",  # a commit is on the disk, also when the power fails in the next moment
    "PRAGMA foreign_keys = ON",
    f"PRAGMA busy_timeout = {BUSY_MS}",
)


def open_database(path: Path) -> Engine:
    """The database in a file, made or brought to the newest form. Raises BadDataError if it is not ours or is newer than we are."""
    engine = connect(path)
    try:
        with engine.connect() as connection:
            migrate(connection)
    except sqlite3.DatabaseError as err:
        raise _broken(path, err) from err
    except Exception as err:
        if isinstance(getattr(err, "orig", None), sqlite3.DatabaseError):
            raise _broken(path, err) from err
        raise
    return engine


def connect(path: Path) -> Engine:
    """Connections to the file as it is."""
    engine = create_engine(f"sqlite:///{path}")

    @event.listens_for(engine, "connect")
    def _settle(connection: Any, _: object) -> None:
        connection.isolation_level = None  # SQLAlchemy begins, not the driver, which would leave tables out of transactions
        for setting in SETTINGS:
            connection.execute(setting)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("pourwell_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def scripts() -> Config:
    """Where the steps of migration are."""
    config = Config()
    config.set_main_option("script_location", "pourwell.store:migrations")
    config.set_main_option("path_separator", "os")
    return config


def migrate(connection: Connection, *, to: str = "head") -> None:
    """Bring the tables to a form, each step in one transaction. Raises BadDataError if they are newer than this program."""
    config = scripts()
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    there = MigrationContext.configure(connection).get_current_revision()
    connection.rollback()
    if there is not None and there not in known:
        raise BadDataError(
            f"The store is of form {there}, which this version does not know.",
            why="A newer Pourwell wrote it.",
            try_this="Start that version, or restore a back-up into another studio folder.",
        )
    config.attributes["connection"] = connection.execution_options(**WRITES)
    command.upgrade(config, to)
    connection.commit()


def _broken(path: Path, err: Exception) -> BadDataError:
    return BadDataError(
        f"{path} cannot be read as a store.",
        why=f"SQLite says: {getattr(err, 'orig', err)}.",
        try_this="Restore a back-up, or move the file away to begin anew.",
    )
