"""Which depot this is: folder and database belong together, and which history it is in.

The folder keeps an id, the numbers given and what was removed (`datafolder.py`); the
database keeps the same id and its epoch. An older copy of the database changes the epoch:
tablets then offer again what they still hold.
"""

from __future__ import annotations

import secrets
import sqlite3
import threading
import uuid
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine, String, inspect, select
from sqlalchemy.exc import ProgrammingError
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.plain.config import SettingsError
from webapp.store import audit
from webapp.store.datafolder import DataFolder, FolderTrouble, Identity
from webapp.store.db import Base, UtcDateTime, folder_of, insert_new


class Depot(Base):
    """One row: which depot this database belongs to, and since when its history is this one.

    `epoch` is random and changes whenever an older copy was put back: what tablets were
    told under another one may not be here any more.
    """

    __tablename__ = "depot"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[uuid.UUID]
    epoch: Mapped[str] = mapped_column(String(16))
    epoch_at: Mapped[datetime] = mapped_column(UtcDateTime)
    # Whether that was a restore; the first epoch of a depot is none.
    restored: Mapped[bool]


KEY = Path("keys") / "signing.json"
# More than a depot takes in between two backups, where nobody knows which were given.
SKIPPED = 10_000
# Up to this size a database is read through before the start, beyond it beside the work.
QUICK_BYTES = 64 * 1024 * 1024


@dataclass(frozen=True)
class Epoch:
    """The history this depot is in, since when, and whether it began with a restore."""

    name: str
    at: datetime
    restored: bool


# At the start


def refuse_foreign(engine: Engine, folder: DataFolder, *, adopt: bool = False) -> None:
    """Refuse a database that is not this folder's, before anything is written to either.

    ``adopt``: somebody said that they belong together, at a restore.

    Raises
    ------
    SettingsError
        With what to do.
    """
    known = _identity(folder)
    there = folder.lite is None or (folder.lite.is_file() and folder.lite.stat().st_size > 0)
    tables = set(inspect(engine).get_table_names()) if there else set()
    if "alembic_version" not in tables:
        if (known is not None and known.joined) or (folder.data / KEY).is_file():
            raise SettingsError(_emptied(engine, folder))
        return
    named = _named(engine) if "depot" in tables else None
    if adopt or (named is None and (known is None or not known.joined)):
        return
    if named is None:
        raise SettingsError(
            f"the database is a copy from before the data folder {folder.data} had an id. "
            "If you put it back on purpose, type: step-in-hand declare-restored --reason "
            f"WORDS --data {folder.data}. If not, name the database of this folder."
        )
    if known is None:
        raise SettingsError(_another_folder(folder))
    if known.name != named:
        raise SettingsError(
            f"the data folder {folder.data} and the database belong to two depots. Name the "
            "folder (--data) and database (STEP_IN_HAND_DATABASE_URL) that belong together."
        )


def join(session: Session, now: datetime, *, adopt: bool = False) -> None:
    """Write one id into folder and database, once; from now on they are held together.

    The folder is told first and confirmed last: stopped anywhere between, the next start
    goes on where this one ended.
    """
    folder = folder_of(session)
    known = _identity(folder)
    row = session.get(Depot, 1)
    if row is None:
        name = known.name if known else uuid.uuid4()
        folder.identify(name, joined=False)
        new = {
            "id": 1,
            "name": name,
            "epoch": _new_epoch(),
            "epoch_at": now,
            "restored": False,
        }
        # Another folder may be beginning on this database at the same moment: one is first.
        insert_new(session, Depot, new, key="id", answer="id")
        session.commit()
        known, row = Identity(name, joined=False), session.get_one(Depot, 1)
    if (known is None or known.name != row.name) and not adopt:
        raise SettingsError(_another_folder(folder))
    if known is None or not known.joined or known.name != row.name:
        folder.identify(row.name, joined=True)
    folder.watch(row.name)


def check_whole(folder: DataFolder, log: Callable[[str], None]) -> None:
    """Find a damaged database: a small one now, a large one while the server begins.

    Raises
    ------
    SettingsError
        With what to do.
    """
    path = folder.lite
    if path is None or not path.is_file() or path.stat().st_size == 0:
        return

    def look() -> str | None:
        said = _quick_check(path)
        return said and (
            f"{path}: the database is damaged ({said}). Stop the server, keep a copy of the "
            f"file, then put the newest backup back: step-in-hand restore FILE --replace "
            f"--data {folder.data}"
        )

    def beside() -> None:
        folder.damage = look()
        if folder.damage:
            log(folder.damage)

    if path.stat().st_size > QUICK_BYTES:
        threading.Thread(target=beside, daemon=True, name="quick-check").start()
        return
    damage = look()
    if damage:
        raise SettingsError(damage)


def _quick_check(path: Path) -> str | None:
    try:
        address = f"{path.absolute().as_uri()}?mode=rw"
        with closing(sqlite3.connect(address, uri=True, timeout=60)) as database:
            rows = database.execute("PRAGMA quick_check(3)").fetchall()
    except sqlite3.OperationalError:
        return None  # busy, or not readable: not damage, and whoever opens it next says so
    except sqlite3.DatabaseError as error:
        return str(error)
    said = "; ".join(" ".join(str(row[0]).split()) for row in rows)
    return None if said == "ok" else said


def _identity(folder: DataFolder) -> Identity | None:
    try:
        return folder.identity()
    except FolderTrouble as error:
        raise SettingsError(str(error)) from error


def _named(engine: Engine) -> uuid.UUID | None:
    with engine.connect() as connection:
        return connection.execute(select(Depot.name)).scalar_one_or_none()


def _another_folder(folder: DataFolder) -> str:
    return (
        f"the database belongs to a depot with another data folder than {folder.data}. Name "
        "that folder with --data: two folders on one database would lose reports. If that "
        f"folder is lost, type: step-in-hand declare-restored --reason WORDS "
        f"--data {folder.data}"
    )


def _emptied(engine: Engine, folder: DataFolder) -> str:
    where = folder.lite or f"{engine.url.database} (STEP_IN_HAND_DATABASE_URL)"
    return (
        f"{where}: the database is gone or empty, but the data folder {folder.data} is that "
        "of a depot. Nothing was begun. Put the database back where it was, or a backup: "
        f"step-in-hand restore FILE{' --replace' if folder.lite else ''} --data "
        f"{folder.data}. A new depot needs a folder of its own."
    )


# While it runs


def sure(session: Session) -> None:
    """Raise `FolderTrouble` unless this database is still the one that was begun with.

    Asked inside the transaction that is to be acknowledged.
    """
    expected = folder_of(session).expected
    if expected is None:
        return
    try:
        found = session.scalar(select(Depot.name).where(Depot.id == 1))
    except ProgrammingError:  # it has no such table
        found = None
    if found != expected:
        raise FolderTrouble(
            "another database was put in the place of this depot's while its server ran. "
            "Stop the server, put the database back, then start again."
        )


def is_removed(session: Session, name: uuid.UUID) -> bool:
    """Whether a report was removed on request and is not here, whatever copy was put back."""
    return name in folder_of(session).removed()


def number(
    session: Session, kind: str, wanted: int | None, floor: int, *, taken: bool, ahead: int
) -> int:
    """Return a number for a new report or seal: the one it bore before, where that is free.

    No older copy of the database gives a number twice: they come out of the folder.
    """
    folder = folder_of(session)
    if wanted is not None and not taken and wanted <= max(folder.given(kind), floor):
        return wanted
    return folder.number(kind, floor, ahead)


def epoch(session: Session) -> Epoch | None:
    """Return the history this depot is in; None in a database nobody began with yet."""
    row = session.get(Depot, 1)
    return Epoch(row.epoch, row.epoch_at, row.restored) if row else None


def begin_epoch(session: Session, who: str, now: datetime, why: dict[str, object]) -> Epoch:
    """Say that an older copy was put back; what tablets hold they then offer again."""
    row = session.scalars(select(Depot).where(Depot.id == 1).with_for_update()).one()
    before = row.epoch
    row.epoch, row.epoch_at, row.restored = _new_epoch(), now, True
    audit.record(
        session,
        now,
        who,
        "depot.restored",
        "depot",
        {"epoch": before},
        {**why, "epoch": row.epoch},
    )
    session.flush()
    return Epoch(row.epoch, now, restored=True)


def _new_epoch() -> str:
    return secrets.token_hex(8)
