from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class KeptAnswer(Base):
    """What one `Idempotency-Key` was answered with; no results while it is worked on."""

    __tablename__ = "kept_answer"
    __table_args__ = (Index("ix_kept_answer_claimed_at", "claimed_at"),)

    scope: Mapped[str] = mapped_column(String(60), primary_key=True)
    key: Mapped[str] = mapped_column(String(255), primary_key=True)
    body_sha: Mapped[str] = mapped_column(String(64))
    claim: Mapped[uuid.UUID]
    claimed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    results: Mapped[list[dict[str, Any]] | None] = mapped_column(JSON(none_as_null=True))
