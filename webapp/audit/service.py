"""Write an audit entry in the transaction of the deed itself, and read them back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.audit.models import AuditEntry


def record(
    session: Session, at: datetime, who: str, what: str, subject: str, old: Any, new: Any
) -> None:
    session.add(AuditEntry(at=at, who=who, what=what, subject=subject, old=old, new=new))


@dataclass(frozen=True)
class Entry:
    """One deed: who did what to what, and what changed."""

    at: datetime
    who: str
    what: str
    old: Any
    new: Any


def of(session: Session, subject: str, most: int = 500) -> list[Entry]:
    """Return what was done to one thing, the first deed first."""
    query = select(AuditEntry).where(AuditEntry.subject == subject).order_by(AuditEntry.id)
    return [
        Entry(row.at, row.who, row.what, row.old, row.new)
        for row in session.scalars(query.limit(most))
    ]
