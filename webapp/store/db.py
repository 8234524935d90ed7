"""The database, SQLite in a data folder or PostgreSQL by address, and how to write to it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from flask_sqlalchemy import SQLAlchemy
from sqlalchemy import DateTime, MetaData, event
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import Connection, Dialect, Engine, make_url
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import DeclarativeBase, Session
from sqlalchemy.types import TypeDecorator

from webapp.plain.config import PREFIX, SettingsError
from webapp.store.datafolder import DataFolder

MIGRATIONS = Path(__file__).parent / "migrations"
BUSY_MS = 15_000
DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
NOT_TO_WRITE = (
    *(sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN),
    *(sqlite3.SQLITE_PERM, sqlite3.SQLITE_IOERR),
)
NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcDateTime(TypeDecorator[datetime]):
    """An instant: aware in Python, UTC in the database, never a naive local time."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without an offset names no instant")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(
        self, value: datetime | None, dialect: Dialect
    ) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    metadata = MetaData(naming_convention=NAMES)


db = SQLAlchemy(model_class=Base, disable_autonaming=True)
# Services know no application: from their session they come to the folder beside it.
_folders: WeakKeyDictionary[Engine, DataFolder] = WeakKeyDictionary()
_settings: WeakKeyDictionary[Engine, Mapping[str, Any]] = WeakKeyDictionary()


def connect(settings: MutableMapping[str, Any]) -> None:
    """Make the data folder if it is missing; say how connections to the database are made."""
    url = make_url(settings["SQLALCHEMY_DATABASE_URI"])
    # Reports may name a driver: the folder is its user's alone.
    settings["DATA"].mkdir(mode=0o700, parents=True, exist_ok=True)
    settings["SQLALCHEMY_ENGINE_OPTIONS"] = {
        # Error texts go to the log; what drivers wrote must not.
        "hide_parameters": True,
        # After PostgreSQL was restarted the next request finds a living connection.
        "pool_pre_ping": url.get_backend_name() == "postgresql",
    }


def driver_missing(error: ModuleNotFoundError) -> SettingsError:
    return SettingsError(
        f"{PREFIX}DATABASE_URL names a PostgreSQL database, and its driver {error.name} "
        "is not installed. Type: pip install 'step-in-hand[postgres]'"
    )


def prepare(settings: Mapping[str, Any]) -> None:
    """Prepare the engine of the application at work; services come to its folder from here."""
    url, engine = make_url(settings["SQLALCHEMY_DATABASE_URI"]), db.engine
    {"sqlite": prepare_sqlite, "postgresql": prepare_postgresql}[engine.dialect.name](engine)
    lite = Path(url.database) if url.database and engine.name == "sqlite" else None
    _folders[engine] = DataFolder(settings["DATA"], lite)
    _settings[engine] = settings


def trouble(error: DBAPIError) -> str:
    """Say for a person at the server which database cannot be used, why, and what to do."""
    said = str(error.orig).strip().splitlines()[0]
    # The primary code: SQLite's own name for what happened, whatever words it finds for it.
    code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
    if is_full(error):
        return (
            f"the disk that holds the database is full ({said}). Make room on it, or name "
            "another folder with --data."
        )
    if code in DAMAGED:
        return (
            f"the database is damaged ({said}). Keep the folder as it is and put the newest "
            "backup back: step-in-hand restore FILE --replace."
        )
    if code in NOT_TO_WRITE:
        return (
            f"the database cannot be written ({said}). Let this user write to the data folder "
            "and all in it, make room on its disk, or name another folder with --data."
        )
    return f"the database cannot be used: {said}. Check it, or give another --data."


def is_full(error: DBAPIError) -> bool:
    """Whether it is the disk that had no room: SQLite's code, or PostgreSQL's disk_full."""
    code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
    return code == sqlite3.SQLITE_FULL or getattr(error.orig, "sqlstate", "") == "53100"


def folder_of(session: Session) -> DataFolder:
    """Return the data folder that belongs to the database of this session."""
    return _folders[session.get_bind().engine]


def setting(session: Session, name: str) -> Any:
    """Return a setting of the application that this session belongs to."""
    return _settings[session.get_bind().engine][name]


def prepare_sqlite(engine: Engine) -> None:
    """Make SQLite keep what it acknowledged and never fail a write half way into reading.

    A plain BEGIN takes the write lock only at the first write; if someone else wrote since
    the first read, SQLite refuses at once, whatever the busy timeout. BEGIN IMMEDIATE queues.
    """

    @event.listens_for(engine, "connect")
    def pragmas(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        cursor = connection.cursor()
        for pragma in (
            f"busy_timeout={BUSY_MS}",
            "journal_mode=WAL",
            "synchronous=FULL",
            "fullfsync=ON",  # macOS: fsync alone leaves the data in the drive's cache
            "foreign_keys=ON",
        ):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        only_reads = connection.get_execution_options().get("only_reads", False)
        connection.exec_driver_sql("BEGIN" if only_reads else "BEGIN IMMEDIATE")


def prepare_postgresql(engine: Engine) -> None:
    """Let times be read in UTC: in an eastern zone the end of year 9999 has no date."""

    @event.listens_for(engine, "connect")
    def use_utc(connection: Any, _record: object) -> None:
        connection.autocommit = True
        connection.execute("SET TIME ZONE 'UTC'")
        connection.autocommit = False


@contextmanager
def writing() -> Iterator[Session]:
    """One transaction; after the `with` block COMMIT has returned, or everything is undone."""
    session = db.session()
    try:
        yield session
        session.commit()
    except BaseException:
        session.rollback()
        raise


@contextmanager
def reading() -> Iterator[Session]:
    """One transaction that only reads and so never waits for a writer."""
    session = db.session()
    session.connection(execution_options={"only_reads": True})
    try:
        yield session
    finally:
        session.rollback()


def insert_new(
    session: Session,
    model: type[Base],
    values: Mapping[str, Any],
    *,
    key: str | tuple[str, ...],
    answer: str,
) -> Any | None:
    """Insert one row unless `key` is taken; return the new row's `answer`, None if taken."""
    key = (key,) if isinstance(key, str) else key
    statement: sqlite.Insert | postgresql.Insert
    if session.get_bind().dialect.name == "sqlite":
        statement = sqlite.insert(model).values(**values).on_conflict_do_nothing(key)
    else:
        statement = postgresql.insert(model).values(**values)
        statement = statement.on_conflict_do_nothing(index_elements=key)
    return session.execute(statement.returning(getattr(model, answer))).scalar_one_or_none()
