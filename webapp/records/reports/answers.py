"""The depot's answer to a report, and what of it a tablet may read: its own, nothing else."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from webapp.records import tablets
from webapp.records.reports.models import Answer, Report
from webapp.store import audit

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


def warned(session: Session, report: uuid.UUID, trains: int, who: str, now: datetime) -> int:
    """Answer a report and all joined with it that trains were warned, each once.

    Who was told of warned trains already is told nothing else. Without trains that is no
    answer, so the drivers hear that their report was reviewed. Returns how many were told.
    """
    told = 0
    for one in _together(session, report):
        row = session.get(Answer, one)
        if row is None or (row.kind == REVIEWED and trains):
            answer(session, one, min(trains, MOST_TRAINS) or None, who, now)
            told += 1
    return told


def reviewed(session: Session, report: uuid.UUID, who: str, now: datetime) -> None:
    """Answer a report and those joined to it that it was reviewed, unless they know more."""
    for one in _together(session, report):
        if session.get(Answer, one) is None:
            answer(session, one, None, who, now)


def unsaid(session: Session, report: uuid.UUID, who: str, now: datetime) -> None:
    """Take back an answer that said no more than that the report was reviewed."""
    for one in _together(session, report):
        row = session.get(Answer, one)
        if row is not None and row.kind == REVIEWED:
            audit.record(session, now, who, "report.answer", str(one), _content(row), None)
            session.delete(row)


def passed_on(session: Session, main: uuid.UUID, who: str, now: datetime) -> None:
    """Tell those newly joined to a report what its own driver was told."""
    row = session.get(Answer, main)
    if row is None:
        return
    if row.kind == WARNED:
        warned(session, main, row.trains or 0, who, now)
    else:
        reviewed(session, main, who, now)


def of(session: Session, report: uuid.UUID) -> Given | None:
    """Return the answer to a report as it stands."""
    row = session.get(Answer, report)
    return None if row is None else _given(row)


def _together(session: Session, report: uuid.UUID) -> list[uuid.UUID]:
    """Return a report, its main one and all joined to that, locked against another answer."""
    main = session.scalar(select(Report.repeats).where(Report.id == report)) or report
    query = (
        select(Report.id)
        .where(or_(Report.id == main, Report.repeats == main))
        .order_by(Report.server_no)
        .with_for_update()
    )
    return list(session.scalars(query))


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
