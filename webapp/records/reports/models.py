from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKey, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class Report(Base):
    """One report as the tablet sent it, with the server's own facts beside it.

    (device, install, seq) is not unique: a wiped tablet starts at 1 again, and a clash is
    shown at the desk, never refused.
    """

    __tablename__ = "report"
    __table_args__ = (
        Index("ix_report_sequence", "device_id", "install_id", "seq", "received_at"),
        Index("ix_report_newest", "received_at", "id"),
        Index("ix_report_along_line", "line_key", "at_m"),
        Index("ix_report_supersedes", "supersedes"),
        Index("ix_report_urgency", "urgency", "received_at", "id"),
        Index("ix_report_waiting", "waiting", "received_at", "id"),
        Index("ix_report_apart", "quarantined", "received_at", "id"),
        Index("ix_report_found", "found", "received_at", "id"),
        Index("ix_report_seen", "observed_est_at", "id"),
        # What is picked, in the order of the inbox: also where few are picked of many.
        Index("ix_report_found_urgency", "found", "urgency", "received_at", "id"),
        Index("ix_report_rail_urgency", "rail_state", "urgency", "received_at", "id"),
        Index(
            "ix_report_line_urgency", "line_key", "direction", "urgency", "received_at", "id"
        ),
        Index("ix_report_state_urgency", "waiting", "urgency", "received_at", "id"),
        Index("ix_report_on_line", "line_key", "observed_est_at", "id"),
        Index("ix_report_repeats", "repeats"),
        Index("ix_report_flats", "flats", "received_at"),
        Index("ix_report_pared", "pared_at", "received_at"),
        {"sqlite_autoincrement": True},
    )

    # Numbers may have gaps: a repeat that loses the race on PostgreSQL uses one up.
    server_no: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True
    )
    id: Mapped[uuid.UUID] = mapped_column(unique=True)
    device_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("device.id"))
    install_id: Mapped[uuid.UUID]
    seq: Mapped[int]
    payload_sha: Mapped[str] = mapped_column(String(64))
    item: Mapped[dict[str, Any]] = mapped_column(JSON)
    line_key: Mapped[str] = mapped_column(String(120))
    direction: Mapped[str] = mapped_column(String(120))
    at_m: Mapped[float | None]
    found: Mapped[str] = mapped_column(String(20))
    rail_state: Mapped[str | None] = mapped_column(String(120))
    pack_sha: Mapped[str | None] = mapped_column(String(64))
    supersedes: Mapped[uuid.UUID | None]
    observed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    sent_at: Mapped[datetime] = mapped_column(UtcDateTime)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    clock_offset_s: Mapped[float]
    observed_est_at: Mapped[datetime] = mapped_column(UtcDateTime)
    quarantined: Mapped[bool]
    version: Mapped[int] = mapped_column(default=1)
    # Taken out of the item so that the desk can filter by them; "|slide|leaves|".
    target: Mapped[str | None] = mapped_column(String(120))
    happened: Mapped[str] = mapped_column(String(160), default="")
    # What the desk has done with it. Waiting: neither reviewed nor joined to another.
    waiting: Mapped[bool] = mapped_column(default=True)
    urgency: Mapped[int] = mapped_column(default=0)
    reviewed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    reviewed_by: Mapped[str | None] = mapped_column(String(120))
    repeats: Mapped[uuid.UUID | None]
    # Wheel flats suspected: fleet has a list of its own.
    flats: Mapped[bool] = mapped_column(default=False)
    # When name, words and tablet were taken out of it, for good: `anonymise.py`.
    anonymised_at: Mapped[datetime | None] = mapped_column("pared_at", UtcDateTime)

    def is_of_tablet_of(self, other: Report) -> bool:
        """Whether one tablet sent both; a stranger is known by its store alone."""
        if self.device_id != other.device_id:
            return False
        return self.device_id is not None or self.install_id == other.install_id


class ClosedNumber(Base):
    """A number that came with a seal, or of an anonymised report: which one is not told."""

    __tablename__ = "closed_number"
    __table_args__ = (Index("ix_closed_number_install", "install_id", "seq"),)

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    device_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("device.id"))
    install_id: Mapped[uuid.UUID]
    seq: Mapped[int]


class ReportWords(Base):
    """What the search looks through: a narrow table is read whole in a moment.

    The driver's name is not in it: nobody is found by name.
    """

    __tablename__ = "report_words"

    server_no: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"),
        ForeignKey("report.server_no", ondelete="CASCADE"),
        primary_key=True,
        autoincrement=False,
    )
    words: Mapped[str] = mapped_column(Text)


class Note(Base):
    """What the signaller or control said about a report; triggers refuse to change a row."""

    __tablename__ = "report_note"
    __table_args__ = (
        Index("ix_report_note_report_id", "report_id", "id"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True
    )
    report_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("report.id"))
    said_by: Mapped[str] = mapped_column(String(120))
    said_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reference: Mapped[str] = mapped_column(String(120))
    text: Mapped[str] = mapped_column(String(2000))
    noted_by: Mapped[str] = mapped_column(String(120))
    noted_at: Mapped[datetime] = mapped_column(UtcDateTime)


class Refusal(Base):
    """A report that was refused and so lies parked on its tablet: the number is not lost.

    Kept by content as well as id: an id with a second content is refused for that alone,
    and a report that a newer server takes after all has its refusal answered.
    """

    __tablename__ = "refusal"
    __table_args__ = (
        Index("ix_refusal_sequence", "device_id", "install_id", "seq"),
        Index("ix_refusal_newest", "refused_at"),
    )

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    payload_sha: Mapped[str] = mapped_column(String(64), primary_key=True)
    device_id: Mapped[uuid.UUID | None] = mapped_column(ForeignKey("device.id"))
    install_id: Mapped[uuid.UUID]
    seq: Mapped[int]
    code: Mapped[str] = mapped_column(String(40))
    reason: Mapped[str] = mapped_column(String(500))
    refused_at: Mapped[datetime] = mapped_column(UtcDateTime)


class Answer(Base):
    """What became of a report, in the depot's words to whoever made it; the newest counts.

    It is about the report alone: nothing of a driver is asked, kept or sent with it.
    """

    __tablename__ = "report_answer"

    report_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("report.id"), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    trains: Mapped[int | None]
    answered_at: Mapped[datetime] = mapped_column(UtcDateTime)
