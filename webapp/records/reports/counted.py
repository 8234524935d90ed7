"""What grip was found where in the last weeks: what a proposal of a place is made of."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session, aliased

from webapp.records.reports.models import Report


@dataclass(frozen=True)
class Counted:
    """One report's place and word; nothing of tablet or driver."""

    server_no: int
    id: uuid.UUID
    line: str
    direction: str
    at_m: float | None
    target: str | None
    found: str
    happened: str
    rail_state: str | None
    seen_at: datetime
    received_at: datetime


def counted_since(session: Session, since: datetime) -> list[Counted]:
    """Return what enrolled tablets reported since then: corrections once, repeats not.

    All of it: a busy line must not push the reports of another one out.
    """
    later = aliased(Report)
    # By the same tablet: another one's word stands beside a report, never in its place.
    same = or_(
        later.device_id == Report.device_id,
        and_(later.anonymised_at.is_not(None), Report.anonymised_at.is_not(None)),
    )
    corrected = select(later.id).where(
        later.supersedes == Report.id, later.quarantined.is_(False), same
    )
    columns = (
        *(Report.server_no, Report.id, Report.line_key, Report.direction, Report.at_m),
        *(Report.target, Report.found, Report.happened, Report.rail_state),
        *(Report.observed_est_at, Report.received_at),
    )
    query = (
        select(*columns)
        .where(Report.received_at >= since, Report.observed_est_at >= since)
        .where(Report.quarantined.is_(False), Report.repeats.is_(None), ~corrected.exists())
        .order_by(Report.received_at.desc(), Report.id)
    )
    return [Counted(*row) for row in session.execute(query)]
