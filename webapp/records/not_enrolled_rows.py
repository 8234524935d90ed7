from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, Integer, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class HeldItem(Base):
    """A report or seal of a tablet that was not enrolled: no rule and no list reads it.

    Known by id and content together: who guesses an id keeps nobody's report out.
    """

    __tablename__ = "not_enrolled_item"
    __table_args__ = (
        UniqueConstraint("id", "payload_sha", name="uq_not_enrolled_item_id"),
        Index("ix_not_enrolled_item_waiting", "aside_at", "gravity", "received_at", "no"),
        Index("ix_not_enrolled_item_along_line", "line_key", "direction", "received_at"),
        Index("ix_not_enrolled_item_expires_at", "expires_at"),
        # A number in a form must never come to mean another report.
        {"sqlite_autoincrement": True},
    )

    no: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True
    )
    id: Mapped[uuid.UUID]
    payload_sha: Mapped[str] = mapped_column(String(64))
    kind: Mapped[str] = mapped_column(String(20))
    install_id: Mapped[uuid.UUID]
    item: Mapped[dict[str, Any]] = mapped_column(JSON)
    # Bytes of the item as it is kept, for the budget.
    size: Mapped[int]
    sent_at: Mapped[datetime] = mapped_column(UtcDateTime)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    observed_est_at: Mapped[datetime] = mapped_column(UtcDateTime)
    carried: Mapped[bool]
    # Of a report: where, what, how grave (service.GRAVITY); a seal has neither.
    line_key: Mapped[str | None] = mapped_column(String(120))
    direction: Mapped[str | None] = mapped_column(String(120))
    target: Mapped[str | None] = mapped_column(String(120))
    at_m: Mapped[float | None]
    gravity: Mapped[int]
    flats: Mapped[bool]
    # The number it had before such reports were kept apart; outside the budget.
    former_no: Mapped[int | None] = mapped_column(BigInteger)
    expires_at: Mapped[datetime] = mapped_column(UtcDateTime)
    aside_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    aside_by: Mapped[str | None] = mapped_column(String(120))
    aside_why: Mapped[str | None] = mapped_column(String(200))


class Spent(Base):
    """What one address, or all together, used of the budget in one hour."""

    __tablename__ = "not_enrolled_spent"

    # The hash of an address, or "all".
    sender: Mapped[str] = mapped_column(String(64), primary_key=True)
    window: Mapped[datetime] = mapped_column(UtcDateTime, primary_key=True)
    requests: Mapped[int]
    rows: Mapped[int]
    size: Mapped[int]
