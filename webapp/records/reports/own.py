"""All that is held about one report, for the tablet that sent it."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from webapp.plain.jsontext import rfc3339
from webapp.records.reports.models import Answer, Note, Refusal, Report, ReportWords
from webapp.store.db import Base

#: People of the desk: that they reviewed it is told, not who they are.
NOT_TOLD = {"reviewed_by", "noted_by"}


def own(session: Session, device_id: uuid.UUID, name: uuid.UUID) -> dict[str, Any] | None:
    """Return every row about a report that this tablet sent; None for any other."""
    mine = Report.id == name, Report.device_id == device_id
    report = session.scalar(select(Report).where(*mine))
    if report is None:
        return None
    words = session.get(ReportWords, report.server_no)
    answer = session.get(Answer, name)
    notes = session.scalars(select(Note).where(Note.report_id == name).order_by(Note.id))
    refused = session.scalars(select(Refusal).where(Refusal.id == name))
    return {
        "report": plain(report),
        "searched": words.words if words else "",
        "answer": plain(answer) if answer else None,
        "notes": [plain(one) for one in notes],
        "refusals": [plain(one) for one in refused],
    }


def plain(row: Base) -> dict[str, Any]:
    """Return a row by its columns, as JSON holds it."""
    fields = inspect(row).mapper.column_attrs
    columns = {field.columns[0].name: field.key for field in fields}
    return {
        name: _plain(getattr(row, columns[name]))
        for name in (column.name for column in row.__table__.columns)
        if name not in NOT_TOLD
    }


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return rfc3339(value)
    return str(value) if isinstance(value, uuid.UUID) else value
