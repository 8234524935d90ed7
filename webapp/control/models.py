from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class WheelCheck(Base):
    """What fleet found at the wheels of a train whose driver suspected flats."""

    __tablename__ = "wheel_check"

    report_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("report.id"), primary_key=True)
    inspected_by: Mapped[str] = mapped_column(String(120))
    inspected_at: Mapped[datetime] = mapped_column(UtcDateTime)
    result: Mapped[str] = mapped_column(String(200))
    noted_by: Mapped[str] = mapped_column(String(60))
    noted_at: Mapped[datetime] = mapped_column(UtcDateTime)


class TrainBar(Base):
    """Trains that may not go somewhere, as the company decided; ended, never deleted."""

    __tablename__ = "train_bar"
    __table_args__ = (Index("ix_train_bar_ended_at", "ended_at"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120))
    place: Mapped[str] = mapped_column(String(120))
    trains: Mapped[str] = mapped_column(String(120))
    reason: Mapped[str] = mapped_column(String(200))
    decided_by: Mapped[str] = mapped_column(String(120))
    from_at: Mapped[datetime] = mapped_column(UtcDateTime)
    noted_by: Mapped[str] = mapped_column(String(60))
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    ended_by: Mapped[str | None] = mapped_column(String(60))
