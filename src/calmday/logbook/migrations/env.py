"""Runs the steps on the connection that `calmday.logbook.migrate` hands over."""

from __future__ import annotations

from alembic import context

from calmday.logbook.schema import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,
    transaction_per_migration=True,
)
with context.begin_transaction():
    context.run_migrations()
