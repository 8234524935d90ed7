"""The depot's answer to a report, and what of it a tablet may read: its own, nothing else."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.audit import service as audit
from webapp.reports.models import Answer, Report
from webapp.tablets import service as tablets

REVIEWED, WARNED = "reviewed", "warned"
MOST_TRAINS = 999
#: A tablet keeps its newest 100 receipts; more answers than it has receipts help nobody.
MOST = 200


class NotAnswered(Exception):
    """The answer cannot be given; the text says why and what to do."""


@dataclass(frozen=True)
class Given:
    """One answer as it stands."""

    report: uuid.UUID
    kind: str
    trains: int | None
    at: datetime


def find(session: Session, number: int) -> uuid.UUID:
    """Return the id of the report with this number at the depot.

    Raises
    ------
    NotAnswered
        If there is none.
    """
    found = session.scalar(select(Report.id).where(Report.server_no == number))
    if found is None:
        raise NotAnswered(f"no report has the number {number}; /desk/reports shows them.")
    return found


def answer(
    session: Session, report: uuid.UUID, trains: int | None, who: str, now: datetime
) -> Given:
    """Say that a report was reviewed, or how many trains were warned because of it.

    A later answer takes the place of the one before, which stays in the audit.

    Raises
    ------
    NotAnswered
        If there is no such report, or the number of trains is impossible.
    """
    if session.scalar(select(Report.id).where(Report.id == report)) is None:
        raise NotAnswered(f"no report has the id {report}; /desk/reports shows them.")
    if trains is not None and not 0 <= trains <= MOST_TRAINS:
        raise NotAnswered(f"{trains} trains warned: give a number from 0 to {MOST_TRAINS}.")
    row = session.scalar(select(Answer).where(Answer.report_id == report).with_for_update())
    old = None if row is None else _content(row)
    if row is None:
        row = Answer(report_id=report)
        session.add(row)
    row.kind = REVIEWED if trains is None else WARNED
    row.trains, row.answered_at = trains, now
    session.flush()
    audit.record(session, now, who, "report.answer", str(report), old, _content(row))
    return _given(row)


def for_tablet(session: Session, token: str | None) -> list[Given] | None:
    """Return the answers to what this tablet sent, newest first; None for strangers.

    The whole each time and no cursor: it is small, and what is not a delta can miss nothing,
    whatever order commits come in and whichever backup was put back.
    """
    tablet = tablets.known(session, token)
    if tablet is None or not tablet.valid:
        return None
    query = (
        select(Answer)
        .join(Report, Report.id == Answer.report_id)
        .where(Report.device_id == tablet.id)
        .order_by(Answer.answered_at.desc(), Answer.report_id)
        .limit(MOST)
    )
    return [_given(row) for row in session.scalars(query)]


def _given(row: Answer) -> Given:
    return Given(row.report_id, row.kind, row.trains, row.answered_at)


def _content(row: Answer) -> dict[str, Any]:
    return {"kind": row.kind, "trains": row.trains}
