from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class ListedPlace(Base):
    """A place that the desk listed, changed or retired; what files alone list is not here."""

    __tablename__ = "listed_place"
    __table_args__ = (
        UniqueConstraint("line_key", "key"),
        Index("ix_listed_place_order", "line_key", "from_m", "key"),
    )

    # Made of line and key, so that a place of the files has its address before its row.
    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    rev: Mapped[int]
    line_key: Mapped[str] = mapped_column(String(120))
    key: Mapped[str] = mapped_column(String(120))
    name: Mapped[str] = mapped_column(String(120))
    direction: Mapped[str] = mapped_column(String(120))
    from_m: Mapped[float]
    to_m: Mapped[float]
    state: Mapped[str] = mapped_column(String(120))
    season_from: Mapped[str] = mapped_column(String(5))
    season_to: Mapped[str] = mapped_column(String(5))
    reason: Mapped[str] = mapped_column(String(200))
    source: Mapped[str] = mapped_column(String(200))
    changed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    changed_by: Mapped[str] = mapped_column(String(120))
    retired_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    retired_why: Mapped[str] = mapped_column(String(200), default="")


class DeclinedPlace(Base):
    """A proposal that was declined: reports that were there by then propose it no more."""

    __tablename__ = "declined_place"
    __table_args__ = (Index("ix_declined_place_line", "line_key", "declined_at"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120))
    direction: Mapped[str] = mapped_column(String(120))
    from_m: Mapped[float]
    to_m: Mapped[float]
    reports: Mapped[int]
    reason: Mapped[str] = mapped_column(String(200))
    declined_at: Mapped[datetime] = mapped_column(UtcDateTime)
    declined_by: Mapped[str] = mapped_column(String(120))


class Treatment(Base):
    """One treatment of a place as the desk was told of it; triggers refuse to change a row."""

    __tablename__ = "treatment"
    __table_args__ = (Index("ix_treatment_place", "place_id", "done_at"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    # Of line and key: a place that only the files list has no row.
    place_id: Mapped[uuid.UUID]
    done_at: Mapped[datetime] = mapped_column(UtcDateTime)
    means: Mapped[str] = mapped_column(String(20))
    outcome: Mapped[str] = mapped_column(String(20))
    next_line: Mapped[str] = mapped_column(String(20))
    told_by: Mapped[str] = mapped_column(String(120))
    note: Mapped[str] = mapped_column(String(200))
    kept_at: Mapped[datetime] = mapped_column(UtcDateTime)
    kept_by: Mapped[str] = mapped_column(String(120))
    # The row that this one takes back; both stay.
    strikes: Mapped[uuid.UUID | None]
