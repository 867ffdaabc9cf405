"""Run by the migration library: scripts run on the connection that was handed in, in its transaction."""

from __future__ import annotations

from alembic import context

from lodestarch.records.tables import Base

config = getattr(context, "config", None)
if config is not None:  # None: somebody only imports this module
    connection = config.attributes["connection"]
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
    )
    with context.begin_transaction():
        context.run_migrations()
