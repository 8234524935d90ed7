from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, Integer, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


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
