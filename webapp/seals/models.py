from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKey, Index, Integer, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime

NUMBER = BigInteger().with_variant(Integer, "sqlite")


class Seal(Base):
    """One press on one tablet, to the letter; triggers refuse to change or delete a row.

    Which tablet it was is not kept: with the reports that it names that would say who drove.
    """

    __tablename__ = "seal"
    __table_args__ = ({"sqlite_autoincrement": True},)

    no: Mapped[int] = mapped_column(NUMBER, primary_key=True, autoincrement=True)
    id: Mapped[uuid.UUID] = mapped_column(unique=True)
    payload_sha: Mapped[str] = mapped_column(String(64))
    body: Mapped[dict[str, Any]] = mapped_column(JSON)
    sealed_est_at: Mapped[datetime] = mapped_column(UtcDateTime)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    quarantined: Mapped[bool]


class SealedReport(Base):
    """A report that a seal of an enrolled tablet names: its words are not tidied away."""

    __tablename__ = "sealed_report"
    __table_args__ = (Index("ix_sealed_report_report_id", "report_id"),)

    seal_no: Mapped[int] = mapped_column(
        NUMBER, ForeignKey("seal.no"), primary_key=True, autoincrement=False
    )
    # No foreign key: a seal may come before the reports it names.
    report_id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
