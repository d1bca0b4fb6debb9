"""Runs the revisions on the connection that `sayso.record.schema` hands over, in its transaction."""

from __future__ import annotations

from alembic import context

from sayso.record.tables import metadata

# transactional_ddl: SQLite can roll DDL back too (alembic assumes not), so a power cut in the middle
# of a migration leaves the old schema whole.
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
