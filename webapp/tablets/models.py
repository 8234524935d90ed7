from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class Device(Base):
    """One enrolled tablet; the token itself is only in the tablet's cookie."""

    __tablename__ = "device"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    token_sha: Mapped[str] = mapped_column(String(64), unique=True)
    label: Mapped[str] = mapped_column(String(120))
    # Duty base; "" if nobody named one. What was seen is counted by it, never by driver.
    base: Mapped[str] = mapped_column(String(60), default="", server_default="")
    enrolled_at: Mapped[datetime] = mapped_column(UtcDateTime)
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    last_heard_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    app_build: Mapped[str | None] = mapped_column(String(64))
    # None: it never said. Not installed, its storage may be emptied by the system (R19).
    installed: Mapped[bool | None]


class TabletPack(Base):
    """Which pack a tablet last said it holds for a line."""

    __tablename__ = "tablet_pack"

    device_id: Mapped[uuid.UUID] = mapped_column(ForeignKey("device.id"), primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120), primary_key=True)
    pack_sha: Mapped[str] = mapped_column(String(64))
    told_at: Mapped[datetime] = mapped_column(UtcDateTime)


class EnrolCode(Base):
    """A code that enrols one tablet once; only its hash is kept."""

    __tablename__ = "enrol_code"

    code_sha: Mapped[str] = mapped_column(String(64), primary_key=True)
    label: Mapped[str] = mapped_column(String(120))
    base: Mapped[str] = mapped_column(String(60), default="", server_default="")
    made_by: Mapped[str] = mapped_column(String(60))
    expires_at: Mapped[datetime] = mapped_column(UtcDateTime)
    used_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
