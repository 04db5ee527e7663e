"""How Alembic runs a migration here: on the connection that it is handed, in the transaction that is open."""

from __future__ import annotations

from alembic import context

from midfoot.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=False,  # the caller's transaction holds them all
)
context.run_migrations()
