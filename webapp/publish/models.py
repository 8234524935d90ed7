from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, Integer, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class PackProposal(Base):
    """A pack that somebody wants in use: waiting to be built, to be seen, or decided.

    `source` names the source it is or will be built from, `register` the places laid over
    it, `former` the pack it was compared with, `doubts` what nobody confirmed of its files.
    """

    __tablename__ = "pack_proposal"
    __table_args__ = (
        Index("ix_pack_proposal_route_state", "route", "state"),
        {"sqlite_autoincrement": True},
    )

    id: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True
    )
    route: Mapped[str] = mapped_column(String(80))
    name: Mapped[str] = mapped_column(String(200))
    cause: Mapped[str] = mapped_column(String(20))
    state: Mapped[str] = mapped_column(String(12))
    source: Mapped[str | None] = mapped_column(String(64))
    register: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    pack: Mapped[str | None] = mapped_column(String(64))
    former: Mapped[str | None] = mapped_column(String(64))
    doubts: Mapped[list[str]] = mapped_column(JSON, default=list)
    progress: Mapped[str | None] = mapped_column(String(200))
    problem: Mapped[str | None] = mapped_column(Text)
    made_by: Mapped[str] = mapped_column(String(120))
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reason: Mapped[str] = mapped_column(Text)
    decided_by: Mapped[str | None] = mapped_column(String(120))
    decided_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    decided_why: Mapped[str | None] = mapped_column(Text)


class RoomStudy(Base):
    """What a second buys on one line: asked for, at work while `progress`, or done.

    `source` names the source it was asked for; `result` is the last that was worked out,
    and stays while another is.
    """

    __tablename__ = "room_study"

    route: Mapped[str] = mapped_column(String(80), primary_key=True)
    source: Mapped[str] = mapped_column(String(64))
    result: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    progress: Mapped[str | None] = mapped_column(String(200))
    problem: Mapped[str | None] = mapped_column(Text)
    asked_by: Mapped[str] = mapped_column(String(120))
    asked_at: Mapped[datetime] = mapped_column(UtcDateTime)
    done_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
