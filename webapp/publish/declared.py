"""Declare that an older copy of the database was put back, by `restore` or by other means."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Table, func, select
from sqlalchemy.orm import Session

from webapp.publish import service as publisher
from webapp.records.reports import anonymise
from webapp.store import depot
from webapp.store.db import Base, folder_of

# What bears a number: its table and the column.
NUMBERED = {"report": ("report", "server_no"), "seal": ("seal", "no")}
INDEX = "index"


def declare(
    session: Session,
    who: str,
    now: datetime,
    why: dict[str, Any],
    *,
    numbers_known: bool = False,
) -> depot.Epoch:
    """Begin another epoch: tablets offer again what they hold, and take the index as newer.

    Without ``numbers_known`` the folder may be as old as the database: so many numbers are
    passed over as may have been given since.
    """
    folder = folder_of(session)
    highest = {kind: max(folder.given(kind), top(session, kind)) for kind in NUMBERED}
    skip = 0 if numbers_known else depot.SKIPPED
    folder.raise_to({kind: n + skip for kind, n in highest.items()})
    gone = anonymise.anonymise_again(session, folder.removed(), now)
    serial = publisher.skip_ahead(session, now, folder.given(INDEX))
    folder.raise_to({INDEX: serial})
    said = {**why, "serial": serial, "removed again": len(gone)}
    return depot.begin_epoch(session, who, now, said)


def top(session: Session, kind: str) -> int:
    """Return the highest number that the database holds."""
    name, column = NUMBERED[kind]
    table: Table = Base.metadata.tables[name]
    return session.scalar(select(func.max(table.c[column]))) or 0
