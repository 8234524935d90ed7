"""A demo marks its folder and its database: its tablets enrolled themselves, without a code.

What is marked is never served as a depot in service, and a depot in service is never opened
as a demo, whatever the command or the environment says.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from flask import Flask
from sqlalchemy import select
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.plain import ondisk
from webapp.plain.config import SettingsError
from webapp.publish import service as publisher
from webapp.records import tablets
from webapp.records.people import service as people
from webapp.records.reports import service as reports
from webapp.store.db import Base, UtcDateTime, reading, writing

FILE = "demo"
# By which a folder is known whose demo ran before there was a mark.
OF_BEFORE = ("demo-packs.json", "demo-secret-key")
WORDS = b"A demo of Step in Hand made this folder. Invented lines: not for service.\n"


class DemoMark(Base):
    """One row in a demo's database: it goes with a backup and with the database's address."""

    __tablename__ = "demo_mark"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)


def is_folder(data: Path) -> bool:
    """Whether a demo made this data folder."""
    return any((data / name).exists() for name in (FILE, *OF_BEFORE))


def begin(app: Flask) -> None:
    """Mark folder and database of a demo, once its tables are there.

    Raises
    ------
    SettingsError
        When they hold a depot in service.
    """
    data = Path(app.config["DATA"])
    with app.app_context(), writing() as session:
        if session.get(DemoMark, 1) is None:
            if not is_folder(data) and _in_use(session):
                raise SettingsError(
                    f"{data}: holds a depot in service, so no demo was started on it. "
                    "Name an empty folder with --data."
                )
            session.add(DemoMark(id=1, made_at=datetime.now(UTC)))
    if not (data / FILE).exists():
        ondisk.write(data / FILE, WORDS)
        ondisk.sync_folder(data)


def refuse(app: Flask) -> None:
    """Raise `SettingsError` when a demo made this folder or this database."""
    data = Path(app.config["DATA"])
    with app.app_context(), reading() as session:
        in_database = session.scalar(select(DemoMark.id)) is not None
    if in_database or is_folder(data):
        what = "its database" if in_database and not is_folder(data) else str(data)
        raise SettingsError(
            f"{what}: made by a demo, whose tablets enrolled themselves, so it is not served. "
            "For service name an empty folder with --data and enrol each tablet by a code; "
            "to look at the demo type step-in-hand demo."
        )


def _in_use(session: Session) -> bool:
    return bool(
        not people.nobody_yet(session)
        or publisher.current(session).serial
        or tablets.count_in_use(session)
        or reports.count(session)
    )
