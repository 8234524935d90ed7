from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class WarningClock(Base):
    """One row whose lock is held until commit, so that feed numbers appear in commit order.

    The index has a clock of its own: here every number is one revision, without gaps.
    """

    __tablename__ = "warning_clock"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    n: Mapped[int]


class Warned(Base):
    """A warning as it stands now; what tablets were told is in its revisions."""

    __tablename__ = "warning"
    __table_args__ = (Index("ix_warning_feed", "status", "feed_no"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    rev: Mapped[int]
    # The number of its newest published revision; null for a draft nobody was told.
    feed_no: Mapped[int | None] = mapped_column(unique=True)
    status: Mapped[str] = mapped_column(String(20))
    line_key: Mapped[str] = mapped_column(String(120))
    direction: Mapped[str] = mapped_column(String(120))
    datum: Mapped[str] = mapped_column(String(200))
    from_m: Mapped[float]
    to_m: Mapped[float]
    plan_state: Mapped[str] = mapped_column(String(120))
    reason: Mapped[str] = mapped_column(String(200))
    from_at: Mapped[datetime] = mapped_column(UtcDateTime)
    review_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    told_by: Mapped[str] = mapped_column(String(120))
    reference: Mapped[str] = mapped_column(String(120))
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)


class WarningRev(Base):
    """One revision as it was published, or drafted; triggers refuse to change a row."""

    __tablename__ = "warning_rev"

    warning_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("warning.id"), primary_key=True)
    rev: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    feed_no: Mapped[int | None] = mapped_column(unique=True)
    # Random: tells a tablet whose number fits another history that it must begin again.
    mark: Mapped[str] = mapped_column(String(16))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    body: Mapped[dict[str, Any]] = mapped_column(JSON)
