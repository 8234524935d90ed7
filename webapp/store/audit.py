"""Write an audit entry in the transaction of the action itself, and read them back."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, Integer, String, func, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.store.db import Base, UtcDateTime


class AuditEntry(Base):
    """Who did what to what; triggers refuse to change or delete a row."""

    __tablename__ = "audit"
    __table_args__ = (
        Index("ix_audit_at", "at"),
        Index("ix_audit_subject", "subject", "id"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True
    )
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    who: Mapped[str] = mapped_column(String(120))
    what: Mapped[str] = mapped_column(String(60))
    subject: Mapped[str] = mapped_column(String(120))
    old: Mapped[Any] = mapped_column(JSON)
    new: Mapped[Any] = mapped_column(JSON)


def record(
    session: Session, at: datetime, who: str, what: str, subject: str, old: Any, new: Any
) -> None:
    session.add(AuditEntry(at=at, who=who, what=what, subject=subject, old=old, new=new))


@dataclass(frozen=True)
class Entry:
    """One action: who did what to what, and what changed."""

    at: datetime
    who: str
    what: str
    old: Any
    new: Any
    subject: str


def _entry(row: AuditEntry) -> Entry:
    return Entry(row.at, row.who, row.what, row.old, row.new, row.subject)


def of(session: Session, subject: str, most: int = 500) -> list[Entry]:
    """Return what was done to one thing, the first action first; of very many the newest."""
    query = select(AuditEntry).where(AuditEntry.subject == subject)
    rows = session.scalars(query.order_by(AuditEntry.id.desc()).limit(most)).all()
    return [_entry(row) for row in reversed(rows)]


def since(
    session: Session, moment: datetime, most: int, without: Collection[str] = ()
) -> list[Entry]:
    """Return what was done from a moment on, newest first, but for some kinds of action."""
    query = (
        select(AuditEntry)
        .where(AuditEntry.at >= moment, AuditEntry.what.notin_(without))
        # By time first: by number alone a quiet shift had the whole audit read to its start.
        .order_by(AuditEntry.at.desc(), AuditEntry.id.desc())
        .limit(most)
    )
    return [_entry(row) for row in session.scalars(query)]


def count_since(session: Session, moment: datetime, what: str) -> int:
    """Return how often one kind of action was done from a moment on."""
    query = select(func.count()).select_from(AuditEntry)
    return session.scalar(query.where(AuditEntry.at >= moment, AuditEntry.what == what)) or 0
