"""Other reports near one in place and time: what happened to one train happens to the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import (
    BigInteger,
    Double,
    Select,
    String,
    and_,
    cast,
    func,
    literal,
    or_,
    select,
    union_all,
)
from sqlalchemy.orm import Session

from webapp.db import UtcDateTime
from webapp.fields import EARLIEST, LATEST
from webapp.reports.models import Report

#: What counts as near. Assumption, no source: a patch of film, and the hours it may last.
NEAR_M = 1000.0
NEAR = timedelta(hours=3)
MOST_SHOWN = 20


@dataclass(frozen=True)
class Neighbour:
    """A report near another; the distance is along the line, None if a place is missing."""

    row: Report
    apart_m: float | None
    apart: timedelta


def counts(session: Session, rows: Sequence[Report]) -> dict[int, int]:
    """Return how many others are near each of these, in one question; joined ones are one."""
    if not rows:
        return {}
    span = union_all(*map(_span, rows)).subquery("span")
    near_it = and_(
        Report.line_key == span.c.line,
        Report.observed_est_at.between(span.c.low, span.c.high),
        Report.server_no != span.c.no,
        Report.repeats.is_(None),  # joined reports are one event with their main one
        or_(func.abs(Report.at_m - span.c.at) <= NEAR_M, Report.target == span.c.stop),
    )
    query = select(span.c.no, func.count()).join(Report, near_it).group_by(span.c.no)
    return {no: count for no, count in session.execute(query)}


def _span(row: Report) -> Select[Any]:
    """Return place and window of one report as a row that can be joined."""
    low, high = _window(row.observed_est_at)
    return select(
        literal(row.server_no, BigInteger).label("no"),
        literal(row.line_key, String).label("line"),
        cast(row.target, String).label("stop"),
        cast(row.at_m, Double).label("at"),
        literal(low, UtcDateTime).label("low"),
        literal(high, UtcDateTime).label("high"),
    )


def of(session: Session, row: Report) -> list[Neighbour]:
    """Return the reports near one, the nearest in time first."""
    low, high = _window(row.observed_est_at)
    near_it: list[Any] = [Report.target == row.target] if row.target else []
    if row.at_m is not None:
        near_it.append(Report.at_m.between(row.at_m - NEAR_M, row.at_m + NEAR_M))
    if not near_it:
        return []
    query = (
        select(Report)
        .where(
            Report.line_key == row.line_key,
            Report.observed_est_at.between(low, high),
            Report.server_no != row.server_no,
            or_(*near_it),
        )
        .order_by(Report.observed_est_at.desc(), Report.id)
        .limit(MOST_SHOWN)
    )
    found = [_neighbour(row, other) for other in session.scalars(query)]
    return sorted(found, key=lambda one: abs(one.apart))


def _neighbour(row: Report, other: Report) -> Neighbour:
    both = row.at_m is not None and other.at_m is not None
    apart_m = (other.at_m or 0.0) - (row.at_m or 0.0) if both else None
    return Neighbour(other, apart_m, other.observed_est_at - row.observed_est_at)


def _window(moment: datetime) -> tuple[datetime, datetime]:
    """Return the times around one, as far as there are any: a tablet's clock may say 9999."""
    low = moment - NEAR if moment - EARLIEST > NEAR else EARLIEST
    high = moment + NEAR if LATEST - moment > NEAR else LATEST
    return low, high
