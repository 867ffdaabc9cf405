"""Run by the migration library: scripts run on the connection that was handed in, in its transaction."""

from __future__ import annotations

from alembic import context

from lodestarch.records.tables import Base

connection = context.config.attributes["connection"]
context.configure(
    connection=connection, target_metadata=Base.metadata, render_as_batch=connection.dialect.name == "sqlite"
)
with context.begin_transaction():
    context.run_migrations()
