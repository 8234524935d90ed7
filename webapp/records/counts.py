"""Add counts of approaches to the sums, once for each item, and forget whose they were."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, time
from typing import Any

import marshmallow as ma
from sqlalchemy import ColumnElement, Date, String, case, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Mapped, Session, mapped_column

from webapp.plain.agreed import MOST_CELLS
from webapp.plain.fields import Id, Integer, Strict, Text, choice
from webapp.records.items import Delivery, Kept, Kind
from webapp.store.db import Base, insert_new


class ApproachCount(Base):
    """Sum over all tablets. No row says which tablet, train or day it came from."""

    __tablename__ = "approach_count"

    month: Mapped[str] = mapped_column(String(7), primary_key=True)
    line_key: Mapped[str] = mapped_column(String(120), primary_key=True)
    target: Mapped[str] = mapped_column(String(120), primary_key=True)
    hour: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    rail_state: Mapped[str] = mapped_column(String(120), primary_key=True)
    train_type: Mapped[str] = mapped_column(String(120), primary_key=True)
    # False only of sums of before 0.3: what a tablet counts waits there until it is enrolled.
    enrolled: Mapped[bool] = mapped_column(primary_key=True)
    n: Mapped[int]


class CountItem(Base):
    """An item that was taken in, so that a repeat is not added again; not what was in it."""

    __tablename__ = "count_item"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    payload_sha: Mapped[str] = mapped_column(String(64))
    received_on: Mapped[date] = mapped_column(Date)


KEY = 120
MOST_IN_A_CELL = 10_000


def _range(low: int, high: int) -> ma.validate.Range:
    return ma.validate.Range(low, high, error="Send a whole number from {min} to {max}.")


class Cell(Strict):
    """One place, one hour of the railway's day, one rail state, one type of train."""

    route = Text(KEY, required=True)
    target = Text(KEY, required=True)
    hour = Integer(required=True, validate=_range(0, 23))
    rail_state = Text(KEY, required=True)
    train_type = Text(KEY, required=True)
    n = Integer(required=True, validate=_range(1, MOST_IN_A_CELL))


class CountsBody(Strict):
    month = ma.fields.String(
        required=True,
        validate=ma.validate.Regexp(
            r"^[12]\d{3}-(0[1-9]|1[0-2])$", error="Send a month, such as 2026-11."
        ),
    )
    cells = ma.fields.List(
        ma.fields.Nested(Cell),
        required=True,
        validate=ma.validate.Length(1, MOST_CELLS, error="Send {min} to {max} cells."),
    )


class CountsItem(Strict):
    """No number, no time of its own, no position, no trip, no train."""

    kind = choice("counts", required=True)
    id = Id(required=True)
    body = ma.fields.Nested(CountsBody, required=True)


MOST = 2**31 - 1
Sum = tuple[str, str, str, int, str, str, bool]


def keep(
    session: Session,
    delivery: Delivery,
    checked: dict[str, Any],
    _raw: dict[str, Any],
    payload_sha: str,
) -> Kept:
    """Add the item's cells unless its id was taken in before.

    Of the delivery only the day is kept: neither tablet, nor installation, nor minute. What
    is answered is the day as well, so that a repeat is answered as the first was.
    """
    day = delivery.received_at.astimezone(UTC).date()
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
                set_={"n": _sum(statement.excluded.n)},
            )
        )


def _sum(more: ColumnElement[int]) -> ColumnElement[int]:
    """Add, but never beyond what the column holds: it then stays at the highest."""
    room = ApproachCount.n > MOST - more
    return case((room, MOST), else_=ApproachCount.n + more)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)
