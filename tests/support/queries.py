"""What a page asks the database, to be counted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask
from sqlalchemy import event

from webapp.store.db import db

#: Whether the database is still this folder's is asked by the clock, not by the page.
EVERY_FEW_SECONDS = "SELECT depot.name"


@contextmanager
def counted(app: Flask) -> Iterator[list[str]]:
    """Yield the list into which every statement goes meanwhile."""
    asked: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith(EVERY_FEW_SECONDS):
            asked.append(statement)

    with app.app_context():
        engine = db.engine
    event.listen(engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(engine, "before_cursor_execute", note)
