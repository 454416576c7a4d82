"""Runs the steps on the connection that `store.database` hands over."""

from alembic import context

from pourwell.store.schema import Base

LOADED_BY_ALEMBIC = "env_py"
"""How Alembic names this module when it has something to run; whoever only looks through our modules runs nothing."""


def run() -> None:
    """Run what is to be run."""
    connection = context.config.attributes["connection"]
    context.configure(connection=connection, target_metadata=Base.metadata, transaction_per_migration=True, render_as_batch=True)
    with context.begin_transaction():
        context.run_migrations()


if __name__ == LOADED_BY_ALEMBIC:
    run()
