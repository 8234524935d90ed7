from __future__ import annotations

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class Throttle(Base):
    """Failed tries in one window of time, for one key; shared by all processes."""

    __tablename__ = "throttle"

    kind: Mapped[str] = mapped_column(String(20), primary_key=True)
    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    window: Mapped[datetime] = mapped_column(UtcDateTime, primary_key=True)
    n: Mapped[int]
