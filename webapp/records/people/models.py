from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import BigInteger, ForeignKey, Index, Integer, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class Person(Base):
    """One desk account. It is disabled, never deleted, while the audit names it."""

    __tablename__ = "person"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    login: Mapped[str] = mapped_column(String(60), unique=True)
    pass_hash: Mapped[str] = mapped_column(String(200))
    role: Mapped[str] = mapped_column(String(20))
    manages_people: Mapped[bool]
    must_change: Mapped[bool]
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    disabled_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    version: Mapped[int] = mapped_column(default=1)


class LogInAddress(Base):
    """From where somebody logged in or tried to; forgotten in time, unlike the audit."""

    __tablename__ = "log_in_address"
    __table_args__ = (Index("ix_log_in_address_at", "at"),)

    id: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True
    )
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    login: Mapped[str] = mapped_column(String(60))
    address: Mapped[str] = mapped_column(String(60))
    let_in: Mapped[bool]


class DeskSession(Base):
    """One log-in; the browser holds the token, this row only its hash. No row, no entry."""

    __tablename__ = "desk_session"
    __table_args__ = (Index("ix_desk_session_person", "person_id"),)

    token_sha: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("person.id"))
    began_at: Mapped[datetime] = mapped_column(UtcDateTime)
    seen_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_at: Mapped[datetime] = mapped_column(UtcDateTime)
