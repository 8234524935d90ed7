"""The real server with SQLite's care for the disk turned down: the control of a power cut.

`CARE=NORMAL python careless_server.py serve ...`: only the pragma differs from the real one.
"""

from __future__ import annotations

import os
import sqlite3

from sqlalchemy import event
from sqlalchemy.engine import Engine

from webapp.commands import cli
from webapp.store import db

prepare = db.prepare_sqlite


def prepare_carelessly(engine: Engine) -> None:
    """Let the server set its own pragmas, then set the one that matters anew."""
    prepare(engine)

    @event.listens_for(engine, "connect")
    def careless(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute(f"PRAGMA synchronous={os.environ['CARE']}")


db.prepare_sqlite = prepare_carelessly
cli.main()
