"""Other reports near one in place and time: what happened to one train happens to the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import BigInteger, Select, case, func, literal, or_, select, union_all
from sqlalchemy.orm import Session

from webapp.plain.fields import EARLIEST, LATEST
from webapp.records.reports.models import Report

#: What counts as near. Assumption, no source: a patch of film, and the hours it may last.
NEAR_M = 1000.0
NEAR = timedelta(hours=3)
MOST_SHOWN = 20
#: A count of so many says "or more".
MOST_COUNTED = 100


@dataclass(frozen=True)
class Neighbour:
    """A report near another; the distance is along the line, None if a place is missing."""

    row: Report
    apart_m: float | None
    apart: timedelta


def counts(session: Session, rows: Sequence[Report]) -> dict[int, int]:
    """Return how many others are near each of these, in one question; joined ones are one.

    One count for each report, not a join with the windows: with statistics of its tables
    SQLite walked all reports once for each window.
    """
    counted = [_count(row) for row in rows if row.target or row.at_m is not None]
    if not counted:
        return {}
    found = session.execute(union_all(*counted))
    return {no: count for no, count in found if count}


def _count(row: Report) -> Select[Any]:
    # Joined reports are one event with their main one. Not as a condition: most reports are
    # not joined, and SQLite would walk them by the index of joined ones.
    # Capped: where one stop has thousands, each row of the list counted all of them.
    some = select(Report.repeats).where(*_around(row)).limit(MOST_COUNTED).subquery()
    not_joined = func.count(case((some.c.repeats.is_(None), 1)))
    number: Any = literal(row.server_no, BigInteger)
    return select(number, not_joined).select_from(some)


def _around(row: Report) -> list[Any]:
    """Return what another report near this one meets; `row` has a stop or a place."""
    low, high = _window(row.observed_est_at)
    near_it: list[Any] = [Report.target == row.target] if row.target else []
    if row.at_m is not None:
        near_it.append(Report.at_m.between(row.at_m - NEAR_M, row.at_m + NEAR_M))
    return [
        Report.line_key == row.line_key,
        Report.observed_est_at.between(low, high),
        Report.server_no != row.server_no,
        or_(*near_it),
    ]


def of(session: Session, row: Report) -> list[Neighbour]:
    """Return the reports near one, the nearest in time first."""
    if not row.target and row.at_m is None:
        return []
    seen = Report.observed_est_at
    # From both sides: taken from the latest on, twenty later ones hid the nearest.
    sides = (
        (seen <= row.observed_est_at, seen.desc()),
        (seen > row.observed_est_at, seen),
    )
    found = [
        _neighbour(row, other)
        for side, order in sides
        for other in session.scalars(
            select(Report)
            .where(*_around(row), side)
            .order_by(order, Report.id)
            .limit(MOST_SHOWN)
        )
    ]
    return sorted(found, key=lambda one: abs(one.apart))[:MOST_SHOWN]


def _neighbour(row: Report, other: Report) -> Neighbour:
    both = row.at_m is not None and other.at_m is not None
    apart_m = (other.at_m or 0.0) - (row.at_m or 0.0) if both else None
    return Neighbour(other, apart_m, other.observed_est_at - row.observed_est_at)


def _window(moment: datetime) -> tuple[datetime, datetime]:
    """Return the times around one, as far as there are any: a tablet's clock may say 9999."""
    low = moment - NEAR if moment - EARLIEST > NEAR else EARLIEST
    high = moment + NEAR if LATEST - moment > NEAR else LATEST
    return low, high
