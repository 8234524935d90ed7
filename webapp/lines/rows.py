"""Rows of published packs: their files, and the states of the index that names them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.store.db import Base, UtcDateTime


class PackFile(Base):
    """One file of a pack, named by the sha-256 of its uncompressed bytes; never changed."""

    __tablename__ = "pack_file"

    sha: Mapped[str] = mapped_column(String(64), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    size: Mapped[int]
    gz: Mapped[bytes] = mapped_column(LargeBinary)


class IndexRev(Base):
    """One state of the index. A tablet takes a higher serial, never a lower one.

    `signed` is the text under the signatures; without one the index is signed when first
    served.
    """

    __tablename__ = "index_rev"

    serial: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    routes: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    published_at: Mapped[datetime] = mapped_column(UtcDateTime)
    withdrawn: Mapped[list[dict[str, Any]]] = mapped_column(JSON, default=list)
    signed: Mapped[str | None] = mapped_column(Text)
    key_id: Mapped[str | None] = mapped_column(String(64))
    sig_ed25519: Mapped[str | None] = mapped_column(String(100))
    sig_p256: Mapped[str | None] = mapped_column(String(100))


class FeedClock(Base):
    """One row whose lock is held until commit, so that numbers appear in commit order."""

    __tablename__ = "feed_clock"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    n: Mapped[int]
