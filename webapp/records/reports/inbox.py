"""The desk's list of reports: filtered, sorted, page by page, never all of them."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select, tuple_
from sqlalchemy.orm import InstrumentedAttribute, Session

from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.plain.jsontext import rfc3339
from webapp.records.reports import near
from webapp.records.reports.desk import DeskReport, for_desk
from webapp.records.reports.filters import Faults, Filter, conditions
from webapp.records.reports.models import Report
from webapp.records.reports.names import bases_of
from webapp.records.reports.rank import FOUND

PAGE_SIZE = 50
Column = InstrumentedAttribute[Any]
#: Each order ends in the id, so that no two rows share a place and none is skipped.
ORDERS: dict[str, tuple[tuple[Column, ...], bool]] = {
    "matters": ((Report.urgency, Report.received_at, Report.id), True),
    "newest": ((Report.received_at, Report.id), True),
    "oldest": ((Report.received_at, Report.id), False),
    "seen": ((Report.observed_est_at, Report.id), True),
}
BAD_CURSOR = "This address is incomplete. Open /desk/reports again."


@dataclass(frozen=True)
class Page:
    reports: list[DeskReport]
    near: dict[int, int]
    older: str | None


@dataclass(frozen=True)
class Waiting:
    """How many reports wait for the desk, how many of them are urgent, and by rank."""

    all: int
    reportable: int
    by_rank: tuple[tuple[int, int], ...]


def lines(session: Session) -> dict[str, Base]:
    """Return the base of each line's current pack, by line."""
    packs = in_use.packs(session)
    bases = bases_of(session, packs.values())
    return {line: bases[pack] for line, pack in packs.items() if pack in bases}


def waiting(session: Session) -> Waiting:
    rows = session.execute(
        select(Report.urgency, func.count())
        .where(Report.urgency > 0)
        .group_by(Report.urgency)
        .order_by(Report.urgency)
    ).all()
    least = 2 * FOUND["reportable"] - 1
    return Waiting(
        sum(count for _, count in rows),
        sum(count for urgency, count in rows if urgency >= least),
        tuple((int(urgency), int(count)) for urgency, count in rows),
    )


def mark(session: Session, *counted: object) -> str:
    """Return a short text, another one as soon as a report comes or a count changes."""
    newest = session.scalar(select(func.max(Report.server_no))) or 0
    return hashlib.sha256(repr((newest, counted)).encode()).hexdigest()[:16]


def page(
    session: Session,
    wanted: Filter,
    bases: Mapping[str, Base],
    zone: str,
    before: str | None = None,
    size: int = PAGE_SIZE,
) -> Page:
    """Return one page of what a filter lets through.

    Raises
    ------
    Faults
        If the filter or the cursor cannot be taken.
    """
    query = ordered(select(Report), wanted, conditions(wanted, bases, zone), before)
    rows = session.scalars(query.limit(size + 1)).all()
    shown = rows[:size]
    older = cursor(wanted.sort, shown[-1]) if len(rows) > size else None
    return Page(for_desk(session, shown), near.counts(session, shown), older)


def ordered(
    query: Select[Any],
    wanted: Filter,
    asked: Sequence[ColumnElement[bool]],
    before: str | None,
) -> Select[Any]:
    """Sort a query as the filter says and go on behind a cursor."""
    columns, falling = ORDERS[wanted.sort]
    query = query.where(*asked).order_by(*(c.desc() if falling else c for c in columns))
    if before is None:
        return query
    here, there = tuple_(*columns), tuple_(*_cursor(wanted.sort, before))
    return query.where(here < there if falling else here > there)


def cursor(sort: str, row: Any) -> str:
    """Write where a row stands in the order, for an address."""
    values = (getattr(row, column.key) for column in ORDERS[sort][0])
    return "~".join(rfc3339(one) if isinstance(one, datetime) else str(one) for one in values)


def _cursor(sort: str, text: str) -> list[Any]:
    parts = text.split("~")
    columns = ORDERS[sort][0]
    if len(parts) != len(columns):
        raise Faults({"before": BAD_CURSOR})
    try:
        return [_value(column, part) for column, part in zip(columns, parts, strict=True)]
    except (ValueError, OverflowError) as error:
        raise Faults({"before": BAD_CURSOR}) from error


def _value(column: Column, text: str) -> Any:
    if column is Report.id:
        return uuid.UUID(text)
    if column is Report.urgency:
        number = int(text)
        if not 0 <= number < 100:
            raise ValueError(text)
        return number
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a time without an offset")
    return moment
