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
SET_UP = Limit("set-up", 5, timedelta(minutes=1))
ENROL = Limit("enrol", 5, timedelta(minutes=1))


def wait(session: Session, limit: Limit, key: str, now: datetime) -> timedelta | None:
    """Return how long to wait before the next try, None while tries are left."""
    row = session.get(Throttle, (limit.kind, codes.sha(key), _window(limit, now)))
    if row is None or row.n < limit.most:
        return None
    return _window(limit, now) + limit.length - now


def failed(session: Session, limit: Limit, key: str, now: datetime) -> None:
    """Count one failure; windows long past are swept out."""
    window = _window(limit, now)
    row = {"kind": limit.kind, "key": codes.sha(key), "window": window}
    # The whole key conflicts: insert at 0 if new, then add, both under the row's lock.
    _insert(session, row)
    session.execute(
        update(Throttle)
        .where(Throttle.kind == limit.kind, Throttle.key == row["key"])
        .where(Throttle.window == window)
        .values(n=Throttle.n + 1)
    )
    session.execute(delete(Throttle).where(Throttle.window < now - timedelta(days=1)))


def passed(session: Session, limit: Limit, key: str) -> None:
    """Forget the failures: the person knew it after all."""
    session.execute(
        delete(Throttle).where(Throttle.kind == limit.kind, Throttle.key == codes.sha(key))
    )


def _insert(session: Session, row: dict[str, object]) -> None:
    insert_new(session, Throttle, {**row, "n": 0}, key=("kind", "key", "window"), answer="n")


def _window(limit: Limit, now: datetime) -> datetime:
    seconds = limit.length.total_seconds()
    return datetime.fromtimestamp(now.timestamp() // seconds * seconds, UTC)
