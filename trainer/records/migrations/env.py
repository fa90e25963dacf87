"""Alembic's entry: runs the steps on the connection that ``Records.prepare`` gives."""

from __future__ import annotations

from alembic import context

from trainer.records.tables import Base


def _run() -> None:
    connection = context.config.attributes["connection"]
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        compare_type=True,
    )
    if connection.dialect.name == "postgresql":
        # Two servers that start at once must not both make the tables.
        connection.exec_driver_sql("SELECT pg_advisory_xact_lock(5006, 7)")
    with context.begin_transaction():
        context.run_migrations()


_run()
