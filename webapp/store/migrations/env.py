"""Alembic's entry: the application's own engine and the models' own metadata."""

from __future__ import annotations

from alembic import context
from flask import current_app

from webapp.store.db import Base


def run() -> None:
    engine = current_app.extensions["migrate"].db.engine
    with engine.connect() as connection:
        context.configure(
            connection=connection,
            target_metadata=Base.metadata,
            # SQLite can undo CREATE TABLE too: a failed migration leaves nothing half done.
            transactional_ddl=True,
            render_as_batch=True,
            compare_type=True,
        )
        with context.begin_transaction():
            context.run_migrations()


run()
