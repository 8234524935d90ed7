from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, false
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


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
    __table_args__ = (
        Index("ix_warning_feed", "status", "feed_no"),
        Index("ix_warning_list", "status", "changed_at"),
        Index("ix_warning_report", "report_id"),
    )

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
    # When the depot was told, and the report it was made from; neither goes to tablets.
    told_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    report_id: Mapped[uuid.UUID | None]
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    # Tablets held it when this depot, put back to an older state, did not know it or that it
    # lived: they hold it until they are told, so its end is always told.
    held_before: Mapped[bool] = mapped_column(default=False, server_default=false())


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


class ReceiptItem(Base):
    """A receipt that was taken in, so that a repeat is answered the same; not whose it was."""

    __tablename__ = "receipt_item"
    __table_args__ = (Index("ix_receipt_item_received_at", "received_at"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    payload_sha: Mapped[str] = mapped_column(String(64))
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)


class WarningReceipt(Base):
    """What one tablet said of one warning that lives; gone in the moment the warning ends.

    The times are those at which the depot heard of it: no tablet says when a driver looked.
    """

    __tablename__ = "warning_receipt"
    __table_args__ = (Index("ix_warning_receipt_device", "device_id"),)

    warning_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("warning.id"), primary_key=True)
    device_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("device.id"), primary_key=True)
    received_rev: Mapped[int]
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    seen_rev: Mapped[int | None]
    seen_at: Mapped[datetime | None] = mapped_column(UtcDateTime)


class WarningReach(Base):
    """What stays of the receipts of an ended warning: how many tablets of each base."""

    __tablename__ = "warning_reach"

    warning_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("warning.id"), primary_key=True)
    base: Mapped[str] = mapped_column(String(60), primary_key=True)
    tablets: Mapped[int]
    received: Mapped[int]
    seen: Mapped[int]


class ClearingStep(Base):
    """A step of clearing as the depot was told of it; triggers refuse to change a row."""

    __tablename__ = "clearing_step"
    __table_args__ = (Index("ix_clearing_step_warning", "warning_id", "told_at"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    warning_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("warning.id"))
    kind: Mapped[str] = mapped_column(String(20))
    result: Mapped[str | None] = mapped_column(String(20))
    told_by: Mapped[str] = mapped_column(String(120))
    told_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reference: Mapped[str] = mapped_column(String(120))
    note: Mapped[str] = mapped_column(String(200))
    # The step that this row takes back, because it was told or typed wrongly.
    strikes: Mapped[uuid.UUID | None]
    kept_at: Mapped[datetime] = mapped_column(UtcDateTime)
    kept_by: Mapped[str] = mapped_column(String(120))
