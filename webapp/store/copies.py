"""Copy a database as it is at one moment, while it is written to; fill an empty one."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from sqlalchemy import create_engine, inspect, text
from sqlalchemy.engine import URL, make_url

from webapp.store.archive import Rows
from webapp.store.whole import check

BUSY_S = 60.0


class StoreTrouble(Exception):
    """The database cannot be copied or filled; the text says why and what to do."""


def copy_sqlite(source: Path, target: Path) -> Rows:
    """Copy the database in one read transaction, which no writer waits for, and check it.

    Pages of rows that were deleted are not copied: what was taken out is out.
    """
    if not source.is_file():
        raise StoreTrouble(
            f"{source}: there is no database. Name the data folder with --data."
        )
    target.touch(mode=0o600)
    try:
        address = f"{source.absolute().as_uri()}?mode=rw"
        with closing(sqlite3.connect(address, uri=True, timeout=BUSY_S)) as database:
            database.execute("VACUUM INTO ?", (str(target),))
        return check_sqlite(target)
    except sqlite3.Error as error:
        raise StoreTrouble(
            f"{source} could not be copied to {target.parent.parent}: {error}. "
            "See that there is room for it, then type the command again."
        ) from error


def check_sqlite(file: Path) -> Rows:
    """Check a database file that nobody writes to."""
    engine = create_engine(f"sqlite:///{file}")
    try:
        with engine.connect() as connection:
            return check(connection)
    finally:
        engine.dispose()


def copy_postgresql(url: str, target: Path) -> Rows:
    """Dump the database as it was at one moment; what is counted is what is dumped."""
    dump = _tool("pg_dump")
    engine = create_engine(url, isolation_level="REPEATABLE READ")
    target.touch(mode=0o600)
    try:
        with engine.connect() as connection:
            rows = check(connection)
            moment = str(connection.scalar(text("SELECT pg_export_snapshot()")))
            _run(make_url(url), dump, "--format=custom", f"--snapshot={moment}", "-f", target)
            return rows
    finally:
        engine.dispose()


def fill_postgresql(url: str, source: Path) -> Rows:
    """Restore into an empty database: all of it or nothing, then check what is there."""
    restore = _tool("pg_restore")
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            if inspect(connection).get_table_names():
                raise StoreTrouble(
                    "the database of STEP_IN_HAND_DATABASE_URL is not empty, and nothing is "
                    "restored over anything. Make a new one (createdb) and name that."
                )
        whole = ("--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges")
        _run(make_url(url), restore, *whole, "--dbname", make_url(url).database or "", source)
        with engine.connect() as connection:
            return check(connection)
    finally:
        engine.dispose()


def _tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise StoreTrouble(
            f"{name} is not installed here. Install the PostgreSQL client of your server's "
            "version (on Debian: postgresql-client), then type the command again."
        )
    return found


def _run(url: URL, *command: str | Path) -> None:
    """Run a PostgreSQL tool; address and password go by environment, where ps shows none."""
    said = {
        "PGHOST": url.host or url.query.get("host"),
        "PGPORT": url.port,
        "PGUSER": url.username,
        "PGPASSWORD": url.password,
        "PGDATABASE": url.database,
    }
    given = {name: str(value) for name, value in said.items() if value}
    done = subprocess.run(
        [str(word) for word in command],
        env={**os.environ, **given},
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
    )
    if done.returncode:
        lines = done.stderr.strip().splitlines() or ["no reason given"]
        raise StoreTrouble(f"{Path(command[0]).name}: {lines[0]}. Nothing was kept.")
