"""Whose clock is wrong when a tablet's and the server's stand far apart."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.plain.agreed import FAR_APART_S
from webapp.records.reports.models import Report

FAR_APART = timedelta(seconds=FAR_APART_S)
#: Clocks that stand so near each other agree; the time on the way is in it. Own choice.
AGREE = timedelta(minutes=10)
#: The server's clock stands this far before what it wrote itself: it went back. Own choice.
WENT_BACK = timedelta(hours=1)
#: So many other tablets must say the same, the last that were heard.
OTHERS, LOOKED_AT = 2, 200


def server_in_doubt(
    session: Session, device_id: uuid.UUID, sent_at: datetime, now: datetime
) -> bool:
    """Whether the server's clock is the wrong one, of one that stands far from a tablet's.

    It is when it shows a time before what it wrote already, or when the tablets heard last
    agree with this one. Read in the order of arrival: no clock is believed for that.
    """
    offset = now - sent_at
    if abs(offset) <= FAR_APART:
        return False
    query = (
        select(Report.device_id, Report.clock_offset_s, Report.received_at)
        .where(Report.device_id.is_not(None), Report.quarantined.is_(False))
        .order_by(Report.server_no.desc())
        .limit(LOOKED_AT)
    )
    others: dict[uuid.UUID, timedelta] = {}
    for row in session.execute(query):
        if row.received_at > now + WENT_BACK:
            return True
        if row.device_id != device_id:
            others.setdefault(row.device_id, timedelta(seconds=row.clock_offset_s))
    heard_last = list(others.values())[:OTHERS]
    return len(heard_last) == OTHERS and all(abs(one - offset) <= AGREE for one in heard_last)
