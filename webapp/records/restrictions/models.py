from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class Restriction(Base):
    """One temporary speed restriction; ended by a person, never deleted."""

    __tablename__ = "restriction"
    __table_args__ = (
        Index("ix_restriction_place", "line_key", "from_m", "id"),
        Index("ix_restriction_ended", "ended_at", "id"),
    )

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    rev: Mapped[int]
    line_key: Mapped[str] = mapped_column(String(120))
    direction: Mapped[str] = mapped_column(String(120))
    from_m: Mapped[float]
    to_m: Mapped[float]
    # As the notice says it, in the unit posted on the line; the other is for sums only.
    speed: Mapped[int]
    unit: Mapped[str] = mapped_column(String(10))
    speed_mps: Mapped[float]
    from_at: Mapped[datetime] = mapped_column(UtcDateTime)
    until_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    reference: Mapped[str] = mapped_column(String(120))
    told_by: Mapped[str] = mapped_column(String(120))
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    changed_by: Mapped[str] = mapped_column(String(120))
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    ended_told_by: Mapped[str] = mapped_column(String(120), default="")
    ended_why: Mapped[str] = mapped_column(String(200), default="")
