"""Count failed tries in rows of the database, so that every process sees the same count.

Counted per account and address: a stranger who guesses at a colleague's account from
elsewhere does not shut the colleague out. A second, wider count per address slows a guesser
who changes accounts. Neither addresses nor mistyped logins (often passwords) are kept, only
their hashes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import String, delete, update
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.plain import codes
from webapp.store.db import Base, UtcDateTime, insert_new


class Throttle(Base):
    """Failed tries in one window of time, for one key; shared by all processes."""

    __tablename__ = "throttle"

    kind: Mapped[str] = mapped_column(String(20), primary_key=True)
    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    window: Mapped[datetime] = mapped_column(UtcDateTime, primary_key=True)
    n: Mapped[int]


@dataclass(frozen=True)
class Limit:
    """At most ``most`` failures in ``length``."""

    kind: str
    most: int
    length: timedelta


ACCOUNT = Limit("account", 5, timedelta(minutes=15))
ADDRESS = Limit("address", 50, timedelta(minutes=15))
OLD_PASSWORD = Limit("old-password", 5, timedelta(minutes=15))
SET_UP = Limit("set-up", 5, timedelta(minutes=1))
ENROL = Limit("enrol", 5, timedelta(minutes=1))
# From everywhere together: wrong codes are noted for ever, and must not fill the store.
ENROL_ALL = Limit("enrol-all", 60, timedelta(minutes=1))


def tried(session: Session, limit: Limit, key: str, now: datetime) -> timedelta | None:
    """Count one try before anything is compared; return how long to wait if it is too many.

    Counted first, so that many tries at the same moment see each other. The caller commits
    before it compares, and takes the count back if the person knew it. Windows long past are
    swept out.
    """
    window = _window(limit, now)
    row = {"kind": limit.kind, "key": codes.sha(key), "window": window}
    # The whole key conflicts: insert at 0 if new, then add, both under the row's lock.
    _insert(session, row)
    count = session.scalar(
        update(Throttle)
        .where(Throttle.kind == limit.kind, Throttle.key == row["key"])
        .where(Throttle.window == window, Throttle.n <= limit.most)
        .values(n=Throttle.n + 1)
        .returning(Throttle.n)
    )
    session.execute(delete(Throttle).where(Throttle.window < now - timedelta(days=1)))
    if count is not None and count <= limit.most:
        return None
    return window + limit.length - now


def knew(session: Session, limit: Limit, key: str, now: datetime) -> None:
    """Take one try back: it was no failure."""
    session.execute(
        update(Throttle)
        .where(Throttle.kind == limit.kind, Throttle.key == codes.sha(key))
        .where(Throttle.window == _window(limit, now), Throttle.n > 0)
        .values(n=Throttle.n - 1)
    )


def passed(session: Session, limit: Limit, key: str) -> None:
    """Forget all tries: the person knew it after all."""
    session.execute(
        delete(Throttle).where(Throttle.kind == limit.kind, Throttle.key == codes.sha(key))
    )


def _insert(session: Session, row: dict[str, object]) -> None:
    insert_new(session, Throttle, {**row, "n": 0}, key=("kind", "key", "window"), answer="n")


def _window(limit: Limit, now: datetime) -> datetime:
    seconds = limit.length.total_seconds()
    return datetime.fromtimestamp(now.timestamp() // seconds * seconds, UTC)
