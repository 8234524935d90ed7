"""What the desk does with a report: reviewed, joined to another, noted; each in the audit.

Every action is on the version that was read. Nothing is ever taken away: a joined report stays
a report, a note stays a note.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.plain.fields import CLOCKS_DIFFER
from webapp.plain.jsontext import rfc3339
from webapp.records.reports import answers
from webapp.records.reports.models import Note, Report
from webapp.records.reports.rank import DONE, urgency
from webapp.store import audit
from webapp.store.edits import Stale


class NoSuchReport(LookupError):
    """No report with this id has arrived."""


class Refused(Exception):
    """It cannot be done; the text says why and what to do."""


def review(session: Session, name: uuid.UUID, version: int, who: str, now: datetime) -> None:
    """Mark a report as reviewed, and tell its driver so unless he was told more."""
    row = _held(session, name, version)
    if row.reviewed_at is not None:
        raise Refused("It is reviewed already.")
    row.reviewed_at, row.reviewed_by = now, who
    _ranked(row)
    audit.record(session, now, who, "report.reviewed", str(name), None, {"no": row.server_no})
    session.flush()
    answers.reviewed(session, name, who, now)


def reopen(session: Session, name: uuid.UUID, version: int, who: str, now: datetime) -> None:
    """Take the mark back; an answer that said only that goes too."""
    row = _held(session, name, version)
    if row.reviewed_at is None:
        raise Refused("It is not marked as reviewed.")
    old = {"by": row.reviewed_by, "at": rfc3339(row.reviewed_at)}
    row.reviewed_at = row.reviewed_by = None
    _ranked(row)
    audit.record(session, now, who, "report.reopened", str(name), old, {"no": row.server_no})
    session.flush()
    answers.unsaid(session, name, who, now)


def join(
    session: Session, name: uuid.UUID, version: int, number: int, who: str, now: datetime
) -> None:
    """Join a report to the one with this number: both are about one event.

    There is one main report, no chain: what is joined to a joined report is joined to its
    main one, and reports that were joined to this one go along.
    """
    main = _main(session, number)
    if main == name:
        raise Refused("That is this report itself, or one joined to it. Choose another.")
    rows = _locked(session, {name, main})
    row = _read_at(rows.get(name), version)
    head = rows[main]
    if head.repeats is not None:
        raise Refused("That report was joined to another a moment ago. Choose again.")
    along = session.scalars(
        select(Report)
        .where(Report.repeats == name)
        .order_by(Report.server_no)
        .with_for_update()
    )
    for one in (row, *along):
        old = {"to": str(one.repeats) if one.repeats else None}
        one.repeats = main
        _ranked(one)
        new = {"to": str(main), "no": one.server_no, "to_no": head.server_no}
        audit.record(session, now, who, "report.joined", str(one.id), old, new)
    head.version += 1
    session.flush()
    answers.passed_on(session, main, who, now)


def part(session: Session, name: uuid.UUID, version: int, who: str, now: datetime) -> None:
    """Part a joined report from its main one again; what its driver was told stays told."""
    row = _held(session, name, version)
    if row.repeats is None:
        raise Refused("It is not joined to another report.")
    old = {"to": str(row.repeats)}
    row.repeats = None
    _ranked(row)
    audit.record(session, now, who, "report.parted", str(name), old, {"no": row.server_no})


def note(
    session: Session,
    name: uuid.UUID,
    version: int,
    said: Mapping[str, Any],
    who: str,
    now: datetime,
) -> None:
    """Keep what somebody said about a report: `said_by`, `said_at`, `reference`, `text`.

    Raises
    ------
    Refused
        If the time is still to come.
    """
    if said["said_at"] > now + CLOCKS_DIFFER:
        raise Refused("said_at: still to come. Type when it was said.")
    row = _held(session, name, version)
    row.version += 1
    session.add(Note(report_id=name, noted_by=who, noted_at=now, **said))
    # Not the words: they may go with the report, the audit stays.
    new = {"said_by": said["said_by"], "no": row.server_no}
    audit.record(session, now, who, "report.noted", str(name), None, new)


def _ranked(row: Report) -> None:
    """Set what follows from the marks: whether it waits, and how soon."""
    row.waiting = row.reviewed_at is None and row.repeats is None
    row.urgency = urgency(row.item["body"], apart=row.quarantined) if row.waiting else DONE
    row.version += 1


def _main(session: Session, number: int) -> uuid.UUID:
    found = session.scalar(select(Report).where(Report.server_no == number))
    if found is None:
        raise Refused(f"No report has the number {number}. Choose one of the list.")
    return found.repeats or found.id


def _held(session: Session, name: uuid.UUID, version: int) -> Report:
    return _read_at(_locked(session, {name}).get(name), version)


def _locked(session: Session, ids: set[uuid.UUID]) -> dict[uuid.UUID, Report]:
    """Lock rows in one order, so that two desks never wait for each other."""
    query = select(Report).where(Report.id.in_(ids)).order_by(Report.server_no)
    rows = session.scalars(query.with_for_update().execution_options(populate_existing=True))
    return {row.id: row for row in rows}


def _read_at(row: Report | None, version: int) -> Report:
    if row is None:
        raise NoSuchReport("No report with this id has arrived.")
    if row.version != version:
        raise Stale("Somebody changed this report since you opened it.")
    return row
