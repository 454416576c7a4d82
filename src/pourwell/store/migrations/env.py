"""Runs the steps on the connection that `store.database` hands over."""

from alembic import context

from pourwell.store.schema import Base

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=Base.metadata, transaction_per_migration=True, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
