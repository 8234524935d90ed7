"""The reports before and after one in the list as it is filtered, and whether it is in it.

The list that is worked through is the open one: without a word about the desk's state only
what waits is gone through, and a report just reviewed keeps the place it had.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select, tuple_
from sqlalchemy.orm import Session

from webapp.records.reports import filters, inbox
from webapp.records.reports.desk import Link
from webapp.records.reports.models import Report
from webapp.records.reports.rank import urgency

#: A count of so many says "or more": what waits is counted on each report's page.
MOST_COUNTED = 1000


@dataclass(frozen=True)
class Beside:
    """The report's own number, what comes before and after it, and how long the list is.

    None at the ends; ``left`` is counted to `MOST_COUNTED` and no further.
    """

    number: int

    before: Link | None
    after: Link | None
    left: int


def of(session: Session, name: uuid.UUID, wanted: filters.Filter, zone: str) -> Beside | None:
    """Return what stands beside a report in the list; None if it has not arrived.

    Raises
    ------
    filters.Faults
        If the filter cannot be taken.
    """
    row = session.scalar(select(Report).where(Report.id == name))
    if row is None:
        return None
    wanted = wanted if wanted.state else replace(wanted, state="waiting")
    asked = filters.conditions(wanted, inbox.lines(session), zone)
    spot = _spot(row, wanted)
    others = select(Report.id, Report.server_no).where(Report.id != row.id)
    some = select(Report.id).where(*asked).limit(MOST_COUNTED).subquery()
    return Beside(
        row.server_no,
        _first(session, others, wanted.sort, asked, spot, back=True),
        _first(session, others, wanted.sort, asked, spot, back=False),
        session.scalar(select(func.count()).select_from(some)) or 0,
    )


def _spot(row: Report, wanted: filters.Filter) -> list[Any]:
    """Return where it stands; in the list of what waits, where it stood when it waited."""
    values = [getattr(row, column.key) for column in inbox.ORDERS[wanted.sort][0]]
    if wanted.sort == "matters" and wanted.state == "waiting":
        values[0] = urgency(row.item["body"], apart=row.quarantined)
    return values


def _first(
    session: Session,
    query: Select[uuid.UUID, int],
    sort: str,
    asked: Sequence[ColumnElement[bool]],
    spot: Sequence[uuid.UUID | datetime | int],
    *,
    back: bool,
) -> Link | None:
    columns, falling = inbox.ORDERS[sort]
    down = falling is not back
    here, there = tuple_(*columns), tuple_(*spot)
    query = query.where(*asked, here < there if down else here > there)
    query = query.order_by(*(one.desc() if down else one.asc() for one in columns)).limit(1)
    found = session.execute(query).first()
    return Link(found.id, found.server_no) if found else None
