from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.db import Base, UtcDateTime


class PackFile(Base):
    """One file of a pack, named by the sha-256 of its uncompressed bytes; never changed."""

    __tablename__ = "pack_file"

    sha: Mapped[str] = mapped_column(String(64), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    size: Mapped[int]
    gz: Mapped[bytes] = mapped_column(LargeBinary)


class IndexRev(Base):
    """One state of the index. A tablet takes a higher serial, never a lower one."""

    __tablename__ = "index_rev"

    serial: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    routes: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    published_at: Mapped[datetime] = mapped_column(UtcDateTime)


class FeedClock(Base):
    """One row whose lock is held until commit, so that numbers appear in commit order."""

    __tablename__ = "feed_clock"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    n: Mapped[int]
