"""Reports in short, for the pages of other rooms: which wait, where wheels may have flats."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Select, and_, exists, func, select
from sqlalchemy.orm import Session

from webapp.lines.base import Base
from webapp.records.reports.body import BLANK
from webapp.records.reports.models import Answer, Report
from webapp.records.reports.names import bases_of, names


@dataclass(frozen=True)
class Short:
    """One report in a line of a list."""

    id: uuid.UUID
    server_no: int
    seen_at: datetime
    received_at: datetime
    line: str | None
    direction: str | None
    place: str | None
    train: str | None
    found: str
    happened: tuple[str, ...]
    quarantined: bool


@dataclass(frozen=True)
class Some:
    """The newest of a list, and how long the whole of it is."""

    shown: list[Short]
    count: int


def unanswered(session: Session, most: int) -> Some:
    """Return the reports that nobody has reviewed, joined or answered, the gravest first."""
    answered = exists().where(Answer.report_id == Report.id)
    waiting = and_(Report.waiting.is_(True), ~answered)
    count = session.scalar(select(func.count()).select_from(Report).where(waiting)) or 0
    # By weight: an overrun must not leave the list because later reports came.
    order = Report.urgency.desc(), Report.received_at.desc(), Report.id.desc()
    return Some(_short(session, select(Report).where(waiting).order_by(*order), most), count)


def with_flats(
    session: Session, since: datetime, looked_at: Select[uuid.UUID], most: int
) -> list[Short]:
    """Return the reports whose driver suspects wheel flats, newest first.

    All whose wheels nobody looked at, however many; of those ``looked_at`` the newest.
    """
    query = (
        select(Report)
        .where(Report.flats.is_(True), Report.received_at >= since)
        .order_by(Report.received_at.desc(), Report.id.desc())
    )
    waiting = _short(session, query.where(Report.id.notin_(looked_at)))
    return waiting + _short(session, query.where(Report.id.in_(looked_at)), most)


def by_id(session: Session, ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Short]:
    """Return some reports in short, by id."""
    found = _short(session, select(Report).where(Report.id.in_(list(ids))))
    return {one.id: one for one in found}


def _short(session: Session, query: Select[Report], most: int | None = None) -> list[Short]:
    rows = list(session.scalars(query.limit(most)))
    bases = bases_of(session, {row.pack_sha for row in rows if row.pack_sha})
    return [_one(row, bases.get(row.pack_sha or "")) for row in rows]


def _one(row: Report, base: Base | None) -> Short:
    body = {**BLANK, **row.item["body"]}
    said = names(base, body)
    return Short(
        id=row.id,
        server_no=row.server_no,
        seen_at=row.observed_est_at,
        received_at=row.received_at,
        line=said.line,
        direction=said.direction,
        place=body["place"] or said.stop or said.at,
        train=said.train,
        found=row.found,
        happened=tuple(body["happened"] or ()),
        quarantined=row.quarantined,
    )
