"""Add counts of approaches to the sums, once for each item, and forget whose they were."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Any

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from webapp.arrival import Arrival, Kept, Kind
from webapp.counts.models import ApproachCount, CountItem
from webapp.counts.schemas import CountsItem
from webapp.db import insert_new

Sum = tuple[str, str, str, int, str, str, bool]


def keep(
    session: Session,
    arrival: Arrival,
    checked: dict[str, Any],
    _raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Add the item's cells unless its id was taken in before.

    Of the arrival only the day is kept: neither tablet, nor installation, nor minute. What
    is answered is the day as well, so that a repeat is answered as the first was.
    """
    day = arrival.received_at.astimezone(UTC).date()
    row = {"id": checked["id"], "payload_sha": payload_sha, "received_on": day}
    if insert_new(session, CountItem, row, key="id", answer="id") is None:
        known = session.execute(
            select(CountItem.payload_sha, CountItem.received_on).where(
                CountItem.id == checked["id"]
            )
        ).one()
        return Kept(None, _midnight(known.received_on), known.payload_sha, new=False)
    _add(session, checked["body"])
    return Kept(None, _midnight(day), payload_sha, new=True)


KIND = Kind(CountsItem(), keep)


def sums(session: Session) -> dict[Sum, int]:
    """Return every sum by month, line, target, hour, rail state, train type, enrolled."""
    rows = session.scalars(select(ApproachCount))
    return {
        (
            *(row.month, row.line_key, row.target, row.hour),
            *(row.rail_state, row.train_type, row.enrolled),
        ): row.n
        for row in rows
    }


def _add(session: Session, body: dict[str, Any]) -> None:
    lite = session.get_bind().dialect.name == "sqlite"
    insert = sqlite.insert if lite else postgresql.insert
    names = ("route", "target", "hour", "rail_state", "train_type")
    # In one order everywhere: two tablets must not lock the same sums crosswise.
    for cell in sorted(body["cells"], key=lambda one: tuple(map(str, map(one.get, names)))):
        statement = insert(ApproachCount).values(
            month=body["month"],
            line_key=cell["route"],
            **{name: cell[name] for name in names[1:]},
            enrolled=True,
            n=cell["n"],
        )
        session.execute(
            statement.on_conflict_do_update(
                index_elements=list(ApproachCount.__table__.primary_key),
                set_={"n": ApproachCount.n + statement.excluded.n},
            )
        )


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)
